"""Lines that go on over a strip between pages that no page shows."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ...budget import spend
from ...geometry.near import pairs_within
from ...geometry.path import Path
from ...geometry.types import Floats
from .cuts import bend_over

#: Lines led on from both sides meet midway within this, mm; the next best is so much farther off.
_NEAR, _NEXT = 0.3, 0.4
#: A straight stretch at an end, mm; two such that turn more than this, degrees, have a corner.
_STRAIGHT, _CORNER = 5.0, 0.6


def over_gap(
    paths: Sequence[tuple[Path, bool]],
    sides: Sequence[tuple[int, int]],
    kinds: Sequence[object],
    gap: float,
    axis: int,
) -> list[tuple[int, int]]:
    """Which ends go on in which over a strip of `gap` mm across `axis` (0: x): pairs of numbers.

    Each end is a line and whether it is its end; `sides` tell along which axis its page ends
    there, and whether that is the upper side. Only what is sure: of one kind, where lines of one
    curvature meet, without another near. Two straight lines with a corner between are not.
    """
    which = [n for n, (along, _) in enumerate(sides) if along == axis]
    at = np.array([_end(*paths[n]) for n in which]).reshape(-1, 2)
    out = np.array([way_out(*paths[n], most=0.1) for n in which]).reshape(-1, 2)
    steep = np.abs(out[:, axis]) > 0.25
    which = [n for n, good in zip(which, steep, strict=True) if good]
    at, out = at[steep], out[steep]
    if len(which) < 2:
        return []
    middle = at + out * (gap / 2 / np.abs(out[:, axis]))[:, None]
    pairs = pairs_within(middle, _NEXT + _NEAR)
    assert pairs is not None
    spend(10 * len(pairs), "lines over the edges of pages")
    found: list[tuple[float, int, int]] = []
    for i, j in pairs.tolist():
        a, b = which[i], which[j]
        if kinds[a] != kinds[b] or sides[a][1] == sides[b][1]:
            continue
        turn = math.degrees(math.acos(min(1.0, max(-1.0, -float(out[i] @ out[j])))))
        corner = _straight(*paths[a]) and _straight(*paths[b]) and turn > _CORNER
        if turn <= bend_over(gap) and not corner:
            found.append((float(np.hypot(*(middle[i] - middle[j]))), a, b))
    chosen = []
    for off, a, b in sorted(found):
        others = [o for o, c, d in found if (c, d) != (a, b) and {a, b} & {c, d}]
        if off <= _NEAR and all(other >= off + _NEXT for other in others):
            chosen.append((a, b))
    return chosen


def bridge(first: Path, second: Path) -> Path:
    """The line from the end of one to the start of the next: straight, or curving as they do."""
    start, end = first.end, second.start
    one, two = way_out(first, True, most=0.1), -way_out(second, False, most=0.1)
    d = end - start
    turn = math.acos(min(1.0, max(-1.0, float(one @ two))))
    if _straight(first, True) and _straight(second, False):
        return Path.polyline([start, end])
    # The arms of the cubic nearest an arc of that turn.
    arm = float(np.hypot(*d)) / 3
    if turn > 1e-6:
        arm *= 2 * math.tan(turn / 4) / math.sin(turn / 2)
    cubic = np.array([[start, start + arm * one, end - arm * two, end]])
    return Path(cubic, np.array([False]), False)


def way_out(path: Path, last: bool, most: float = 1.0) -> Floats:
    """The direction in which a line leaves its start or its end, taken `most` mm along it."""
    ahead = min(most, path.length / 4)
    inner = path.at(path.length - ahead if last else ahead)
    step = _end(path, last) - inner
    way: Floats = step / np.hypot(*step)
    return way


def _end(path: Path, last: bool) -> Floats:
    return path.end if last else path.start


def _straight(path: Path, last: bool) -> bool:
    """Whether a line ends in a straight stretch."""
    a, b = (path.controls[-1 if last else 0][k] for k in (0, 3))
    return bool(path.lines[-1 if last else 0]) and float(np.hypot(*(b - a))) >= _STRAIGHT
