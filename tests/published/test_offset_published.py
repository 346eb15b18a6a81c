"""Parallels against exact figures and against shapely's buffer.

Steiner's formulas for a convex body moved outwards by r: area A + P r + pi r2,
perimeter P + 2 pi r; inwards, r changes sign while it is below the least radius of
curvature. With mitred corners a polygon about a circle of radius p scales by (p + r) / p.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from scipy.special import ellipe

from sizewright.geometry.arcs import ellipse
from sizewright.geometry.insets import offset_loop
from sizewright.geometry.offset import offset_open
from sizewright.geometry.path import Path
from tests.measured import deviation, samples

pytestmark = pytest.mark.release

HEXAGON = [[math.cos(k * math.pi / 3), math.sin(k * math.pi / 3)] for k in range(6)]


def _apart(a: np.ndarray, b: np.ndarray) -> float:
    """Largest distance from the points of either closed line to the other."""
    return max(deviation(a, np.vstack([b, b[:1]])), deviation(b, np.vstack([a, a[:1]])))


def test_ellipse_3_2_moved_out_by_a_half():
    # Exact figures of Steiner's formula, in units of 100 mm.
    moved = offset_open(ellipse(0, 0, 300, 200, 1e-6), 50.0, 1e-4)
    assert moved.area / 1e4 == pytest.approx(27.567673879581502, rel=2e-7)
    assert moved.length / 1e2 == pytest.approx(19.00703224288038, rel=2e-7)


@pytest.mark.parametrize(("a", "b"), [(300, 200), (200, 100), (500, 300)])
@pytest.mark.parametrize("share", [0.9, 0.4, -0.4, -0.9])
def test_steiner_for_ellipses_out_and_in(a, b, share):
    # Perimeter from scipy's complete elliptic integral; least radius of curvature b2 / a.
    r = share * b * b / a
    perimeter = 4 * a * ellipe(1 - (b / a) ** 2)
    moved = offset_open(ellipse(0, 0, a, b, 1e-6), r, 1e-3)
    area = math.pi * a * b + perimeter * r + math.pi * r * r
    # A line everywhere within 0.001 mm is within that times its length in area.
    assert moved.area == pytest.approx(area, abs=1e-3 * moved.length)
    assert moved.length == pytest.approx(perimeter + 2 * math.pi * r, rel=1e-5)


@pytest.mark.parametrize("distance", [10.0, 75.0, -10.0, -60.0])
def test_ellipse_against_the_buffer_of_shapely(distance):
    source = ellipse(0, 0, 300, 200, 1e-6)
    moved = offset_open(source, distance, 0.01)
    reference = shapely.Polygon(samples(source, 500)).buffer(distance, quad_segs=16)
    edge = shapely.get_coordinates(reference.exterior)
    assert _apart(samples(moved, 400), edge) <= 0.012


def test_inset_with_cusps_against_the_buffer_of_shapely():
    source = ellipse(0, 0, 300, 200, 1e-6)
    moved = offset_open(source, -150.0, 0.01)
    reference = shapely.Polygon(samples(source, 500)).buffer(-150.0, quad_segs=16)
    assert moved.area == pytest.approx(reference.area, rel=2e-4)
    assert _apart(samples(moved, 400), shapely.get_coordinates(reference.exterior)) <= 0.05


@pytest.mark.parametrize(
    ("points", "r", "area", "perimeter"),
    [
        pytest.param([[0, 0], [10, 0], [10, 10], [0, 10]], 1, 144, 48, id="square"),
        pytest.param([[0, 0], [20, 0], [20, 30], [0, 30]], 1.5, 759, 112, id="rectangle"),
        pytest.param([[0, 0], [3, 0], [0, 4]], 0.5, 13.5, 18, id="triangle-3-4-5"),
        pytest.param([[0, 0], [3, 0], [0, 4]], -0.5, 1.5, 6, id="triangle-inset"),
        pytest.param(HEXAGON, 0.25, 4.314582562299425, 7.732050807568877, id="hexagon"),
    ],
)
def test_mitred_polygons(points, r, area, perimeter):
    moved = offset_loop(Path.polyline(points, closed=True), r)
    assert len(moved) == len(points)
    assert moved.lines.all()
    assert moved.area == pytest.approx(area, rel=1e-13)
    assert moved.length == pytest.approx(perimeter, rel=1e-13)


def test_piece_with_corners_against_the_mitred_buffer_of_shapely():
    piece = Path.of(
        [
            [[0, 0], [80, 0], [170, 4], [255, 8]],
            [[255, 8], [250, 60], [230, 120], [240, 180]],
            [[240, 180], [170, 200], [180, 260], [200, 300]],
            [[200, 300], [75, 390]],
            [[75, 390], [70, 350], [40, 330], [0, 330]],
            [[0, 330], [0, 0]],
        ],
        closed=True,
    )
    for distance in (10.0, -10.0):
        moved = offset_loop(piece, distance)
        reference = shapely.Polygon(samples(piece, 1500)).buffer(
            distance, join_style="mitre", mitre_limit=50.0
        )
        assert _apart(samples(moved, 400), shapely.get_coordinates(reference.exterior)) <= 0.02
