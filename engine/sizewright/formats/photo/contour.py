"""A piece's outline in a picture, to parts of a pixel."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...geometry.types import Floats
from .profiles import edges_along, sampled

#: Places lie so far apart along an outline, px.
_APART = 2.0
#: How far on either side the edge is looked for, one pass after the other, px.
_REACH = (9.0, 5.0, 4.0, 4.0)
#: Places this far off the middle of their neighbours are no edge, px, in each pass.
_STRAY = (5.0, 3.0, 1.5, 1.0)


def refined(picture: Any, rough: Floats, *, plain: bool = True) -> tuple[Floats, float]:
    """The outline (n, 2) in pixels near a rough one, and its contrast, of 255.

    `picture` is (h, w, 3). The edge is where colours change most from those within to those
    without, or, on a ground that is not `plain`, to any other.
    """
    line = _evenly(_without_stairs(_evenly(rough, _APART)), _APART)
    normals = _normals(line, 6)
    inside, outside = (
        np.stack(
            [sampled(picture[..., k].astype(np.float32), line + d * normals) for k in range(3)]
        )
        for d in (-7.0, 7.0)
    )
    change = np.median(outside, axis=1) - np.median(inside, axis=1)
    contrast = float(np.abs(change).max())
    low = np.maximum(np.floor(line.min(axis=0)).astype(int) - 20, 0)
    high = np.ceil(line.max(axis=0)).astype(int) + 20
    part = picture[low[1] : high[1], low[0] : high[0]].astype(np.float32)
    if plain:
        size = float(np.abs(change).sum()) or 1.0
        scalar = np.ascontiguousarray(part @ (change / size).astype(np.float32))
    else:
        scalar = np.sqrt(((part - np.median(inside, axis=1)) ** 2).sum(axis=2)).astype(np.float32)
    line = line - low
    for reach, stray in zip(_REACH, _STRAY, strict=True):
        normals = _normals(line, 3)
        offset, clear = edges_along(scalar, line, normals, reach)
        usual = _running_median(np.where(clear, offset, np.nan))
        offset = np.where(clear & (np.abs(offset - usual) <= stray), offset, usual)
        line = _evenly(line + offset[:, None] * normals, _APART)
    return line + low, contrast


def _evenly(line: Floats, apart: float) -> Floats:
    """A closed line with places so far apart."""
    ring = np.vstack([line, line[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    at = np.linspace(0.0, along[-1], max(int(along[-1] / apart), 8), endpoint=False)
    return np.stack([np.interp(at, along, ring[:, k]) for k in (0, 1)], axis=1)


def _without_stairs(line: Floats) -> Floats:
    """A closed line without the stairs of the pixels that it was made of."""
    soft: Floats = np.mean([np.roll(line, k, axis=0) for k in range(-4, 5)], axis=0)
    return soft


def _normals(line: Floats, wide: int) -> Floats:
    """Outward unit normals of a closed line as seen, over `wide` places on either side."""
    way = np.roll(line, -wide, axis=0) - np.roll(line, wide, axis=0)
    normals = np.stack([way[:, 1], -way[:, 0]], axis=1)
    normals /= np.maximum(np.hypot(*normals.T), 1e-9)[:, None]
    x, y = line.T
    turned = float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) < 0
    return -normals if turned else normals


def _running_median(values: Floats, wide: int = 6) -> Floats:
    """The middle of each place's neighbours on a closed line; 0 where none of them is known."""
    every = np.stack([np.roll(values, k) for k in range(-wide, wide + 1)])
    known = np.isfinite(every).any(axis=0)
    every[:, ~known] = 0.0
    middle: Floats = np.nanmedian(every, axis=0)
    return middle
