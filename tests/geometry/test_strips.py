"""Parallels of all segments at once: each is the true parallel, whatever the others are."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from sizewright.geometry import Path, bezier, flatten
from sizewright.geometry.offset import begun_at
from sizewright.geometry.strips import segment_parallels, strips_joined
from sizewright.geometry.types import Floats
from tests.benchmarks.bench_geometry import waves

TOLERANCE = 0.005
numbers = st.floats(-50, 50).map(lambda x: round(x, 3))
cubics = st.lists(numbers, min_size=8, max_size=8).map(lambda x: np.array(x).reshape(4, 2))


@given(st.lists(cubics, min_size=1, max_size=4), st.floats(-0.2, 1.2))
def test_parts_after_a_parameter_are_those_of_each_cubic_split(
    several: list[Floats], t: float
) -> None:
    after = bezier.after(np.array(several), np.full(len(several), t))
    for cubic, part in zip(several, after, strict=True):
        assert np.array_equal(part, bezier.split(cubic, t)[1])


@given(st.lists(st.tuples(cubics, numbers, numbers), min_size=1, max_size=5))
def test_cubics_begun_elsewhere_begin_there_and_end_as_they_did(
    several: list[tuple[Floats, float, float]],
) -> None:
    whole = np.array([cubic for cubic, _, _ in several])
    points = whole[:, 0] + np.array([(x, y) for _, x, y in several]) * 1e-4
    made = begun_at(whole, points)
    for k in range(len(several)):
        # Each by itself is what it is beside the others.
        assert np.array_equal(made[k], begun_at(whole[k : k + 1], points[k : k + 1])[0])
    assert np.allclose(made[:, 0], points, rtol=0, atol=1e-12)
    assert np.array_equal(made[:, 3], whole[:, 3])
    same = begun_at(whole, whole[:, 0])
    assert np.array_equal(same, whole)


@pytest.mark.parametrize(("count", "width"), [(100, 15.0), (3_000, 4.0)])
def test_a_long_outline_is_paralleled_as_shapely_widens_it(count: int, width: float) -> None:
    ring = waves(count)
    ring = Path(ring.controls * max(1.0, count / 300), ring.lines, True)
    every = np.full((count, 2), width)
    strips = segment_parallels(ring, every, np.ones(count, dtype=bool), TOLERANCE)
    made = strips_joined([strip for some in strips for strip in some])
    away = shapely.distance(
        shapely.LinearRing(flatten(ring, 0.0005)), shapely.points(flatten(made, 0.01))
    )
    assert np.abs(away - width).max() < 2 * TOLERANCE
    theirs = shapely.Polygon(flatten(ring, 0.0005)).buffer(width, quad_segs=64)
    ours = shapely.Polygon(flatten(made, 0.0005))
    assert ours.symmetric_difference(theirs).area < 2 * TOLERANCE * theirs.length


def test_a_bend_that_is_too_tight_is_left_out_where_it_turns_back() -> None:
    # An arc of radius 10 that turns right, and one that turns left: paralleled 15 mm to the right.
    k = 10 * 4 / 3 * (2**0.5 - 1)
    arc = np.array([(0.0, 0.0), (0.0, k), (10 - k, 10.0), (10.0, 10.0)])
    for cubic, kept in ((arc, []), (arc * (1, -1), [(0.0, 1.0)])):
        away = [(40.0, -40.0), (0.0, 0.0)]
        path = Path.of([cubic, np.array([cubic[3], away[0]]), away], closed=True)
        strips = segment_parallels(path, np.full((3, 2), 15.0), np.zeros(3, dtype=bool), TOLERANCE)
        assert [(strip.u0, strip.u1) for strip in strips[0]] == kept
        assert [len(some) for some in strips[1:]] == [1, 1]
