"""Nearest places, against dense samples and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.geometry import Path, bezier, ellipse, nearest, nearest_point
from tests.geometry.curves import circle, paths

_T = np.linspace(0, 1, 1501)


@given(paths(), st.integers(0, 2**31))
def test_no_sample_is_nearer_and_the_answer_is_on_the_path(path, seed):
    rng = np.random.default_rng(seed)
    x0, y0, x1, y1 = path.bounds
    size = max(x1 - x0, y1 - y0)
    points = rng.uniform((x0 - size / 2, y0 - size / 2), (x1 + size / 2, y1 + size / 2), (12, 2))
    near = nearest(path, points)
    samples = bezier.evaluate(path.controls[:, None], _T).reshape(-1, 2)
    best = np.array([np.hypot(*(samples - p).T).min() for p in points])
    rounding = 1e-14 * np.abs(path.controls).max() + 1e-13 * size
    assert (near.distance <= best + rounding).all()
    # The samples are this far apart at most, so the answer cannot be nearer by more.
    step = np.hypot(*np.diff(bezier.evaluate(path.controls[:, None], _T), axis=1).T).max()
    assert (near.distance >= best - step).all()
    np.testing.assert_allclose(
        np.hypot(*(near.point - points).T), near.distance, rtol=0, atol=rounding
    )
    place = bezier.evaluate(path.controls[near.segment], near.t)
    np.testing.assert_allclose(near.point, place, rtol=0, atol=rounding)
    np.testing.assert_allclose(path.at(near.s), near.point, rtol=0, atol=1e-11 * size + rounding)


@given(paths(), st.lists(st.floats(0, 1), min_size=1, max_size=6))
def test_a_point_of_the_path_is_its_own_nearest(path, shares):
    points = path.at(np.array(shares) * path.length)
    assert nearest(path, points).distance.max() <= 1e-15 * np.abs(path.controls).max() + 1e-13


def test_on_a_line_the_foot_of_the_perpendicular():
    near = nearest_point(Path.polyline([[0, 0], [10_000, 0]]), (1234.5678901234, 5000))
    assert near.s == pytest.approx(1234.5678901234, abs=1e-9)
    assert near.distance == 5000
    assert near.segment == 0


def test_both_wells_of_a_curve_are_seen():
    # A deep cup: a point at its mouth has minima on both walls; the nearer one wins.
    cup = Path.of([[[-10, 0], [-14, -80], [14, -80], [10, 0]]], closed=False)
    for x in (-3.0, -0.01, 0.01, 3.0):
        near = nearest_point(cup, (x, -5.0))
        assert np.sign(near.point[0]) == np.sign(x)


def test_at_a_cusp_and_beyond_the_evolute():
    cusp = Path.of([[[0, 0], [100, 100], [0, 100], [100, 0]]], closed=False)
    near = nearest_point(cusp, (50, 80))
    np.testing.assert_allclose(near.point, [50, 75], atol=1e-6)
    assert near.distance == pytest.approx(5, abs=1e-12)
    # The centre of curvature at an ellipse's end: three minima fall together there.
    flat = ellipse(0, 0, 300, 200, tolerance=1e-9)
    near = nearest_point(flat, (300 - 200**2 / 300, 0))
    assert near.distance == pytest.approx(200**2 / 300, abs=1e-7)


def test_a_minimum_at_the_very_middle_is_not_lost_between_the_halves():
    # The slope of the distance is zero to the bit at t = 1/2, and changes sign once more.
    path = Path.of(
        [[[5, 0.05], [4.8765625, 0.0453125], [4.940625, -0.0140625], [4.9359375, 0.109375]]],
        closed=False,
    )
    samples = bezier.evaluate(path.controls[0], np.linspace(0, 1, 10_001))
    near = nearest_point(path, (0, 0))
    assert near.t == pytest.approx(0.5, abs=1e-9)
    assert near.distance == pytest.approx(np.hypot(*samples.T).min(), abs=1e-12)


def test_a_vertex_belongs_to_the_segment_that_begins_there():
    square = Path.polyline([[0, 0], [10, 0], [10, 10], [0, 10]], closed=True)
    near = nearest(square, np.array([[12.0, -1.0], [-1.0, -1.0]]))
    assert near.segment.tolist() == [1, 0]
    assert near.t.tolist() == [0, 0]
    assert near.s.tolist() == [10, 0]
    end = nearest_point(square.opened().segments(0, 2), (10, 99))
    assert (end.segment, end.t, end.s) == (1, 1.0, 20.0)


def test_ties_go_to_the_first_along_the_path():
    square = Path.polyline([[0, 0], [10, 0], [10, 10], [0, 10]], closed=True)
    assert nearest_point(square, (5, 5)).segment == 0


def test_none_asked_none_given():
    near = nearest(circle(), np.zeros((0, 2)))
    assert near.s.shape == (0,)
    assert near.point.shape == (0, 2)


def test_many_points_in_batches_are_as_one_by_one():
    path = circle()
    points = np.random.default_rng(5).uniform(-200, 200, (300, 2))
    near = nearest(path, points)
    for k in range(0, 300, 50):
        one = nearest_point(path, points[k])
        assert (one.s, one.segment, one.t) == (near.s[k], near.segment[k], near.t[k])


def test_a_place_that_rounding_puts_outside_its_segments_box_is_found():
    rng = np.random.default_rng(5)
    for x in rng.uniform(-900, 900, 300):
        path = Path.polyline([[x, 3.0], [x, 411.3]])
        point = path.at(path.length / 2)
        found = nearest(path, point)
        assert found.distance[0] <= 1e-12
        assert found.s[0] == pytest.approx(path.length / 2)
