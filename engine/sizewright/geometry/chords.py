"""Which stretches of a chain of chords are a flattened curve.

A curve cut into chords turns a little at each of them, in step with their lengths:
turn over chord is its curvature, which changes gradually from chord to chord. A corner
turns far more than its neighbours account for; a straight side is far longer than the
chords beside it. The chain is thinned first (Douglas and Peucker's method) so that
rounding noise and tiny chords do not hide this.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from .types import Bools, Floats, Ints

#: Least turn of a corner between curves, radians: smaller ones pass for curve.
_LEAST = np.radians(2.0)
#: A corner turns this many times what the next vertex, or the next two, account for.
_ONE, _TWO = 3.0, 6.0
#: A straight side is this many times as long as the chords beside it, surely or maybe.
_LONG, _LONGISH = 5.0, 2.5
#: A chord that would stand off from its arc this many times as far as most is a side.
_APART = 8.0
#: A straight side at a corner is at least so many times as long as the chord beside it.
_SHORTEST = 0.25
#: Vertices of a curve whose bends differ by no more than this tell how it would go on.
_ALIKE = 1.6
#: A run of fewer than six turning vertices needs chords (mm) and turns (radians) below these.
_SHORT_CHORD, _GENTLE = 40.0, np.radians(23.5)

#: Turns along a straight side above this, radians, are noise and not marked places.
_JITTER = np.radians(0.5)
#: Chords of a straight side below this on average, mm, are a flattener's and not marked places.
_CRUMB = 3.0


class Run(NamedTuple):
    """A flattened curve from point `first` to `last`; directions of walking where it
    leaves or meets a straight side without a corner."""

    first: int
    last: int
    start: Floats | None
    end: Floats | None


def thinned(points: Floats, tolerance: float) -> Ints:
    """Numbers of the points that Douglas and Peucker's method keeps, ends included."""
    import shapely

    numbered = np.column_stack([points, np.arange(len(points), dtype=np.float64)])
    line = shapely.simplify(shapely.LineString(numbered), tolerance, preserve_topology=False)
    kept = shapely.get_coordinates(line, include_z=True)[:, 2].astype(np.intp)
    return _without_slivers(points, kept, tolerance)


def _without_slivers(points: Floats, kept: Ints, tolerance: float) -> Ints:
    """A corner that thinning caught twice, a hair apart, counts once.

    Of two kept points much nearer each other than to the next ones, the one that stands
    out more from the line between those stays. A step or a narrow notch higher than
    noise is a shape of its own and stays whole.
    """
    shapes: set[int] = set()
    while len(kept) > 3:
        p = points[kept]
        c = np.hypot(*(p[1:] - p[:-1]).T)
        inner = np.flatnonzero(c[1:-1] < 0.2 * np.minimum(c[:-2], c[2:])) + 1
        inner = inner[[int(kept[i]) not in shapes for i in inner]] if len(inner) else inner
        if not len(inner):
            break
        k = int(inner[c[inner].argmin()])
        a, b = p[k - 1], p[k + 2]
        axis = (b - a) / max(float(np.hypot(*(b - a))), 1e-300)
        stand = np.abs(axis[0] * (p[k : k + 2, 1] - a[1]) - axis[1] * (p[k : k + 2, 0] - a[0]))
        turn = _turns(p[k - 1 : k + 3])
        stepped = turn[0] * turn[1] <= 0 or np.abs(turn).max() > np.radians(40.0)
        if stepped and c[k] > 4 * tolerance:
            shapes.add(int(kept[k]))
        else:
            kept = np.delete(kept, k if stand[0] < stand[1] else k + 1)
    return kept


def _with_ends(points: Floats, kept: Ints) -> Ints:
    """The points kept, and those where a long first or last chord meets the shorter ones.

    Thinning may take such a point, since the line hardly turns there; it is where a side ends.
    """
    steps = np.hypot(*np.diff(points, axis=0).T)
    ends = [(1, steps[:2]), (len(points) - 2, steps[:-3:-1])]
    more = [k for k, (side, beside) in ends if side > _LONG * beside > 0]
    # Plain numbers: the first call of a set routine of numpy loads its masked arrays.
    return np.array(sorted({*kept.tolist(), *more}), dtype=np.intp)


def _turns(p: Floats) -> Floats:
    d = p[1:] - p[:-1]
    before, after = d[:-1], d[1:]
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turns: Floats = np.arctan2(cross, (before * after).sum(axis=1))
    return turns


