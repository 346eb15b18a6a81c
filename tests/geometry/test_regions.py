"""Inside, middle, direction and gaps."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import GeometryError
from sizewright.geometry import (
    Path,
    affine,
    centroid,
    contains,
    ellipse,
    flatten,
    gap,
    nearest,
    winding_numbers,
)
from tests.geometry.curves import circle, paths

pytestmark = pytest.mark.release


@given(paths(closed=True, least=2), st.integers(0, 10**6))
def test_winding_numbers_as_the_sum_of_angles(path, seed):
    # Reference: the angle swept, seen from the point, along fine chords.
    x0, y0, x1, y1 = path.bounds
    points = np.random.default_rng(seed).uniform((x0, y0), (x1, y1), (15, 2))
    size = max(x1 - x0, y1 - y0)
    points = points[nearest(path, points).distance > 1e-3 * size]
    chords = flatten(path, 1e-5 * size)
    rays = chords - points[:, None]
    turns = np.angle(
        np.exp(
            1j
            * np.diff(
                np.arctan2(rays[..., 1], rays[..., 0]),
                axis=1,
                append=np.arctan2(rays[:, :1, 1], rays[:, :1, 0]),
            )
        )
    )
    swept = np.rint(turns.sum(axis=1) / (2 * np.pi)).astype(int)
    assert winding_numbers(path, points).tolist() == swept.tolist()
    assert contains(path, points).tolist() == (swept != 0).tolist()


def test_rays_through_vertices_and_tops():
    diamond = Path.polyline([[10, 0], [0, 10], [-10, 0], [0, -10]], closed=True)
    probes = np.array([[-5.0, 0], [-15, 0], [0, 0], [15, 0], [-15, 10], [-15, -10]])
    expected = [True, False, True, False, False, False]
    assert contains(diamond, probes).tolist() == expected
    assert contains(circle(10), probes).tolist() == expected


def test_within_a_nanometre_of_the_line():
    path = circle(5000)
    s = np.linspace(0, path.length, 50)
    p, t = path.at(s), path.tangents(s)
    inward = np.column_stack([-t[:, 1], t[:, 0]]) * 1e-6
    assert contains(path, p + inward).all()
    assert not contains(path, p - inward).any()


def test_an_open_path_has_no_inside():
    with pytest.raises(GeometryError):
        contains(circle().opened(), np.zeros((1, 2)))


def test_middles():
    np.testing.assert_allclose(
        centroid(ellipse(1e4, -2e4, 300, 200)), [1e4, -2e4], rtol=0, atol=1e-9
    )
    triangle = Path.polyline([[0, 0], [30, 0], [0, 60]], closed=True)
    np.testing.assert_allclose(centroid(triangle), [10, 20], atol=1e-12)
    np.testing.assert_allclose(centroid(triangle.reversed()), [10, 20], atol=1e-12)
    with pytest.raises(GeometryError):
        centroid(Path.polyline([[0, 0], [10, 0]], closed=True))


def test_the_middle_as_shapely_gives_it_for_fine_chords():
    path = Path.of(
        [[[0, 0], [40, -30], [80, 60], [120, 10]], [[120, 10], [90, 150], [10, 90], [0, 0]]],
        closed=True,
    )
    reference = shapely.Polygon(flatten(path, 1e-6)).centroid
    np.testing.assert_allclose(centroid(path), [reference.x, reference.y], atol=1e-5)


@pytest.mark.parametrize("turn", [0, 25])
def test_gaps(turn):
    m = affine.rotation(turn, (3, 4))
    a, b = ellipse(0, 0, 50, 50, 1e-9), ellipse(200, 0, 30, 30, 1e-9)
    a, b = a.transformed(m), b.transformed(m)
    distance, p, q = gap(a, b)
    assert distance == pytest.approx(120, abs=1e-6)
    assert np.hypot(*(q - p)) == pytest.approx(distance, abs=1e-9)
    np.testing.assert_allclose(p, affine.apply(m, [50.0, 0.0]), atol=1e-3)
    assert gap(b, a)[0] == pytest.approx(distance, abs=1e-9)
    # A closed path counts as a line: one circle inside another.
    inside = ellipse(10, 0, 20, 20, 1e-9).transformed(m)
    assert gap(a, inside)[0] == pytest.approx(20, abs=1e-6)
    distance, p, q = gap(a, ellipse(60, 0, 50, 50).transformed(m))
    assert distance == 0
    np.testing.assert_array_equal(p, q)


@given(paths(), paths())
def test_no_pair_of_samples_is_nearer_than_the_gap(a, b):
    distance, p, q = gap(a, b)
    size = max(a.length, b.length)
    # Lines closer than 3e-6 mm that run alongside count as met.
    rounding = 3e-6 + 1e-12 * max(np.abs(a.controls).max(), np.abs(b.controls).max())
    assert np.hypot(*(p - q)) == pytest.approx(distance, abs=rounding)
    assert nearest(b, a.at(np.linspace(0, a.length, 300))).distance.min() >= distance - rounding
    assert nearest(a, p).distance[0] <= rounding
    assert nearest(b, q).distance[0] <= rounding
    assert distance <= 4e4 + size
