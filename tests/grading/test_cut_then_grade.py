"""Cutting a piece and then grading the part gives what grading and then cutting gives."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import GeometryError, InputError, LookupFailed
from sizewright.geometry import affine
from sizewright.geometry.crossings import is_simple
from sizewright.geometry.path import Path
from sizewright.grading import (
    Growth,
    base_pieces,
    grade,
    grade_map,
    read_rules,
    with_mixtures,
    with_rule_weights,
)
from sizewright.grading.mixed import parted
from sizewright.model import Pattern, Piece, RuleWeights, axis_frame, format_mixture
from tests.grading.cutting import Cut, apart, part_of, part_path
from tests.grading.outlines import amounts, bodice_half, pieces
from tests.operations import drawn, steps


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
            found = weights_of(piece).mixture_at(point.vertex, frame, piece.outline.path)
            assert found is not None
            assert format_mixture(found) == point.rule


def test_a_vertex_put_in_splits_the_weights() -> None:
    piece = weighed_half()
    made, _ = piece.with_vertex(260.0, name="low")
    vertex = made.outline.vertex("low")
    frame, _ = axis_frame(made)
    mixture = weights_of(made).mixture_at(vertex, frame, made.outline.path)
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


# --- cut then grade equals grade then cut ---------------------------------------------------


def both_ways(piece: Piece, cut: Cut, amounts: list[Growth]) -> tuple[float, float] | None:
    """How far apart the two ways end, mm: on lines and on curves, at equal parameters."""
    part = part_of(piece, cut)
    if part is None:
        return None
    assert part.weights is None
    whole, own = grade_map(piece), grade_map(part)
    worst = [0.0, 0.0]
    for growth in amounts:
        try:
            graded = whole.apply(whole.amounts(growth))[0].outline.path
            first = part_path(graded, cut)
        except GeometryError:
            continue  # so large amounts turn the piece inside out
        then = own.apply(own.amounts(growth))[0].outline.path
        off = apart(first, then)
        lines = first.lines
        worst[0] = max(worst[0], float(off[lines].max(initial=0.0)))
        worst[1] = max(worst[1], float(off[~lines].max(initial=0.0)))
    return worst[0], worst[1]


def cuts(piece: Piece, count: int, seed: int) -> Iterator[Cut]:
    """Straight cuts that stay within a piece."""
    rng = np.random.default_rng(seed)
    path = piece.outline.path
    while count:
        a, b = (int(k) for k in rng.choice(len(path), 2, replace=False))
        cut = ((a, float(rng.uniform(0.1, 0.9))), (b, float(rng.uniform(0.1, 0.9))))
        try:
            part = part_path(path, cut)
        except GeometryError:
            continue
        count -= 1
        if part.area > 500.0 and is_simple(part):
            yield cut


@pytest.mark.parametrize("name", ["supper-top", "basic-set"])
def test_a_cut_base_grades_as_the_graded_pattern_is_cut(name: str) -> None:
    """Straight cuts through every piece of the shipped patterns, in every size of their tables."""
    pattern, table = drawn(name), steps(name)
    base, pieces = base_pieces(pattern)
    growths = [table.growth(base, size) for size in table.sizes]
    done, worst = 0, [0.0, 0.0]
    for piece in with_rule_weights(pattern.with_pieces(pieces)).pieces:
        for cut in cuts(piece, 12, seed=3):
            found = both_ways(piece, cut, growths)
            if found is not None:
                done += 1
                worst = [max(a, b) for a, b in zip(worst, found, strict=True)]
    assert done >= 25
    assert worst[0] <= 1e-9
    assert worst[1] <= 0.15
    print(f"{name}: {done} cuts, lines {worst[0]:.1e} mm, curves {worst[1]:.1e} mm")


@given(st.data())
def test_any_piece_cut_grades_as_it_is_cut_when_graded(data: st.DataObject) -> None:
    piece = data.draw(pieces(every_corner=data.draw(st.booleans())))
    turn = data.draw(st.sampled_from([0.0, 37.0]))
    piece = piece.transformed(affine.rotation(turn))
    (piece,) = with_rule_weights(Pattern((piece,))).pieces
    for cut in cuts(piece, 3, data.draw(st.integers(0, 1000))):
        rules = weights_of(piece).rules
        gains = data.draw(amounts(2 * len(rules)))
        growth = {
            r: {"width": gains[2 * k], "length": gains[2 * k + 1]} for k, r in enumerate(rules)
        }
        found = both_ways(piece, cut, [growth])
        assert found is None or (found[0] <= 1e-9 and found[1] <= 0.15)


def test_what_was_not_cut_keeps_its_rules() -> None:
    half = bodice_half()
    (same,) = with_mixtures(with_rule_weights(Pattern((half,)))).pieces
    assert same == half


def test_a_half_opened_at_its_fold_grades_as_the_graded_half_opened() -> None:
    """Where the half was cut before, so that it bears mixtures and slants."""
    half = weighed_half()
    cut = ((2, 0.4), (6, 0.6))  # through the armhole and the fold: the upper part
    part = part_of(half, cut)
    assert part is not None
    rules = grade_map(part).rules
    growth = {r: {"width": 3.0 + k, "length": 5.0 - k} for k, r in enumerate(rules)}
    fold = part.outline.path.vertices[[-2, -1]]
    mirror = affine.mirror(*fold)
    other = part.transformed(mirror)

    def graded(piece: Piece) -> Path:
        one = grade_map(piece)
        return one.apply(one.amounts(growth))[0].outline.path

    alike = graded(part).transformed(mirror).reversed()
    assert np.abs(alike.controls - graded(other).controls).max() <= 1e-9


def test_a_table_at_levels_takes_each_rule_of_a_mixture_at_the_point() -> None:
    """At one size everywhere the parted piece goes as the whole one."""
    part = part_of(weighed_half(), ((2, 0.4), (6, 0.6)))
    assert part is not None
    by_point, origin = parted(part)
    one, whole = grade_map(by_point), grade_map(part)
    growth = {r: {"width": 3.0 + k, "length": 5.0 - k} for k, r in enumerate(whole.rules)}
    own = {name: growth[rule] for name, (rule, _) in origin.items()}
    off = one.moves(one.amounts(own)) - whole.moves(whole.amounts(growth))
    assert np.abs(off).max() <= 1e-9


def test_rules_of_a_mixture_must_be_there() -> None:
    rules = read_rules("rule,axis,unit,10,12\na,width,mm,,5\nspare,width,mm,,5\n")
    half = replace(bodice_half(), outline=replace(bodice_half().outline, points=()))

    def marked(rule: str) -> Pattern:
        return Pattern((replace(half, outline=half.outline.with_point(1, rule=rule)),), "10")

    found = grade(marked("width a 0.5"), rules, ["12"])
    assert [f.text for f in found.findings if f.code == "rules-unused"] == [
        "no point uses this rule: spare"
    ]
    with pytest.raises(LookupFailed, match='no rule "b" at front:#2'):
        grade(marked("width a 0.5 b 0.5"), rules, ["12"])
    with pytest.raises(InputError, match="cannot be read") as told:
        grade(marked("width a half"), rules, ["12"])
    assert told.value.where == "front:#2"
