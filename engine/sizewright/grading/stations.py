"""Where each corner of an outline goes, as fixed shares of the rule amounts.

Weights are arrays (..., 2, columns): row 0 is the move along width, row 1 along length,
for a unit of each rule amount. They depend on the base outline alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from ..geometry.types import Bools, Floats
from ..model.outline import vertices_between
from ..model.piece import Piece

#: A coordinate is used where a section spans at least this share of its length along it.
SPAN = 0.25
#: ... and where no point of the section lies beyond these fractions.
FRACTION = (-0.5, 1.5)


class Stations(NamedTuple):
    """Weights of the vertices that are settled before curves are.

    `weights` (n, 2, columns), meaningful where `known` (n,). `rigid` (n,) tells the
    segments that are held whole. `riding` are the corners without a rule of their own
    that are not held either.
    """

    weights: Floats
    known: Bools
    rigid: Bools
    riding: tuple[int, ...]


def settle(
    piece: Piece, local: Floats, ruled: Mapping[int, Floats], centre: Sequence[int] = ()
) -> Stations:
    """Weights of all corners, ruled vertices and held vertices of a piece.

    `local` (n, 4, 2) are the outline's control points in (width, length) coordinates;
    `ruled` gives the weights (2, columns) of each vertex that has a rule. At least one.
    `centre` are the vertices of the line that widths count away from: without a rule
    they keep to it, and only ride in length.
    """
    n = len(local)
    columns = next(iter(ruled.values())).shape[1]
    weights = np.zeros((n, 2, columns))
    known = np.zeros(n, dtype=bool)
    groups, inner = _held(piece)
    own = {v: w for v, w in ruled.items() if v not in inner} or dict(ruled)
    for v, w in own.items():
        weights[v], known[v] = w, True
    for group in groups:
        mean = [ruled[v] for v in group if v in ruled]
        for v in group:
            if mean and not known[v]:
                weights[v], known[v] = np.mean(mean, axis=0), True

    rigid = _rigid_segments(piece, groups, set(ruled), n)
    lengths = piece.outline.path.segment_lengths.copy()
    closed = rigid.copy()
    for v in inner:  # both segments at a vertex inside a dart lie inside it
        closed[v] = closed[v - 1] = True
    lengths[closed] = 0.0

    corners = set(piece.outline.corners)
    members = {v for group in groups for v in group}
    todo = [v for v in sorted(corners | members) if not known[v] and v not in inner]
    middle = [v for v in todo if v in centre]
    if middle:
        rides = _Rides(local, lengths, inner, np.flatnonzero(known))
        ruled_there = [weights[v, 0] for v in centre if known[v]]
        across = np.mean(ruled_there, axis=0) if ruled_there else np.zeros(columns)
        for v in middle:
            weights[v] = rides.at(v, weights)
            weights[v, 0] = across
        known[middle] = True
        todo = [v for v in todo if v not in middle]
    rides = _Rides(local, lengths, inner, np.flatnonzero(known))
    ride = {v: rides.at(v, weights) for v in todo}
    for group in groups:
        free = [v for v in group if v in ride]
        if free:
            together = np.mean([ride[v] for v in free], axis=0)
            ride.update((v, together) for v in free)
    for v, w in ride.items():
        weights[v], known[v] = w, True
    for dart in piece.darts:
        if dart.tip is not None:
            _settle_dart(piece, (dart.a, dart.b), ruled, weights, known)
    riding = tuple(
        v for v in piece.outline.corners if (v in ride or v in middle) and v not in members
    )
    return Stations(weights, known, rigid, riding)


def _held(piece: Piece) -> tuple[list[list[int]], set[int]]:
    """Groups of vertices that move together, and the vertices that lie inside darts."""
    n = len(piece.outline.path)
    sets: list[set[int]] = []
    inner: set[int] = set()
    for dart in piece.darts:
        through = vertices_between(dart.a, dart.b, n)
        if dart.tip is None:
            sets.append(set(through))
        else:
            sets.append({dart.a, dart.b})
            inner.update(through[1:-1])
    sets += [set(vertices_between(p.a, p.b, n)) for p in piece.pleats]
    sets += [set(h.vertices) - inner for h in piece.holds]
    merged: list[set[int]] = []
    for one in sets:
        touching = [m for m in merged if m & one]
        merged = [m for m in merged if not m & one]
        merged.append(one.union(*touching))
    return [sorted(m) for m in merged if m], inner


def _rigid_segments(piece: Piece, groups: Iterable[list[int]], ruled: set[int], n: int) -> Bools:
    """Segments whose ends are held together, and the legs of darts whose tip has no rule."""
    rigid = np.zeros(n, dtype=bool)
    for group in groups:
        # A rule of its own on some of them lets the others stretch.
        together = set(group) if not set(group) & ruled else set()
        for v in together:
            if (v + 1) % n in together:
                rigid[v] = True
    for dart in piece.darts:
        if dart.tip is not None:
            through = vertices_between(dart.a, dart.b, n)
            if not set(through) & ruled:
                rigid[through[:-1]] = True
    return rigid


def _settle_dart(
    piece: Piece,
    mouth: tuple[int, int],
    ruled: Mapping[int, Floats],
    weights: Floats,
    known: Bools,
) -> None:
    """Weights of the vertices inside a dart: with the mouth, or by rules of their own."""
    n = len(known)
    through = vertices_between(*mouth, n)
    for v in through[1:-1]:
        if v in ruled:
            weights[v], known[v] = ruled[v], True
    if not any(v in ruled for v in through[1:-1]):
        weights[through[1:-1]] = (weights[mouth[0]] + weights[mouth[1]]) / 2
        known[through[1:-1]] = True
        return
    along = piece.outline.path.segment_lengths[through[:-1]]
    place = np.concatenate([[0.0], np.cumsum(along)])
    fixed = [k for k, v in enumerate(through) if known[v]]
    for k, v in enumerate(through):
        if not known[v] and v in piece.outline.corners:
            a = max(j for j in fixed if j < k)
            b = min(j for j in fixed if j > k)
            share = (place[k] - place[a]) / (place[b] - place[a])
            weights[v] = weights[through[a]] * (1 - share) + weights[through[b]] * share
            known[v] = True


class _Rides:
    """Places between graded neighbours: by coordinate where allowed, else by arc length."""

    def __init__(
        self, local: Floats, lengths: Floats, inner: set[int], knots: Iterable[int]
    ) -> None:
        self.local, self.lengths, self.inner = local, lengths, inner
        self.knots = sorted(int(k) for k in knots)
        self.n = len(local)

    def at(self, vertex: int, weights: Floats) -> Floats:
        """Weights (2, columns) of a vertex from the two known vertices about it."""
        before = max((k for k in self.knots if k < vertex), default=self.knots[-1])
        after = min((k for k in self.knots if k > vertex), default=self.knots[0])
        if before == after:
            same: Floats = weights[before].copy()
            return same
        chain = vertices_between(before, after, self.n)
        inside = self.inner
        segments = [s for s in chain[:-1] if not {s, (s + 1) % self.n} & inside]
        points = self.local[segments] if segments else self.local[chain[:-1]]
        along = np.concatenate([[0.0], np.cumsum(self.lengths[chain[:-1]])])
        share = along[chain.index(vertex)] / along[-1] if along[-1] > 0 else 0.5
        start, end, here = (self.local[v, 0] for v in (before, after, vertex))
        out: Floats = np.empty_like(weights[before])
        for axis in (0, 1):
            by_place = uses_coordinate(points[..., axis], start[axis], end[axis], along[-1])
            f = (here[axis] - start[axis]) / (end[axis] - start[axis]) if by_place else share
            out[axis] = weights[before, axis] + f * (weights[after, axis] - weights[before, axis])
        return out


def uses_coordinate(values: Floats, start: float, end: float, length: float) -> bool:
    """Whether a section may be stretched by its coordinate along an axis.

    `values` are that coordinate of all its control points, `start` and `end` of its ends;
    `length` is its arc length. It must span enough of the axis, and nothing in it lie
    far beyond the ends.
    """
    span = end - start
    if abs(span) < SPAN * length or span == 0.0:
        return False
    fraction = (values - start) / span
    return bool(fraction.min() >= FRACTION[0] and fraction.max() <= FRACTION[1])


def pairs(stations: Iterable[int], n: int) -> Iterator[list[int]]:
    """The stretches between neighbouring stations of a loop, as lists of vertex numbers.

    A single station gives the whole loop, its vertex first and last.
    """
    stops = sorted(stations)
    for k, first in enumerate(stops):
        last = stops[(k + 1) % len(stops)]
        count = (last - first) % n or n
        yield [(first + j) % n for j in range(count + 1)]
