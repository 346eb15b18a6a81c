"""B-splines as cubics, against scipy's."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import BSpline, CubicSpline

from sizewright.errors import GeometryError
from sizewright.geometry import bezier
from sizewright.geometry.nearest import nearest
from sizewright.geometry.splines import bezier_spans, spline_path, spline_through


def random_spline(seed: int, degree: int, clamped: bool) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    n = degree + 1 + int(rng.integers(0, 8))
    points = np.cumsum(rng.uniform(-30, 60, (n, 2)), axis=0)
    inner = np.sort(rng.uniform(1, 9, n - degree - 1))
    if n > degree + 3 and degree > 1:
        inner[1] = inner[0]  # one knot twice
        inner.sort()
    if clamped:
        ends = np.zeros(degree + 1), np.full(degree + 1, 10.0)
    else:
        ends = np.arange(-degree, 1.0), 10.0 + np.arange(degree + 1.0)
    return np.concatenate([ends[0], inner, ends[1]]), points


@given(st.integers(0, 2**32 - 1), st.integers(1, 7), st.booleans())
def test_spans_are_the_curve(seed: int, degree: int, clamped: bool) -> None:
    """Each span's Bezier, by its Bernstein form, is scipy's curve."""
    from scipy.special import comb

    knots, points = random_spline(seed, degree, clamped)
    spans, ranges = bezier_spans(knots, points, degree)
    t = np.linspace(0, 1, 9)[:, None]
    i = np.arange(degree + 1)
    bernstein = comb(degree, i) * t**i * (1 - t) ** (degree - i)
    for span, (a, b) in zip(spans, ranges, strict=True):
        ours = bernstein @ span
        theirs = BSpline(knots, points, degree)(np.nextafter(a + (b - a) * t[:, 0], a))
        assert np.abs(ours - theirs).max() < 1e-8
    assert (ranges[0, 0], ranges[-1, 1]) == (0.0, 10.0)


@given(st.integers(0, 2**32 - 1), st.integers(1, 3), st.booleans())
def test_up_to_cubics_are_exact(seed: int, degree: int, clamped: bool) -> None:
    knots, points = random_spline(seed, degree, clamped)
    path = spline_path(knots, points, degree)
    places = BSpline(knots, points, degree)(np.linspace(0, 10, 101)[:-1])
    assert nearest(path, places).distance.max() < 1e-8
    assert bool(path.lines.all()) == (degree == 1)


def test_bezier_knots_give_the_points_back_to_the_bit() -> None:
    rng = np.random.default_rng(1)
    points = rng.uniform(-1e4, 1e4, (13, 2))
    knots = np.concatenate([[0.0], np.repeat(np.arange(5.0), 3), [4.0]])
    path = spline_path(knots, points, 3)
    assert np.array_equal(
        path.controls.reshape(-1, 2)[[0, 1, 2, 5, 6, 9, 10, 13, 14, 15]],
        points[[0, 1, 2, 4, 5, 7, 8, 10, 11, 12]],
    )


@given(st.integers(0, 2**32 - 1), st.integers(2, 6))
def test_rational_and_higher_ones_are_followed(seed: int, degree: int) -> None:
    knots, points = random_spline(seed, degree, True)
    weights = np.random.default_rng(seed + 1).uniform(0.5, 2.0, len(points))
    path = spline_path(knots, points, degree, weights)
    grid = np.linspace(0, 10, 401)[1:-1]
    homogeneous = BSpline(knots, np.column_stack([points * weights[:, None], weights]), degree)(
        grid
    )
    places = homogeneous[:, :2] / homogeneous[:, 2:]
    assert nearest(path, places).distance.max() < 1e-3
    assert np.allclose((path.start, path.end), (points[0], points[-1]), atol=1e-9)


@pytest.mark.parametrize(
    ("knots", "points", "degree"),
    [
        ([0, 0, 1, 1], [(0, 0), (1, 1), (2, 2)], 1),
        ([0, 1, 0, 1], [(0, 0), (1, 1)], 1),
        ([0, 0, 0, 0], [(0, 0), (1, 1)], 1),
        ([0, 0, 1, float("nan")], [(0, 0), (1, 1)], 1),
        ([0, 0, 1, 1], [(0, 0), (1, float("inf"))], 1),
        ([0, 1], [(0, 0)], 0),
    ],
)
def test_what_is_no_spline(
    knots: list[float], points: list[tuple[float, float]], degree: int
) -> None:
    with pytest.raises(GeometryError):
        spline_path(np.array(knots), np.array(points), degree)
    with pytest.raises(GeometryError, match="weights"):
        spline_path(np.array([0, 0, 1, 1]), np.eye(2), 1, np.array([1.0, -1.0]))


@pytest.mark.parametrize("ends", ["natural", "not-a-knot"])
@pytest.mark.parametrize("count", [3, 4, 5, 30, 400])
def test_a_spline_through_points_is_scipys(ends: str, count: int) -> None:
    points = np.random.default_rng(count).normal(size=(count, 2)).cumsum(axis=0) * 20
    twice = np.insert(points, 2, points[2], axis=0)  # a point said again is left out
    path = spline_through(twice, ends)  # type: ignore[arg-type]
    s = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    spline = CubicSpline(s, points, bc_type=ends)
    t = np.linspace(0, 1, 7)
    for k, controls in enumerate(path.controls):
        places = bezier.evaluate(np.repeat(controls[None], 7, axis=0), t)
        assert np.abs(places - spline(s[k] + t * (s[k + 1] - s[k]))).max() < 1e-9
    assert len(spline_through(points[:2])) == 1
