"""Cutting lines against shapely: buffers of polygons, distances from curves; bad lines found."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from sizewright.drafting import (
    allowance_faults,
    cutting_line,
    measured_allowances,
    tight_places,
    with_cutting_line,
)
from sizewright.errors import GeometryError, InputError
from sizewright.geometry import Path, affine, flatten, is_simple
from sizewright.model import Allowances, CornerShape, Outline, Piece, WidthStretch
from tests.shapes import bodice, rectangle

Points = list[tuple[float, float]]


def piece_of(path: Path, width: float, **more: object) -> Piece:
    meant = Allowances(width, **more)  # type: ignore[arg-type]
    return Piece("piece", Outline.of(path), kind="sew", allowances=meant)


def cut_polygon(points: Points, width: float, limit: float = 20.0) -> shapely.Polygon:
    path = cutting_line(piece_of(Path.polyline(points, closed=True), width, limit=limit)).path
    assert path.lines.all()
    return shapely.Polygon(path.vertices)


def notched(angle: float, edge: float) -> Points:
    """A piece with an inner corner of so many degrees beside an edge of so many mm."""
    a = math.radians(angle)
    tip = (100 + edge * math.cos(a), 100 + edge * math.sin(a))
    return [(0, 0), (200, 0), (200, 100), (100, 100), tip, (0, tip[1] + 20)]


# --- against buffers and distances of shapely (GEOS) ------------------------------------


@pytest.mark.parametrize("width", [6.0, 10.0, 15.0])
def test_a_short_edge_in_an_acute_inner_corner(width: float) -> None:
    """140 polygons: inner corners of 10 to 90 degrees, an edge of 2 to 12 mm."""
    for angle in np.linspace(10, 90, 14):
        for edge in np.linspace(2, 12, 10):
            points = notched(float(angle), float(edge))
            sewn, cut = shapely.Polygon(points), cut_polygon(points, width)
            assert cut.is_valid
            assert cut.contains(sewn)
            assert sewn.exterior.distance(cut.exterior) >= width - 1e-6
            mitred = sewn.buffer(width, join_style="mitre", mitre_limit=20)
            assert cut.symmetric_difference(shapely.Polygon(mitred.exterior)).area < 1e-3


@given(
    st.lists(st.floats(20, 150), min_size=4, max_size=12),
    st.integers(0, 10_000),
    st.sampled_from([5.0, 10.0, 15.0, 30.0]),
)
def test_polygons_lie_between_the_round_and_the_mitred_buffer(
    radii: list[float], seed: int, width: float
) -> None:
    angles = np.sort(np.random.default_rng(seed).uniform(0, 2 * np.pi, len(radii)))
    points = np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(radii)[:, None]
    sewn = shapely.Polygon(points)
    assume(sewn.is_valid and sewn.area > 500 and sewn.exterior.is_ccw)
    turns = np.abs(Path.polyline(points, closed=True).turns)
    assume(turns.min() > 3.5 and turns.max() < 175)
    cut = cut_polygon([(float(x), float(y)) for x, y in points], width, limit=40.0)
    assert cut.is_valid
    assert cut.contains(sewn)
    assert sewn.exterior.distance(cut.exterior) >= width - 1e-6
    assert sewn.buffer(width, quad_segs=32).difference(cut).area < 1e-3
    mitred = shapely.Polygon(sewn.buffer(width, join_style="mitre", mitre_limit=40).exterior)
    assert cut.difference(mitred).area < 1e-3 * mitred.area


def wavy(seed: int) -> Path:
    """A smooth closed outline through scattered points, some of its bends very tight."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(5, 12))
    angles = 2 * np.pi * (np.arange(n) + rng.uniform(-0.3, 0.3, n)) / n
    p = np.column_stack([np.cos(angles), np.sin(angles)]) * rng.uniform(50, 150, n)[:, None]
    handle = (np.roll(p, -1, axis=0) - np.roll(p, 1, axis=0)) / 6
    after = np.roll(p, -1, axis=0)
    controls = np.stack([p, p + handle, after - np.roll(handle, -1, axis=0), after], axis=1)
    return Path(controls, np.zeros(n, dtype=bool), True)


@given(st.integers(0, 100_000), st.sampled_from([5.0, 15.0, 30.0]))
def test_curves_that_bend_tightly_keep_their_allowance(seed: int, width: float) -> None:
    path = wavy(seed)
    sewn = shapely.Polygon(flatten(path, 1e-3))
    assume(path.area > 0 and sewn.is_valid)
    piece = with_cutting_line(piece_of(path, width, limit=20.0))
    assert piece.cut_line is not None
    line = piece.cut_line.path
    assert is_simple(line)
    cut = shapely.Polygon(flatten(line, 1e-3))
    assert cut.contains(sewn)
    assert sewn.exterior.distance(cut.exterior) >= width - 0.02
    # Nowhere farther out than a buffer is, but for what that closes up.
    assert shapely.hausdorff_distance(cut.exterior, sewn.exterior) < 1.7 * width + 60
    assert allowance_faults(piece) == ()


