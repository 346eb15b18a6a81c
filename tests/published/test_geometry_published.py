"""Geometry against exact figures and independent libraries.

References: exact lengths in closed form, scipy.special.ellipe and scipy.integrate.quad,
fontTools (misc.bezierTools, pens.areaPen), shapely, and the tables of the quarter circle
and of the inscribed polygon (radial error of a cubic arc; sagitta R (1 - cos(a / 2))).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from fontTools.misc import bezierTools
from fontTools.pens.areaPen import AreaPen
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import minimize_scalar
from scipy.special import ellipe
from shapely import Polygon

from sizewright.geometry import Path, bezier, ellipse, flatten, unit_tangents
from sizewright.geometry.arcs import radial_error
from tests.geometry.curves import circle, cubics, paths

ROOT5 = np.sqrt(5)


@pytest.mark.parametrize(
    ("points", "exact"),
    [
        # Pythagorean hodograph: speed 3 (1 - 2t + 2t^2).
        ([[0, 0], [0, 1], [1, 1], [1, 0]], 2.0),
        # Parabolas in closed form.
        ([[0, 0], [1, 2], [2, 0]], ROOT5 + np.arcsinh(2) / 2),
        ([[0, 0], [0.5, 0], [1, 1]], ROOT5 / 2 + np.arcsinh(2) / 4),
        ([[0, 0], [1, 2], [3, 3], [4, 0]], 5.829927224626643),
        # Straight, and at rest in its middle: speed 9 (1 - 2t)^2.
        ([[0, 0], [3, 0], [0, 0], [3, 0]], 3.0),
    ],
)
@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e4])
def test_exact_lengths(points, exact, scale):
    points = np.array(points, dtype=float)
    path = Path.of([points * scale], closed=False)
    assert path.length == pytest.approx(exact * scale, rel=2e-15)


@given(cubics())
def test_arc_length_as_quad_integrates_the_speed(cubic):
    path = Path.of([cubic], closed=False)

    def speed(t: float) -> float:
        return float(np.hypot(*bezier.derivative(cubic, np.array(t))))

    # quad is told where the speed is least, since a cusp is a kink there.
    fine = np.linspace(0, 1, 401)
    speeds = np.hypot(*bezier.derivative(cubic, fine).T)
    dips = fine[1:-1][(speeds[1:-1] <= speeds[:-2]) & (speeds[1:-1] <= speeds[2:])]
    least = [
        minimize_scalar(speed, bounds=cell, options={"xatol": 1e-13}).x
        for cell in [(0, 1 / 400), *((d - 1 / 400, d + 1 / 400) for d in dips), (399 / 400, 1)]
    ]
    reference = sum(
        quad(speed, a, b, epsabs=1e-12, epsrel=1e-13, limit=500)[0]
        for a, b in pairwise(sorted([0.0, *least, 1.0]))
    )
    assert path.length == pytest.approx(reference, rel=1e-11)


@pytest.mark.parametrize("shift", [0.5, 0.9, 0.999, 0.9999, 0.999999])
def test_a_turning_back_near_the_end_is_not_missed(shift):
    # Along x only: x' = 3 (t - shift)^1 (t + 1), so that the length is |x| to the turn and back.
    velocity = np.polynomial.Polynomial([-shift, 1]) * np.polynomial.Polynomial([1, 1])
    x = velocity.integ()
    exact = (x(0) - x(shift)) + (x(1) - x(shift))
    # Power basis to Bernstein form of degree 3.
    c = x.coef
    controls = np.array([c[0], c[0] + c[1] / 3, c[0] + 2 * c[1] / 3 + c[2] / 3, c.sum()])
    path = Path.of([np.column_stack([controls, 0 * controls])], closed=False)
    assert path.length == pytest.approx(exact, rel=1e-14)


@pytest.mark.parametrize(
    ("a", "b", "table"),
    [
        (2, 1, 9.688448220547675),
        (3, 2, 15.865439589290588),
        (5, 3, 25.52699886339813),
        (10, 1, 40.63974180100896),
    ],
)
def test_ellipse_perimeter(a, b, table):
    exact = 4 * a * ellipe(1 - b * b / (a * a))
    assert exact == pytest.approx(table, rel=1e-14)
    path = ellipse(0, 0, 50.0 * a, 50.0 * b, tolerance=1e-8)
    assert path.length == pytest.approx(50 * exact, abs=1e-7)
    assert path.area == pytest.approx(2500 * np.pi * a * b, rel=1e-9)
    # At the default tolerance, 1e-4 mm off the line can make no more than 2 pi 1e-4 mm.
    plain = ellipse(0, 0, 50.0 * a, 50.0 * b)
    assert 0 <= plain.length - 50 * exact <= 2 * np.pi * 1e-4


def test_quarter_circle_figures():
    quarter = circle(1.0)
    t = np.linspace(0, 1, 100_001)
    error = np.hypot(*bezier.evaluate(quarter.controls[0], t).T) - 1
    assert error.max() == pytest.approx(2.725300e-4, abs=1e-10)
    assert error.min() >= -1e-15
    assert t[error.argmax()] in (
        pytest.approx(0.211325, abs=1e-5),
        pytest.approx(0.788675, abs=1e-5),
    )
    assert quarter.segment_lengths == pytest.approx([1.5710166980738558] * 4, rel=1e-15)
    assert quarter.area / 4 == pytest.approx(0.7856180831641268, rel=1e-15)


def test_the_balanced_quarter_circle():
    c = 0.551915024494
    path = Path.of(
        [[[1, 0], [1, c], [c, 1], [0, 1]], [[0, 1], [0, 0]], [[0, 0], [1, 0]]], closed=True
    )
    error = np.hypot(*bezier.evaluate(path.controls[0], np.linspace(0, 1, 100_001)).T) - 1
    assert error.max() == pytest.approx(1.960765e-4, abs=1e-9)
    assert error.min() == pytest.approx(-1.960765e-4, abs=1e-9)
    assert path.segment_lengths[0] == pytest.approx(1.5708561799, abs=1e-10)
    assert path.area == pytest.approx(0.7854574856, abs=1e-10)


@pytest.mark.parametrize(
    ("degrees", "error"),
    [(90, 2.7253e-4), (60, 2.3864e-5), (45, 4.2455e-6), (30, 3.7266e-7), (15, 5.8226e-9)],
)
def test_radial_error_of_arcs(degrees, error):
    assert radial_error(degrees) == pytest.approx(error, rel=2e-5)


# Inscribed polygon of n chords: relative errors of length and area, sagitta over radius.
@pytest.mark.parametrize(
    ("n", "length", "sagitta", "area"),
    [
        (8, -2.5505e-2, 7.6120e-2, -9.9684e-2),
        (16, -6.4131e-3, 1.9215e-2, -2.5505e-2),
        (32, -1.6056e-3, 4.8153e-3, -6.4131e-3),
        (64, -4.0155e-4, 1.2045e-3, -1.6056e-3),
        (128, -1.0040e-4, 3.0118e-4, -4.0155e-4),
    ],
)
def test_a_flattened_circle(n, length, sagitta, area):
    whole = ellipse(0, 0, 100, 100, tolerance=1e-9)
    s = np.arange(n) / n * whole.length
    polygon = Path.polyline(whole.at(s), closed=True)
    assert polygon.length / (200 * np.pi) - 1 == pytest.approx(length, rel=1e-4)
    assert polygon.area / (1e4 * np.pi) - 1 == pytest.approx(area, rel=1e-4)
    middles = (polygon.controls[:, 0] + polygon.controls[:, 3]) / 2
    np.testing.assert_allclose(1 - np.hypot(*middles.T) / 100, sagitta, rtol=1e-4)
    # Asked for that sagitta, flattening needs no fewer chords than n.
    assert len(flatten(whole, 100 * sagitta * (1 - 1e-6))) >= n


@given(paths(closed=True))
def test_area_as_fonttools_and_shapely(path):
    origin = path.controls[0, 0]
    local = path.controls - origin
    pen = AreaPen()
    pen.moveTo(tuple(local[0, 0]))
    for cubic, line in zip(local, path.lines, strict=True):
        if line:
            pen.lineTo(tuple(cubic[3]))
        else:
            pen.curveTo(*(tuple(p) for p in cubic[1:]))
    pen.closePath()
    scale = np.ptp(path.controls, axis=(0, 1)).max() ** 2
    assert path.area == pytest.approx(pen.value, abs=1e-13 * scale)
    chords = flatten(path, 1e-7 * path.length) - origin
    if len(chords) > 2:
        ring = Polygon(chords).exterior
        signed = Polygon(ring).area if ring.is_simple else None
        if signed is not None:
            assert abs(path.area) == pytest.approx(signed, abs=3e-7 * path.length**2)


@given(cubics())
def test_bounds_as_fonttools(cubic):
    reference = bezierTools.calcCubicBounds(*(tuple(p) for p in cubic))
    assert Path.of([cubic], closed=False).bounds == pytest.approx(reference, abs=1e-9)


@given(paths())
def test_bounds_hold_every_point_and_are_reached(path):
    x0, y0, x1, y1 = path.bounds
    points = bezier.evaluate(path.controls[:, None], np.linspace(0, 1, 2001)).reshape(-1, 2)
    slack = 1e-15 * np.abs(path.controls).max()
    assert points[:, 0].min() >= x0 - slack
    assert points[:, 1].min() >= y0 - slack
    assert points[:, 0].max() <= x1 + slack
    assert points[:, 1].max() <= y1 + slack
    near = 1e-5 * np.ptp(path.controls, axis=(0, 1)).max()
    np.testing.assert_allclose(points.min(axis=0), [x0, y0], rtol=0, atol=near)
    np.testing.assert_allclose(points.max(axis=0), [x1, y1], rtol=0, atol=near)


def test_bounds_where_the_cubic_term_all_but_vanishes():
    # Leading coefficient 1e-13 of the rest: a companion matrix loses the root there.
    path = Path.of([[[0, 0], [10, 100 + 1e-13], [20, 100], [30, 1e-13]]], closed=False)
    assert path.bounds == pytest.approx((0, 0, 30, 75), abs=1e-12)


@given(cubics(), st.floats(0.01, 0.99))
def test_split_as_fonttools(cubic, t):
    reference = bezierTools.splitCubicAtT(*(tuple(p) for p in cubic), t)
    for mine, theirs in zip(bezier.split(cubic, t), reference, strict=True):
        np.testing.assert_allclose(mine, theirs, rtol=0, atol=1e-14)
    a, b = sorted((t, 0.5 + t / 3))
    if b - a > 1e-6:
        theirs = bezierTools.splitCubicAtT(*(tuple(p) for p in cubic), a, b)[1]
        np.testing.assert_allclose(bezier.between(cubic, a, b), theirs, rtol=0, atol=1e-13)


@given(cubics(), st.floats(0, 1))
def test_points_as_fonttools(cubic, t):
    reference = bezierTools.cubicPointAtT(*(tuple(p) for p in cubic), t)
    np.testing.assert_allclose(bezier.evaluate(cubic, np.array(t)), reference, rtol=0, atol=1e-14)


@given(cubics(), st.floats(0.05, 0.95))
def test_derivatives_as_differences(cubic, t):
    h = 1e-4
    low, here, high = bezier.evaluate(cubic, np.array([t - h, t, t + h]))
    first, second = (high - low) / (2 * h), (high - 2 * here + low) / h**2
    np.testing.assert_allclose(bezier.derivative(cubic, np.array(t)), first, atol=1e-5)
    np.testing.assert_allclose(bezier.second_derivative(cubic, np.array(t)), second, atol=1e-5)
    unit = unit_tangents(cubic, np.array(t))
    assert np.hypot(*unit) == pytest.approx(1, abs=1e-15)


def test_elevation_keeps_the_curve():
    quadratic = np.array([[0.0, 0], [1, 2], [2, 0]])
    for t in (0.0, 0.3, 1.0):
        expected = bezierTools.quadraticPointAtT(*map(tuple, quadratic), t)
        got = bezier.evaluate(bezier.elevate(quadratic), np.array(t))
        np.testing.assert_allclose(got, expected, atol=1e-15)