class Chain(NamedTuple):
    """A thinned chain: `kept` numbers its points among all; chords and turns between them.

    `corner` tells the inner points (first and last left out) that are corners.
    """

    points: Floats
    kept: Ints
    chord: Floats
    turn: Floats
    corner: Bools
    noise: float

    @classmethod
    def of(cls, points: Floats, noise: float, limit: float) -> Chain:
        """From points (m, 2), `noise` in mm, and the turn `limit` (radians) of any curve."""
        kept = _with_ends(points, thinned(points, noise))
        p = points[kept]
        chord = np.hypot(*(p[1:] - p[:-1]).T)
        turn = _turns(p)
        corner = _corners(chord, turn, noise, limit)
        return cls(points, kept, chord, turn, corner, noise)

    def straight(self, first: int, last: int) -> list[int]:
        """Chords between kept points `first` and `last` that are sides, not parts of a curve."""
        if last - first < 2:
            return []
        c, turn = self.chord[first:last], np.abs(self.turn[first : last - 1])
        near = _greater(c[1:], c[:-1])
        # On a curve that bends like its neighbours the chord would stand off by this: 8 times
        # the height of an arc that turns as the chord's ends.
        bend = _greater(turn, turn)
        stand_off = c * bend
        single = np.diff(self.kept[first : last + 1]) == 1
        # Flattening keeps that height alike all along: such a chord is out of line,
        # even where the one beside it is as long.
        side = (c >= _LONG * median(c)) & single
        side &= stand_off >= max(_APART * median(stand_off), 50 * self.noise)
        long = (c >= _LONGISH * near) & (bend * c**2 / near >= 50 * self.noise)
        side |= long & (c >= _LONG * near)
        for k in np.flatnonzero(long & single & ~side):
            # Where an arc meets its tangent, the last turn is half of the others.
            side[k] = all(
                0.3 * turn[far] <= turn[at] <= 0.58 * turn[far]
                for at, far in ((k - 1, k - 2), (k, k + 1))
                if 0 <= far < len(turn)
            )
        for end in (first, last - 1):
            side[end - first] |= self._side_at_corner(end, first, last)
        return [int(k) for k in first + np.flatnonzero(side)]

    def _side_at_corner(self, j: int, first: int, last: int) -> bool:
        """Whether the first or last chord of a stretch is a straight side, however short.

        Where a curve leaves its tangent the turn is that of half a chord; were the side part of
        the curve, the turn would be that of both halves. The bend that goes on from the curve's
        own next vertices tells the two apart.
        """
        step = 1 if j == first else -1
        if j not in (first, last - 1) or last - first < 5:
            return False
        if abs(int(self.kept[j + 1]) - int(self.kept[j])) != 1:
            return False
        c = self.chord[j : j + 5 : 1] if step == 1 else self.chord[j - 4 : j + 1][::-1]
        at = j if step == 1 else j - 1
        turn = self.turn[at : at + 4] if step == 1 else self.turn[at - 3 : at + 1][::-1]
        bend = turn / ((c[:-1] + c[1:]) / 2)
        bend = bend * np.sign(bend[1])
        if c[0] < _SHORTEST * c[1] or (bend[1:] <= 0).any():
            return False
        # The next three vertices bend alike, so that they tell what the bend here would be.
        if bend[1:].max() > _ALIKE * bend[1:].min():
            return False
        here = min(bend[1], max(2 * bend[1] - bend[2], 0.5 * bend[1]))
        whole, half = here * (c[0] + c[1]) / 2, here * c[1] / 2
        found = float(turn[0] * np.sign(turn[1]))
        slack = self.noise / 4 * (1 / c[0] + 1 / c[1])
        return bool(
            here * c[0] ** 2 / 8 >= self.noise / 6
            and 0.5 * half - slack <= found <= half + 0.25 * (whole - half)
            and whole - half > 4 * slack
        )

    def rough_sides(self, runs: list[Run]) -> list[tuple[int, int]]:
        """Straight sides outside the runs that are cut into short or jittering chords."""
        found = []
        for a, b in pairwise(self.kept):
            if b - a >= 4 and not any(r.first <= a and b <= r.last for r in runs):
                turn = np.abs(_turns(self.points[a : b + 1]))
                size = np.hypot(*(self.points[b] - self.points[a]))
                if turn.max() > _JITTER or size < _CRUMB * (b - a):
                    found.append((int(a), int(b)))
        return found

    def runs(self) -> Iterator[Run]:
        """The flattened curves of the chain, in order."""
        last = len(self.kept) - 1
        stops = [0, *(np.flatnonzero(self.corner) + 1), last]
        for a, b in pairwise(stops):
            sides = self.straight(int(a), int(b))
            edges = [int(a) - 1, *sides, int(b)]
            for left, right in pairwise(edges):
                first, end = left + 1, right
                if end - first >= 2:
                    run = self._run(first, end, left in sides, right in sides)
                    if run is not None:
                        yield run

    def _run(self, first: int, last: int, after_side: bool, before_side: bool) -> Run | None:
        a, b = int(self.kept[first]), int(self.kept[last])
        start = self._direction(first - 1) if after_side and self._tangent(first, 1) else None
        end = self._direction(last) if before_side and self._tangent(last, -1) else None
        inner = last - first - 1
        turn, chord = np.abs(self.turn[first : last - 1]), self.chord[first:last]
        if inner >= 6:
            return Run(a, b, start, end)
        smooth_ends = (start is not None) + (end is not None)
        if (
            inner >= 1
            and inner + smooth_ends >= 3
            and chord.max() <= _SHORT_CHORD
            and turn.max() <= _GENTLE
        ):
            return Run(a, b, start, end)
        if inner >= 1 and b - a >= 8 and self._bows(first, last) and turn.max() <= _GENTLE:
            return Run(a, b, start, end)
        return None

    def _bows(self, first: int, last: int) -> bool:
        """Whether the points between the kept ones stand off steadily to the outside.

        A very flat curve keeps few points, and so do two straight sides at a kink; on
        those the points between lie on the sides.
        """
        off = []
        for k in range(first, last):
            a, b = self.kept[k], self.kept[k + 1]
            p = self.points[a + 1 : b] - self.points[a]
            axis = self.points[b] - self.points[a]
            off.append((axis[0] * p[:, 1] - axis[1] * p[:, 0]) / np.hypot(*axis))
        side = -np.sign(self.turn[first : last - 1].sum())
        away = np.concatenate(off) * side
        # Rounding noise alone has a mean well under its own spread.
        return bool(away.mean() > 1e-4 and away.mean() > 0.5 * away.std())

    def _tangent(self, k: int, step: int) -> bool:
        """Whether the turn at kept point k suits a curve that goes on into a straight side."""
        here, beyond = k - 1, k - 1 + step
        if not (0 <= here < len(self.turn) and 0 <= beyond < len(self.turn)):
            return False
        t, far = self.turn[here], self.turn[beyond]
        slack = 2e-3
        return bool(abs(t) <= 1.05 * abs(far) + slack and (t * far >= 0 or abs(t) <= slack))

    def _direction(self, j: int) -> Floats:
        a, b = self.points[self.kept[j]], self.points[self.kept[j + 1]]
        unit: Floats = (b - a) / np.hypot(*(b - a))
        return unit