def test_where_a_curve_bends_too_tightly_it_is_said() -> None:
    bay = Path.of(
        [
            [(0, 0), (200, 0)],
            [(200, 0), (200, 100)],
            [(200, 100), (110, 100)],
            [(110, 100), (110, 86), (90, 86), (90, 100)],
            [(90, 100), (0, 100)],
            [(0, 100), (0, 0)],
        ],
        closed=True,
    )
    (note,) = tight_places(piece_of(bay, 15))
    assert note.code == "allowance-tight"
    assert note.place == "100, 93 mm"
    assert tight_places(piece_of(rectangle(), 15)) == ()
    after = with_cutting_line(piece_of(bay, 15))
    assert after.cut_line is not None
    # The bay is run across: what is left is the rectangle's own line.
    assert after.cut_line.path.area == pytest.approx(230 * 130, rel=2e-3)


# --- intent ------------------------------------------------------------------------------


def test_widths_may_step_and_change() -> None:
    piece = piece_of(
        rectangle(), 10, stretches=(WidthStretch(0, 1, 30, 20), WidthStretch(2, 3, 40, 40))
    )
    x0, y0, x1, y1 = cutting_line(piece).path.bounds
    assert (x0, x1, y1) == pytest.approx((-10, 210, 140))
    assert y0 == pytest.approx(-30 - 10 * 10 / 200)


def test_a_turned_or_mirrored_piece_has_the_same_intent() -> None:
    piece = piece_of(
        rectangle(),
        10,
        stretches=(WidthStretch(0, 1, 30, 20),),
        corners=(CornerShape(1, "square", before=True),),
    )
    turned = affine.compose(affine.rotation(37), affine.scaling(-1, 1))
    there = with_cutting_line(piece).transformed(turned)
    again = with_cutting_line(there)
    assert again.cut_line is not None
    assert there.cut_line is not None
    a, b = (shapely.Polygon(p.cut_line.path.vertices) for p in (again, there) if p.cut_line)
    assert a.symmetric_difference(b).area < 1e-6


def test_a_vertex_put_in_changes_nothing() -> None:
    piece = piece_of(rectangle(), 10, stretches=(WidthStretch(0, 1, 30, 20),))
    more, _ = piece.with_vertex(50.0)
    assert more.allowances is not None
    assert more.allowances.widths_at(more.outline.path, 50.0) == pytest.approx((27.5, 27.5))
    assert cutting_line(more).path.area == pytest.approx(cutting_line(piece).path.area, rel=1e-12)


def test_without_intent_there_is_no_line() -> None:
    bare = Piece("piece", Outline.of(rectangle()), kind="sew")
    assert with_cutting_line(bare) is bare
    with pytest.raises(InputError, match="piece"):
        cutting_line(bare)


def test_a_sewing_line_that_crosses_itself_is_refused_with_its_name() -> None:
    eight = Path.polyline([(0, 0), (100, 0), (100, 60), (40, -20), (0, 90)], closed=True)
    with pytest.raises(GeometryError, match=r"piece.*crosses"):
        with_cutting_line(piece_of(eight, 10))


# --- the proof ---------------------------------------------------------------------------


def test_a_line_that_is_too_near_is_found() -> None:
    piece = with_cutting_line(piece_of(rectangle(), 15))
    assert allowance_faults(piece) == ()
    near = Path.polyline([(-15, -15), (215, -15), (215, 115), (120, 108), (-15, 115)], closed=True)
    (short,) = allowance_faults(replace(piece, cut_line=Outline.of(near)))
    assert (short.code, short.level) == ("allowance-short", "warn")
    assert short.place.startswith("#3 at 1")
    inside = Path.polyline([(-15, -15), (215, -15), (215, 115), (120, 92), (-15, 115)], closed=True)
    (bad,) = allowance_faults(replace(piece, cut_line=Outline.of(inside)))
    assert bad.level == "fail"
    assert "inside the sewing line" in bad.text


def test_every_kind_of_corner_passes_the_proof() -> None:
    for kind in ("mitre", "square", "fold-back", "bevel"):
        meant = Allowances(15, (WidthStretch(0, 4, 40, 40),), corner=kind)  # type: ignore[arg-type]
        piece = with_cutting_line(replace(bodice(), allowances=meant))
        assert allowance_faults(piece) == (), kind


def test_measured_widths_are_the_round_ones_that_were_meant() -> None:
    off = Path.polyline(
        [(-15.000229, -12.7), (209.98, -12.7), (209.98, 109.53), (-15.000229, 109.53)], closed=True
    )
    piece = Piece("piece", Outline.of(rectangle()), kind="sew", cut_line=Outline.of(off))
    found = measured_allowances(piece)
    assert found is not None
    widths = found.by_segment(piece.outline.path)
    assert widths[:, 0] == pytest.approx([12.7, 10.0, 25.4 * 3 / 8, 15.0], abs=1e-9)
