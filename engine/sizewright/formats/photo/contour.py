"""A piece's outline in a picture, to parts of a pixel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ...geometry.types import Bools, Floats
from .profiles import edges_along, sampled
from .proof import bridged, odd, walked

#: Places lie so far apart along an outline, px.
_APART = 2.0
#: How far on either side the edge is looked for, one pass after the other, px.
_REACH = (9.0, 5.0, 4.0, 4.0)
#: Places this far off the middle of their neighbours are no edge, px, in each pass.
_STRAY = (5.0, 3.0, 1.5, 1.0)
#: Room that is looked at round an outline, and how far off its place the paper's edge may be, mm.
_ROOM, _ASTRAY = 10.0, 0.7
#: An edge of less contrast (of 255) is faint.
_CLEAR = 20.0
#: What is narrower than twice this is a spur or a bite, mm, and on a pattern; how long a way on
#: either side tells where the outline goes without it.
_NARROW, _NARROW_PATTERN, _ARM = 5.0, 9.0, 4.0


@dataclass(frozen=True, eq=False)
class Line:
    """An outline (n, 2) in pixels, its contrast of 255, and where it is not sure."""

    places: Floats
    contrast: float
    unsure: Bools

    @property
    def sureness(self) -> float:
        """The share of it that is sure, less where it is faint."""
        return float(1 - self.unsure.mean()) * min(1.0, self.contrast / _CLEAR)


def refined(
    picture: Any, rough: Floats, fine: float, *, plain: bool = True, hole: bool = False
) -> Line:
    """The outline in pixels near a rough one, looked over.

    `picture` is (h, w, 3), of `fine` pixels a mm. The edge is where colours change most from
    those within to those without, or, on a ground that is not `plain`, to any other. Where the
    paper's own colour ends elsewhere, as in its own shadow, the edge there is taken. The paper
    is within, or around a `hole`.
    """
    room = _ROOM * fine
    low = np.maximum(np.floor(rough.min(axis=0) - room).astype(int), 0)
    high = np.ceil(rough.max(axis=0) + room).astype(int)
    part = picture[low[1] : high[1], low[0] : high[0]].astype(np.float32)
    line = _evenly(_without_stairs(_evenly(rough - low, _APART)), _APART)
    narrow = (_NARROW if plain else _NARROW_PATTERN) * fine
    arm = round(_ARM * fine / _APART)

    def off(line: Floats) -> tuple[Floats, Bools]:
        far = _calm(walked(part, line, _normals(line, 6), fine, hole=hole), round(2.0 * fine))
        return np.nan_to_num(far), ~(np.abs(far) < _ASTRAY)

    far, astray = off(line)
    for _ in range(2):
        line = line + np.where(astray, far, 0.0)[:, None] * fine * _normals(line, 6)
        line = _evenly(bridged(line, odd(line, narrow), arm), _APART)
        line, contrast = _followed(part, line, plain)
        line = _evenly(bridged(line, odd(line, narrow), arm), _APART)
        far, astray = off(line)
        if not astray.any():
            break
    return Line(line + low, contrast, astray | odd(line, narrow))


def _followed(part: Floats, line: Floats, plain: bool) -> tuple[Floats, float]:
    """A closed line moved onto the edge that it lies near, and the contrast there."""
    normals = _normals(line, 6)
    inside, outside = (
        np.stack(
            [sampled(np.ascontiguousarray(part[..., k]), line + d * normals) for k in range(3)]
        )
        for d in (-7.0, 7.0)
    )
    change = np.median(outside, axis=1) - np.median(inside, axis=1)
    if plain:
        size = float(np.abs(change).sum()) or 1.0
        scalar = np.ascontiguousarray(part @ (change / size).astype(np.float32))
    else:
        scalar = np.sqrt(((part - np.median(inside, axis=1)) ** 2).sum(axis=2)).astype(np.float32)
    for reach, stray in zip(_REACH, _STRAY, strict=True):
        normals = _normals(line, 3)
        offset, clear = edges_along(scalar, line, normals, reach)
        usual = _running_median(np.where(clear, offset, np.nan))
        offset = np.where(clear & (np.abs(offset - usual) <= stray), offset, usual)
        line = _evenly(line + offset[:, None] * normals, _APART)
    return line, float(np.abs(change).max())


def _calm(off: Floats, wide: int) -> Floats:
    """The middle of what is known within so many places of each, nan where most is not."""
    every = np.stack([np.roll(off, k) for k in range(-wide, wide + 1)])
    with np.errstate(all="ignore"):
        middle: Floats = np.median(np.where(np.isnan(every), np.inf, every), axis=0)
    return np.where(np.isfinite(middle), middle, np.nan)


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
