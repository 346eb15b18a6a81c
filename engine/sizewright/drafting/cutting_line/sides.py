"""A sewing line parted into sides, each with its parallel at the width that is meant."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ...geometry.path import Path
from ...geometry.strips import Strip, segment_parallels, strips_joined
from ...geometry.types import Bools, Floats, Ints
from ...model.allowances import Allowances
from ...model.piece import Piece

#: How far the cutting line may be from the true parallel, mm.
TOLERANCE = 0.005
#: A vertex that turns by less than this, degrees, has no corner in its parallel.
SMOOTH = 3.0
_SAME = 1e-9
_STUB = 1e-4


@dataclass(frozen=True, eq=False)
class Side:
    """One side from vertex `start` to vertex `end`, with its strips in order.

    `parallel` is the whole of it in one line; None where it turns back on itself. `head` and
    `tail` are what of it hangs together at its start and at its end; the whole where there is.
    """

    start: int
    end: int
    strips: tuple[Strip, ...]
    parallel: Path | None
    head: Path
    tail: Path


@dataclass(frozen=True, eq=False)
class Sides:
    """All sides of an outline in order, the legs of darts left out.

    `widths` (n, 2) at both ends of each segment, mm; `legs` (n,) which segments are legs.
    """

    path: Path
    widths: Floats
    legs: Bools
    sides: tuple[Side, ...]

    @property
    def closed(self) -> bool:
        """Whether the outline has no break at all: one side that closes on itself."""
        return len(self.sides) == 1 and self.sides[0].start == self.sides[0].end


def sides_of(piece: Piece, allowances: Allowances) -> Sides:
    """The sides of a piece's outline. They part at corners and wherever the width jumps."""
    path = piece.outline.path
    n = len(path)
    widths = segment_widths(piece, allowances)
    legs = np.zeros(n, dtype=bool)
    for dart in piece.darts:
        if dart.tip is not None:
            legs[_between(dart.a, dart.b, n)] = True
    return _sides(path, widths.tobytes(), legs.tobytes())


@lru_cache(maxsize=64)
def _sides(path: Path, wide: bytes, leg: bytes) -> Sides:
    """The sides, kept for a while: what makes a line is followed by what proves it."""
    widths = np.frombuffer(wide).reshape(-1, 2)
    legs = np.frombuffer(leg, dtype=np.bool_)
    breaks = np.abs(path.turns) > SMOOTH
    breaks |= np.abs(np.roll(widths[:, 1], 1) - widths[:, 0]) > _SAME
    breaks |= np.roll(legs, 1) != legs
    strips = segment_parallels(path, widths, ~breaks, TOLERANCE)
    at = np.flatnonzero(breaks).tolist() or [0]
    sides = [
        _side(path, widths, strips, a, b)
        for a, b in zip(at, at[1:] + at[:1], strict=True)
        if not legs[a]
    ]
    return Sides(path, widths, legs, tuple(sides))


def segment_widths(piece: Piece, allowances: Allowances) -> Floats:
    """Widths (n, 2) at both ends of each segment of a piece's outline, mm; the fold has none."""
    widths = allowances.by_segment(piece.outline.path)
    if piece.fold is not None:
        widths[_between(piece.fold.start, piece.fold.end, len(widths))] = 0.0
    return widths


def _side(path: Path, widths: Floats, strips: list[list[Strip]], start: int, end: int) -> Side:
    numbers = _between(start, end, len(path)).tolist()
    flat = [strip for i in numbers for strip in strips[i]]
    if all(len(strips[i]) == 1 and strips[i][0].whole for i in numbers):
        parallel = strips_joined(flat)
        return Side(start, end, tuple(flat), parallel, parallel, parallel)
    head, tail = [], []
    for i in numbers:
        head += strips[i][:1] if strips[i] and strips[i][0].u0 == 0.0 else []
        if not (strips[i] and strips[i][0].whole):
            break
    for i in numbers[::-1]:
        tail += strips[i][-1:] if strips[i] and strips[i][-1].u1 == 1.0 else []
        if not (strips[i] and strips[i][-1].whole):
            break
    first, last = numbers[0], numbers[-1]
    return Side(
        start,
        end,
        tuple(flat),
        None,
        strips_joined(head)
        if head
        else _stub(path.controls[first, 0], path.tangents_out[first], widths[first, 0], 1),
        strips_joined(tail[::-1])
        if tail
        else _stub(path.controls[last, 3], path.tangents_in[last], widths[last, 1], -1),
    )


def _stub(at: Floats, way: Floats, width: float, sense: int) -> Path:
    """A very short line for an end of a parallel that turns back there."""
    tip = at + width * np.array([way[1], -way[0]])
    beyond = tip + sense * _STUB * way
    return Path.polyline(np.array([tip, beyond] if sense > 0 else [beyond, tip]))


def _between(start: int, end: int, n: int) -> Ints:
    """Numbers of the segments from one vertex to another."""
    return (start + np.arange((end - start) % n or n)) % n
