"""Loops that an inner parallel makes where the line bends too sharply, found for cutting off."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .types import Bools, Floats


def loops_to_drop(
    points: Floats,
    places: Floats,
    bad: Bools,
    refine: Callable[[Floats, Floats], tuple[Floats, Floats]],
) -> list[tuple[float, float]]:
    """Stretches (from, to) of a sampled line that lie in loops with bad samples.

    `points` (m, 2) are samples of the line at increasing `places` (m,); `bad` tells which
    must not stay. `refine(a, b)` brings places of crossings (k,) to the true curve. Small
    loops go first; a larger one goes only if it still holds a bad sample.
    """
    a, b = refine(*_crossings(points, places))
    dropped: list[tuple[float, float]] = []
    for low, high in sorted(zip(a.tolist(), b.tolist(), strict=True), key=lambda p: p[1] - p[0]):
        if any(x < low < y or x < high < y for x, y in dropped):
            continue
        inside = (places > low) & (places < high) & bad
        for x, y in dropped:
            inside &= ~((places > x) & (places < y))
        if inside.any():
            dropped = [(x, y) for x, y in dropped if not (low <= x and y <= high)]
            dropped.append((low, high))
    return sorted(dropped)


def _crossings(points: Floats, places: Floats) -> tuple[Floats, Floats]:
    """Places at which chords between the samples cross, first less than second."""
    import shapely

    p, d = points[:-1], np.diff(points, axis=0)
    chords = shapely.linestrings(np.stack([p, p + d], axis=1))
    i, j = shapely.STRtree(chords).query(chords, predicate="intersects")
    i, j = i[j > i + 1], j[j > i + 1]
    cross = d[i, 0] * d[j, 1] - d[i, 1] * d[j, 0]
    i, j, cross = i[cross != 0], j[cross != 0], cross[cross != 0]
    gap = p[j] - p[i]
    ti = (gap[:, 0] * d[j, 1] - gap[:, 1] * d[j, 0]) / cross
    tj = (gap[:, 0] * d[i, 1] - gap[:, 1] * d[i, 0]) / cross
    step = np.diff(places)
    return places[i] + ti * step[i], places[j] + tj * step[j]
