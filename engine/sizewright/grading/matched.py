"""Which vertex of a piece in one size is which of it in another."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from ..geometry import affine
from ..geometry.in_order import cheapest_in_order
from ..geometry.types import Floats
from ..model.frame import Frame
from ..model.outline import Outline
from ..model.piece import Piece

#: What an item that stays alone costs, as a share of the piece's size.
_ALONE = 0.12
#: What a turn of 180 degrees more or less costs.
_TURN = 0.5
#: One name on both gains so much; two names that are to be met elsewhere cost as much.
_NAMED = 10.0
#: Curve points match when their shares of the way between corners differ by no more.
_SHARE = 0.1
#: ... or by no more than this, where lines and curves follow on each other alike.
_SHARE_ALIKE = 0.4
#: A size was turned over if that makes it less unlike by more than this, and by half.
_OVER = 0.1
#: A piece turned by more than this, in degrees, was turned on purpose.
_TURNED = 5.0


def items_of(outline: Outline) -> tuple[int, ...]:
    """The vertices that are matched one by one, in outline order: corners and marked points."""
    marked = {p.vertex for p in outline.points if p.name is not None or p.rule is not None}
    return tuple(sorted(marked | set(outline.corners)))


def turned_onto(piece: Piece, frame: Frame, base: Frame) -> tuple[Piece, float, bool]:
    """The piece with its axes laid along those of the base, the turn in degrees, and whether
    it was turned over, as far as the axes tell.

    A turn of less than 5 degrees is taken for drawing noise and left. Widths that count to
    no certain side (`out` without a centre) never turn a piece over.
    """
    over = bool(frame.away_from and base.away_from) and (
        np.linalg.det(frame.basis) * np.linalg.det(base.basis) < 0
    )
    cross = frame.up[0] * base.up[1] - frame.up[1] * base.up[0]
    turn = math.degrees(math.atan2(float(cross), float(frame.up @ base.up)))
    if not over and abs(turn) <= _TURNED:
        return piece, 0.0, False
    own = base.basis.copy()
    if not over:
        # The same turn for both axes, whichever way each one's width counts.
        own[0] *= np.sign(np.linalg.det(frame.basis) * np.linalg.det(base.basis))
    linear = own.T @ frame.basis
    m = affine.affine(linear[0, 0], linear[1, 0], linear[0, 1], linear[1, 1], 0.0, 0.0)
    return piece.transformed(m), turn, over


def turned_over_like(
    base: Piece, piece: Piece, frame: Frame, match: Matched
) -> tuple[Piece, Matched] | None:
    """The piece turned over along the base's axis and matched anew, where it was drawn so:
    where it is far more like the base then. None where it was not, or nothing tells."""
    up = frame.up
    linear = 2 * np.outer(up, up) - np.eye(2)
    m = affine.affine(linear[0, 0], linear[1, 0], linear[0, 1], linear[1, 1], 0.0, 0.0)
    other = piece.transformed(m)
    found = match_outlines(base.outline, other.outline)
    clear = found.cost < match.cost / 2 and found.cost < match.cost - _OVER
    return (other, found) if clear else None


@dataclass(frozen=True)
class Matched:
    """`pairs` gives the other outline's vertex for a vertex of the first.

    `shares` gives, for curve points that have no vertex of their own there, the arc length
    on the other outline at the same share of the way; `doubtful` the vertices that some of
    these may be for all that, though far along. `alone` are items of the first without a
    partner. `cost` says how unlike the two are, names apart; 0 for the same shape.
    """

    pairs: Mapping[int, int]
    shares: Mapping[int, float]
    alone: tuple[int, ...]
    doubtful: Mapping[int, int]
    cost: float

    def place(self, other: Outline, vertex: int, *, bold: bool = False) -> Floats | None:
        """Where a vertex of the first outline lies on the other, (2,) mm; at its doubtful
        partner if `bold`."""
        if bold and vertex in self.doubtful:
            return other.vertex_at(self.doubtful[vertex])
        if vertex in self.pairs:
            return other.vertex_at(self.pairs[vertex])
        if vertex in self.shares:
            at: Floats = other.path.at(self.shares[vertex])
            return at
        return None


def match_outlines(first: Outline, other: Outline) -> Matched:
    """The vertices of two outlines of one piece matched: by name, else by corner order.

    Both lie the same way up; size and place may differ. Of all matchings that keep the
    order round the outline the cheapest is taken: what lies alike within the boxes of both,
    and turns alike, costs least, so it matters not where an outline begins. Between matched
    items, curve points follow where there are equally many at about the same places; else
    each is taken at its share of the way.
    """
    a, b = items_of(first), items_of(other)
    costs = _costs(first, a, other, b)
    found = cheapest_in_order(costs + _named(first, a, other, b), _ALONE)
    cost = _ALONE * (len(a) + len(b) - 2 * len(found)) + sum(float(costs[i, j]) for i, j in found)
    pairs = {a[i]: b[j] for i, j in found}
    shares: dict[int, float] = {}
    doubtful: dict[int, int] = {}
    for start, end, mine, theirs in _between(first, other, dict(pairs)):
        first_end, last_end = pairs[start], pairs[end]
        where = _shares(first, start, end, mine)
        there = _shares(other, first_end, last_end, theirs)
        alike = _alike(first, [start, *mine], other, [first_end, *theirs])
        limit = _SHARE_ALIKE if alike else _SHARE
        for k, v in enumerate(mine):
            if len(mine) == len(theirs) and abs(where[k] - there[k]) <= limit:
                pairs[v] = theirs[k]
            elif v not in first.corners:
                begin = float(other.path.cumulative[first_end])
                length = _length(other, first_end, last_end)
                shares[v] = (begin + where[k] * length) % other.path.length
                if len(mine) == len(theirs):
                    doubtful[v] = theirs[k]
    alone = tuple(v for v in a if v not in pairs and v not in shares)
    return Matched(pairs, shares, alone, doubtful, cost)


def _alike(first: Outline, mine: list[int], other: Outline, theirs: list[int]) -> bool:
    """Whether lines and curves follow on each other alike, with both among them."""
    kinds = [bool(first.path.lines[v]) for v in mine]
    return kinds == [bool(other.path.lines[v]) for v in theirs] and len(set(kinds)) == 2


def _costs(first: Outline, a: tuple[int, ...], other: Outline, b: tuple[int, ...]) -> Floats:
    places = []
    spans = []
    for outline, items in ((first, a), (other, b)):
        x0, y0, x1, y1 = outline.path.bounds
        low, span = np.array([x0, y0]), np.array([x1 - x0, y1 - y0])
        places.append((outline.path.vertices[list(items)] - low) / np.where(span > 0, span, 1.0))
        spans.append(span)
    size = (spans[0] + spans[1]) / 2
    size = size / np.hypot(*size)
    apart = (places[0][:, None] - places[1][None]) * size
    turns = first.path.turns[list(a)][:, None] - other.path.turns[list(b)][None]
    cost: Floats = np.hypot(apart[..., 0], apart[..., 1]) + _TURN * np.abs(turns) / 180.0
    return cost


def _named(first: Outline, a: tuple[int, ...], other: Outline, b: tuple[int, ...]) -> Floats:
    """What names add to the costs of pairs."""
    cost = np.zeros((len(a), len(b)))
    names_a = [first.point(v).name for v in a]
    names_b = [other.point(v).name for v in b]
    for i, name in enumerate(names_a):
        for j, its in enumerate(names_b):
            if name is not None and name == its:
                cost[i, j] -= _NAMED
            elif (name is not None and name in names_b) or (its is not None and its in names_a):
                cost[i, j] += _NAMED
    return cost


def _between(
    first: Outline, other: Outline, pairs: Mapping[int, int]
) -> Iterator[tuple[int, int, list[int], list[int]]]:
    """Each stretch between matched items: its ends, and the vertices inside on both outlines."""
    stops = sorted(pairs)
    n, m = len(first.path), len(other.path)
    for k, start in enumerate(stops):
        end = stops[(k + 1) % len(stops)]
        mine = [(start + j) % n for j in range(1, (end - start) % n or n)]
        a, b = pairs[start], pairs[end]
        theirs = [(a + j) % m for j in range(1, (b - a) % m or m)]
        yield start, end, mine, theirs


def _shares(outline: Outline, start: int, end: int, inside: list[int]) -> list[float]:
    """Arc length of each vertex from `start`, as a share of the way to `end`."""
    c = outline.path.cumulative
    total = _length(outline, start, end)
    away = [float(c[v] - c[start]) % outline.path.length for v in inside]
    return [one / total for one in away]


def _length(outline: Outline, start: int, end: int) -> float:
    c = outline.path.cumulative
    return float(c[end] - c[start]) % outline.path.length or outline.path.length
