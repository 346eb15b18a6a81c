"""Flattening: the deviation promised is the deviation measured."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import GeometryError
from sizewright.geometry import Path, flatten, flatten_located, flatten_marked, nearest
from tests.geometry.curves import circle, paths


@given(paths(), st.sampled_from([1e-3, 1e-2, 0.2]))
def test_curve_and_chords_keep_within_the_tolerance(path, share):
    tolerance = share * max(np.ptp(path.controls, axis=(0, 1)).max(), 1e-6)
    chords = Path.polyline(flatten(path, tolerance), closed=path.closed)
    slack = tolerance * (1 + 1e-9) + 1e-14 * np.abs(path.controls).max()
    there = nearest(chords, path.at(np.linspace(0, path.length, 400))).distance.max()
    middles = (chords.controls[:, 0] + chords.controls[:, 3]) / 2
    back = nearest(path, middles).distance.max()
    assert there <= slack
    assert back <= slack


@given(paths())
def test_vertices_are_kept_to_the_bit_and_marked(path):
    points, marks = flatten_marked(path, 0.01 * path.length)
    np.testing.assert_array_equal(points[marks], path.vertices)
    located, segment, t = flatten_located(path, 0.01 * path.length)
    np.testing.assert_array_equal(located, points)
    assert (np.diff(segment + t) > 0).all()


def test_lines_stay_two_points_and_a_closed_path_does_not_repeat_its_start():
    square = Path.polyline([[0, 0], [10, 0], [10, 10], [0, 10]], closed=True)
    assert flatten(square, 1e-9).tolist() == [[0, 0], [10, 0], [10, 10], [0, 10]]
    assert len(flatten(square.opened(), 1e-9)) == 5
    # They are no part of the path: it stays as it is when they are moved.
    flatten(square, 1e-9)[:] = 7
    assert square.start.tolist() == [0, 0]


def test_not_many_more_chords_than_a_circle_needs():
    # Best possible: chords of equal sagitta, n = pi / acos(1 - d / R).
    best = np.pi / np.arccos(1 - 0.05 / 100)
    assert best <= len(flatten(circle(100), 0.05)) <= 1.2 * best


@pytest.mark.parametrize("tolerance", [0.0, -1.0, float("nan")])
def test_a_tolerance_must_be_above_zero(tolerance):
    with pytest.raises(GeometryError, match="above zero"):
        flatten(circle(), tolerance)
