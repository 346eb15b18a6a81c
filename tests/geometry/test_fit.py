"""Cubics fitted to points and to curves given as functions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import GeometryError
from sizewright.geometry import bezier
from sizewright.geometry.fit import circle_tangent, fit_cubics, fit_curve
from tests.measured import deviation, samples


def _circle(count: int, radius: float) -> np.ndarray:
    a = np.arange(count) / count * 2 * np.pi
    return radius * np.column_stack([np.cos(a), np.sin(a)])


def test_points_of_one_cubic_give_one_cubic_back():
    source = np.array([[0.0, 0.0], [40.0, 5.0], [90.0, 60.0], [100.0, 120.0]])
    points = bezier.evaluate(source, np.linspace(0, 1, 60))
    path = fit_cubics(
        points, 0.01, start_tangent=source[1] - source[0], end_tangent=source[3] - source[2]
    )
    assert len(path) == 1
    assert np.abs(path.controls[0] - source).max() < 0.01


@pytest.mark.parametrize("count", [16, 23, 60, 500, 2000])
@pytest.mark.parametrize("radius", [5.0, 100.0, 1000.0])
def test_circles_come_back_round(count, radius):
    path = fit_cubics(_circle(count, radius), 0.05, closed=True)
    assert path.closed
    assert len(path) <= 8
    assert np.abs(path.turns).max() < 1e-6
    away = np.hypot(*path.at(np.linspace(0, path.length, 3000)).T) - radius
    # Coarse chords tell less of what lies between.
    sagitta = radius * (1 - np.cos(np.pi / count))
    assert np.abs(away).max() <= 0.06 + 0.02 * sagitta


def test_deviation_holds_in_both_directions():
    x = np.linspace(0, 1, 800)
    points = np.column_stack([200 * x, 40 * np.sin(7 * x) * x])
    for tolerance in (0.5, 0.05, 0.005):
        path = fit_cubics(points, tolerance)
        line = samples(path, 1500)
        assert deviation(points, line) <= tolerance * 1.001
        assert deviation(line, points) <= tolerance * 1.02 + 1e-4
        assert np.abs(path.turns[1:-1]).max(initial=0.0) < 1e-6


def test_a_tighter_tolerance_takes_more_cubics():
    x = np.linspace(0, 1, 800)
    points = np.column_stack([200 * x, 40 * np.sin(7 * x) * x])
    counts = [len(fit_cubics(points, tolerance)) for tolerance in (1.0, 0.05, 0.001)]
    assert counts[0] <= counts[1] < counts[2] <= 16


def test_given_end_tangents_are_kept():
    points = _circle(100, 50.0)[:26]
    path = fit_cubics(points, 0.05, start_tangent=np.array([0.0, 2.0]), end_tangent=[-3.0, 0.0])
    assert np.allclose(path.tangents_out[0], [0, 1], atol=1e-12)
    assert np.allclose(path.tangents_in[-1], [-1, 0], atol=1e-12)
    assert np.array_equal(path.start, points[0])
    assert np.array_equal(path.end, points[-1])


def test_straight_points_give_one_straight_cubic():
    points = np.column_stack([np.linspace(0, 100, 30), np.linspace(0, 50, 30)])
    path = fit_cubics(points, 0.05)
    assert len(path) == 1
    assert path.length == pytest.approx(np.hypot(100, 50), abs=1e-9)


def test_rounding_noise_does_not_break_a_curve_up():
    for decimals in (2, 3):
        path = fit_cubics(np.round(_circle(1000, 80.0), decimals), 0.05, closed=True)
        assert len(path) <= 5


@pytest.mark.parametrize("bad", [[], [[0, 0]], [[1, 1], [1, 1]], [[0, 0], [np.nan, 1]]])
def test_too_few_or_broken_points_are_refused(bad):
    with pytest.raises(GeometryError):
        fit_cubics(np.array(bad, dtype=float).reshape(-1, 2), 0.05)


def test_a_tolerance_of_nothing_is_refused():
    with pytest.raises(GeometryError, match="tolerance"):
        fit_cubics(_circle(20, 10.0), 0.0)


@given(
    st.lists(st.floats(-1, 1), min_size=4, max_size=4),
    st.integers(12, 300),
    st.floats(0.01, 0.5),
)
def test_random_waves_are_followed(weights, count, tolerance):
    x = np.linspace(0, 1, count)
    y = sum(w * 30 / (k + 1) * np.sin((k + 1) * 2 * x + k) for k, w in enumerate(weights))
    points = np.column_stack([250 * x, y])
    path = fit_cubics(points, tolerance)
    assert deviation(points, samples(path, 800)) <= tolerance * 1.001 + 1e-6
    assert np.abs(path.turns[1:-1]).max(initial=0.0) < 1e-6
    # No joint, hook or loop: the walk goes on to the right all the way.
    assert (path.controls[:, :, 0] >= -1e-9).all()
    assert (np.diff(samples(path, 200)[:, 0]) >= -1e-9).all()


def test_tangent_of_the_circle_through_three_points():
    a = np.array([0.1, 0.5, 1.3])
    points = 7.0 * np.column_stack([np.cos(a), np.sin(a)])
    for k in range(3):
        expected = np.array([-np.sin(a[k]), np.cos(a[k])])
        assert np.abs(circle_tangent(points, k) - expected).max() < 1e-12


def test_curve_as_functions_is_followed_with_its_tangents():
    def position(u):
        return np.column_stack([200 * u, 40 * np.sin(6 * u) * u])

    def tangent(u):
        return np.column_stack(
            [np.full_like(u, 200.0), 40 * (np.sin(6 * u) + 6 * u * np.cos(6 * u))]
        )

    path = fit_curve(position, tangent, 0.2, 0.9, 0.01)
    true = position(np.linspace(0.2, 0.9, 6000))
    assert deviation(true, samples(path, 1500)) <= 0.0101
    assert deviation(samples(path, 1500), true) <= 0.0101
    for got, u in ((path.tangents_out[0], 0.2), (path.tangents_in[-1], 0.9)):
        expected = tangent(np.array([u]))[0]
        assert np.abs(got - expected / np.hypot(*expected)).max() < 1e-9
    assert np.abs(path.turns).max() < 1e-6
    assert len(path) <= 5


def test_curve_too_wild_to_follow_is_refused_with_the_place():
    with pytest.raises(GeometryError, match=r"within 0\.01 mm near \("):
        fit_curve(
            lambda u: np.column_stack([u, 5 * np.sin(1e5 * u * u)]),
            lambda u: np.column_stack([np.ones_like(u), 1e6 * u * np.cos(1e5 * u * u)]),
            0.0,
            99.0,
            0.01,
        )


def test_curve_with_a_hole_is_refused():
    with pytest.raises(GeometryError, match="finite"):
        fit_curve(
            lambda u: np.column_stack([u, np.where(u > 50, np.nan, 0.0)]),
            lambda u: np.column_stack([np.ones_like(u), np.zeros_like(u)]),
            0.0,
            99.0,
            0.01,
        )
