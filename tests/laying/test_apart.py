"""Pieces that came to lie over each other are moved apart, and no other."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from pathlib import Path as File

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from sizewright.geometry import affine, flatten
from sizewright.jobs.job_file import read_job
from sizewright.jobs.run_job import perform
from sizewright.laying import spread_apart
from sizewright.model import Pattern, Piece
from sizewright.shipped import shipped
from tests.operations import plugins
from tests.printing import rectangle


def at(piece: Piece, x: float, y: float, **changes: object) -> Piece:
    return replace(piece, **changes).transformed(affine.translation(x, y))  # type: ignore[arg-type]


def row(width: float, count: int = 4) -> Pattern:
    """Pieces of a width in a row, 100 mm from the left of one to that of the next."""
    return Pattern(tuple(at(rectangle(f"p{k}", width, 80), 100 * k, 0) for k in range(count)))


def areas(pattern: Pattern) -> dict[str, shapely.Geometry]:
    """What each piece covers in all sizes, from fine chords."""
    found: dict[str, list[shapely.Geometry]] = {}
    for piece in pattern.pieces:
        area = shapely.Polygon(flatten(piece.drawn.path, 0.01)).buffer(0)
        found.setdefault(piece.name, []).append(area)
    return {name: shapely.union_all(parts) for name, parts in found.items()}


def apart(pattern: Pattern) -> float:
    """The least distance between two pieces for shapely."""
    return min(a.distance(b) for a, b in combinations(areas(pattern).values(), 2))


def moved(before: Pattern, after: Pattern) -> set[str]:
    pairs = zip(before.pieces, after.pieces, strict=True)
    return {a.name for a, b in pairs if a != b}


def test_pieces_that_do_not_meet_stay_as_they_are() -> None:
    pattern = row(100)  # side by side: they touch
    assert spread_apart(pattern) == (pattern, [])


def test_as_few_as_can_be_are_moved_and_each_is_told() -> None:
    pattern = row(120)
    after, notes = spread_apart(pattern, row(90))
    assert apart(after) >= 20
    assert moved(pattern, after) == {note.piece for note in notes}
    assert len(notes) == 2
    assert all(note.code == "piece-moved" and "lie over" in note.text for note in notes)
    assert spread_apart(pattern, row(90)) == (after, notes)
    x0, y0, x1, y1 = shapely.union_all(list(areas(after).values())).bounds
    assert (x1 - x0) * (y1 - y0) < 3 * 4 * 120 * 80  # beside each other, not far away


def test_what_was_drawn_over_each_other_is_left_so_and_moves_together() -> None:
    back, front = rectangle("back", 300, 400), at(rectangle("front", 300, 400), 310, 0)
    facing = at(rectangle("facing", 60, 100), 350, 200)  # drawn on the front
    drawn = Pattern((back, front, facing))
    assert spread_apart(drawn, drawn) == (drawn, [])
    wider = Pattern((rectangle("back", 330, 400), front, facing))
    after, _ = spread_apart(wider, drawn)
    old, new = areas(wider), areas(after)
    assert min(new["back"].distance(new[name]) for name in ("front", "facing")) >= 20
    shifts = [np.subtract(new[name].bounds, old[name].bounds) for name in ("front", "facing")]
    assert np.allclose(*shifts)


def test_sizes_of_a_piece_move_alike() -> None:
    sizes = [
        at(rectangle(name, wide, 200, size=size), x, 0)
        for size, wide in (("10", 100), ("12", 118))
        for name, x in (("front", 0), ("back", 110))
    ]
    pattern = Pattern(tuple(sizes), base_size="10")
    after, notes = spread_apart(pattern)
    assert len(notes) == 1
    assert apart(after) >= 20
    shifts = {
        (b.name, tuple(np.round(np.subtract(b.bounds, a.bounds), 9)))
        for a, b in zip(pattern.pieces, after.pieces, strict=True)
    }
    assert len(shifts) == 2


@settings(max_examples=15)
@given(
    st.lists(
        st.tuples(st.floats(20, 400), st.floats(20, 400), st.floats(0, 900), st.floats(0, 900)),
        min_size=2,
        max_size=8,
    ),
    st.sampled_from([0.0, 5.0, 60.0]),
)
def test_nothing_overlaps_afterwards(
    boxes: list[tuple[float, float, float, float]], gap: float
) -> None:
    pieces = [at(rectangle(f"p{k}", w, h), x, y) for k, (w, h, x, y) in enumerate(boxes)]
    pattern = Pattern(tuple(pieces))
    after, notes = spread_apart(pattern, gap=gap)
    old, new = areas(pattern), areas(after)
    for a, b in combinations(new, 2):
        # Those that touch or reach in by less than 0.1 mm count as clear.
        assert new[a].buffer(-0.1001).distance(new[b]) > 0
    for note in notes:
        others = [area for name, area in old.items() if name != note.piece]
        assert old[note.piece].intersects(shapely.union_all(others))
    assert spread_apart(after, gap=gap) == (after, [])


def test_the_demo_opened_widened_and_graded_up_overlaps_nowhere(tmp_path: File) -> None:
    demo = shipped("examples/supper-top/supper-top.svg").parent
    job = (demo / "supper-top.toml").read_text("utf-8")
    job = (
        job.replace('source = "', f'source = "{demo}/')
        .split("[[steps]]")[0]
        .replace('["8", "10", "12", "14", "16"]', '["12", "16"]')
    )
    fronts = '["front", "peplum-front", "facing-front"]'
    file = tmp_path / "wide.toml"
    file.write_text(
        f'{job}\n[[steps]]\ndo = "fold-marks"\nopen = {fronts}\n'
        '[[steps]]\ndo = "seam-allowance"\nwidth = "4 cm"\n'
        'widths = { neck = "1 cm", armhole = "1 cm", outer = "1 cm" }\n'
        '[[outputs]]\nfile = "nest.svg"\n',
        "utf-8",
    )
    done = perform(read_job(file), plugins())
    assert apart(done.pattern) > 0
    assert {f.code for f in done.findings} >= {"piece-moved"}
    for name in done.pattern.names:
        small, large = (done.pattern.piece(name, size) for size in ("12", "16"))
        assert shapely.box(*large.bounds).intersects(shapely.box(*small.bounds))