def _corners(chord: Floats, signed: Floats, noise: float, limit: float) -> Bools:
    before, after = chord[:-1], chord[1:]
    least = np.minimum(before, after)
    span = np.minimum((before + after) / 2, 1.5 * least)
    turn = np.abs(signed)
    curvature = signed / span
    floor = _LEAST + 2 * noise * (1 / before + 1 / after)
    corner: Bools = turn >= limit
    bend = np.zeros(len(turn) + 4)
    for _ in range(3):
        # A corner is no evidence of curve for its neighbours.
        bend[2:-2] = np.where(corner, 0.0, curvature)
        k = np.abs(bend)
        one = np.maximum(k[1:-3], k[3:-1])
        two = np.maximum(np.minimum(k[:-4], k[1:-3]), np.minimum(k[3:-1], k[4:]))
        # Near an inflection curvature grows evenly from almost nothing.
        for near, far in ((bend[1:-3], bend[:-4]), (bend[3:-1], bend[4:])):
            grown = np.where((near != 0) & (far != 0), (2 * near - far) * np.sign(signed), 0.0)
            grown = np.clip(grown, 0.0, 3 * np.maximum(np.abs(near), np.abs(far)))
            one, two = np.maximum(one, grown), np.maximum(two, grown)
        more = corner | ((turn > floor) & ((turn > _ONE * one * span) | (turn > _TWO * two * span)))
        if (more == corner).all():
            break
        corner = more
    return corner


def _greater(after: Floats, before: Floats) -> Floats:
    """The greater of what stands after and before each, one more than either; none is negative."""
    found = np.append(after, 0.0)
    np.maximum(found[1:], before, out=found[1:])
    return found


def median(values: Floats | Sequence[float]) -> float:
    """The middle value; numpy's own brings in a module that takes longer than the sorting."""
    ordered, k = np.sort(values), len(values)
    return float(ordered[(k - 1) // 2] + ordered[k // 2]) / 2
