"""Loose lines joined end to end."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import InputError
from sizewright.formats.drawing.chains import MOST_LINES, join_ends
from sizewright.geometry.path import Path
from tests.strategies import closed_paths


def line(a: tuple[float, float], b: tuple[float, float]) -> Path:
    return Path.polyline([a, b])


def square(x: float, y: float, side: float) -> list[Path]:
    ring = [(x, y), (x + side, y), (x + side, y + side), (x, y + side)]
    return [line(ring[i], ring[(i + 1) % 4]) for i in range(4)]


@given(closed_paths(), st.integers(0, 2**32 - 1), st.floats(0.0, 0.03))
def test_a_loop_taken_apart_closes_again(
    made: tuple[Path, object, object], seed: int, gap: float
) -> None:
    path, rng = made[0], random.Random(seed)
    parts = []
    for i in range(len(path)):
        part = path.segments(i, i + 1)
        jig = np.random.default_rng(seed + i).uniform(-gap, gap, 2)
        part = part.with_controls(part.controls + jig)
        parts.append(part if rng.random() < 0.5 else part.reversed())
    rng.shuffle(parts)
    joined = join_ends(parts, 0.1)
    (chain,) = joined.closed
    assert joined.open == []
    assert sorted(chain.members) == list(range(len(path)))
    assert abs(chain.path.area) == pytest.approx(path.area, rel=1e-9, abs=4 * gap * path.length)


@given(st.lists(st.floats(30.0, 90.0), min_size=3, max_size=9), st.integers(0, 2**32 - 1))
def test_a_loop_of_lines_too_long_is_cut_back_to_its_corners(radii: list[float], seed: int) -> None:
    """The corners are those of the polygon that was taken apart."""
    turns = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    ring = np.column_stack([radii * np.cos(turns), radii * np.sin(turns)])
    rng = np.random.default_rng(seed)
    parts = []
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        along = (b - a) / np.hypot(*(b - a))
        before, after = rng.uniform(0.002, 0.09, 2)
        parts.append(Path.polyline([a - before * along, b + after * along]))
    joined = join_ends(parts, 0.1)
    (chain,) = joined.closed
    assert joined.gaps == []
    assert len(joined.trims) == 2 * len(radii)
    found = chain.path.vertices
    away = np.hypot(*(found[:, None] - ring[None]).transpose(2, 0, 1)).min(axis=0)
    assert float(away.max()) < 1e-9


def test_lines_that_only_cross_are_not_cut() -> None:
    """A tick of a notch, a line that runs across, and ends that meet already stay."""
    tick, across = line((5, 0.05), (5, -0.1)), line((3, -5), (3, 15))
    joined = join_ends([*square(0, 0, 10), tick, across, line((-0.03, -0.03), (8, 8))], 0.1)
    assert joined.trims == []
    assert [abs(c.path.area) for c in joined.closed] == pytest.approx([100])


def test_many_loops_at_once() -> None:
    parts = [p for i in range(20) for p in square(30 * i, 0, 20)]
    random.Random(2).shuffle(parts)
    joined = join_ends(parts, 0.1)
    assert [abs(c.path.area) for c in joined.closed] == pytest.approx([400] * 20)


def test_short_lines_are_not_swallowed_by_the_tolerance() -> None:
    n = 2000
    ring = [(10 * np.cos(2 * np.pi * i / n), 10 * np.sin(2 * np.pi * i / n)) for i in range(n)]
    joined = join_ends([line(ring[i], ring[(i + 1) % n]) for i in range(n)], 0.1)
    (chain,) = joined.closed
    assert len(chain.path) == n
    assert joined.gaps == []


def test_open_lines_stay_and_dead_ends_do_not_spoil_a_loop() -> None:
    parts = [*square(0, 0, 10), line((10, 10), (15, 15)), line((40, 40), (50, 50))]
    joined = join_ends(parts, 0.1)
    assert [c.path.area for c in joined.closed] == pytest.approx([-100])
    assert sorted(c.members for c in joined.open) == [(4,), (5,)]
    assert joined.branches == [(10.0, 10.0)]


def test_loops_that_touch_at_a_corner_are_two() -> None:
    joined = join_ends([*square(0, 0, 10), *square(10, 10, 10)], 0.1)
    assert [abs(c.path.area) for c in joined.closed] == pytest.approx([100, 100])


def test_a_line_across_is_not_the_outline() -> None:
    joined = join_ends([*square(0, 0, 10), line((0, 0), (10, 10))], 0.1)
    assert [abs(c.path.area) for c in joined.closed] == pytest.approx([100])
    assert [c.members for c in joined.open] == [(4,)]


def test_copies_count_once_whichever_way_they_run() -> None:
    parts = [*square(0, 0, 10), line((10, 0), (0, 0)), line((10, 0), (10, 10))]
    joined = join_ends(parts, 0.1)
    assert len(joined.closed) == 1
    assert joined.copies == [4, 5]


def test_two_arcs_over_one_chord_are_no_copies() -> None:
    up = Path.of([[(0, 0), (0, 8), (10, 8), (10, 0)]], closed=False)
    down = Path.of([[(0, 0), (0, -8), (10, -8), (10, 0)]], closed=False)
    joined = join_ends([up, down], 0.1)
    assert joined.copies == []
    # Such a cubic and its chord go round 3/5 of width times handle (exact integral).
    assert abs(joined.closed[0].path.area) == pytest.approx(2 * 0.6 * 10 * 8)


def test_too_many_lines_are_refused_before_they_are_joined() -> None:
    line = Path.polyline([(0, 0), (1, 0)])
    with pytest.raises(InputError, match="loose lines, more than"):
        join_ends([line] * (MOST_LINES + 1), 0.1)
    star = [Path.polyline([(0.09 * t, 0), (50, t)]) for t in np.linspace(0, 1, 2500)]
    with pytest.raises(InputError, match="in nearly one place"):
        join_ends(star, 0.1)


def test_gaps_are_counted() -> None:
    parts = [line((0, 0), (10, 0)), line((10, 0.05), (10, 10)), line((10, 10), (0, 0))]
    joined = join_ends(parts, 0.1)
    ((gap, *_),) = joined.gaps
    assert gap == pytest.approx(0.05)
    assert join_ends(parts, 0.01).closed == []
    assert join_ends([], 0.1).closed == []
