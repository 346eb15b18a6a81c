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


def test_a_crowded_place_has_points_in_it_and_most_of_those_are_found() -> None:
    chance = np.random.default_rng(3)
    points = chance.random((400, 2)) * (300, 200)
    room = Room(1.0)
    room.add_points(points)
    places = chance.random((500, 2)) * (340, 240) - 20
    for wide, tall in ((9.0, 31.0), (20.0, 14.0), (3.0, 1.0)):
        off = np.abs(points - places[:, None])
        inside = ((off[..., 0] <= wide / 2) & (off[..., 1] <= tall / 2)).any(axis=1)
        crowded = room.crowded(places, wide, tall)
        assert not (crowded & ~inside).any()
        assert crowded.sum() > 0.8 * inside.sum() or tall < 2 * room.step
    assert not Room(1.0).crowded(places, 9.0, 9.0).any()
