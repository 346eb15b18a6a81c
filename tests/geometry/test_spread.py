"""Where lines beside each other lie furthest apart."""

from __future__ import annotations

import numpy as np

from sizewright.geometry.path import Path
from sizewright.geometry.spread import widest_apart


def box(right: float, top: float) -> Path:
    return Path.polyline([(0, 0), (right, 0), (right, top), (0, top)], closed=True)


def test_the_widest_place_comes_first_and_the_other_lies_far_from_it() -> None:
    lines = [box(200, 300), box(208, 301), box(220, 302)]
    outer = lines[-1]
    first, second = widest_apart(lines, outer)
    x, y = outer.at(first)
    assert abs(x - 220) < 1e-9
    assert 40 <= y <= 262
    off = abs(first - second)
    assert min(off, outer.length - off) > outer.length / 4


def test_noise_does_not_choose_between_equal_places() -> None:
    lines = [box(200, 300), box(220, 320)]
    moved = [p.with_controls(p.controls + 1e-9 * np.sin(p.controls)) for p in lines]
    assert np.allclose(widest_apart(lines, lines[1]), widest_apart(moved, moved[1]), atol=1e-6)


def test_one_line_lies_apart_from_nothing() -> None:
    assert len(widest_apart([box(100, 100)], box(100, 100))) == 0
