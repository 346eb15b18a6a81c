"""Two pieces made one: what was cut is whole again, and sides that differ are refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from sizewright.errors import GeometryError, InputError, LookupFailed, SizewrightError
from sizewright.geometry import Path, affine, nearest
from sizewright.model import (
    Drill,
    Fold,
    Grain,
    Label,
    Notch,
    Outline,
    Pattern,
    Piece,
    Point,
    Quantity,
    Run,
    Spot,
    format_seam,
    parse_seams,
)
from tests.operations import codes, do, drawn, nest, off, polygon


@given(
    st.sampled_from(["front", "back", "peplum-front", "band"]),
    st.floats(0.1, 0.9),
    st.floats(0.1, 0.9),
    st.floats(-80, 80),
    st.booleans(),
)
def test_what_was_cut_is_whole_again(
    name: str, first: float, second: float, turn: float, over: bool
) -> None:
    """However the second part lies, turned over too: to 1e-9 mm."""
    pattern = drawn("supper-top")
    piece = pattern.piece(name)
    a, b = {
        "front": ("armhole", "fold"),
        "back": ("armhole", "centre-back"),
        "peplum-front": ("top", "hem"),
        "band": ("top", "bottom"),
    }[name]
    through = [f"{first:.4%} along {a}", f"{second:.4%} along {b}"]
    run = piece.run(a)
    ends = [piece.outline.reference(v) for v in (run.start, run.end)]
    try:
        cut = do(
            pattern, "style-line", piece=name, through=through, seam="cut",
            parts={"one": ends[0], "two": ends[1]},
        ).pattern  # fmt: skip
    except SizewrightError:
        assume(False)
    m = affine.compose(
        affine.translation(300, -50), affine.rotation(turn), affine.scaling(-1 if over else 1, 1)
    )
    moved = cut.replacing(lambda p: p.transformed(m) if p.name == "two" else p)
    after = do(moved, "join", seam="cut", name=name).pattern
    new = after.piece(name)
    assert [format_seam(s) for s in after.seams] == [format_seam(s) for s in pattern.seams]
    assert new.outline.path.area == pytest.approx(piece.outline.path.area, rel=1e-12)
    assert {r.name for r in new.outline.runs} == {r.name for r in piece.outline.runs}
    for point in piece.outline.points:
        if point.name:
            at = new.outline.vertex_at(new.outline.vertex(point.name))
            assert at == pytest.approx(piece.outline.vertex_at(point.vertex), abs=1e-9)
    for run in piece.outline.runs:
        length = new.outline.run_length(new.run(str(run.name)))
        assert length == pytest.approx(piece.outline.run_length(run), abs=1e-9)
    s = np.linspace(0, piece.outline.path.length, 300)
    assert nearest(new.outline.path, piece.outline.path.at(s)).distance.max() < 1e-9
    assert len(new.outline.corners) == len(piece.outline.corners)
    assert (new.fold is None) == (piece.fold is None)
    assert (new.quantity, new.pair) == (piece.quantity, piece.pair)
    for kind in ("darts", "drills", "labels", "marks", "pleats"):
        assert len(getattr(new, kind)) == len(getattr(piece, kind))


def test_a_yoke_comes_and_goes_in_every_size() -> None:
    before = nest("supper-top")
    cut = do(
        before, "style-line", piece="front", through=["armhole-middle", "2/3 along fold"],
        parts={"yoke": "neck-side", "lower": "waist-centre"},
    ).pattern  # fmt: skip
    after = do(cut, "join", seam="yoke", name="front").pattern
    for size in before.sizes:
        old, new = before.piece("front", size), after.piece("front", size)
        assert polygon(new).symmetric_difference(polygon(old)).area < 1.0
        assert off(after, size) == pytest.approx(off(before, size), abs=1e-9)
        assert (new.base is None) == (old.base is None)


def block(name: str, width: float = 100.0, height: float = 200.0, **changes: object) -> Piece:
    """A rectangle from (0, 0), its edges named low, right, high, left."""
    outline = Outline.of(
        Path.polyline([(0, 0), (width, 0), (width, height), (0, height)], closed=True),
        points=[Point(0, "a"), Point(1, "b"), Point(2, "c"), Point(3, "d")],
        runs=[Run(0, 1, "low"), Run(1, 2, "right"), Run(2, 3, "high"), Run(3, 0, "left")],
    )
    grain = Grain((20, 20), (20, 150))
    return replace(Piece(name, outline, kind="sew", grain=grain), **changes)  # type: ignore[arg-type]


def sewn(one: Piece, other: Piece, text: str = "s: one:right = two:left") -> Pattern:
    return Pattern((one, other), seams=parse_seams(text))


def test_the_second_moves_and_names_that_clash_get_its_name() -> None:
    one = block("one", drills=(Drill((50, 50), "button"),), labels=(Label("One", (10, 10)),))
    two = block("two", 70, notches=(Notch(Spot(0, 20.0), name="n"),))
    two = replace(two, drills=(Drill((30, 60), "button"), Drill((30, 80), "own")))
    two = two.transformed(affine.compose(affine.translation(500, 90), affine.rotation(50)))
    done = do(sewn(one, two), "join", seam="s")
    (new,) = done.pattern.pieces
    assert new.name == "one"
    assert new.outline.path.bounds == pytest.approx((0, 0, 170, 200))
    assert new.outline.path.area == pytest.approx(170 * 200)
    assert {r.name for r in new.outline.runs} == {
        *("low", "high", "left", "two-low", "right", "two-high")
    }
    assert {p.name for p in new.outline.points} == {"a", "b", "c", "d", "two-b", "two-c"}
    assert {d.name: tuple(np.round(d.at, 6)) for d in new.drills} == {
        "button": (50, 50), "two-button": (130, 60), "own": (130, 80)
    }  # fmt: skip
    assert [n.name for n in new.notches] == ["n"]
    assert new.grain == one.grain
    assert done.pattern.seams == ()
    assert new.story[-1] == "two joined to one along s"


def test_what_is_drawn_the_same_way_round_is_turned_over() -> None:
    two = block("two", 70, labels=(Label("Two", (10, 40)),))
    pattern = sewn(block("one"), two, "s: one:right = two:right")
    (new,) = do(pattern, "join", seam="s").pattern.pieces
    assert new.outline.path.bounds == pytest.approx((0, 0, 170, 200))
    # The label is not mirrored, and goes with its place.
    assert new.labels[0].at == pytest.approx((160, 40))
    assert new.labels[0].angle == 0.0


def test_sides_that_differ_are_refused_with_the_place() -> None:
    with pytest.raises(GeometryError, match=r"20 cm .* and 20.2 cm .* long, 2.00 mm apart"):
        do(sewn(block("one"), block("two", height=202)), "join", seam="s")
    curved = Outline.of(
        Path.of(
            [[(0, 0), (70, 0)], [(70, 0), (70, 200)], [(70, 200), (0, 200)],
             [(0, 200), (2, 150), (2, 50), (0, 0)]],
            closed=True,
        ),
        runs=[Run(3, 0, "left")],
    )  # fmt: skip
    with pytest.raises(GeometryError, match=r"1.50 mm apart .* near \(100, 200\)"):
        do(sewn(block("one"), replace(block("two"), outline=curved)), "join", seam="s")
    ok = do(
        sewn(block("one"), replace(block("two"), outline=curved)),
        "join",
        seam="s",
        tolerance="2 mm",
    )
    assert ok.pattern.names == ("one",)


def test_what_is_left_over_is_taken_up_in_the_seconds_corners() -> None:
    done = do(sewn(block("one"), block("two", 70, 200.4)), "join", seam="s")
    (new,) = done.pattern.pieces
    assert codes(done) == ["point-met", "point-met", "corners-moved"]
    assert "0.20 mm" in done.findings[-1].text
    # Middles meet: the far corners stand 0.2 mm beyond, the near ones are the first's.
    at = {p.name: new.outline.vertex_at(p.vertex) for p in new.outline.points}
    assert at["b"] == pytest.approx((100, 0))
    assert at["c"] == pytest.approx((100, 200))
    assert at["two-b"] == pytest.approx((170, -0.2))
    assert at["two-c"] == pytest.approx((170, 200.2))


def test_two_folds_are_one_where_they_fall_in_line() -> None:
    one = block("one", fold=Fold(3, 0), quantity=(Quantity("main", 1),))
    two = replace(block("two", height=80), fold=Fold(3, 0), quantity=(Quantity("main", 1),))
    (new,) = do(sewn(one, two, "s: one:low = two:high"), "join", seam="s").pattern.pieces
    assert new.fold is not None
    ends = [new.outline.vertex_at(v) for v in (new.fold.start, new.fold.end)]
    assert ends == [pytest.approx((0, 200)), pytest.approx((0, -80))]
    skew = Path.polyline([(6, 0), (100, 0), (100, 80), (0, 80)], closed=True)
    for other, text in (
        (replace(block("two"), fold=Fold(3, 0)), "s: one:right = two:right"),
        (replace(two, outline=replace(two.outline, path=skew)), "s: one:low = two:high"),
    ):
        pattern = sewn(one, replace(other, quantity=()), text)
        with pytest.raises(GeometryError, match="fall in line"):
            do(pattern, "join", seam="s")


def test_a_panel_joined_to_a_half_is_laid_on_the_fold() -> None:
    panel = block("one", pair=True, quantity=(Quantity("main", 2),))
    half = block("two", 70, fold=Fold(1, 2), quantity=(Quantity("main", 1),))
    half = replace(half, grain=Grain((20, 20), (20, 150), 1)).transformed(affine.rotation(90))
    (new,) = do(sewn(panel, half), "join", seam="s").pattern.pieces
    assert not new.pair
    assert new.quantity == (Quantity("main", 1),)
    assert new.fold is not None
    assert new.grain is not None
    assert np.array([new.grain.start, new.grain.end]) == pytest.approx(
        np.array([[120, 20], [120, 150]])
    )


def test_shoulders_of_the_demo_are_joined() -> None:
    before = drawn("supper-top")
    after = do(before, "join", seam="shoulder", name="body").pattern
    new = after.piece("body")
    front, back = before.piece("front"), before.piece("back")
    assert new.area == pytest.approx(front.area + back.area, rel=1e-6)
    assert shapely.Polygon(new.outline.path.vertices).is_valid
    assert {d.name for d in new.darts} == {"bust", "waist", "back-waist"}
    was = off(before)
    assert off(after) == pytest.approx({n: o for n, o in was.items() if n != "shoulder"}, abs=0.05)


@pytest.mark.parametrize(
    ("asked", "error", "words"),
    [
        ({"seam": "elbow"}, LookupFailed, "Seams: shoulder"),
        ({"seam": "waist"}, InputError, "only two pieces"),
        ({"seam": "side"}, InputError, "dart or pleat"),
        ({"seam": "shoulder", "name": "band"}, InputError, '"band" already'),
    ],
)
def test_what_cannot_be_joined_says_why(
    asked: dict[str, str], error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words):
        do(drawn("supper-top"), "join", **asked)


def test_pieces_that_are_not_there_equally_often_are_refused() -> None:
    one = block("one", quantity=(Quantity("main", 1),))
    two = block("two", quantity=(Quantity("main", 2),), pair=True)
    with pytest.raises(InputError, match="equally often"):
        do(sewn(one, two), "join", seam="s")
    with pytest.raises(InputError, match="cutting line"):
        do(sewn(one, replace(two, kind="cut")), "join", seam="s")
