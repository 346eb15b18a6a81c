"""Straight segments, however they are written."""

from __future__ import annotations

import pytest

from sizewright.geometry import Path, straight_segments


@pytest.mark.parametrize(
    ("cubic", "straight"),
    [
        ([[0, 0], [10, 0], [20, 0], [30, 0]], True),
        ([[0, 0], [0, 0], [30, 0], [30, 0]], True),
        ([[0, 0], [1, 0], [2, 0], [30, 0]], True),
        # A bow of height 3/4 of the handles' offset: 0.0075 mm, then 0.015 mm.
        ([[0, 0], [10, 0.01], [20, 0.01], [30, 0]], True),
        ([[0, 0], [10, 0.02], [20, 0.02], [30, 0]], False),
        # It runs past its end and comes back.
        ([[0, 0], [60, 0], [60, 0], [30, 0]], False),
        ([[0, 0], [-30, 0], [20, 0], [30, 0]], False),
        # Handles beyond the ends that do not carry the curve past them.
        ([[0, 0], [31, 0], [0, 0], [30, 0]], True),
        ([[0, 0], [10, 10], [-10, 10], [0, 0]], False),
        ([[0, 0], [0.01, 0], [0, 0.01], [0, 0]], True),
    ],
)
def test_one_cubic(cubic, straight):
    assert straight_segments(Path.of([cubic], closed=False), 0.01).tolist() == [straight]


def test_lines_are_straight():
    path = Path.of([[[0, 0], [1, 5]], [[1, 5], [3, 9], [9, 9], [9, 0]]], closed=False)
    assert straight_segments(path, 1e-6).tolist() == [True, False]
