"""Closed lines as grids of pixels."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .types import Bools, Floats

# Scan lines and points on the edge for each pixel.
_FINE = 4


def touched_pixels(
    rings: Sequence[Floats],
    origin: tuple[float, float],
    pixel: tuple[float, float],
    shape: tuple[int, int],
) -> Bools:
    """Which pixels of a grid the areas inside `rings` reach: (rows, columns) of bool.

    `rings` are closed polygons (m, 2) in mm, each filled by the even-odd rule, and all
    put together. `origin` is the outer corner of pixel [0, 0], `pixel` its width and
    height in mm; rows count up with y, columns with x. What lies outside the grid is
    left out. A sliver thinner than a quarter of a pixel, that passes a pixel's corner
    only, may be missed.
    """
    rows, columns = shape
    mask = np.zeros(shape, dtype=np.bool_)
    for ring in rings:
        points = (np.asarray(ring, dtype=np.float64) - origin) / pixel
        nexts = np.roll(points, -1, axis=0)
        _mark_edge(mask, points, nexts)
        _fill(mask, points, nexts, rows, columns)
    return mask


def _mark_edge(mask: Bools, points: Floats, nexts: Floats) -> None:
    span = np.abs(nexts - points).max(axis=1)
    counts = np.maximum(np.ceil(span * _FINE).astype(np.intp), 1)
    edge = np.repeat(np.arange(len(points)), counts)
    step = (np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[edge]
    on = points[edge] + step[:, None] * (nexts - points)[edge]
    x, y = np.floor(on[:, 0]).astype(np.intp), np.floor(on[:, 1]).astype(np.intp)
    inside = (x >= 0) & (x < mask.shape[1]) & (y >= 0) & (y < mask.shape[0])
    mask[y[inside], x[inside]] = True


def _fill(mask: Bools, points: Floats, nexts: Floats, rows: int, columns: int) -> None:
    low, high = np.minimum(points[:, 1], nexts[:, 1]), np.maximum(points[:, 1], nexts[:, 1])
    scans = (np.arange(rows * _FINE) + 0.5) / _FINE
    # Half-open in y, so that a scan line through a vertex meets one of its two edges.
    line, edge = np.nonzero((low <= scans[:, None]) & (high > scans[:, None]))
    share = (scans[line] - points[edge, 1]) / (nexts[edge, 1] - points[edge, 1])
    x = points[edge, 0] + share * (nexts[edge, 0] - points[edge, 0])
    order = np.lexsort((x, line))
    line, x = line[order][::2], x[order]
    first = np.clip(np.floor(x[::2]), 0, columns).astype(np.intp)
    last = np.clip(np.floor(x[1::2]) + 1, 0, columns).astype(np.intp)
    change = np.zeros((rows, columns + 1), dtype=np.intp)
    np.add.at(change, (line // _FINE, first), 1)
    np.add.at(change, (line // _FINE, np.maximum(last, first)), -1)
    mask |= np.cumsum(change, axis=1)[:, :columns] > 0
