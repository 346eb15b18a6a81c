"""Parallels of closed paths with corners: the outline moved in or out as a whole."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from ..errors import GeometryError
from .crossings import crossings, self_crossings
from .offset import offset_open
from .path import Path
from .straight import merged_lines


def offset_loop(
    path: Path,
    distance: float,
    tolerance: float = 0.01,
    *,
    corner_degrees: float = 3.0,
    miter_limit: float = 10.0,
) -> Path:
    """The true parallel of a closed path, corners kept as corners, right positive, mm.

    Out of a counter-clockwise loop where `distance` is positive. Where the sides part at
    a corner their tangents are carried on to a mitre, unless its length over the distance
    is above `miter_limit`: then the ends are joined straight. Where they overlap they are
    cut at their crossing; a side too short to remain goes. Curves as in `offset_open`.
    Taking an allowance off an outline is this with the allowance negative.

    Raises GeometryError where nothing is left, or what is left crosses itself.
    """
    if not path.closed:
        raise GeometryError("only a closed path can be moved in or out as a whole")
    corners = np.flatnonzero(np.abs(path.turns) > corner_degrees)
    if not len(corners):
        return offset_open(path, distance, tolerance, corner_degrees=corner_degrees)
    if distance == 0.0:
        return path
    sides = [
        _Side(
            offset_open(
                path.segments(int(a), int(b)), distance, tolerance, corner_degrees=corner_degrees
            ),
            path.turns[a] * distance > 0,
        )
        for a, b in zip(corners, np.roll(corners, -1), strict=True)
    ]
    sides = _cut(sides)
    reach = abs(distance) * miter_limit
    pieces: list[Path] = []
    for k, side in enumerate(sides):
        pieces.append(side.kept())
        following = sides[(k + 1) % len(sides)]
        if following.parted:
            pieces += _bridge(side.kept(), following.kept(), abs(distance), reach)
    result = merged_lines(Path.join(pieces, closed=True))
    crossed = self_crossings(result)
    if crossed or result.area * path.area <= 0:
        x, y = crossed[0].point if crossed else result.start
        raise GeometryError(
            f"moved by {distance:g} mm the outline crosses itself near ({x:.3f}, {y:.3f})",
            cure="Make the distance smaller",
        )
    return result


class _Side:
    """One side's parallel; whether it parts from the one before; what of it stays."""

    def __init__(self, path: Path, parted: bool) -> None:
        self.path = path
        self.parted = parted
        self.low = 0.0
        self.high = path.length

    def kept(self) -> Path:
        """The part between the cuts."""
        if self.low == 0.0 and self.high == self.path.length:
            return self.path
        return self.path.part(self.low, self.high)


def _cut(sides: list[_Side]) -> list[_Side]:
    """Overlapping neighbours cut at their crossing; swallowed sides left out."""
    while True:
        for side in sides:
            side.low, side.high = 0.0, side.path.length
        lost: _Side | None = None
        for k, side in enumerate(sides):
            before = sides[k - 1]
            if side.parted:
                continue
            place = _crossing(before.path, side.path)
            if place is None:
                lost = before if before.path.length < side.path.length else side
                break
            before.high, side.low = place
        if lost is None:
            lost = next((s for s in sides if s.high - s.low <= 1e-6), None)
        if lost is None:
            return sides
        k = sides.index(lost)
        # What followed the lost side now meets the one before it.
        sides[(k + 1) % len(sides)].parted = False
        sides = sides[:k] + sides[k + 1 :]
        if len(sides) < 2:
            raise GeometryError(
                "nothing is left of the outline at that distance",
                cure="Make the distance smaller",
            )


def _crossing(a: Path, b: Path) -> tuple[float, float] | None:
    """Arc lengths on a and b of the crossing nearest to where a ends and b begins."""
    if a is b:
        places = [(c.s1, c.s0) for c in self_crossings(a)]
    else:
        places = [(c.s0, c.s1) for c in crossings(a, b)]
    return min(places, key=lambda p: a.length - p[0] + p[1], default=None)


def _bridge(a: Path, b: Path, distance: float, reach: float) -> list[Path]:
    """Straight segments from the end of a to the start of b over their mitre."""
    u, v = a.tangents_in[-1], b.tangents_out[0]
    turn = math.atan2(u[0] * v[1] - u[1] * v[0], float(u @ v))
    half = math.cos(turn / 2)
    if half * reach < distance:
        points = [a.end, b.start]
    else:
        along = float((b.start - a.end) @ (u + v)) / float((u + v) @ (u + v))
        points = [a.end, a.end + along * u, b.start]
    return [
        Path.polyline(np.array([p, q])) for p, q in pairwise(points) if not np.array_equal(p, q)
    ]
