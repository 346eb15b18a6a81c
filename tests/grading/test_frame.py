"""The grade axes: what is up, and which way width counts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sizewright.geometry import affine
from sizewright.geometry.path import Path
from sizewright.grading import grade_map
from sizewright.model import (
    Axis,
    Fold,
    Grain,
    Mark,
    Outline,
    Piece,
    Point,
    Run,
    axis_frame,
    drafting_axis,
)
from tests.grading.outlines import bodice_half


def box(**more: object) -> Piece:
    path = Path.polyline([[0, 0], [200, 0], [200, 300], [0, 300]], closed=True)
    return Piece("box", Outline.of(path), **more)  # type: ignore[arg-type]


def codes(piece: Piece) -> set[str]:
    return {f.code for f in axis_frame(piece)[1]}


def test_the_axis_comes_before_the_grain_and_both_before_the_page() -> None:
    grain, axis = Grain((50, 50), (50, 250)), Axis((0, 0), (100, 0))
    assert axis_frame(box(axis=axis, grain=grain))[0].up == pytest.approx([1, 0])
    frame, findings = axis_frame(box(grain=grain))
    assert frame.up == pytest.approx([0, 1])
    assert findings == ()
    frame, findings = axis_frame(box())
    assert frame.up == pytest.approx([0, 1])
    assert [f.code for f in findings] == ["axis-assumed"]


def test_the_grain_is_up_by_the_end_nearer_the_top_unless_it_has_one_end() -> None:
    assert axis_frame(box(grain=Grain((50, 250), (50, 50))))[0].up == pytest.approx([0, 1])
    one_way = box(grain=Grain((50, 250), (50, 50), 1))
    assert axis_frame(one_way)[0].up == pytest.approx([0, -1])
    assert codes(one_way) == {"grain-points-down"}
    assert codes(box(grain=Grain((50, 50), (50, 250), 1))) == set()


def test_width_counts_away_from_the_centre() -> None:
    grain = Grain((50, 50), (50, 250))
    assert axis_frame(box(grain=grain))[0].out == pytest.approx([1, 0])
    assert axis_frame(box(grain=grain, fold=Fold(3, 0)))[0].out == pytest.approx([1, 0])
    left = axis_frame(box(grain=grain, fold=Fold(1, 2)))[0]
    assert left.out == pytest.approx([-1, 0])
    assert left.words() == "length counts up the grain, width away from the fold"
    piece = box(grain=grain)
    for name in ("centre-front", "centre-back", "Center-Front"):
        named = replace(piece, outline=piece.outline.with_run(Run(1, 2, name)))
        assert axis_frame(named)[0].out == pytest.approx([-1, 0])
    assert "to the right" in axis_frame(piece)[0].words()


def test_looking_with_up_up_right_is_right() -> None:
    frame = axis_frame(box(axis=Axis((0, 0), (-1, 0))))[0]
    assert frame.out == pytest.approx([0, 1])
    # The standard's y is 90 degrees counter-clockwise from up, so against width here.
    assert frame.from_standard(3.0, 2.0) == pytest.approx((-2.0, 3.0))


def test_the_standards_axes_do_not_turn_with_the_centre() -> None:
    for fold in (None, Fold(3, 0), Fold(1, 2)):
        piece = box(grain=Grain((50, 50), (50, 250)), fold=fold)
        outline = piece.outline.with_point(2, rule="a")
        one = grade_map(replace(piece, outline=outline))
        moved, _ = one.apply(one.amounts({"a": {"x": 5.0, "y": 2.0}}))
        assert moved.outline.vertex_at(2) - [200, 300] == pytest.approx([-2.0, 5.0])


def test_a_front_and_a_back_facing_each_other_take_the_same_rule() -> None:
    piece = box(grain=Grain((50, 50), (50, 250)), fold=Fold(3, 0))
    front = replace(piece, outline=piece.outline.with_point(1, name="hem", rule="side"))
    across = affine.mirror(np.array([300.0, 0.0]), np.array([300.0, 1.0]))
    back = front.transformed(across)
    moves = []
    for one in (front, back):
        each = grade_map(one)
        after, _ = each.apply(each.amounts({"side": {"width": 6.0, "length": -1.0}}))
        v = one.outline.vertex("hem")
        moves.append(after.outline.vertex_at(v) - one.outline.vertex_at(v))
    assert moves[0] == pytest.approx([6.0, -1.0])
    assert moves[1] == pytest.approx([-6.0, -1.0])


def test_a_line_at_the_centre_of_a_whole_piece_turns_width_both_ways() -> None:
    centre = Mark(Path.polyline([[100, 0], [100, 300]]), kind="centre")
    piece = box(grain=Grain((50, 50), (50, 250)), marks=(centre,))
    outline = piece.outline
    for v in range(4):
        outline = outline.with_point(v, rule="a")
    one = grade_map(replace(piece, outline=outline))
    after, _ = one.apply(one.amounts({"a": {"width": 4.0}}))
    assert (after.outline.path.vertices - outline.path.vertices)[:, 0] == pytest.approx(
        [-4, 4, 4, -4]
    )
    assert after.marks[0].path.start == pytest.approx([100, 0], abs=1e-9)


@pytest.mark.parametrize(
    ("grain", "bias"), [((100, 100), True), ((0, 100), False), ((30, 100), False)]
)
def test_a_grain_on_the_bias_wants_an_axis(grain: tuple[float, float], bias: bool) -> None:
    for fold in (None, Fold(3, 0)):
        piece = box(grain=Grain((50, 50), (50 + grain[0], 50 + grain[1])), fold=fold)
        assert ("grain-on-bias" in codes(piece)) == bias
        assert "grain-on-bias" not in codes(replace(piece, axis=Axis((0, 0), (0, 9))))


def test_a_fold_across_the_axis_gives_no_side() -> None:
    piece = box(grain=Grain((50, 50), (50, 250)), fold=Fold(0, 1))
    assert codes(piece) == {"centre-askew"}
    assert axis_frame(piece)[0].out == pytest.approx([1, 0])


def test_points_with_a_rule_are_what_moves() -> None:
    piece = box(grain=Grain((50, 50), (50, 250)))
    one = grade_map(replace(piece, outline=piece.outline.with_point(0, rule="a")))
    assert one.rules == ("a",)
    assert one.riding == (1, 2, 3)
    assert Point(0, None, "a") in one.piece.outline.points


def test_an_axis_may_say_which_way_width_counts() -> None:
    for away, x in (("left", -1.0), ("right", 1.0)):
        half = replace(bodice_half(), axis=Axis((0.0, 0.0), (0.0, 100.0), away=away))
        frame, findings = axis_frame(half)
        assert tuple(frame.out) == (x, 0.0)
        assert not findings
        assert frame.away == away
        turned = half.transformed(affine.affine(-1, 0, 0, 1, 0, 0))
        assert tuple(axis_frame(turned)[0].out) == (-x, 0.0)
    assert "away from the fold" in axis_frame(half)[0].words()
    assert (
        "to the left" in axis_frame(replace(half, axis=replace(half.axis, away="left")))[0].words()
    )


def test_a_part_keeps_the_axes_of_its_piece() -> None:
    half = bodice_half()
    before, _ = axis_frame(half)
    part = replace(half, fold=None, axis=drafting_axis(half))
    for one in (part, part.transformed(affine.rotation(37)).transformed(affine.rotation(-37))):
        after, _ = axis_frame(one)
        assert np.allclose(after.basis, before.basis, atol=1e-15)
    grain = replace(half, axis=None, grain=Grain((50, 300), (50, 100)), fold=None)
    assert drafting_axis(grain) == Axis((50.0, 100.0), (50.0, 300.0), False, "right")


def test_a_part_beside_an_inner_centre_counts_to_its_side() -> None:
    mark = Mark(Path.polyline([[100.0, 0.0], [100.0, 500.0]]), name="centre")
    whole = replace(bodice_half(), fold=None, marks=(mark,))
    sides = {
        x: drafting_axis(whole, np.array([[x, 10.0], [100.0, 30.0]])).away for x in (20.0, 180.0)
    }
    assert sides == {20.0: "left", 180.0: "right"}
    assert drafting_axis(whole, np.array([[20.0, 0.0], [180.0, 0.0]])).away is None
