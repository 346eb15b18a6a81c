"""Corners, names, edges, runs: and that nothing changes in place."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import GeometryError, InputError, LookupFailed
from sizewright.geometry import affine
from sizewright.geometry.path import Path
from sizewright.model import Outline, Point, Run, Spot
from tests.shapes import bodice, rectangle


def test_corners_are_numbered_from_the_lowest_then_leftmost() -> None:
    tilted = rectangle().transformed(affine.rotation(10))
    for start in range(4):
        outline = Outline.of(tilted.rolled(start))
        first = outline.vertex_at(outline.corners[0])
        assert first == pytest.approx([0, 0], abs=1e-12)
        second = outline.vertex_at(outline.corners[1])
        assert second[0] > 100


@given(st.floats(1e-7, 5e-3), st.booleans())
def test_level_corners_within_noise_start_at_the_left(noise: float, up: bool) -> None:
    lift = noise if up else -noise
    path = Path.polyline([(0, lift), (100, 0), (100, 50), (0, 50)], closed=True)
    outline = Outline.of(path)
    assert outline.vertex_at(outline.corners[0])[0] == 0


def test_clockwise_is_turned() -> None:
    outline = Outline.of(rectangle().reversed())
    assert outline.path.area == pytest.approx(20000)
    assert len(outline.edges) == 4


def test_corner_angle_decides() -> None:
    path = Path.polyline([(0, 0), (100, 0), (200, 7), (200, 100), (0, 100)], closed=True)
    assert len(Outline.of(path).corners) == 5
    assert len(Outline.of(path, corner_angle=5).corners) == 4


def test_circle_is_one_edge_without_corners() -> None:
    k = 0.5522847498307935 * 100
    path = Path.of(
        [
            [(100, 0), (100, k), (k, 100), (0, 100)],
            [(0, 100), (-k, 100), (-100, k), (-100, 0)],
            [(-100, 0), (-100, -k), (-k, -100), (0, -100)],
            [(0, -100), (k, -100), (100, -k), (100, 0)],
        ],
        closed=True,
    )
    outline = Outline.of(path)
    assert outline.corners == ()
    (edge,) = outline.edges
    assert (edge.from_corner, edge.to_corner) == (None, None)
    assert edge.length == pytest.approx(path.length)
    assert outline.arc_length_of(outline.spot(123.0)) == pytest.approx(123.0)


def test_edges_go_round_once() -> None:
    outline = bodice().outline
    assert sum(e.length for e in outline.edges) == pytest.approx(outline.path.length)
    assert [e.number for e in outline.edges] == list(range(1, 10))
    assert [e.to_corner for e in outline.edges] == [2, 3, 4, 5, 6, 7, 8, 9, 1]
    assert {e.name for e in outline.edges} >= {"side", "armhole", "shoulder", "neck"}
    # The waist passes the dart, so it is a run and no edge.
    assert all(e.name != "waist" for e in outline.edges)
    assert outline.run("waist") == Run(0, 4, "waist")


@given(st.floats(0, 1, exclude_max=True))
def test_spot_and_arc_length_are_inverse(share: float) -> None:
    outline = bodice().outline
    s = share * outline.path.length
    assert outline.arc_length_of(outline.spot(s)) == pytest.approx(s, abs=1e-9)


def test_references() -> None:
    outline = bodice().outline
    assert outline.vertex("underarm") == 5
    assert outline.vertex("#1") == outline.corners[0] == outline.vertex(1)
    assert outline.run("#2") == Run(outline.corners[1], outline.corners[2], None)
    assert outline.run("underarm..neck-side") == Run(5, 7, "underarm..neck-side")
    with pytest.raises(LookupFailed, match=r"underarm.*corners: 1 to 9"):
        outline.vertex("underram")
    with pytest.raises(LookupFailed, match=r"armhole.*edges: 1 to 9"):
        outline.run("armhol")


def test_names_are_unique() -> None:
    with pytest.raises(InputError, match="hip"):
        Outline.of(rectangle(), points=[Point(0, "hip"), Point(1, "hip")])
    with pytest.raises(InputError, match="hem"):
        Outline.of(rectangle(), runs=[Run(0, 1, "hem"), Run(1, 2, "hem")])


def test_open_or_flat_paths_are_refused() -> None:
    with pytest.raises(GeometryError, match="closed"):
        Outline.of(Path.polyline([(0, 0), (1, 0), (1, 1)]))
    with pytest.raises(GeometryError, match="area"):
        Outline.of(Path.polyline([(0, 0), (1, 0), (2, 0)], closed=True))


@given(st.floats(0.01, 0.99), st.integers(0, 8))
def test_a_new_vertex_changes_no_line_and_keeps_all_names(t: float, segment: int) -> None:
    outline = bodice().outline
    c = outline.path.cumulative
    s = float(c[segment] + t * (c[segment + 1] - c[segment]))
    more, k = outline.with_vertex(s)
    assert len(more.path) == len(outline.path) + 1
    assert more.path.length == pytest.approx(outline.path.length, abs=1e-9)
    assert more.vertex_at(k) == pytest.approx(outline.path.at(s), abs=1e-9)
    for point in outline.points:
        assert point.name
        assert np.array_equal(
            more.vertex_at(more.vertex(point.name)), outline.vertex_at(point.vertex)
        )
    for run in outline.runs:
        assert run.name
        assert more.run_length(more.run(run.name)) == pytest.approx(outline.run_length(run))
    assert len(outline.path) == 9


def test_turning_over_keeps_names_at_their_places() -> None:
    outline = bodice().outline
    flip = affine.scaling(-1, 1)
    turned = outline.transformed(flip)
    assert turned.path.area == pytest.approx(outline.path.area)
    for point in outline.points:
        assert point.name
        place = turned.vertex_at(turned.vertex(point.name))
        assert place == pytest.approx(outline.vertex_at(point.vertex) * [-1, 1])
    for run in outline.runs:
        assert run.name
        assert turned.run_length(turned.run(run.name)) == pytest.approx(outline.run_length(run))
    again = turned.transformed(flip)
    assert again.points == outline.points
    assert again.runs == outline.runs
    assert again.corners == outline.corners
    assert again.path == outline.path


def test_frozen() -> None:
    outline = bodice().outline
    with pytest.raises(dataclasses.FrozenInstanceError):
        outline.corners = ()  # type: ignore[misc]
    with pytest.raises(ValueError, match="read-only"):
        outline.path.controls[0, 0, 0] = 1.0
    named = outline.with_point(2, name="tip")
    assert named.vertex("tip") == 2
    assert all(p.name != "tip" for p in outline.points)
    assert outline.with_run(Run(0, 1, "left")).run("left") == Run(0, 1, "left")
    assert outline.arc_length_of(Spot(0, 5.0)) == 5.0


def test_curve_points_are_said_from_the_corner_before_them() -> None:
    path = Path.of(
        [
            [(0, 0), (100, 0)],
            [(100, 0), (110, 20), (120, 30), (120, 50)],
            [(120, 50), (120, 70), (110, 80), (100, 100)],
            [(100, 100), (0, 100)],
            [(0, 100), (0, 0)],
        ],
        closed=True,
    )
    outline = Outline.of(path, points=[Point(3, "top")])
    assert outline.vertex("#2+1") == 2
    assert [outline.reference(v) for v in range(5)] == ["#1", "#2", "#2+1", "top", "#4"]
    # Wherever the outline begins.
    rolled = Outline.of(path.rolled(2))
    assert rolled.vertex("#2+1") == 0
    assert rolled.reference(0) == "#2+1"
    for wrong in ("#2+2", "#2+0", "#2+", "#1+1", "#2+x", "#9+1"):
        with pytest.raises(LookupFailed, match="no point or corner"):
            outline.vertex(wrong)
    circle = Outline.of(
        Path.of(
            [[(0, 0), (60, 0), (60, 80), (0, 80)], [(0, 80), (-60, 80), (-60, 0), (0, 0)]],
            closed=True,
        )
    )
    assert circle.corners == ()
    assert circle.reference(1) is None
