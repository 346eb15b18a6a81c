"""A dense outline as straight lines and few cubics between true corners."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from ...geometry.fit import Stretch, fit_chain
from ...geometry.path import Path
from ...geometry.types import Floats, Ints

#: Places lie so far apart, mm.
_APART = 0.4
#: Either side of a corner is looked at from here to there, mm: nearer, a picture rounds it.
_NEAR, _FAR = 1.2, 9.0
#: A sharper turn is a corner, radians; corners lie at least so far apart, mm.
_TURN, _BETWEEN = np.radians(12.0), 8.0
#: A parabola along a side of a corner is off by about so much, mm.
_FITS = 0.08
#: How far a straight line may lie from its places, mm, and a curve.
_STRAIGHT, _CURVE = 0.14, 0.12


def traced(outline: Floats) -> Path:
    """The closed path of an outline (n, 2) in mm, places in order and close together."""
    line = _evenly(outline)
    corners, places = _corners(line)
    if not len(corners):
        ring = _soft(line)
        controls, _ = fit_chain(Stretch(np.vstack([ring, ring[:1]]), closed=True), _CURVE)
        return Path(controls, np.zeros(len(controls), dtype=bool), True)
    n = len(line)
    skip = int(_NEAR / _APART)
    parts = []
    ends = [*range(len(corners)), 0]
    for a, b in pairwise(ends):
        first, last = int(corners[a]), int(corners[b])
        if last <= first:
            last += n
        inner = line[np.arange(first + skip + 1, last - skip) % n]
        parts.append(_between(places[a], inner, places[b]))
    return Path.join(parts, closed=True)


def _between(start: Floats, inner: Floats, end: Floats) -> Path:
    """The straight line or cubics from one corner to the next through places between them."""
    way = end - start
    size = float(np.hypot(*way))
    if len(inner) < 4:
        return Path.polyline(np.stack([start, end]))
    off = ((inner - start) @ np.array([-way[1], way[0]])) / max(size, 1e-9)
    if np.abs(off).max() <= _STRAIGHT:
        return Path.polyline(np.stack([start, end]))
    controls, _ = fit_chain(Stretch(np.vstack([start, _soft(inner, closed=False), end])), _CURVE)
    return Path(controls, np.zeros(len(controls), dtype=bool), False)


def _evenly(line: Floats) -> Floats:
    ring = np.vstack([line, line[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    at = np.linspace(0.0, along[-1], max(int(along[-1] / _APART), 60), endpoint=False)
    return np.stack([np.interp(at, along, ring[:, k]) for k in (0, 1)], axis=1)


def _soft(line: Floats, *, closed: bool = True) -> Floats:
    """The places with their noise evened out over about 2 mm."""
    weights = np.exp(-0.5 * (np.arange(-6, 7) * _APART / 0.9) ** 2)
    weights /= weights.sum()
    if closed:
        soft: Floats = sum(
            w * np.roll(line, k, axis=0) for k, w in zip(range(-6, 7), weights, strict=True)
        )
        return soft
    # Mirrored in the ends, so that they stay.
    padded = np.vstack([2 * line[0] - line[6:0:-1], line, 2 * line[-1] - line[-2:-8:-1]]) if (
        len(line) > 7) else line  # fmt: skip
    if len(line) <= 7:
        return line
    return np.stack([np.convolve(padded[:, k], weights, mode="valid") for k in (0, 1)], axis=1)


def _corners(line: Floats) -> tuple[Ints, Floats]:
    """Numbers of the places that are corners, in order, and where each corner truly is.

    From either side a parabola is led on to where the two cross.
    """
    n = len(line)
    steps = np.arange(int(_NEAR / _APART), min(int(_FAR / _APART), n // 4) + 1)
    arms = steps * _APART
    solve = np.linalg.pinv(np.stack([np.ones_like(arms), arms, arms**2], axis=1))
    index = np.arange(n)[:, None]
    before = np.einsum("km,nmd->nkd", solve, line[(index - steps) % n])
    after = np.einsum("km,nmd->nkd", solve, line[(index + steps) % n])
    back, on = -before[:, 1], after[:, 1]
    turn = np.abs(
        np.arctan2(back[:, 0] * on[:, 1] - back[:, 1] * on[:, 0], (back * on).sum(axis=1))
    )
    # Beside a corner one arm reaches round it, and no parabola fits that.
    table = np.stack([np.ones_like(arms), arms, arms**2], axis=1)
    off = np.zeros(n)
    for led, way in ((before, -steps), (after, steps)):
        missed = np.einsum("mk,nkd->nmd", table, led) - line[(index + way) % n]
        off = np.maximum(off, np.sqrt((missed**2).sum(axis=2).mean(axis=1)))
    sure = turn / (1 + (off / _FITS) ** 2)
    reach = int(_BETWEEN / _APART)
    peaks: list[int] = []
    for k in np.argsort(-sure):
        if sure[k] < _TURN / 2:
            break
        if turn[k] < _TURN:
            continue
        if all(min((k - p) % n, (p - k) % n) > reach for p in peaks):
            peaks.append(int(k))
    found = []
    for k in sorted(peaks):
        place = _crossing(before[k], after[k])
        # What bends on evenly has no corner where the two sides meet.
        if np.hypot(*(place - line[k])) < 3.0:
            found.append((k, place))
    numbers = np.array([k for k, _ in found], dtype=np.intp)
    return numbers, np.array([p for _, p in found]).reshape(-1, 2)


def _crossing(before: Floats, after: Floats) -> Floats:
    """Where two parabolas (3, 2), coefficients of 1, s, s2, cross near s = 0."""
    s = np.zeros(2)
    for _ in range(8):
        gap = before[0] + before[1] * s[0] + before[2] * s[0] ** 2
        gap = gap - (after[0] + after[1] * s[1] + after[2] * s[1] ** 2)
        slope = np.stack(
            [before[1] + 2 * before[2] * s[0], -after[1] - 2 * after[2] * s[1]], axis=1
        )
        if abs(np.linalg.det(slope)) < 1e-6:
            break
        s = np.clip(s - np.linalg.solve(slope, gap), -3.0, 3.0)
    a = before[0] + before[1] * s[0] + before[2] * s[0] ** 2
    b = after[0] + after[1] * s[1] + after[2] * s[1] ** 2
    middle: Floats = (a + b) / 2
    return middle
