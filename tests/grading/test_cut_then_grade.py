"""Cutting a piece and then grading the part gives what grading and then cutting gives."""

from __future__ import annotations

import numpy as np
import pytest

from sizewright.geometry import affine
from sizewright.grading import grade_map, with_rule_weights
from sizewright.model import Pattern, Piece, RuleWeights, axis_frame, format_mixture
from tests.grading.outlines import bodice_half


def weighed_half() -> Piece:
    return with_rule_weights(Pattern((bodice_half(),))).pieces[0]


def weights_of(piece: Piece) -> RuleWeights:
    assert piece.weights is not None
    return piece.weights


def test_weights_are_those_of_the_map() -> None:
    piece = weighed_half()
    one = grade_map(piece)
    assert weights_of(piece).rules == one.rules
    assert len(weights_of(piece)) == len(piece.outline.path)
    assert np.array_equal(
        weights_of(piece).controls[:, :3].reshape(one.outline_rows, 2, -1),
        one.matrix[: one.outline_rows],
    )
    assert np.array_equal(
        weights_of(piece).controls[:, 3], np.roll(weights_of(piece).controls[:, 0], -1, 0)
    )


def test_a_ruled_vertex_reads_back_as_its_rule_however_the_piece_lies() -> None:
    m = affine.compose(affine.rotation(37.0), affine.affine(-1, 0, 0, 1, 5, 7))
    for piece in (weighed_half(), weighed_half().transformed(m)):
        frame, _ = axis_frame(piece)
        for point in piece.outline.points:
            place = piece.outline.vertex_at(point.vertex)
            found = weights_of(piece).mixture_at(point.vertex, frame, place)
            assert found is not None
            assert format_mixture(found) == point.rule


def test_a_vertex_put_in_splits_the_weights() -> None:
    piece = weighed_half()
    made, _ = piece.with_vertex(260.0, name="low")
    vertex = made.outline.vertex("low")
    frame, _ = axis_frame(made)
    mixture = weights_of(made).mixture_at(vertex, frame, made.outline.vertex_at(vertex))
    assert mixture is not None
    # The handle at the smooth waist leans on the section beyond it.
    assert set(mixture.rules) == {"hem-side", "waist", "underarm"}
    assert sum(w for _, w in mixture.length) == pytest.approx(1.0)


def test_stretches_join_and_turn_round() -> None:
    weights = weights_of(weighed_half())
    whole = RuleWeights.joined([weights.segments(2, 5), weights.segments(5, 2)])
    assert np.array_equal(whole.segments(5, 5).controls, weights.controls)
    assert np.array_equal(weights.reversed().reversed().controls, weights.controls)
    other = RuleWeights(("neck", "new"), np.ones((1, 4, 2, 4)))
    both = RuleWeights.joined([weights, other, RuleWeights.unknown(("new",), 1)])
    assert both.rules == (*weights.rules, "new")
    assert np.array_equal(both.controls[:-2, ..., :-2], weights.controls)
    assert both.controls[-2].sum() == 4 * 2 * 4
    assert np.isnan(both.controls[-1]).all()
