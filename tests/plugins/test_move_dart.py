"""Darts moved about a point: there and back, divided, into gathers, ease and flare."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from sizewright.errors import GeometryError, InputError, LookupFailed, SizewrightError
from sizewright.geometry import Floats, Path, affine, circular_arc, nearest
from sizewright.grading import grade
from sizewright.model import Dart, Drill, Outline, Pattern, Piece, Point, Run, parse_seams
from tests.operations import codes, do, drawn, nest, off, polygon, steps

RADIUS = 200.0


def at(degrees: float, radius: float = RADIUS) -> tuple[float, float]:
    angle = math.radians(degrees)
    return radius * math.cos(angle), radius * math.sin(angle)


def sector(*, back: float = 0.0, drawn_legs: bool = False) -> Piece:
    """A sector of 120 degrees with a dart of 20 degrees in its arc, 40 to 60 degrees round.

    Its tip lies `back` mm from the centre; the sector's centre is cut off by a line.
    """
    parts = [[at(-10, 60.0), at(-10)], *circular_arc((0, 0), RADIUS, -10, 40, tolerance=1e-7)]
    tip = at(50, back) if back else (0.0, 0.0)
    if drawn_legs:
        parts += circular_arc((0, 0), RADIUS, 40, 60, tolerance=1e-7)
    else:
        parts += [[at(40), tip], [tip, at(60)]]
    parts += [*circular_arc((0, 0), RADIUS, 60, 110, tolerance=1e-7)]
    parts += [
        [at(110), at(110, 60.0)],
        [at(110, 60.0), (-30.0, -60.0)],
        [(-30.0, -60.0), at(-10, 60.0)],
    ]
    path = Path.of(parts, closed=True)

    def vertex(x: float, y: float) -> int:
        return int(np.hypot(*(path.vertices - (x, y)).T).argmin())

    a, b = vertex(*at(40)), vertex(*at(60))
    dart = Dart("bust", a, b, tip, None if drawn_legs else vertex(*tip))
    runs = [Run(vertex(*at(-10)), vertex(*at(110)), "round")]
    points = [Point(vertex(*at(-10)), "low"), Point(vertex(*at(110)), "high")]
    outline = Outline.of(path, runs=runs, points=points)
    return Piece(
        "cup", outline, kind="sew", darts=(dart,), drills=(Drill((0.0, 0.0), "bust-point"),)
    )


def move(piece: Piece, **given: object) -> Piece:
    return do(Pattern((piece,)), "move-dart", **{"dart": "bust"} | given).pattern.piece("cup")


def apart(a: Piece, b: Piece) -> float:
    """The largest distance of either outline from the other, mm."""
    lines = (a.outline.path, b.outline.path)
    out = []
    for one, other in (lines, lines[::-1]):
        points = one.at(np.linspace(0.0, one.length, 3000, endpoint=False))
        out.append(float(nearest(other, points).distance.max()))
    return max(out)


def mouth(piece: Piece, dart: Dart) -> list[Floats]:
    return [piece.outline.vertex_at(v) for v in (dart.a, dart.b)]


@pytest.mark.parametrize("back", [0.0, 30.0])
def test_in_a_sector_the_dart_only_changes_its_place(back: float) -> None:
    """Exact geometry: about the centre of a circle the arc keeps its length and the sector its
    area, and the dart is 20 degrees wide wherever it goes."""
    was = sector(back=back)
    now = move(was, to="1/4 along round")
    (dart,) = now.darts
    a, b = mouth(now, dart)
    assert math.dist(a, b) == pytest.approx(2 * RADIUS * math.sin(math.radians(10)), abs=1e-6)
    assert np.hypot(*a) == pytest.approx(RADIUS, abs=1e-6)
    assert np.hypot(*b) == pytest.approx(RADIUS, abs=1e-6)
    assert math.dist(dart.apex, (0, 0)) == pytest.approx(back, abs=1e-9)
    assert now.outline.path.area == pytest.approx(was.outline.path.area, rel=1e-7)
    assert now.sewn_length(now.run("round")) == pytest.approx(
        was.sewn_length(was.run("round")), abs=1e-6
    )
    assert polygon(now).area == pytest.approx(polygon(was).area, rel=1e-6)
    assert shapely.is_valid(polygon(now))
    # And back again.
    again = move(now, to="1/2 along round")
    assert apart(again, was) < 1e-9
    assert again.darts[0].apex == pytest.approx(was.darts[0].apex, abs=1e-9)
    assert [d.at for d in again.drills] == [(0.0, 0.0)]


def test_the_demo_there_and_back_in_every_size() -> None:
    """Every other edge keeps its length, and the way back gives the piece back: the demo's legs,
    from its bust point, differ by less than 0.01 mm in its own size."""
    before = nest("supper-top")
    there = do(before, "move-dart", piece="front", dart="bust", to="middle of shoulder")
    back = do(there.pattern, "move-dart", dart="bust", piece="front", to="bust-dart-lower")
    for size in before.sizes:
        was, now, again = (p.piece("front", size) for p in (before, there.pattern, back.pattern))
        for run in was.outline.runs:
            kept = now.sewn_length(now.run(str(run.name)))
            # The legs differ a little from the bust point: the side is bent to their mean.
            limit = 0.1 if str(run.name).startswith("side") else 1e-9
            assert kept == pytest.approx(was.sewn_length(run), abs=limit), (size, run.name)
        dart = next(d for d in now.darts if d.name == "bust")
        hole = np.array(next(d.at for d in now.drills if d.name == "bust-point"))
        ends = mouth(now, dart)
        assert math.dist(ends[0], hole) == pytest.approx(math.dist(ends[1], hole), abs=1e-9)
        assert math.dist(ends[0], dart.apex) == pytest.approx(
            math.dist(ends[1], dart.apex), abs=1e-6
        )
        if size == before.base_size:
            assert apart(again, was) < 0.001
    assert off(there.pattern) == pytest.approx(off(before), abs=0.02)


def test_the_take_follows_the_leg() -> None:
    was = drawn("supper-top").piece("front")
    now = do(drawn("supper-top"), "move-dart", piece="front", dart="bust", to="middle of shoulder")
    piece = now.pattern.piece("front")
    hole = next(d.at for d in was.drills if d.name == "bust-point")
    ratio = []
    for one in (was, piece):
        dart = next(d for d in one.darts if d.name == "bust")
        a, b = mouth(one, dart)
        ratio.append(math.dist(a, b) / math.dist(a, hole))
    assert ratio[0] == pytest.approx(ratio[1], rel=1e-4)


def test_divided_between_two_places() -> None:
    was = sector(back=30.0)
    one = move(was, to="1/8 along round", part="1/2")
    assert sorted(d.name for d in one.darts) == ["bust", "bust-2"]
    for dart in one.darts:
        a, b = mouth(one, dart)
        assert math.dist(a, b) == pytest.approx(2 * RADIUS * math.sin(math.radians(5)), abs=1e-6)
        assert math.dist(dart.apex, (0, 0)) == pytest.approx(30, abs=1e-9)
        assert math.dist(a, dart.apex) == pytest.approx(math.dist(b, dart.apex), abs=1e-9)
    two = move(one, to="7/8 along round")
    assert sorted(d.name for d in two.darts) == ["bust", "bust-2"]
    assert two.sewn_length(two.run("round")) == pytest.approx(
        was.sewn_length(was.run("round")), abs=1e-6
    )


def test_a_dart_with_drawn_legs_keeps_its_kind() -> None:
    was = sector(back=30.0, drawn_legs=True)
    now = move(was, to="1/4 along round")
    (dart,) = now.darts
    assert dart.tip is None
    a, b = mouth(now, dart)
    assert math.dist(a, b) == pytest.approx(2 * RADIUS * math.sin(math.radians(10)), abs=1e-6)
    # The cap lies beyond the arc, as the arc mirrored over both legs does.
    cap = now.outline.path.segments(dart.a, dart.b)
    assert np.hypot(*cap.at(cap.length / 2)) > RADIUS


def test_a_set_back_of_its_own() -> None:
    now = move(sector(back=30.0), to="1/4 along round", back_off="1 in")
    assert math.dist(now.darts[0].apex, (0, 0)) == pytest.approx(25.4)
    hole = replace(
        sector(back=30.0), drills=(Drill(at(50, 30.0), "tip"), Drill((0, 0), "bust-point"))
    )
    moved = move(hole, to="1/4 along round")
    assert {d.name: d.at for d in moved.drills}["tip"] == pytest.approx(moved.darts[0].apex)


def test_without_a_point_it_turns_about_its_tip_and_says_so() -> None:
    was = replace(sector(back=30.0), drills=())
    done = do(Pattern((was,)), "move-dart", dart="bust", to="1/4 along round")
    assert "no-bust-point" in codes(done)
    assert done.pattern.piece("cup").darts[0].apex == pytest.approx(was.darts[0].apex)


def test_into_gathers_between_two_notches() -> None:
    before = drawn("supper-top")
    done = do(
        before,
        "move-dart",
        piece="front",
        dart="bust",
        to="1/3 along neck",
        into="gather",
        between=["1/6 along neck", "1/2 along neck"],
    )
    seam = next(s for s in done.pattern.seams if s.name == "neck-front")
    assert seam.ease is not None
    assert (seam.ease.kind, seam.ease.between) == ("gather", ("bust-from", "bust-to"))
    front, was = (p.piece("front") for p in (done.pattern, before))
    longer = front.sewn_length(front.run("neck")) - was.sewn_length(was.run("neck"))
    assert seam.ease.amount == pytest.approx(longer, abs=1e-6)
    assert [d.name for d in front.darts] == ["waist"]
    assert off(done.pattern)["neck-front"] == pytest.approx(off(before)["neck-front"], abs=1e-9)
    facing = was.sewn_length(was.run("neck"))
    assert [n.along / facing for n in seam.notches if n.name] == pytest.approx(
        [1 / 6, 1 / 2], abs=0.01
    )


def test_gathers_of_a_second_side_put_it_first() -> None:
    """The longer side stands first in a seam; the notches stay where they were."""
    before = replace(
        drawn("supper-top"),
        seams=parse_seams('neck: facing-front:neck = front:neck, notch "n" 3 cm'),
    )
    done = do(before, "move-dart", piece="front", dart="bust", to="2/3 along neck", into="ease")
    (seam,) = done.pattern.seams
    assert [str(part) for part in seam.first] == ["front:neck"]
    assert seam.ease is not None
    assert seam.ease.kind == "ease"
    assert next(n for n in seam.notches if n.name == "n").along == pytest.approx(30)
    assert off(done.pattern)["neck"] == pytest.approx(0, abs=0.01)


def test_into_flare() -> None:
    """The opening at the hem is the chord of the angle over the length from the point."""
    was = sector(back=30.0)
    now = move(was, to="1/4 along round", into="flare", fair=False)
    assert not now.darts
    grown = now.sewn_length(now.run("round")) - was.sewn_length(was.run("round"))
    assert grown == pytest.approx(2 * RADIUS * math.sin(math.radians(10)), rel=0.02)
    fair = move(was, to="1/4 along round", into="flare")
    assert abs(fair.outline.path.turns).max() == pytest.approx(
        abs(was.outline.path.turns).max(), abs=90
    )
    assert "round" in {r.name for r in fair.outline.runs}


def test_what_stays_is_what_lies_on_the_fold() -> None:
    before = drawn("supper-top")
    now = do(before, "move-dart", piece="front", dart="bust", to="middle of neck").pattern.piece(
        "front"
    )
    was = before.piece("front")
    assert now.fold is not None
    assert was.fold is not None
    old, new = (p.outline.run_path(Run(p.fold.start, p.fold.end)) for p in (was, now) if p.fold)
    assert old == new
    assert now.grain == was.grain


@pytest.mark.parametrize(
    "turn", [affine.rotation(37.0), affine.mirror(np.zeros(2), np.array([0.0, 1.0]))]
)
def test_turned_and_mirrored_pieces_do_the_same(turn: Floats) -> None:
    was, to = sector(back=30.0), "40 mm along round from low"
    other = move(was.transformed(turn), to=to)
    assert apart(other, move(was, to=to).transformed(turn)) < 1e-6


def test_before_grading_and_after() -> None:
    rules = steps("supper-top")
    given = {"piece": "front", "dart": "bust", "to": "middle of shoulder"}
    cut = do(drawn("supper-top"), "move-dart", **given).pattern
    sizes = grade(cut, rules, list(rules.sizes)).pattern
    for size in sizes.sizes:
        piece = sizes.piece("front", size)
        dart = next(d for d in piece.darts if d.name == "bust")
        a, b = mouth(piece, dart)
        assert math.dist(a, dart.apex) == pytest.approx(math.dist(b, dart.apex), abs=0.01)


BAD: list[tuple[dict[str, object], str]] = [
    ({"dart": "waist", "to": "1/4 along round"}, "no piece has a dart"),
    ({"to": "1/4 along hem"}, "hem"),
    ({"to": "middle of round"}, "lies in the mouth"),
    ({"to": "1/4 along round", "part": "0%"}, "no part"),
    ({"to": "1/4 along round", "part": "150%"}, "out of bounds"),
    ({"to": "low", "into": "flare"}, "corner"),
    ({"to": "1/4 along round", "point": "9 cm up from high"}, "outside"),
    ({"to": "1/4 along round", "back_off": "30 cm"}, "back-off"),
    ({"to": "1/4 along round", "into": "gather", "between": ["low"]}, "two places"),
    ({"to": "1/4 along round", "back_off": "-1 cm"}, "out of bounds"),
]


@pytest.mark.parametrize(("given", "words"), BAD)
def test_what_cannot_be_is_refused(given: dict[str, object], words: str) -> None:
    with pytest.raises(SizewrightError, match=words):
        move(sector(back=30.0), **given)


def test_into_another_dart() -> None:
    """The bust dart goes into the waist dart, whose legs stay alike; the side keeps its length."""
    before = nest("supper-top")
    done = do(before, "move-dart", piece="front", dart="bust", to="waist-dart-tip")
    for size in before.sizes:
        was, now = (p.piece("front", size) for p in (before, done.pattern))
        (dart,) = now.darts
        a, b = mouth(now, dart)
        assert dart.name == "waist"
        assert math.dist(a, dart.apex) == pytest.approx(math.dist(b, dart.apex), abs=1e-9)
        old = mouth(was, next(d for d in was.darts if d.name == "waist"))
        assert math.dist(a, b) > math.dist(*old) + 20
        for run in ("side", "waist", "armhole", "neck"):
            assert now.sewn_length(now.run(run)) == pytest.approx(
                was.sewn_length(was.run(run)), abs=0.1
            )
    assert off(done.pattern) == pytest.approx(off(before), abs=0.1)


def test_what_stands_in_the_way() -> None:
    pattern = drawn("supper-top")
    across = {"dart": "waist", "to": "middle of side-upper", "point": "waist-dart-tip"}
    with pytest.raises(GeometryError, match="meets a dart"):
        do(pattern, "move-dart", piece="front", **across)
    with pytest.raises(InputError, match="several pieces"):
        do(pattern, "move-dart", dart="waist", to="middle of shoulder")
    with pytest.raises(InputError, match="fold"):
        do(pattern, "move-dart", piece="front", dart="bust", to="middle of fold")
    with pytest.raises(LookupFailed, match="no dart"):
        do(pattern, "move-dart", piece="back", dart="bust", to="middle of shoulder")


def test_what_the_other_end_of_a_closed_mouth_was_called_is_told() -> None:
    done = do(
        drawn("supper-top"), "move-dart", piece="front", dart="waist", to="middle of shoulder"
    )
    told = next(f.text for f in done.findings if f.code == "point-met")
    assert "waist-dart-outer is one with waist-dart-inner" in told
