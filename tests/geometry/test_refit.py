"""Flattened curves come back as curves; everything else stays as it was."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from sizewright.errors import GeometryError
from sizewright.geometry import affine, bezier, flatten
from sizewright.geometry.path import Path
from sizewright.geometry.refit import Refit, refit, refit_all
from tests.measured import deviation, samples

ARM = [[200, 300], [180, 260], [170, 200], [240, 180]]
SIDE = [[240, 180], [230, 120], [250, 60], [255, 0]]
HEM = [[255, 0], [170, -8], [80, -10], [0, -10]]
NECK = [[0, 330], [40, 330], [70, 350], [75, 390]]


def _arc(centre, radius, start, end, count):
    a = np.radians(np.linspace(start, end, count + 1))
    return np.asarray(centre) + radius * np.column_stack([np.cos(a), np.sin(a)])


def _flat(cubic, count):
    return bezier.evaluate(np.array(cubic, dtype=float), np.linspace(0, 1, count + 1))


def _ring(*parts):
    points = np.vstack([np.asarray(p, dtype=float) for p in parts])
    new = np.concatenate([[True], (np.diff(points, axis=0) != 0).any(axis=1)])
    return Path.polyline(points[new], closed=True)


def _bodice(count):
    return _ring(_flat(HEM, count), _flat(NECK, count), _flat(ARM, count), _flat(SIDE, count)[:-1])


def _map_holds(old: Path, result: Refit) -> bool:
    new = result.path.vertices
    return all(
        k == -1 or np.array_equal(new[k], old.vertices[i]) for i, k in enumerate(result.vertex_map)
    )


def _untouched(path: Path) -> bool:
    result = refit(path)
    return (
        result.runs == 0
        and result.path == path
        and np.array_equal(result.vertex_map, np.arange(len(path.vertices)))
    )


@pytest.mark.parametrize("count", [16, 17, 24, 61, 200, 2000])
@pytest.mark.parametrize("radius", [4.0, 50.0, 400.0])
@pytest.mark.parametrize("decimals", [None, 3, 2])
def test_circles_of_any_chords(count, radius, decimals):
    points = _arc((30, -20), radius, 0, 360, count)[:-1]
    path = Path.polyline(points if decimals is None else np.round(points, decimals), closed=True)
    result = refit(path)
    assert result.runs == 1
    assert not result.path.lines.any()
    assert len(result.path) <= 8
    assert np.abs(result.path.turns).max() < 1e-6
    assert _map_holds(path, result)
    line = samples(result.path, 2500)
    assert deviation(path.vertices, line) <= 0.0501 + radius * 1e-6
    # Between the points too: the circle itself, not just its corners, comes back.
    away = np.hypot(*(line - np.array([30, -20])).T) - radius
    # Coarse chords tell less of what lies between.
    sagitta = radius * (1 - np.cos(np.pi / count))
    assert np.abs(away).max() <= 0.07 + 0.02 * sagitta


def test_circle_of_uneven_chords():
    rng = np.random.default_rng(7)
    for count in (20, 60, 300):
        a = np.sort(np.arange(count) + rng.uniform(-0.3, 0.3, count)) / count * 2 * np.pi
        result = refit(Path.polyline(100 * np.column_stack([np.cos(a), np.sin(a)]), closed=True))
        assert result.runs == 1
        assert len(result.path) <= 6


@pytest.mark.parametrize("sides", [3, 4, 5, 6, 8, 10, 12])
def test_polygons_of_few_sides_are_no_curves(sides):
    assert _untouched(Path.polyline(_arc((0, 0), 100, 0, 360, sides)[:-1], closed=True))


@pytest.mark.parametrize(
    "points",
    [
        pytest.param([[0, 0], [300, 0], [300, 200], [0, 200]], id="rectangle"),
        pytest.param([[0, 0], [300, 0], [600, 10], [600, 300], [0, 300]], id="shallow-kink"),
        pytest.param([[0, 0], [90, 0], [100, 80], [110, 0], [300, 0], [300, 200]], id="dart"),
        pytest.param([[0, 0], [99, 0], [100, 5], [101, 0], [300, 0], [300, 200]], id="notch"),
        pytest.param(
            [[0, 0], [99, 0], [99, 0.8], [99.6, 0.8], [99.6, 0], [300, 0], [300, 90]], id="slit"
        ),
        pytest.param([[0, 0], [250, 5], [500, 20], [750, 5], [700, 400]], id="three-kinks"),
    ],
)
def test_straight_shapes_come_back_to_the_bit(points):
    assert _untouched(Path.polyline(points, closed=True))


def test_two_sides_marked_every_centimetre_with_a_kink_between_stay():
    left = np.column_stack([np.linspace(0, 300, 31), np.zeros(31)])
    right = np.column_stack([np.linspace(300, 600, 31), np.linspace(0, 10, 31)])
    assert _untouched(_ring(left, right, [[600, 300], [0, 300]]))


@pytest.mark.parametrize("count", [8, 25, 120, 600])
@pytest.mark.parametrize("decimals", [None, 3, 2])
def test_bodice_keeps_its_corners_and_straights(count, decimals):
    path = _bodice(count)
    if decimals is not None:
        path = Path.polyline(np.round(path.vertices, decimals), closed=True)
    result = refit(path)
    new = result.path
    assert result.runs == 4
    assert int(new.lines.sum()) == 2
    assert int((np.abs(new.turns) > 3).sum()) == 6
    assert len(new) <= 10
    assert _map_holds(path, result)
    for corner in ((0, -10), (0, 330), (75, 390), (200, 300), (240, 180), (255, 0)):
        assert np.abs(new.vertices - corner).max(axis=1).min() == 0.0
    assert deviation(path.vertices, samples(new, 2500)) <= 0.0501


@pytest.mark.parametrize("count", [6, 12, 50, 400])
@pytest.mark.parametrize("degrees", [20.0, 10.0, 6.0])
def test_corner_between_curves_stays(count, degrees):
    first = _arc((0, -300), 300, 105, 90, count)
    second = _arc((0, -300), 300, 90, 75, count)
    turned = affine.apply(affine.rotation(-degrees, tuple(first[-1])), second)
    path = Path.polyline(np.vstack([first, turned[1:]]))
    result = refit(path)
    assert result.runs == 2
    k = int(result.vertex_map[count])
    assert k > 0
    assert np.array_equal(result.path.vertices[k], path.vertices[count])
    assert result.path.turns[k] == pytest.approx(-degrees, abs=0.05)


@pytest.mark.parametrize(("radius", "count"), [(10, 8), (30, 4), (50, 24)])
def test_rounded_rectangle_has_tangent_arcs_and_straight_sides(radius, count):
    r = radius
    path = _ring(
        _arc((200 - r, 140 - r), r, 0, 90, count),
        _arc((r, 140 - r), r, 90, 180, count),
        _arc((r, r), r, 180, 270, count),
        _arc((200 - r, r), r, 270, 360, count),
    )
    result = refit(path)
    new = result.path
    assert result.runs == 4
    assert int(new.lines.sum()) == 4
    assert np.abs(new.turns).max() < 1e-6
    # The sides are the same ones, to the bit.
    old = {p.tobytes() for p, n in zip(path.controls, path.segment_lengths, strict=True) if n > 35}
    assert {p.tobytes() for p in new.controls[new.lines]} == old


def test_straight_stretches_in_crumbs_become_sides():
    before = np.column_stack([np.linspace(-200, 0, 1001), np.full(1001, -50.0)])
    after = np.column_stack([np.full(701, 50.0), np.linspace(0, 140, 701)])
    points = np.vstack([before, _arc((0, 0), 50, -90, 0, 400)[1:], after[1:]])
    turned = affine.apply(affine.rotation(17), points)
    for path in (Path.polyline(points), Path.polyline(np.round(turned, 2))):
        result = refit(path)
        assert len(result.path) <= 5
        assert int(result.path.lines.sum()) == 2
        assert np.abs(result.path.turns).max() < 0.1


def test_very_flat_curves_are_curves():
    x = np.linspace(-1, 1, 61)
    for height in (0.05, 0.3, 3.0):
        result = refit(Path.polyline(np.column_stack([150 * x, height * (1 - x * x)])))
        assert result.runs == 1
        assert len(result.path) == 1


def test_genuine_cubics_stay_to_the_bit_and_runs_join_them_smoothly():
    cubic = Path.of([[[0, 0], [30, 10], [60, 10], [100, 0]]], closed=False)
    flat = Path.polyline(_flat([[100, 0], [140, -10], [200, -10], [240, 60]], 30))
    line = Path.polyline([[240, 60], [300, 165]])
    path = Path.join([cubic, flat, line])
    result = refit(path)
    assert result.runs == 1
    assert np.array_equal(result.path.controls[0], path.controls[0])
    assert np.array_equal(result.path.controls[-1], path.controls[-1])
    assert np.abs(result.path.turns).max() < 1e-6
    assert _map_holds(path, result)
    assert _untouched(
        Path.of([[[0, 0], [30, 90], [70, 90], [100, 0]], [[100, 0], [0, 0]]], closed=True)
    )


def test_open_path_keeps_its_ends():
    path = Path.polyline(_flat(ARM, 80))
    result = refit(path)
    assert result.vertex_map[0] == 0
    assert result.vertex_map[-1] == len(result.path)
    assert np.array_equal(result.path.start, path.start)
    assert np.array_equal(result.path.end, path.end)


@pytest.mark.parametrize("start", [0, 13, 40, 71, 101])
def test_where_a_loop_begins_does_not_matter(start):
    base = refit(_bodice(25))
    result = refit(_bodice(25).rolled(start))
    assert result.runs == base.runs
    assert len(result.path) == len(base.path)
    assert _map_holds(_bodice(25).rolled(start), result)
    assert result.path.area == pytest.approx(base.path.area, abs=1e-6)


def test_many_paths_together_are_as_each_alone():
    ring = Path.polyline(_arc((0, 0), 80, 0, 360, 300)[:-1], closed=True)
    square = Path.polyline([[0, 0], [50, 0], [50, 50], [0, 50]], closed=True)
    mixed = Path.join([Path.of([ARM], closed=False), Path.polyline(_flat(SIDE, 40))])
    paths = [_bodice(25), ring, square, Path.polyline(_flat(ARM, 900)), mixed, _bodice(90)]
    together = refit_all(paths)
    for path, one in zip(paths, together, strict=True):
        alone = refit(path)
        assert one.runs == alone.runs
        assert np.array_equal(one.vertex_map, alone.vertex_map)
        assert np.abs(one.path.controls - alone.path.controls).max() < 1e-6
    assert [one.runs > 0 for one in together] == [True, True, False, True, True, True]
    assert together[2].path == square
    assert refit_all([]) == []


def test_repeated_points_do_not_disturb():
    points = np.repeat(_flat(ARM, 80), 2, axis=0)
    result = refit(Path.polyline(points))
    assert result.runs == 1
    assert len(result.path) <= 3


def test_refitting_again_changes_nothing():
    for path in (_bodice(25), _bodice(300)):
        assert _untouched(refit(path).path)


@given(
    st.lists(st.floats(-40, 40), min_size=4, max_size=4),
    st.integers(12, 400),
    st.floats(0, 0.4),
    st.sampled_from([None, 3, 2]),
    st.integers(0, 2**31),
)
def test_random_flattened_cubics(bends, count, unevenness, decimals, seed):
    a, b, c, d = bends
    cubic = np.array([[0, 0], [60 + a, b], [140 + c, d], [200, 20]], dtype=float)
    rng = np.random.default_rng(seed)
    t = np.arange(count + 1) / count
    t[1:-1] += rng.uniform(-unevenness, unevenness, count - 1) / count
    points = bezier.evaluate(cubic, t)
    if decimals is not None:
        points = np.round(points, decimals)
    turns = Path.polyline(points).turns
    assume(np.abs(turns).max() < 25 or count > 100)
    assume(np.abs(turns).sum() > 3)
    path = Path.polyline(points)
    result = refit(path)
    assert result.runs == 1
    assert not result.path.lines.any()
    assert len(result.path) <= 6
    assert np.abs(result.path.turns).max() < 1e-6
    assert _map_holds(path, result)
    assert deviation(points, samples(result.path, 1500)) <= 0.0501


@given(
    st.lists(
        st.tuples(st.integers(-3000, 3000), st.integers(-3000, 3000)), min_size=3, max_size=60
    ),
    st.booleans(),
)
def test_any_polyline_survives(points, closed):
    path = Path.polyline(np.array(points) / 10, closed=closed)
    result = refit(path)
    assert result.path.closed == closed
    assert _map_holds(path, result)
    assert len(result.path) <= len(path)
    assert deviation(path.vertices, samples(result.path, 1000)) <= 0.0502
    sharp = np.flatnonzero(np.abs(path.turns) > 90)
    assert (path.segment_lengths.min() < 1.0) or (result.vertex_map[sharp] >= 0).all()


@pytest.mark.parametrize(
    ("tolerance", "corner"), [(0.0, 30.0), (-1.0, 30.0), (0.05, 0.0), (0.05, 180.0)]
)
def test_settings_out_of_range_are_refused(tolerance, corner):
    with pytest.raises(GeometryError):
        refit(_bodice(8), tolerance, corner)


@pytest.mark.parametrize("length", [4.0, 10.0, 15.0])
@pytest.mark.parametrize("chord", [5.0, 8.0, 12.0])
def test_short_straights_at_square_corners_stay_straight(length, chord):
    curve = [[length, 0], [length + 60, 0], [length + 110, 30], [length + 140, 90]]
    flat = _flat(curve, round(180 / chord))
    result = refit(_ring([[0, 0]], flat, [[0, 90]]))
    corner = int(np.hypot(*result.path.vertices.T).argmin())
    assert result.runs == 1
    assert result.path.lines[corner]
    assert result.path.turns[corner] == pytest.approx(90.0, abs=1e-6)
    # The distance is shapely's, of the true line at many places.
    true = np.vstack([np.linspace([0, 0], [length, 0], 50), _flat(curve, 400)])
    away = shapely.distance(shapely.LinearRing(flatten(result.path, 0.001)), shapely.points(true))
    assert away.max() <= 0.05
