"""Pixels that areas reach, against shapely's exact intersections."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon, box

from sizewright.geometry import touched_pixels

corner = st.tuples(st.floats(-5, 45), st.floats(-5, 35))


@given(st.lists(corner, min_size=3, max_size=9), st.floats(1.0, 6.0), st.floats(1.0, 6.0))
def test_pixels_are_those_that_the_area_reaches(points, wide, tall):
    middle = np.mean(points, axis=0)
    ring = np.array(sorted(points, key=lambda p: np.arctan2(*(p - middle))))
    area = Polygon(ring)
    if not area.is_valid or area.area < 1.0:
        return
    mask = touched_pixels([ring], (0.0, 0.0), (wide, tall), (5, 7))
    for row in range(5):
        for column in range(7):
            pixel = box(column * wide, row * tall, (column + 1) * wide, (row + 1) * tall)
            if mask[row, column]:
                assert pixel.distance(area) < 1e-9
            else:
                # A corner that scan lines and edge points pass by.
                assert pixel.intersection(area).area < pixel.area / 16


def test_shapes_are_put_together():
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * 0.9 + 0.05
    mask = touched_pixels([square, np.add(square, (2, 1))], (0.0, 0.0), (1.0, 1.0), (2, 3))
    assert mask.tolist() == [[True, False, False], [False, False, True]]


def test_what_lies_outside_is_left_out():
    far = np.array([[50.0, 50.0], [60.0, 50.0], [60.0, 60.0]])
    assert not touched_pixels([far, -far], (0.0, 0.0), (1.0, 1.0), (4, 4)).any()
    whole = np.array([[-9.0, -9.0], [9.0, -9.0], [9.0, 9.0], [-9.0, 9.0]])
    assert touched_pixels([whole], (0.0, 0.0), (1.0, 1.0), (4, 4)).all()


@pytest.mark.parametrize("shift", [0.0, 0.25, 0.5])
def test_a_line_thinner_than_a_pixel_is_seen(shift):
    thin = np.array([[0.1, shift], [5.9, shift], [5.9, shift + 0.01], [0.1, shift + 0.01]])
    assert touched_pixels([thin], (0.0, 0.0), (1.0, 1.0), (1, 6)).all()
