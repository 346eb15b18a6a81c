"""Allowance against shapely's buffer and Steiner's formula."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from sizewright.geometry import Path, ellipse, flatten
from sizewright.model import Outline, Piece
from tests.plugins.allowances import allowed
from tests.shapes import bodice


def grown(path: Path, width: float, **given: object) -> Path:
    piece = allowed(Piece("piece", Outline.of(path), kind="sew"), width=f"{width} mm", **given)
    assert piece.cut_line is not None
    return piece.cut_line.path


# Exact figures of mitred offsets: a tangential polygon grows by (rho + r) / rho about its
# incentre (plane geometry). Lengths are 10 times the unit shapes.
@pytest.mark.parametrize(
    ("points", "width", "area", "perimeter"),
    [
        ([(0, 0), (100, 0), (100, 100), (0, 100)], 10.0, 14400.0, 480.0),
        ([(0, 0), (200, 0), (200, 300), (0, 300)], 15.0, 75900.0, 1120.0),
        ([(0, 0), (40, 0), (0, 30)], 5.0, 1350.0, 180.0),
    ],
)
def test_mitred_polygons(
    points: list[tuple[float, float]], width: float, area: float, perimeter: float
) -> None:
    path = grown(Path.polyline(points, closed=True), width, mitre_limit=20)
    assert path.area == pytest.approx(area, rel=1e-12)
    assert path.length == pytest.approx(perimeter, rel=1e-12)


@pytest.mark.parametrize(("a", "b", "width"), [(300, 200, 15), (300, 200, 50), (120, 110, 30)])
def test_steiner_on_ellipses(a: float, b: float, width: float) -> None:
    """A(r) = A + P r + pi r2, P(r) = P + 2 pi r for a convex body (Steiner)."""
    path = ellipse(0, 0, a, b)
    wide = grown(path, width)
    assert wide.area == pytest.approx(
        path.area + path.length * width + math.pi * width**2, rel=2e-6
    )
    assert wide.length == pytest.approx(path.length + 2 * math.pi * width, rel=2e-6)


@pytest.mark.parametrize("width", [6.0, 10.0, 15.0])
def test_a_mitred_piece_is_shapelys_mitred_buffer(width: float) -> None:
    """Buffer of GEOS through shapely, mitred, on the bodice without its dart."""
    piece = bodice()
    c = piece.outline.path.controls
    path = Path(
        np.concatenate([[c[0]], c[3:]]),
        np.concatenate([[True], piece.outline.path.lines[3:]]),
        True,
    )
    ours = shapely.Polygon(flatten(grown(path, width, mitre_limit=10), 0.001))
    # Chords end at an angle to the curve, which a mitre magnifies: hence such fine ones.
    theirs = shapely.Polygon(flatten(path, 2e-5)).buffer(
        width, join_style="mitre", mitre_limit=10, quad_segs=64
    )
    assert ours.symmetric_difference(theirs).area < 1e-4 * theirs.area
    assert ours.hausdorff_distance(theirs) < 0.05


def test_a_smooth_piece_is_shapelys_round_buffer() -> None:
    path = ellipse(0, 0, 220, 130)
    ours = shapely.Polygon(flatten(grown(path, 15), 0.001))
    theirs = shapely.Polygon(flatten(path, 0.001)).buffer(15, quad_segs=256)
    assert ours.hausdorff_distance(theirs) < 0.02
