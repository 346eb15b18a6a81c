"""Loose lines that stick out a little beyond where they cross, cut off there."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...geometry.crossings import crossings
from ...geometry.near import pairs_within
from ...geometry.path import Path
from ...geometry.types import Floats, Ints

#: How far apart two ends were, or how much was cut off one, mm, and where.
Gap = tuple[float, float, float]

#: Ends this near, mm, meet already.
MET = 1e-3
#: A line is cut at an end only where it is so many times as long as what may be cut off.
_LONG = 4.0
#: Ends whose last bits, as chords, pass each other by more than this share of them, or run
#: so nearly alongside (sine of the angle), do not cross.
_SLACK, _ALONG = 0.3, 0.02
_MOST_PAIRS = 1_000_000


def without_overshoots(
    paths: Sequence[Path], reach: float
) -> tuple[list[Path], list[tuple[Gap, ...]]]:
    """Open `paths` cut where two cross within `reach` mm of an end of each, and what came off.

    An end that meets another already stays as it is.
    """
    off = np.zeros(2 * len(paths))
    for e, f in _crossing(paths, reach):
        a, b = _last(paths, e, reach), _last(paths, f, reach)
        found = [c for c in crossings(a, b) if c.kind != "overlap"]
        if found:
            # The one that leaves most of both lines.
            first = min(found, key=lambda c: c.s0 + c.s1)
            off[e], off[f] = max(off[e], first.s0), max(off[f], first.s1)
    off[off <= MET] = 0.0
    kept: list[Path] = []
    gone: list[tuple[Gap, ...]] = []
    for path, (start, end) in zip(paths, off.reshape(-1, 2), strict=True):
        if start or end:
            path = path.part(float(start), float(path.length - end))
        kept.append(path)
        cut = ((start, path.start), (end, path.end))
        gone.append(tuple((float(s), float(p[0]), float(p[1])) for s, p in cut if s))
    return kept, gone


def _last(paths: Sequence[Path], end: int, reach: float) -> Path:
    """The last bit of a line, from its end inwards; entry 2 i is the start of line i."""
    path = paths[end // 2]
    return path.part(0.0, reach) if end % 2 == 0 else path.reversed().part(0.0, reach)


def _crossing(paths: Sequence[Path], reach: float) -> Ints:
    """Pairs (m, 2) of ends that may cross."""
    long = np.repeat([p.length > _LONG * reach for p in paths], 2)
    places = np.array([(p.start, p.end) for p in paths]).reshape(-1, 2)
    if not long.any():
        return np.empty((0, 2), dtype=np.intp)
    pairs = pairs_within(places, 2 * reach, most=_MOST_PAIRS)
    if pairs is None:
        return np.empty((0, 2), dtype=np.intp)
    apart = np.hypot(*(places[pairs[:, 0]] - places[pairs[:, 1]]).T)
    loose = long.copy()
    loose[pairs[apart <= MET].ravel()] = False
    pairs = pairs[loose[pairs].all(axis=1)]
    ends, index = np.unique(pairs, return_inverse=True)
    inwards = [
        paths[e // 2].at(reach if e % 2 == 0 else paths[e // 2].length - reach) for e in ends
    ]
    if not len(ends):
        return pairs
    bits: Floats = np.stack([places[ends], np.array(inwards)], axis=1)
    a, b = bits[index.reshape(-1, 2)].swapaxes(0, 1)
    u, v, d = a[:, 1] - a[:, 0], b[:, 1] - b[:, 0], b[:, 0] - a[:, 0]
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    angled = np.abs(area) > _ALONG * np.hypot(*u.T) * np.hypot(*v.T)
    safe = np.where(angled, area, 1.0)
    s = (d[:, 0] * v[:, 1] - d[:, 1] * v[:, 0]) / safe
    t = (d[:, 0] * u[:, 1] - d[:, 1] * u[:, 0]) / safe
    near = (np.minimum(s, t) >= -_SLACK) & (np.maximum(s, t) <= 1 + _SLACK)
    found: Ints = pairs[angled & near]
    return found
