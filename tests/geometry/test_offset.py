"""Parallels of smooth chains and of loops with corners."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sizewright.errors import GeometryError
from sizewright.geometry import bezier
from sizewright.geometry.arcs import ellipse
from sizewright.geometry.crossings import is_simple
from sizewright.geometry.insets import offset_loop
from sizewright.geometry.offset import offset_open, parallel
from sizewright.geometry.path import Path, unit_tangents
from tests.measured import deviation, samples

ARM = Path.of([[[200, 300], [180, 260], [170, 200], [240, 180]]], closed=False)
NECK = Path.of([[[0, 330], [40, 330], [70, 350], [75, 390]]], closed=False)
CAP = Path.of(
    [[[0, 0], [40, 0], [60, 120], [120, 140]], [[120, 140], [180, 160], [220, 10], [280, 5]]],
    closed=False,
)
HIP = Path.of(
    [[[0, 0], [0, 100]], [[0, 100], [0, 160], [25, 190], [25, 260]], [[25, 260], [25, 400]]],
    closed=False,
)
BODICE = Path.of(
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


def _true(path: Path, distance, count=600):
    """Points of the parallel by its definition, and 1 + d k there."""
    t = np.tile(np.linspace(0, 1, count), (len(path), 1))
    controls = path.controls[:, None]
    tangent = unit_tangents(np.repeat(controls, count, axis=1), t)
    first, second = bezier.derivative(controls, t), bezier.second_derivative(controls, t)
    speed = np.hypot(first[..., 0], first[..., 1])
    bend = (first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0]) / speed**3
    if callable(distance):
        s = np.array([[path.arc_length_at(i, float(u)) for u in row] for i, row in enumerate(t)])
        d = distance(s)
    else:
        d = np.full(t.shape, distance)
    normal = np.stack([tangent[..., 1], -tangent[..., 0]], axis=-1)
    points = bezier.evaluate(controls, t) + d[..., None] * normal
    return points.reshape(-1, 2), (1 + d * bend).reshape(-1)


@pytest.mark.parametrize("path", [ARM, NECK, CAP, HIP], ids=["arm", "neck", "cap", "hip"])
@pytest.mark.parametrize("distance", [5.0, 10.0, 15.0, -5.0, -10.0, -15.0])
def test_garment_curves(path, distance):
    result = parallel(path, distance)
    new = result.path
    true, forward = _true(path, distance)
    assert forward.min() > 0
    assert deviation(true, samples(new, 600)) <= 0.012
    assert deviation(samples(new, 600), true) <= 0.012
    assert len(new) <= 3 * len(path)
    assert np.abs(new.turns).max() < 1e-6
    assert np.array_equal(new.lines[result.vertex_map[:-1]], path.lines)
    # Source vertices keep their places, square to the line.
    ends = new.vertices[result.vertex_map]
    assert np.abs(np.hypot(*(ends - path.vertices).T) - abs(distance)).max() < 1e-9


def test_positive_lies_to_the_right():
    line = Path.polyline([[0, 0], [100, 0]])
    assert np.array_equal(offset_open(line, 7.0).vertices, [[0, -7], [100, -7]])
    assert offset_open(ellipse(0, 0, 100, 60), 5.0).bounds[2] == pytest.approx(105, abs=1e-3)


def test_lines_stay_exact_lines():
    line = Path.polyline([[10, 20], [110, 95]])
    moved = offset_open(line, 10.0)
    assert moved.lines.all()
    assert np.abs(moved.vertices - (line.vertices + np.array([6.0, -8.0]))).max() < 1e-12
    changing = offset_open(line, (10.0, 20.0))
    assert changing.lines.all()
    assert np.abs(changing.vertices - [[16, 12], [122, 79]]).max() < 1e-12


def test_distance_that_changes_evenly():
    total = CAP.length
    result = offset_open(CAP, (8.0, 15.0))
    true, _ = _true(CAP, lambda s: 8.0 + 7.0 * s / total, 300)
    assert deviation(true, samples(result, 600)) <= 0.012
    assert deviation(samples(result, 600), true) <= 0.012
    assert len(result) <= 3 * len(CAP)
    assert np.hypot(*(result.start - CAP.start)) == pytest.approx(8.0, abs=1e-9)
    assert np.hypot(*(result.end - CAP.end)) == pytest.approx(15.0, abs=1e-9)
    same = offset_open(CAP, (8.0, 8.0))
    assert same == offset_open(CAP, 8.0)


def test_distance_as_a_function_of_arc_length():
    def distance(s):
        return 10 + 3 * np.sin(s / 40)

    result = offset_open(HIP, distance)
    true, _ = _true(HIP, distance, 300)
    assert deviation(true, samples(result, 600)) <= 0.012
    assert deviation(samples(result, 600), true) <= 0.012


@given(
    st.lists(st.tuples(st.floats(20, 120), st.floats(-70, 70)), min_size=2, max_size=5),
    st.floats(1, 30),
    st.booleans(),
)
def test_random_smooth_chains(steps, size, left):
    """Cubics with level tangents at their joins: smooth, of many shapes and radii."""
    at = np.zeros(2)
    segments = []
    for dx, dy in steps:
        end = at + np.array([dx, dy])
        handle = np.array([0.45 * dx, 0])
        segments.append([at, at + handle, end - handle, end])
        at = end
    path = Path.of(segments, closed=False)
    distance = -size if left else size
    true, forward = _true(path, distance)
    assume(forward.min() > 0.5)
    result = parallel(path, distance)
    new = result.path
    assume((result.vertex_map >= 0).all())
    assert deviation(true, samples(new, 400)) <= 0.012
    assert deviation(samples(new, 400), true) <= 0.012
    assert len(new) <= 4 * len(path)
    assert np.abs(new.turns).max() < 1e-6


@given(st.floats(20, 2000), st.floats(-0.9, 3.0))
def test_circles_give_circles(radius, share):
    distance = radius * share
    result = offset_open(ellipse(12.0, -7.0, radius, radius), distance)
    assert result.closed
    s = np.linspace(0, result.length, 500, endpoint=False)
    away = np.hypot(*(result.at(s) - [12.0, -7.0]).T) - (radius + distance)
    assert np.abs(away).max() <= 0.0102
    assert np.abs(result.turns).max() < 1e-4


def test_tight_bend_is_cut_to_a_corner():
    bend = Path.of(
        [
            [[0, 0], [100, 0]],
            [[100, 0], [105.5, 0], [110, 4.5], [110, 10]],
            [[110, 10], [110, 110]],
        ],
        closed=False,
    )
    result = parallel(bend, -30.0)
    # The two straight sides' parallels meet at (80, 30).
    assert result.path.lines.all()
    assert np.abs(result.path.vertices - [[0, 30], [80, 30], [80, 110]]).max() < 1e-9
    assert result.vertex_map.tolist() == [0, -1, -1, 2]


def test_inset_of_an_ellipse_beyond_its_least_radius():
    # Radius of curvature 133 at the ends of the long axis, so cusps appear at 150.
    source = ellipse(0, 0, 300, 200)
    result = offset_open(source, -150.0)
    assert is_simple(result)
    assert int((np.abs(result.turns) > 1).sum()) == 2
    corners = result.vertices[np.abs(result.turns[: len(result)]) > 1]
    assert np.abs(corners[:, 1]).max() < 1e-3
    # Every point left is 150 from the source, none nearer.
    line = samples(source, 900)
    inside = samples(result, 60)
    gaps = np.array([np.hypot(*(line - p).T).min() for p in inside])
    assert np.abs(gaps - 150).max() < 0.02


def test_bend_that_cannot_be_cut_is_refused_with_the_place():
    hook = Path.of([[[0, 0], [5, 0], [10, 5], [10, 10]]], closed=False)
    with pytest.raises(GeometryError, match=r"near \(.*bends more sharply"):
        offset_open(hook, -30.0)


def test_nothing_left_of_a_ring_is_refused():
    with pytest.raises(GeometryError):
        offset_open(ellipse(0, 0, 100, 100), -120.0)


def test_corner_inside_is_refused_with_the_place():
    with pytest.raises(GeometryError, match=r"90\.00 degrees at \(100\.000, 0\.000\)"):
        offset_open(Path.polyline([[0, 0], [100, 0], [100, 50]]), 5.0)


@pytest.mark.parametrize("distance", [float("nan"), float("inf"), (1.0, float("nan"))])
def test_distance_that_is_no_number_is_refused(distance):
    with pytest.raises(GeometryError, match="finite"):
        offset_open(ARM, distance)


@pytest.mark.parametrize("distance", [10.0, -10.0])
def test_slight_kink_is_closed_on_the_bisector(distance):
    kink = Path.of([[[0, 0], [100, 0]], [[100, 0], [130, 0.9], [170, 20], [200, 60]]], closed=False)
    assert 1.5 < abs(kink.turns[1]) < 2.0
    result = parallel(kink, distance)
    half = np.radians(kink.turns[1]) / 2
    joint = result.path.vertices[result.vertex_map[1]]
    assert np.hypot(*(joint - [100, 0])) == pytest.approx(10 / np.cos(half), abs=1e-9)
    assert result.path.turns[result.vertex_map[1]] == pytest.approx(kink.turns[1], abs=0.2)


def test_zero_distance_gives_the_line_itself():
    same = offset_open(CAP, 0.0)
    assert deviation(samples(same, 300), samples(CAP, 3000)) < 1e-3
    assert len(same) == len(CAP)


def test_out_and_back_again():
    for distance in (10.0, -10.0):
        back = offset_open(offset_open(CAP, distance), -distance)
        assert deviation(samples(back, 300), samples(CAP, 3000)) <= 0.025
        assert deviation(samples(CAP, 300), samples(back, 3000)) <= 0.025


# --- loops with corners -------------------------------------------------------------


@pytest.mark.parametrize("distance", [10.0, 15.0])
def test_loop_out_and_in_gives_the_loop_back(distance):
    out = offset_loop(BODICE, distance)
    back = offset_loop(out, -distance)
    assert is_simple(out)
    assert deviation(samples(BODICE, 400), samples(back, 1500)) <= 0.03
    assert deviation(samples(back, 400), samples(BODICE, 1500)) <= 0.03
    corners = back.vertices[np.abs(back.turns) > 3]
    source = BODICE.vertices[np.abs(BODICE.turns) > 3]
    assert len(corners) == len(source)
    nearest = np.hypot(*(corners[:, None] - source).transpose(2, 0, 1)).min(axis=1)
    assert nearest.max() < 0.03


def test_reflex_corner_moves_along_its_bisector():
    ell = Path.polyline([[0, 0], [100, 0], [100, 50], [50, 50], [50, 100], [0, 100]], closed=True)
    inside = offset_loop(ell, -10.0)
    expected = [[10, 10], [90, 10], [90, 40], [40, 40], [40, 90], [10, 90]]
    assert np.abs(inside.vertices - expected).max() < 1e-9
    assert offset_loop(inside, 10.0).area == pytest.approx(ell.area, abs=1e-9)


def test_side_too_short_to_remain_goes():
    bevelled = Path.polyline([[0, 0], [100, 0], [100, 48], [98, 50], [0, 50]], closed=True)
    inside = offset_loop(bevelled, -10.0)
    assert np.abs(inside.vertices - [[10, 10], [90, 10], [90, 40], [10, 40]]).max() < 1e-9


def test_sharp_corner_is_bevelled_beyond_the_limit():
    spike = Path.polyline([[0, 0], [200, 0], [0, 20]], closed=True)
    mitred, bevelled = offset_loop(spike, 10.0, miter_limit=100.0), offset_loop(spike, 10.0)
    assert len(mitred) == 3
    assert len(bevelled) == 4
    assert mitred.bounds[2] > 390
    assert bevelled.bounds[2] == pytest.approx(200 + 1, abs=0.1)


@pytest.mark.parametrize("distance", [-6.0, -5.0, -50.0])
def test_nothing_left_of_a_square_is_refused(distance):
    square = Path.polyline([[0, 0], [10, 0], [10, 10], [0, 10]], closed=True)
    with pytest.raises(GeometryError):
        offset_loop(square, distance)


def test_open_path_is_no_loop():
    with pytest.raises(GeometryError, match="closed"):
        offset_loop(ARM, 5.0)
