"""Path: making, frozen arrays, positions, laws of new paths."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sizewright.errors import GeometryError
from sizewright.geometry import Path, affine, bezier, unit_tangents
from tests.geometry.curves import circle, paths

_shares = st.floats(0, 1)


def size_of(path: Path) -> float:
    """Largest coordinate, which sets what rounding can do."""
    return float(np.abs(path.controls).max())


def test_assignment_fails():
    path = circle()
    with pytest.raises(dataclasses.FrozenInstanceError):
        path.closed = False
    names = ["controls", "lines", "vertices", "segment_lengths", "cumulative", "turns"]
    for name in [*names, "tangents_in", "tangents_out"]:
        for shape in (path, path.opened()):
            with pytest.raises(ValueError, match="read-only"):
                getattr(shape, name)[0] = 0
    with pytest.raises(ValueError, match="read-only"):
        path.start[0] = 1.0


def test_the_callers_array_is_copied():
    controls = circle().controls.copy()
    path = Path(controls, np.zeros(4, bool), True)
    controls[:] = 0
    assert path == circle()


@pytest.mark.parametrize(
    ("controls", "lines"),
    [
        (np.zeros((0, 4, 2)), np.zeros(0, bool)),
        (np.zeros((2, 3, 2)), np.zeros(2, bool)),
        (np.zeros((2, 4, 2)), np.zeros(3, bool)),
        (np.full((1, 4, 2), np.nan), np.zeros(1, bool)),
        (np.full((1, 4, 2), np.inf), np.zeros(1, bool)),
    ],
)
def test_what_is_no_chain_is_refused(controls, lines):
    with pytest.raises(GeometryError):
        Path(controls, lines, False)


def test_equal_paths_hash_alike_even_with_negative_zero():
    a = Path.polyline([[0.0, 0.0], [1.0, 0.0]])
    b = Path.polyline([[-0.0, 0.0], [1.0, -0.0]])
    assert a == b
    assert hash(a) == hash(b)
    assert a != a.reversed()
    assert a != "a"


def test_plain_facts():
    square = Path.polyline([[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]], closed=True)
    assert len(square) == 4
    assert square.area == 100
    assert square.length == 40
    assert square.turns.tolist() == [90, 90, 90, 90]
    assert square.opened().turns.tolist() == [0, 90, 90, 90, 0]
    assert "closed, 4 segments, 40.000 mm" in repr(square)
    with pytest.raises(GeometryError):
        _ = square.opened().area
    with pytest.raises(GeometryError):
        square.opened().rolled(1)


def test_a_turn_is_seen_past_a_segment_without_length():
    path = Path.polyline([[0, 0], [10, 0], [10, 0], [10, 10], [0, 10]], closed=True)
    assert path.turns.tolist() == [90, 0, 90, 90, 90]


def test_neighbours_share_their_ends_to_the_bit():
    joined = Path.join([Path.polyline([[0, 0], [1, 1]]), Path.polyline([[1.001, 1], [2, 0]])])
    assert joined.vertices.tolist() == [[0, 0], [1, 1], [2, 0]]


@pytest.mark.parametrize("name", ["start", "end"])
@pytest.mark.parametrize("empty", [1, 2, 3])
def test_tangents_at_handles_without_length(name, empty):
    # Empty handles: the limit of the tangent points to the next control point that differs.
    cubic = np.array([[0.0, 0], [0, 0], [0, 0], [3, 4]])
    cubic[1:3] = {1: [[0, 0], [0, 5]], 2: [[0, 0], [0, 0]], 3: [[1, 0], [3, 4]]}[empty]
    path = Path.of([cubic], closed=False)
    t = np.array([1e-7, 1 - 1e-7])
    near = bezier.derivative(cubic, t)
    near /= np.hypot(*near.T)[:, None]
    got = path.tangents_out[0] if name == "start" else path.tangents_in[0]
    np.testing.assert_allclose(got, near[0 if name == "start" else 1], atol=1e-5)
    np.testing.assert_allclose(np.hypot(*got), 1, atol=1e-15)


def test_tangent_at_a_cusp_is_the_one_that_goes_on():
    cusp = Path.of([[[0, 0], [100, 100], [0, 100], [100, 0]]], closed=False)
    np.testing.assert_allclose(cusp.at(cusp.length / 2), [50, 75], atol=1e-9)
    np.testing.assert_allclose(unit_tangents(cusp.controls[0], np.array(0.5)), [0, -1], atol=1e-12)


@given(paths(), st.lists(_shares, min_size=1, max_size=8))
def test_arc_length_of_the_place_at_s_is_s(path, shares):
    s = np.array(shares) * path.length
    segment, t = path.locate(s)
    back = [path.arc_length_at(int(i), float(u)) for i, u in zip(segment, t, strict=True)]
    gap = np.abs(np.array(back) - s)
    if path.closed:
        gap = np.minimum(gap, path.length - gap)
    assert gap.max() <= 1e-12 * path.length + 1e-12 * size_of(path)


@given(paths(), _shares, _shares)
def test_a_part_has_the_length_and_the_points_asked_for(path, a, b):
    s0, s1 = sorted((a * path.length, b * path.length))
    assume(s1 - s0 > 1e-5 and (s1 - s0 < path.length - 1e-5 or not path.closed))
    part = path.part(s0, s1)
    # Ends within 1e-7 mm of a vertex move onto it.
    slack = 4e-7 + 1e-11 * (path.length + size_of(path))
    assert not part.closed
    assert part.length == pytest.approx(s1 - s0, abs=slack)
    r = np.linspace(0, 1, 7)
    np.testing.assert_allclose(
        part.at(r * part.length), path.at(s0 + r * (s1 - s0)), rtol=0, atol=slack
    )


@given(paths(closed=True), _shares, _shares)
def test_both_ways_round_make_the_whole(path, a, b):
    s0, s1 = a * path.length, b * path.length
    assume(1e-5 < abs(s1 - s0) < path.length - 1e-5)
    there, back = path.part(s0, s1), path.part(s1, s0)
    slack = 4e-7 + 1e-11 * (path.length + size_of(path))
    assert there.length + back.length == pytest.approx(path.length, abs=slack)
    np.testing.assert_array_equal(there.end, back.start)
    np.testing.assert_array_equal(back.end, there.start)


def test_parts_of_a_closed_path():
    path = circle()
    quarter = path.length / 4
    assert path.part(0, 0) == path.opened()
    assert path.part(quarter, quarter) == path.rolled(1).opened()
    assert path.part(0, path.length) == path.opened()
    assert path.part(-quarter, quarter) == path.rolled(3).segments(0, 2)
    assert path.part(3 * quarter, quarter) == path.rolled(3).segments(0, 2)
    assert path.part(7 * quarter, 5 * quarter) == path.rolled(3).segments(0, 2)
    # Within 1e-7 mm of the start is the start: no sliver on either side.
    for hair in (-5e-8, 5e-8):
        assert len(path.part(hair, quarter)) == 1
        assert len(path.part(quarter, path.length + hair)) == 3
        assert path.with_vertex(hair) == (path, 0)


def test_parts_of_an_open_path():
    line = Path.polyline([[0, 0], [10, 0], [20, 0]])
    assert line.part(-5, 50) == line
    assert line.part(0, 10) == line.segments(0, 1)
    assert line.part(5, 15).vertices.tolist() == [[5, 0], [10, 0], [15, 0]]
    for s0, s1 in ((5, 5), (7, 3), (30, 40)):
        with pytest.raises(GeometryError, match="no line lies between"):
            line.part(s0, s1)


@given(paths(), _shares)
def test_a_new_vertex_changes_nothing_else(path, share):
    s = share * path.length
    more, k = path.with_vertex(s)
    slack = 2e-7 + 1e-11 * (path.length + size_of(path))
    assert len(more) - len(path) in (0, 1)
    assert len(more) > len(path) or more is path
    # No segment without length comes of it.
    assert more.segment_lengths.min() >= min(5e-8, path.segment_lengths.min())
    assert more.length == pytest.approx(path.length, rel=1e-12, abs=1e-11 * size_of(path))
    where = s % path.length if path.closed else s
    gap = abs(float(more.cumulative[k]) - where)
    assert min(gap, abs(path.length - gap) if path.closed else gap) <= slack
    r = np.linspace(0, path.length, 9)
    np.testing.assert_allclose(more.at(r), path.at(r), rtol=0, atol=slack)


def test_a_vertex_beyond_an_open_end_is_the_end():
    line = Path.polyline([[0, 0], [10, 0], [20, 0]])
    assert line.with_vertex(99) == (line, 2)
    assert line.with_vertex(-1) == (line, 0)


@given(paths())
def test_reversed_laws(path):
    back = path.reversed()
    assert back.reversed() == path
    assert back.length == pytest.approx(path.length, rel=1e-12)
    np.testing.assert_array_equal(back.start, path.end)
    if path.closed:
        slack = 1e-12 * path.length**2 + 1e-10 * size_of(path)
        assert back.area == pytest.approx(-path.area, abs=slack)
        np.testing.assert_array_equal(back.vertices[0], path.vertices[0])


@given(paths(closed=True), st.integers(-7, 7))
def test_rolled_laws(path, k):
    other = path.rolled(k)
    np.testing.assert_array_equal(other.vertices[0], path.vertices[k % len(path)])
    assert other.rolled(-k) == path
    assert other.length == pytest.approx(path.length, rel=1e-13)
    scale = path.length**2
    assert other.area == pytest.approx(path.area, abs=1e-12 * scale + 1e-10 * size_of(path))


@given(paths(closed=True), st.floats(-360, 360), st.sampled_from([-2.0, 0.5, 3.0]))
def test_turning_and_scaling(path, degrees, factor):
    centre = tuple(path.vertices[0])
    m = affine.compose(affine.rotation(degrees, centre), affine.scaling(factor, abs(factor)))
    moved = path.transformed(m)
    assert moved.length == pytest.approx(path.length * abs(factor), rel=1e-9)
    slack = 1e-9 * factor**2 * (path.length + size_of(path) * 1e-3) ** 2
    assert moved.area == pytest.approx(path.area * factor * abs(factor), abs=slack)


@given(paths(closed=True))
def test_segments_make_the_whole(path):
    assert path.segments(0, 0) == path.opened()
    for k in range(1, len(path)):
        two = [path.segments(0, k), path.segments(k, 0)]
        assert Path.join(two, closed=True) == path


def test_positions_wrap_or_are_held():
    path = circle()
    np.testing.assert_array_equal(path.at(path.length), path.start)
    np.testing.assert_array_equal(path.at(-1e-20), path.start)
    np.testing.assert_allclose(path.at(-path.length / 4), [0, -100], atol=1e-12)
    # At a vertex, a hair of rounding does not fall back on the segment before.
    for k in range(4):
        s = path.cumulative[k] * (1 - 2e-16)
        assert int(path.locate(s)[0]) == k
        assert float(path.locate(s)[1]) == 0.0
    line = Path.polyline([[0, 0], [10, 0]])
    assert line.at(np.array([-5.0, 50.0])).tolist() == [[0, 0], [10, 0]]


def test_ten_metres_to_a_nanometre():
    line = Path.polyline([[0, 0], [10_000, 0]])
    assert abs(line.at(1234.567890123)[0] - 1234.567890123) < 1e-11
    big = circle(5000)
    s = np.linspace(0, big.length, 101)[:-1]
    segment, t = big.locate(s)
    back = [big.arc_length_at(int(i), float(u)) for i, u in zip(segment, t, strict=True)]
    assert np.abs(np.array(back) - s).max() < 1e-9


def test_a_speck_far_from_the_origin_is_measured_at_once():
    # Differences are taken first: 0.0001 mm at 10 m keeps the figures that it has.
    step = np.array([[0, 0], [1, 0], [1, 1], [2, 1]]) * 2.0**-13
    near, far = (Path.of([step + shift], closed=False) for shift in (0.0, 8192.0))
    assert far.length == pytest.approx(near.length, rel=1e-13)
