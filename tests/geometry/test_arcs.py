"""Arcs as cubics: SVG's, DXF's, whole ellipses."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import GeometryError
from sizewright.geometry import (
    Path,
    arc_to_cubics,
    bezier,
    bulge_to_cubics,
    circular_arc,
    ellipse,
)
from sizewright.geometry.arcs import TOLERANCE, piece_count

_T = np.linspace(0, 1, 201)


def points(pieces) -> np.ndarray:
    return bezier.evaluate(np.array(pieces)[:, None], _T).reshape(-1, 2)


@given(st.floats(0.01, 2000), st.floats(-360, 360), st.floats(1, 360), st.booleans())
def test_a_circular_arc_keeps_its_radius_and_ends(radius, start, turn, back):
    end = start + (-turn if back else turn)
    pieces = circular_arc((10, -20), radius, start, end)
    away = np.hypot(*(points(pieces) - (10, -20)).T) - radius
    assert np.abs(away).max() <= TOLERANCE * (1 + 1e-9)
    assert away.min() >= -1e-12 * (radius + 1)  # never inside
    for angle, p in ((start, pieces[0][0]), (end, pieces[-1][3])):
        a = np.radians(angle)
        expected = (10 + radius * np.cos(a), -20 + radius * np.sin(a))
        np.testing.assert_allclose(p, expected, rtol=0, atol=1e-11 * (radius + 1))
    length = Path.of(pieces, closed=False).length
    assert length == pytest.approx(radius * np.radians(turn), rel=1e-4 / radius + 1e-6)


def test_no_more_pieces_than_the_tolerance_needs():
    for radius in (1.0, 50.0, 2000.0):
        count = piece_count(radius, 360)
        fewer = circular_arc((0, 0), radius, 0, 360 / (count - 1)) if count > 4 else None
        if fewer is not None:
            assert len(fewer) == 2  # one piece less would not do


def test_a_whole_ellipse():
    path = ellipse(5, 6, 300, 200)
    assert path.closed
    assert path.area > 0
    assert len(path) % 4 == 0
    assert path.start.tolist() == [305, 6]
    assert path.bounds == pytest.approx((-295, -194, 305, 206), abs=1e-9)
    assert np.abs(path.turns).max() < 1e-9
    p = (points(path.controls) - (5, 6)) / (300, 200)
    assert (np.abs(np.hypot(*p.T) - 1) * 300).max() <= TOLERANCE


@given(
    st.floats(1, 500),
    st.floats(1, 500),
    st.floats(-180, 180),
    st.booleans(),
    st.booleans(),
    st.floats(-300, 300),
    st.floats(-300, 300),
)
def test_svg_arcs_lie_on_their_ellipse(rx, ry, turn, large, sweep, x, y):
    if np.hypot(x, y) < 1:
        return
    pieces = arc_to_cubics((0, 0), rx, ry, turn, large, sweep, (x, y))
    assert pieces[0][0].tolist() == [0, 0]
    assert pieces[-1][3].tolist() == [x, y]
    # In the ellipse's own axes, scaled to a circle, all points are one radius from a middle.
    a = np.radians(turn)
    own = points(pieces) @ np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]) / (rx, ry)
    half = own[-1] / 2
    scale = max(1.0, float(np.hypot(*half)))
    # The middle stands at equal distance from both ends, at radius `scale`.
    away = np.sqrt(max(0.0, scale**2 - half @ half)) * np.array([-half[1], half[0]])
    away /= np.hypot(*half)
    errors = [np.abs(np.hypot(*(own - half - k * away).T) - scale).max() for k in (1, -1)]
    slack = TOLERANCE / max(rx, ry) / scale + 2e-7 * scale
    assert min(errors) * min(rx, ry) <= slack * max(rx, ry) * scale
    # Angle swept: a large arc is over half a turn, and sweep is growing angles.
    rays = own - (half + (away if errors[0] <= errors[1] else -away))
    turns = np.diff(np.unwrap(np.arctan2(rays[:, 1], rays[:, 0])))
    swept = turns.sum()
    assert (swept > 0) == sweep
    if scale == 1.0 and np.hypot(*half) < 0.999:
        assert (abs(swept) > np.pi) == large


# The four arcs through two ends, as in the figure of SVG 1.1, section 8.3.8.
@pytest.mark.parametrize(
    ("large", "sweep", "centre"),
    [
        (False, True, (0, 0)),
        (False, False, (100, 50)),
        (True, True, (100, 50)),
        (True, False, (0, 0)),
    ],
)
def test_the_four_choices(large, sweep, centre):
    # From (100, 0) to (0, 50): both on the ellipses of radii 100, 50 about (0, 0) and (100, 50).
    pieces = arc_to_cubics((100, 0), 100, 50, 0, large, sweep, (0, 50))
    away = np.hypot(*((points(pieces) - centre) / (100, 50)).T)
    assert (np.abs(away - 1) * 100).max() <= TOLERANCE


def test_svg_corner_cases():
    assert arc_to_cubics((1, 2), 5, 5, 0, False, True, (1, 2)) == []
    (line,) = arc_to_cubics((0, 0), 0, 5, 0, True, True, (9, 3))
    assert line.tolist() == [[0, 0], [3, 1], [6, 2], [9, 3]]
    # Radii too small: scaled up until the ends are just reached, so a half turn.
    pieces = arc_to_cubics((0, 0), 1, 1, 0, False, True, (200, 0))
    np.testing.assert_allclose(np.hypot(*(points(pieces) - (100, 0)).T), 100, atol=TOLERANCE)
    assert Path.of(pieces, closed=False).bounds == pytest.approx((0, -100, 200, 0), abs=2e-4)
    same = arc_to_cubics((0, 0), 60, 40, 20, False, True, (30, 9))
    minus = arc_to_cubics((0, 0), -60, -40, 20, False, True, (30, 9))
    np.testing.assert_array_equal(same, minus)


@given(st.floats(-20, 20).filter(lambda b: abs(b) > 1e-3), st.floats(0, 360))
def test_bulges(bulge, direction):
    a = np.radians(direction)
    end = 100 * np.array([np.cos(a), np.sin(a)])
    pieces = bulge_to_cubics((0, 0), end, bulge)
    path = Path.of(pieces, closed=False)
    np.testing.assert_array_equal(path.end, end)
    # By definition bulge = tan(arc / 4) and the sagitta is bulge * chord / 2,
    # to the right of the chord for a counter-clockwise arc.
    top = path.at(path.length / 2)
    expected = end / 2 + bulge * 50 * np.array([np.sin(a), -np.cos(a)])
    np.testing.assert_allclose(top, expected, atol=1.1 * TOLERANCE)
    turn = 4 * np.arctan(bulge)
    start_tangent, end_tangent = path.tangents_out[0], path.tangents_in[-1]
    cross = start_tangent[0] * end_tangent[1] - start_tangent[1] * end_tangent[0]
    np.testing.assert_allclose(
        np.arctan2(cross, start_tangent @ end_tangent) % (2 * np.pi), turn % (2 * np.pi), atol=1e-6
    )


def test_a_bulge_of_zero_is_straight():
    (line,) = bulge_to_cubics((0, 0), (9, 3), 0)
    assert line.tolist() == [[0, 0], [3, 1], [6, 2], [9, 3]]


@pytest.mark.parametrize("radius", [0.0, -1.0, float("nan"), float("inf")])
def test_a_radius_must_be_above_zero(radius):
    with pytest.raises(GeometryError):
        ellipse(0, 0, radius, 1)
    with pytest.raises(GeometryError):
        circular_arc((0, 0), radius, 0, 90)
