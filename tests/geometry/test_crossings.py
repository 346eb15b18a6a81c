"""Crossings, touches and overlaps."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from sizewright.geometry import (
    Path,
    affine,
    crossings,
    ellipse,
    flatten,
    is_simple,
    nearest,
    self_crossings,
)
from tests.geometry.curves import circle, paths

LOOP = [[0, 0], [100, 100], [-50, 100], [50, 0]]


def kinds(found):
    return [c.kind for c in found]


@pytest.mark.parametrize(
    "path",
    [
        Path.polyline([[0, 0], [10, 0], [10, 10], [0, 10]], closed=True),
        Path.polyline([[0, 0], [10, 0], [10, 0], [10, 10], [0, 10]], closed=True),
        circle(),
        ellipse(0, 0, 5000, 1),
        # A cusp, a one-segment drop, and a lens of two segments that share both ends.
        Path.of([[[0, 0], [100, 100], [0, 100], [100, 0]]], closed=False),
        Path.of([[[0, 0], [100, 100], [-100, 100], [0, 0]]], closed=True),
        Path.of(
            [[[0, 0], [30, 40], [70, 40], [100, 0]], [[100, 0], [70, -9], [30, -9], [0, 0]]],
            closed=True,
        ),
        # Sharp tips: a narrow dart, and a crescent whose horns have no angle at all.
        Path.polyline([[0, 0], [100, 0], [50.01, 100], [50, 1], [49.99, 100]], closed=True),
        Path.of(
            [[[0, 0], [30, 40], [70, 40], [100, 0]], [[100, 0], [85, 20], [15, 20], [0, 0]]],
            closed=True,
        ),
    ],
)
def test_simple_ones_are_simple(path):
    for shape in (path, path.reversed(), path.transformed(affine.rotation(17, (5, 5)))):
        assert self_crossings(shape) == []
        assert is_simple(shape)


def test_a_bow_tie():
    (c,) = self_crossings(Path.polyline([[0, 0], [10, 10], [10, 0], [0, 10]], closed=True))
    np.testing.assert_allclose(c.point, [5, 5], atol=1e-12)
    assert c.kind == "cross"
    assert (c.s0, c.s1) == pytest.approx((50**0.5, 10 * 2**0.5 + 10 + 50**0.5), abs=1e-9)


def test_a_loop_inside_one_cubic():
    # Symmetric about x = 25; x(t) = x(1 - t) = 25 where u(1 - u) = 1/10: the height is 30.
    for path in (
        Path.of([LOOP], closed=False),
        Path.of([LOOP, [[50, 0], [0, 0]]], closed=True),
    ):
        (c,) = self_crossings(path)
        np.testing.assert_allclose(c.point, [25, 30], atol=1e-9)
        assert c.kind == "cross"
        assert not is_simple(path, may_touch=True)


def test_kinds_at_a_vertex():
    touch = Path.polyline([[0, 0], [10, 0], [5, 5], [10, 10], [0, 10], [5, 5]], closed=True)
    cross = Path.polyline([[0, 0], [5, 5], [10, 10], [10, 0], [5, 5], [0, 10]], closed=True)
    on_side = Path.polyline([[0, 0], [10, 0], [10, 10], [5, 0], [0, 10]], closed=True)
    assert kinds(self_crossings(touch)) == ["touch"]
    assert kinds(self_crossings(cross)) == ["cross"]
    assert kinds(self_crossings(on_side)) == ["touch"]
    assert not is_simple(touch)
    assert is_simple(touch, may_touch=True)


def test_overlaps():
    spike = Path.polyline(
        [[0, 0], [10, 0], [10, 5], [20, 5], [10, 5], [10, 10], [0, 10]], closed=True
    )
    (c,) = self_crossings(spike)
    assert (c.kind, c.length) == ("overlap", pytest.approx(10, abs=1e-6))
    np.testing.assert_allclose(c.point, [15, 5], atol=1e-6)
    back = Path.of([[[0, 0], [100, 0], [-50, 0], [50, 0]]], closed=False)
    assert kinds(self_crossings(back)) == ["overlap"]
    curve = Path.of([[[0, 0], [30, 40], [70, 40], [100, 0]]], closed=False)
    there_and_back = Path.join([curve, curve.reversed()], closed=True)
    (c,) = self_crossings(there_and_back)
    assert c.kind == "overlap"
    assert c.length == pytest.approx(curve.length, rel=1e-3)
    (c,) = crossings(circle(), circle().rolled(1))
    assert (c.kind, c.length) == ("overlap", pytest.approx(circle().length, abs=1e-6))
    # Half of one line along another that goes on past it.
    a, b = Path.polyline([[0, 0], [10, 0], [20, 5]]), Path.polyline([[5, 0], [15, 0]])
    (c,) = crossings(a, b)
    assert (c.kind, c.length) == ("overlap", pytest.approx(5, abs=1e-3))


def test_a_shared_stretch_cut_otherwise_is_still_one_overlap():
    curve = Path.of([[[0, 0], [3, 4], [7, 4], [10, 0]]], closed=False)
    (c,) = crossings(curve, curve.part(2.0, 5.0))
    assert c.kind == "overlap"
    assert c.length == pytest.approx(3, abs=1e-2)


@pytest.mark.parametrize("turn", [0.0, 33.0])
def test_tangent_curves_touch(turn):
    m = affine.rotation(turn)
    # Exact quarter points: the vertices of both circles lie where they meet.
    one, other, inner = (
        p.transformed(m) for p in (circle(), ellipse(200, 0, 100, 100), ellipse(50, 0, 50, 50))
    )
    for met in (crossings(one, other), crossings(one, inner)):
        assert kinds(met) == ["touch"]
        np.testing.assert_allclose(met[0].point, affine.apply(m, [100.0, 0.0]), atol=2e-3)


def test_a_tangent_that_goes_through_crosses():
    cubic = Path.of([[[-10, -10], [-10 / 3, 10], [10 / 3, -10], [10, 10]]], closed=False)
    (c,) = crossings(cubic, Path.polyline([[-20, 0], [20, 0]]))
    assert c.kind == "cross"
    np.testing.assert_allclose(c.point, [0, 0], atol=1e-3)


def test_an_end_on_a_line_touches():
    line = Path.polyline([[0, 0], [10, 0]])
    for other in (Path.polyline([[5, 0], [5, 8]]), Path.polyline([[10, 0], [20, 7]])):
        assert kinds(crossings(line, other)) == ["touch"]
    assert crossings(line, Path.polyline([[5, 2e-6], [5, 8]])) == []
    assert kinds(crossings(line, Path.polyline([[5, 2e-6], [5, 8]]), tolerance=1e-5)) == ["touch"]


def test_circles_cross_where_they_should():
    # Radius 100, centres 120 apart: half the chord is sqrt(100^2 - 60^2) = 80.
    a, b = ellipse(0, 0, 100, 100, 1e-9), ellipse(120, 0, 100, 100, 1e-9)
    found = crossings(a, b)
    assert kinds(found) == ["cross", "cross"]
    np.testing.assert_allclose([c.point for c in found], [[60, 80], [60, -80]], atol=1e-8)
    for c in found:
        np.testing.assert_allclose(a.at(c.s0), b.at(c.s1), atol=1e-9)


def test_lines_at_a_hairs_angle_cross():
    a = Path.polyline([[0, 0], [1000, 0]])
    b = Path.polyline([[0, -1e-3], [1000, 1e-3]])
    (c,) = crossings(a, b)
    assert c.kind == "cross"
    np.testing.assert_allclose(c.point, [500, 0], atol=1e-3)


def nodes(chords: np.ndarray) -> np.ndarray:
    """Where a closed polyline crosses itself: shapely.node makes a node of four ends there."""
    count: dict[tuple[float, float], int] = {}
    for part in shapely.node(shapely.LinearRing(chords)).geoms:
        for end in (part.coords[0], part.coords[-1]):
            key = (round(end[0], 7), round(end[1], 7))
            count[key] = count.get(key, 0) + 1
    return np.array([k for k, n in count.items() if n >= 4]).reshape(-1, 2)


def tangle(seed: int) -> Path:
    rng = np.random.default_rng(seed)
    p = rng.uniform(0, 300, (7, 2))
    return Path.of(
        [[p[i], *rng.uniform(0, 300, (2, 2)), p[(i + 1) % 7]] for i in range(7)], closed=True
    )


@given(st.integers(0, 10**6))
def test_chords_cross_where_shapely_says(seed):
    chords = flatten(tangle(seed), 0.5)
    found, reference = self_crossings(Path.polyline(chords, closed=True)), nodes(chords)
    assert kinds(found) == ["cross"] * len(reference)
    for c in found:
        assert np.hypot(*(reference - c.point).T).min() < 1e-6


@given(st.integers(0, 10**6), st.integers(3, 5))
def test_simple_is_what_shapely_calls_so(seed, count):
    p = np.random.default_rng(seed).uniform(0, 300, (count, 2))
    path = Path.polyline(p, closed=True)
    assert is_simple(path) == is_simple(path, may_touch=True) == shapely.LinearRing(p).is_simple


@pytest.mark.parametrize("seed", range(8))
def test_curves_cross_as_often_as_their_fine_chords(seed):
    # Each of these is plain enough for chords within 1e-4 mm to show all crossings.
    path = tangle(seed)
    found, reference = self_crossings(path), nodes(flatten(path, 1e-4))
    assert kinds(found) == ["cross"] * len(reference)
    for c in found:
        np.testing.assert_allclose(path.at(c.s0), path.at(c.s1), rtol=0, atol=1e-8)
        # A crossing at a small angle moves further than the chords do.
        assert np.hypot(*(reference - c.point).T).min() < 0.01


@given(st.integers(0, 10**6))
def test_both_places_of_a_crossing_are_one_point(seed):
    path = tangle(seed)
    for c in self_crossings(path):
        assert c.s0 < c.s1
        np.testing.assert_allclose(path.at(c.s0), path.at(c.s1), rtol=0, atol=1e-7)


@given(paths(least=2), st.floats(0.05, 0.95))
def test_every_place_found_is_on_both_lines(path, share):
    other = path.transformed(affine.rotation(40, tuple(path.at(share * path.length))))
    found = crossings(path, other)
    assert found  # they meet at least in the point turned about
    slack = 1e-5 + 1e-12 * np.abs(path.controls).max()
    for c in found:
        assert 0 <= c.s0 <= path.length
        assert 0 <= c.s1 <= other.length
        assert nearest(path, c.point).distance[0] <= slack
        if c.kind != "overlap":
            np.testing.assert_allclose(other.at(c.s1), c.point, rtol=0, atol=slack)


def test_far_apart_and_too_small():
    assert crossings(circle(), circle().transformed(affine.translation(500, 0))) == []
    assert self_crossings(Path.polyline([[3, 3]], closed=True)) == []
    assert crossings(circle(), Path.polyline([[3, 3]], closed=True)) == []


def test_many_lines_go_through_the_tree():
    rng = np.random.default_rng(7)
    angle = np.sort(rng.uniform(0, 2 * np.pi, 2500))
    star = np.column_stack([np.cos(angle), np.sin(angle)]) * rng.uniform(90, 110, (2500, 1))
    ring = Path.polyline(star, closed=True)
    assert is_simple(ring)
    found = crossings(ring, ring.transformed(affine.rotation(0.05)))
    a, b = (shapely.LinearRing(p.vertices) for p in (ring, ring.transformed(affine.rotation(0.05))))
    assert len(found) == len(shapely.get_coordinates(a.intersection(b)))
