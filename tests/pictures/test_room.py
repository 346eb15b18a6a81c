"""Boxes and the room for labels."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from sizewright.geometry.path import Path
from sizewright.pictures.room import Box, Room

number = st.floats(-20, 20)
boxes = st.builds(Box, number, number, st.floats(0.5, 20), st.floats(0.5, 20), st.floats(-180, 180))


@given(boxes, boxes)
def test_overlap_is_that_of_shapely(a: Box, b: Box) -> None:
    shared = Polygon(a.corners).intersection(Polygon(b.corners)).area
    if shared > 1e-6:
        assert a.overlaps(b)
        assert b.overlaps(a)
    elif Polygon(a.corners).distance(Polygon(b.corners)) > 1e-6:
        assert not a.overlaps(b)


@given(boxes, number, number)
def test_nearest_and_holds_are_those_of_shapely(box: Box, x: float, y: float) -> None:
    polygon, point = Polygon(box.corners), Point(x, y)
    near = box.nearest((x, y))
    assert np.hypot(*(near - (x, y))) == pytest.approx(polygon.distance(point), abs=1e-9)
    if polygon.boundary.distance(point) > 1e-9:
        assert bool(box.holds(np.array([[x, y]]))[0]) == polygon.contains(point)


def test_lines_and_labels_take_room() -> None:
    room = Room(0.5)
    room.add_path(Path.polyline([(0, 0), (30, 0)]))
    box = Box(15, 2, 10, 2)
    assert room.clashes(box, 0.5) == 0
    assert room.clashes(box, 1.5) > 0
    assert room.crossed((15, 1), (15, 9)) == 0
    assert room.crossed((15, -1), (15, 9)) > 0
    room.add_box(box)
    assert room.clashes(Box(18, 3, 6, 2, 30), 0.0) == 10
    assert room.crossed((15, 1.5), (15, 9)) == 10
