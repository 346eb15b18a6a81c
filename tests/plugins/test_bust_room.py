"""Room at the bust: what must stay is measured to stay, in every size."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import SizewrightError
from sizewright.geometry import affine
from sizewright.model import Pattern, Piece
from tests.operations import do
from tests.plugins.drafted import basic_set, lengths, supper_top

#: The point of the basic set is a hole without a name.
ABOVE = "1 in up from waist-dart-tip"
CASES = [
    (supper_top, {}),
    (supper_top, {"waist_dart": "waist"}),
    (supper_top, {"dart": "bust", "hinge": "1/4 along armhole"}),
    (basic_set, {"point": ABOVE}),
    (basic_set, {"point": ABOVE, "waist_dart": "waist"}),
    (basic_set, {"point": ABOVE, "new_dart": "1/3 along side-lower", "waist_dart": "waist"}),
]


def adjusted(pattern: Pattern, by: float, **given: object) -> Pattern:
    return do(pattern, "bust-room", piece="front", by=f"{by} mm", **given).pattern


@pytest.mark.parametrize("by", [12.7, 25.4])
@pytest.mark.parametrize(("garment", "given"), CASES)
def test_neck_shoulder_armhole_and_side_stay_in_every_size(garment, given, by) -> None:  # type: ignore[no-untyped-def]
    before = garment()
    after = adjusted(before, by, **given)
    for size in after.sizes:
        old, new = before.piece("front", size), after.piece("front", size)
        was, now = lengths(old), lengths(new)
        for run in ("neck", "shoulder", "armhole", "side"):
            assert now[run] == pytest.approx(was[run], abs=0.1), (size, run)
        gained = 0.0 if "waist_dart" in given else by
        # Led square to the legs of its dart, the waist is a trifle longer.
        assert now["waist"] - was["waist"] == pytest.approx(gained, abs=0.1)
        # The side's darts have equal legs, and the drawn names stay.
        for dart in new.darts:
            legs = [math.dist(new.outline.vertex_at(v), dart.apex) for v in (dart.a, dart.b)]
            known = {d.name: d for d in old.darts}.get(dart.name)
            if known is None or known.tip is not None:
                assert legs[0] == pytest.approx(legs[1], abs=0.6 if known else 1e-6)
        names = {p.name for p in old.outline.points if p.name}
        assert names <= {p.name for p in new.outline.points}


@given(st.floats(5, 35))
def test_the_opening_at_the_point_is_level_and_the_centre_grows_by_the_shift(by: float) -> None:
    """The shift by the chord of a turn about the hinge, worked out by hand."""
    by = round(by, 3)
    before = supper_top().in_size("12")
    after = adjusted(before, by)
    old, new = before.piece("front"), after.piece("front")
    point = np.array(next(d.at for d in old.drills if d.name == "bust-point"))
    hinge = old.outline.vertex_at(old.outline.vertex("armhole-middle"))
    across, down = hinge[0] - point[0], hinge[1] - point[1]
    shift = math.sqrt(across**2 + down**2 - (across - by) ** 2) - down
    assert old.fold is not None
    grown = new.outline.run_length(new.run("fold")) - old.outline.run_length(old.run("fold"))
    assert grown == pytest.approx(shift, abs=1e-6)
    # Below, the side half moved out by `by` and down by the shift, without a turn.
    for name in ("side-waist", "bust-dart-lower"):
        a, b = (p.outline.vertex_at(p.outline.vertex(name)) for p in (old, new))
        assert b - a == pytest.approx([by, -shift], abs=1e-6)
    # The hole is in the middle of the opening.
    moved = next(d.at for d in new.drills if d.name == "bust-point")
    assert np.array(moved) - point == pytest.approx([by / 2, -shift], abs=1e-6)
    assert len(new.drills) == len(old.drills)


def test_the_waist_dart_takes_what_the_waist_would_gain() -> None:
    before = supper_top()
    after = adjusted(before, 20, waist_dart="waist")

    def width(piece: Piece) -> float:
        dart = next(d for d in piece.darts if d.name == "waist")
        return math.dist(*(piece.outline.vertex_at(v) for v in (dart.a, dart.b)))

    for size in after.sizes:
        old, new = before.piece("front", size), after.piece("front", size)
        assert width(new) - width(old) == pytest.approx(20, abs=0.01)


def test_a_new_dart_in_the_side_opens_by_the_turn_and_stops_an_inch_from_the_point() -> None:
    new = adjusted(basic_set(), 20, point=ABOVE, new_dart="1/3 along side-lower").piece("front")
    dart = next(d for d in new.darts if d.name == "bust-2")
    assert dart.tip is None  # drawn, and the outline runs over its mouth
    a, b = (new.outline.vertex_at(v) for v in (dart.a, dart.b))
    centre = (a + b) / 2
    hole = next(d.at for d in new.drills)
    way = (np.array(dart.apex) - centre) / math.dist(dart.apex, centre)
    assert float((np.array(hole) - np.array(dart.apex)) @ way) == pytest.approx(25.4, abs=0.1)


@pytest.mark.parametrize("turn", [0.0, 37.0, 180.0])
def test_mirrored_and_turned_alike(turn: float) -> None:
    before = supper_top().in_size("12")
    move = affine.compose(affine.rotation(turn, (100.0, 500.0)), affine.affine(-1, 0, 0, 1, 300, 0))
    axis = before.piece("front").with_changes().axis
    assert axis is None
    fixed = before.replacing(lambda p: p.with_changes(axis=_axis(p)) if p.name == "front" else p)
    one = adjusted(fixed, 20).piece("front").transformed(move)
    other = adjusted(fixed.replacing(lambda p: p.transformed(move)), 20).piece("front")
    for name in ("underarm", "bust-dart-tip", "bust-dart-upper", "waist-centre", "side-waist"):
        a, b = (p.outline.vertex_at(p.outline.vertex(name)) for p in (one, other))
        assert a == pytest.approx(b, abs=0.01)


def _axis(piece: Piece):  # type: ignore[no-untyped-def]
    from sizewright.model import Axis

    assert piece.grain is not None
    ends = sorted((piece.grain.start, piece.grain.end), key=lambda p: p[1])
    return Axis(*ends)


def test_what_changes_is_told_with_its_mates() -> None:
    done = do(supper_top(), "bust-room", piece="front", by="2 cm")
    told = {f.code: f.text for f in done.findings}
    assert "opened by 2 cm" in told["bust-room"]
    assert "4 cm" in told["bust-room"]
    assert {f.place for f in done.findings if f.code == "mate-to-follow"} == {"waist"}


def test_by_nothing_nothing_changes() -> None:
    done = do(supper_top(), "bust-room", piece="front", by="0 mm")
    assert done.pattern == supper_top()


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"piece": "back"}, "no drill hole bust-point"),
        ({"dart": "hip"}, 'no dart "hip"'),
        ({"dart": "bust", "new_dart": "middle of side"}, "both tell which dart"),
        ({"dart": "waist"}, "do not follow each other"),
        ({"by": "12 cm"}, "cannot open by 12 cm"),
        ({"waist_dart": "bust", "dart": "bust"}, "one dart cannot take both"),
        ({"point": "30 cm across from waist-centre"}, "lies outside"),
    ],
)
def test_what_cannot_be_done_says_why(given: dict[str, object], words: str) -> None:
    given = {"piece": "front", "by": "2 cm", **given}
    with pytest.raises(SizewrightError, match=words):
        do(supper_top(), "bust-room", **given)


def test_an_opened_piece_is_refused_with_the_cure() -> None:
    opened = do(supper_top(), "fold-marks", open=["front"], words="").pattern
    with pytest.raises(SizewrightError, match=r"opened out.*before the piece is opened"):
        do(opened, "bust-room", piece="front", by="2 cm")


@pytest.mark.parametrize("by", ["1 cm", "2.5 cm"])
def test_the_waist_runs_on_over_its_wider_dart(by: str) -> None:
    # By numpy alone: both edges stand at one angle to the legs of the closed dart.
    before = supper_top()
    made = do(before, "bust-room", piece="front", by=by, waist_dart="waist").pattern
    for size in ("8", "10", "12", "14", "16"):
        piece, old = made.piece("front", size), before.piece("front", size)
        (dart,) = (d for d in piece.darts if d.name == "waist")
        path, n = piece.outline.path, len(piece.outline.path)
        tip = np.array(dart.apex)
        into, out = path.controls[(dart.a - 1) % n], path.controls[dart.b % n]
        angles = []
        for edge, end in ((into[2] - into[3], into[3]), (out[1] - out[0], out[0])):
            leg = tip - end
            cos = edge @ leg / np.hypot(*edge) / np.hypot(*leg)
            angles.append(np.degrees(np.arccos(cos)))
        assert sum(angles) == pytest.approx(180.0, abs=0.05)
        assert piece.sewn_length(piece.run("waist")) == pytest.approx(
            old.sewn_length(old.run("waist")), abs=0.15
        )
        assert {r.name for r in piece.outline.runs} == {r.name for r in old.outline.runs}
        assert {p.name for p in piece.outline.points} == {p.name for p in old.outline.points}
