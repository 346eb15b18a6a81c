"""New lines on a piece: where they run, and how they meet the edges."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from shapely import LineString

from sizewright.drafting import LineAsked, Settled, inner_parallel
from sizewright.errors import GeometryError, InputError, SizewrightError
from sizewright.geometry import Path, flatten
from sizewright.geometry.splines import curve_through
from sizewright.model import Pattern
from sizewright.plugin import check_settings, line_settings
from tests.shapes import bodice


def line(**given: Any) -> Path:
    piece = bodice()
    asked = LineAsked.of(check_settings("line", line_settings(), given))
    return asked.path(Pattern((piece,)), piece, Settled())


def test_a_straight_line_goes_from_place_to_place() -> None:
    path = line(through=["level with underarm along fold", "underarm"])
    assert path.vertices.tolist() == [[0, 210], [260, 210]]


def test_a_curve_is_square_to_the_fold_and_passes_its_places() -> None:
    inner = "4 cm across from neck-centre, 3 cm down"
    path = line(through=["25 cm up fold from waist-centre", inner, "neck-side"], line="curve")
    assert path.tangents(0.0) == pytest.approx([1, 0], abs=1e-9)
    assert path.vertices == pytest.approx(np.array([[0, 250], [40, 290], [75, 420]]), abs=1e-6)
    # At a seam `square` is square to the edge that the line does not run along: the shoulder.
    path = line(
        through=["25 cm up fold from waist-centre", "neck-side"],
        line="curve",
        ends=["square", "square"],
    )
    shoulder = np.array([125, -40]) / np.hypot(125, 40)
    assert path.tangents(path.length) @ shoulder == pytest.approx(0, abs=1e-9)


def test_a_fair_curve_is_the_spline_by_its_own_length() -> None:
    # scipy's CubicSpline, with our arc lengths as its parameter.
    points = np.array([[0, 0], [60, 10], [90, 60], [100, 150]], dtype=float)
    ours = curve_through(points, np.array([1.0, 0.0]))
    theirs = CubicSpline(ours.cumulative, points, bc_type=((1, (1.0, 0.0)), (2, (0.0, 0.0))))
    s = np.linspace(0, ours.length, 200)
    apart = [LineString(flatten(ours, 1e-4)).distance(LineString([p, p + 1e-9])) for p in theirs(s)]
    assert max(apart) < 1e-3


def test_a_line_beside_a_run_is_as_far_from_it_everywhere() -> None:
    path = line(beside="neck", by="5 cm")
    neck = bodice().outline.run_path(bodice().run("neck"))
    points = flatten(path, 0.01)
    near = LineString(flatten(neck, 0.001))
    inner = points[(points[:, 0] > 5) & (points[:, 1] < 395)]
    away = [near.distance(LineString([p, p + 1e-9])) for p in inner]
    assert away == pytest.approx([50.0] * len(away), abs=0.02)
    # It ends on the shoulder and on the fold.
    assert path.end[0] == pytest.approx(0, abs=1e-6)
    ends = bodice().outline.run_path(bodice().run("shoulder"))
    assert LineString(ends.vertices).distance(LineString([path.start, path.start + 1e-9])) < 1e-6


def test_at_corners_the_sides_of_a_parallel_meet() -> None:
    # shapely's mitred parallel.
    corner = Path.polyline([(0, 0), (100, 0), (100, 80), (180, 120)])
    ours = inner_parallel(corner, 12.0)
    theirs = LineString(corner.vertices).parallel_offset(12.0, "left", join_style="mitre")
    assert LineString(ours.vertices).hausdorff_distance(theirs) < 1e-6


@pytest.mark.parametrize(
    ("given", "error", "words"),
    [
        ({}, InputError, "two places"),
        ({"through": ["underarm"]}, InputError, "two places"),
        ({"through": ["underarm", "neck-side"], "beside": "neck"}, InputError, "not both"),
        ({"beside": "neck"}, InputError, 'by = "5 cm"'),
        ({"through": ["underarm", "neck-side"], "ends": ["free", "free"]}, InputError, "curve"),
        ({"through": ["underarm", "underarm"]}, GeometryError, "one place"),
        ({"beside": "neck", "by": "40 cm"}, GeometryError, "smaller"),
    ],
)
def test_lines_that_cannot_be_drawn(
    given: dict[str, Any], error: type[SizewrightError], words: str
) -> None:
    with pytest.raises(error) as caught:
        line(**given)
    assert words in f"{caught.value} {caught.value.cure}"
