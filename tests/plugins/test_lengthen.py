"""Pieces made longer and shorter: by how much, what stays, what follows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import SizewrightError
from sizewright.geometry import Path, affine
from sizewright.model import (
    Adjust,
    Axis,
    Dart,
    Drill,
    Fold,
    Mark,
    Notch,
    Pattern,
    Piece,
    match_seam,
)
from tests.operations import do
from tests.plugins.drafted import basic_set, lengths, panel, supper_top


def full(**more: object) -> Piece:
    """A panel with a line across at 200 and things above and below it."""
    given: dict[str, object] = {
        "fold": Fold(3, 0),
        "adjusts": (Adjust(Path.polyline([(10, 200), (190, 200)]), "lengthen-skirt"),),
        "drills": (Drill((50, 100), "low"), Drill((50, 400), "high"), Drill((60, 200), "on")),
        "marks": (Mark(Path.polyline([(80, 0), (80, 600)]), "centre line", "middle"),),
        **more,
    }
    return panel(**given)  # type: ignore[arg-type]


def lengthen(one: Piece, by: str, **given: object) -> Piece:
    given = {"at": ["lengthen-skirt"], **given}
    return do(Pattern((one,)), "lengthen", by=by, **given).pattern.pieces[0]


@given(st.floats(1, 200))
def test_a_rectangle_gets_longer_by_just_so_much_and_no_vertex_more(by: float) -> None:
    by = round(by, 3)
    new = lengthen(full(), f"{by} mm")
    assert new.area == pytest.approx(200 * (600 + by), rel=1e-12)
    assert lengths(new) == pytest.approx(
        {"hem": 200, "waist": 200, "left": 600 + by, "right": 600 + by}
    )
    assert len(new.outline.path) == 4
    assert new.fold is not None
    assert new.outline.run_length(new.run("fold")) == pytest.approx(600 + by)
    # What is above stays, to the bit; what is on the line counts as above.
    assert new.outline.vertex_at(new.outline.vertex("left")).tolist() == [0, 600]
    assert {d.name: d.at for d in new.drills}["high"] == (50, 400)
    assert {d.name: d.at for d in new.drills}["on"] == (60, 200)
    assert {d.name: d.at for d in new.drills}["low"] == pytest.approx((50, 100 - by))
    (middle,) = new.marks
    assert middle.path.length == pytest.approx(600 + by)
    assert new.adjusts == full().adjusts


def test_shorter_and_back_again() -> None:
    short = lengthen(full(), "-5 cm")
    assert short.area == pytest.approx(200 * 550)
    assert lengths(short)["right"] == pytest.approx(550)
    back = lengthen(short, "2 in", at=["lengthen-skirt"])
    assert back.area == pytest.approx(200 * 600.8)
    again = lengthen(lengthen(full(), "5 cm"), "-5 cm")
    corners = sorted(map(tuple, again.outline.path.vertices.round(9)))
    assert corners == sorted(map(tuple, full().outline.path.vertices))


@given(st.floats(-180, 180), st.booleans())
def test_it_opens_along_the_axis_however_the_piece_lies(turn: float, flip: bool) -> None:
    move = affine.rotation(turn, (30.0, 50.0))
    if flip:
        move = affine.compose(move, affine.affine(-1, 0, 0, 1, 0, 0))
    piece = full().with_changes(grain=None, axis=Axis((100.0, 100.0), (100.0, 400.0)))
    one = lengthen(piece, "3 cm").transformed(move)
    other = lengthen(piece.transformed(move), "3 cm")
    a, b = one.outline.path.vertices, other.outline.path.vertices
    away = np.hypot(*(a[:, None] - b[None]).transpose(2, 0, 1)).min(axis=1)
    assert away.max() < 1e-9


def test_at_places_and_at_several_lines_in_all_by_so_much() -> None:
    new = lengthen(full(), "6 cm", at=["10 cm up from low-right", "lengthen-skirt"])
    assert lengths(new)["right"] == pytest.approx(660)
    assert {d.name: d.at for d in new.drills}["low"] == pytest.approx((50, 70))


@pytest.mark.parametrize("by", [30.0, -25.0])
def test_the_demo_in_every_size_with_its_mates_and_notches(by: float) -> None:
    before = supper_top()
    done = do(before, "lengthen", at=["lengthen-body"], by=f"{by} mm")
    after = done.pattern
    assert not [f for f in done.findings if f.code not in ("faired", "piece-moved")]
    for size in after.sizes:
        for seam in after.seams:
            assert abs(match_seam(after, seam, size).off) < 0.5, (size, seam.name)
        for name in ("front", "back"):
            old, new = before.piece(name, size), after.piece(name, size)
            was, now = lengths(old), lengths(new)
            assert now["side"] - was["side"] == pytest.approx(by, abs=4)
            for run in ("neck", "shoulder", "armhole", "waist"):
                assert now[run] == pytest.approx(was[run], abs=1e-9)
            assert len(new.outline.path) == len(old.outline.path)
            assert [d.name for d in new.darts] == [d.name for d in old.darts]
            for dart, old_dart in zip(new.darts, old.darts, strict=True):
                a, b = (new.outline.vertex_at(v) for v in (dart.a, dart.b))
                legs = [np.hypot(*(p - np.array(dart.apex))) for p in (a, b)]
                olds = [
                    np.hypot(*(old.outline.vertex_at(v) - np.array(old_dart.apex)))
                    for v in (old_dart.a, old_dart.b)
                ]
                assert legs[0] - legs[1] == pytest.approx(olds[0] - olds[1], abs=0.1)
            assert len(new.notches) == len(old.notches)
    centre = next(m for m in after.piece("back").marks if m.name == "centre-back")
    assert centre.path.length == pytest.approx(412.75 + by)
    assert len(centre.path) == 1


@pytest.mark.parametrize(
    ("at", "pieces", "by"),
    [
        ("lengthen-body", ("front", "back"), 40.0),
        ("lengthen-sleeve", ("sleeve",), -50.0),
        ("lengthen-skirt", ("skirt-front", "skirt-back"), 101.6),
        ("lengthen-leg", ("trousers-front", "trousers-back"), -63.5),
        ("lengthen-rise", ("trousers-front", "trousers-back"), 20.0),
    ],
)
def test_the_basic_set_has_adjust_lines_that_serve_every_size(
    at: str, pieces: tuple[str, ...], by: float
) -> None:
    before = basic_set()
    after = do(before, "lengthen", at=[at], by=f"{by / 25.4} in").pattern
    for size in after.sizes:
        assert max(abs(match_seam(after, s, size).off) for s in after.seams) < 0.5
        for name in pieces:
            old, new = before.piece(name, size), after.piece(name, size)
            tall = new.outline.path.bounds[3] - new.outline.path.bounds[1]
            was = old.outline.path.bounds[3] - old.outline.path.bounds[1]
            assert tall - was == pytest.approx(by, abs=1e-6)
            assert len(new.outline.corners) == len(old.outline.corners)


def test_a_drawn_dart_keeps_its_tip_where_it_lies() -> None:
    piece = panel().with_changes(
        darts=(Dart("waist", 2, 3, (100.0, 300.0)),),
    )
    low = lengthen(piece, "4 cm", piece="panel", at=["10 cm up from low-right"]).darts[0]
    assert low.apex == (100.0, 300.0)
    high = lengthen(piece, "4 cm", piece="panel", at=["40 cm up from low-right"]).darts[0]
    assert high.apex == pytest.approx((100.0, 260.0))


def test_notches_go_with_their_part_and_the_story_tells() -> None:
    piece = full(notches=(Notch(panel().outline.spot(250.0)), Notch(panel().outline.spot(700.0))))
    new = lengthen(piece, "4 cm")
    places = sorted(new.outline.path.at(new.outline.arc_length_of(n.at))[1] for n in new.notches)
    assert places == pytest.approx([10, 500])
    assert new.story == ("lengthened by 4 cm · ≈ 1 9/16 in at lengthen-skirt",)


def test_by_nothing_nothing_changes() -> None:
    pattern = Pattern((full(),))
    done = do(pattern, "lengthen", at=["lengthen-skirt"], by="0 mm")
    assert done.pattern == pattern


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"at": ["lengthen-sleeve"]}, 'no point or corner "lengthen-sleeve"'),
        ({"at": []}, "nothing says where"),
        ({"by": "-30 cm"}, "below the line there are no 30 cm to take away"),
        ({"at": ["low-left"]}, "lies along an edge"),
        ({"at": ["2 cm up from left"]}, "misses the piece"),
        ({"piece": "sleeve"}, 'no piece "sleeve"'),
    ],
)
def test_what_cannot_be_lengthened_says_why(given: dict[str, object], words: str) -> None:
    given = {"by": "3 cm", "piece": "panel", **given}
    with pytest.raises(SizewrightError, match=words):
        lengthen(full(), **given)  # type: ignore[arg-type]


def test_a_misspelt_line_is_told_the_right_one() -> None:
    with pytest.raises(SizewrightError, match='Did you mean "lengthen-skirt"') as caught:
        lengthen(full(), by="3 cm", at=["lengthen-skrit"])
    assert 'no piece has an adjust line "lengthen-skrit"' in str(caught.value)


def test_a_line_that_another_piece_has_is_missed_by_name() -> None:
    with pytest.raises(SizewrightError, match=r"sleeve .*: it has no adjust line lengthen-body"):
        do(basic_set(), "lengthen", pieces=["front", "sleeve"], at=["lengthen-body"], by="3 cm")
