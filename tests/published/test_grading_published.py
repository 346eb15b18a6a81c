"""Grading against published figures and identities that hold for any consistent grade."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.geometry import affine
from sizewright.geometry.path import Path
from sizewright.grading import RuleTable, grade, grade_map, read_chart, read_rules
from sizewright.model import Fold, Outline, Pattern, Piece, Point
from tests.grading.outlines import UP, bodice_half, pieces

# US pattern-industry standard sizing, misses, adopted 1967-68 (inches): a sewing-history page
# of 2011 that gives the whole table, agreeing cell for cell with memory.
MISSES = """measure,unit,6,8,10,12,14,16,18,20
bust,in,30 1/2,31 1/2,32 1/2,34,36,38,40,42
waist,in,23,24,25,26 1/2,28,30,32,34
hip,in,32 1/2,33 1/2,34 1/2,36,38,40,42,44
back-waist,in,15 1/2,15 3/4,16,16 1/4,16 1/2,16 3/4,17,17 1/4
"""
STEPS = {
    "bust": [1, 1, 1.5, 2, 2, 2, 2],
    "waist": [1, 1, 1.5, 1.5, 2, 2, 2],
    "hip": [1, 1, 1.5, 2, 2, 2, 2],
    "back-waist": [0.25] * 7,
}
SIZES = ["6", "8", "10", "12", "14", "16", "18", "20"]
# A quarter of each girth at each side seam; the back waist length between neck and waist.
QUARTERS = {"bust-side": "bust", "waist-side": "waist", "hip-side": "hip"}


def quarter_rules() -> RuleTable:
    """Steps of a quarter of each girth, and the whole step of the back waist length."""
    rows = ["rule,axis,unit," + ",".join(SIZES)]
    for rule, measure in QUARTERS.items():
        rows.append(f"{rule},width,in,," + ",".join(str(s / 4) for s in STEPS[measure]))
    rows.append("neck,length,in,," + ",".join(str(s) for s in STEPS["back-waist"]))
    rows.append("still,length,in,," + ",".join("0" for _ in STEPS["bust"]))
    return read_rules("\n".join(rows))


def block(name: str, mirrored: bool = False) -> Piece:
    """A quarter of a dress block on its fold, size 12: girths as the table has them, in mm."""
    bust, waist, hip, back = (34 / 4 * 25.4, 26.5 / 4 * 25.4, 36 / 4 * 25.4, 16.25 * 25.4)
    y_hip, y_waist = 0.0, 200.0
    path = Path.of(
        [
            [[0, y_hip], [hip, y_hip]],
            [[hip, 0], [hip, 70], [waist + 12, 140], [waist, y_waist]],
            [[waist, y_waist], [bust, y_waist + 200]],
            [[bust, y_waist + 200], [60, y_waist + back]],
            [[60, y_waist + back], [0, y_waist + back]],
            [[0, y_waist + back], [0, 0]],
        ],
        closed=True,
    )
    rules = ["still", "hip-side", "waist-side", "bust-side", "neck", "neck"]
    names = ["hip-centre", "hip", "waist", "bust", "neck-side", "neck-centre"]
    points = [Point(v, n, r) for v, (n, r) in enumerate(zip(names, rules, strict=True))]
    piece = Piece(name, Outline.of(path, points=points), kind="sew", axis=UP, fold=Fold(5, 0))
    if mirrored:
        across = affine.mirror(np.array([0.0, 0.0]), np.array([0.0, 1.0]))
        return replace(piece.transformed(across), name=name)
    return piece


def place(pattern: Pattern, piece: str, size: str, point: str) -> np.ndarray:
    outline = pattern.piece(piece, size).outline
    return outline.vertex_at(outline.vertex(point))


def test_growth_sums_equal_the_published_table() -> None:
    chart, rules = read_chart(MISSES), quarter_rules()
    for base in SIZES:
        for to in SIZES:
            growth = rules.growth(base, to)
            for rule, measure in QUARTERS.items():
                want = chart.value(measure, to) - chart.value(measure, base)
                assert 4 * growth[rule]["width"] == pytest.approx(want, abs=1e-9)


def test_the_steps_are_those_of_the_table() -> None:
    chart = read_chart(MISSES)
    for measure, steps in STEPS.items():
        assert np.diff(chart.values[measure]) / 25.4 == pytest.approx(steps, abs=1e-12)


@pytest.mark.parametrize("mirrored", [False, True])
def test_four_quarters_make_the_girth_of_every_size(mirrored: bool) -> None:
    """Front and back, drawn the same way or facing each other, each on the fold."""
    chart = read_chart(MISSES)
    pattern = Pattern((block("front"), block("back", mirrored)), "12")
    nest = grade(pattern, quarter_rules(), SIZES, far=8).pattern
    for size in SIZES:
        for measure in ("bust", "waist", "hip"):
            girth = 2 * sum(abs(place(nest, p, size, measure)[0]) for p in ("front", "back"))
            assert girth == pytest.approx(chart.value(measure, size), abs=1e-9)
        back = place(nest, "back", size, "neck-side")[1] - place(nest, "back", size, "waist")[1]
        assert back == pytest.approx(chart.value("back-waist", size), abs=1e-9)


def test_shares_of_the_table_give_what_steps_give() -> None:
    chart, steps = read_chart(MISSES), quarter_rules()
    shares = read_rules(
        "rule,axis,bust,waist,hip,back-waist\nbust-side,width,1/4,,,\nwaist-side,width,,25%,,\n"
        "hip-side,width,,,0.25,\nneck,length,,,,1\nstill,length,,,,0\n"
    )
    for to in SIZES:
        one, two = steps.growth("12", to), shares.growth("12", to, chart=chart)
        for rule, by_axis in two.items():
            for axis, mm in by_axis.items():
                assert mm == pytest.approx(one[rule].get(axis, 0.0), abs=1e-9)


@given(pieces(), st.data())
def test_grading_up_then_down_returns_the_base(piece: Piece, data: st.DataObject) -> None:
    """The map is linear, so opposite amounts move every point back by as much."""
    one = grade_map(piece)
    given_ = np.array(
        data.draw(st.lists(st.floats(-9, 9), min_size=one.columns, max_size=one.columns))
    )
    there = one.moves(given_)
    assert np.abs(there + one.moves(-given_)).max() <= 1e-12
    assert np.abs(one.moves(3 * given_) - 3 * there).max() <= 1e-11


def test_mating_seams_keep_the_difference_of_their_lengths() -> None:
    """The side seams of front and back, one curved as the other, grade alike in every size."""
    back = block("back", mirrored=True)
    pattern = Pattern((block("front"), back), "12")
    nest = grade(pattern, quarter_rules(), SIZES, far=8).pattern
    for size in SIZES:
        front = nest.piece("front", size).outline
        other = nest.piece("back", size).outline
        a = front.run_length(front.run("hip..bust"))
        b = other.run_length(other.run("bust..hip"))
        assert a == pytest.approx(b, abs=1e-9)


@given(st.floats(-180, 180), st.floats(-500, 500), st.floats(-500, 500), st.data())
def test_a_rigid_turn_of_piece_and_axis_turns_every_move(
    degrees: float, dx: float, dy: float, data: st.DataObject
) -> None:
    piece = bodice_half()
    turn = affine.compose(affine.translation(dx, dy), affine.rotation(degrees))
    one, other = grade_map(piece), grade_map(piece.transformed(turn))
    assert one.rules == other.rules
    given_ = np.array(
        data.draw(st.lists(st.floats(-9, 9), min_size=one.columns, max_size=one.columns))
    )
    want = one.moves(given_) @ turn[:, :2].T
    assert np.abs(other.moves(given_) - want).max() <= 1e-9


def test_an_interpolated_field_agrees_with_scipy_inside() -> None:
    """Mean value coordinates of a square's middle and of its edges, against bilinear values."""
    from scipy.interpolate import RegularGridInterpolator

    from sizewright.grading.meanvalue import weights

    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    rng = np.random.default_rng(3)
    plane = rng.normal(size=3)
    corner = square @ plane[:2] + plane[2]
    grid = RegularGridInterpolator(([0, 1], [0, 1]), corner[[0, 3, 1, 2]].reshape(2, 2))
    points = rng.uniform(0, 1, (200, 2))
    assert np.abs(weights(square, points) @ corner - grid(points)).max() <= 1e-12
    edge = np.column_stack([rng.uniform(0, 1, 50), np.zeros(50)])
    values = np.array([2.0, -1.0, 5.0, 0.5])
    assert weights(square, edge) @ values == pytest.approx(2.0 - 3.0 * edge[:, 0])
