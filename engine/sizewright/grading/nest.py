"""What a nest shows: how far each ruled point goes from size to size."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from ..model.pattern import Pattern
from ..model.vec import Vec


@dataclass(frozen=True, slots=True)
class Step:
    """How far a point of a piece moves from one size to the next, (dx, dy) mm on the page."""

    piece: str
    vertex: int
    name: str | None
    rule: str
    before: str
    after: str
    move: Vec


def nest_growth(pattern: Pattern, sizes: tuple[str, ...] | None = None) -> tuple[Step, ...]:
    """Moves of every ruled point between neighbouring `sizes` (default: the pattern's own).

    Pieces must have the same points in both sizes, as graded ones do; others are left out.
    """
    order = pattern.sizes if sizes is None else sizes
    steps: list[Step] = []
    for name in pattern.names:
        by_size = {p.size: p for p in pattern.sizes_of(name) if p.size is not None}
        there = [size for size in order if size in by_size]
        for before, after in pairwise(there):
            a, b = by_size[before].outline, by_size[after].outline
            if len(a.path) != len(b.path):
                continue
            for point in a.points:
                if point.rule is None:
                    continue
                dx, dy = b.vertex_at(point.vertex) - a.vertex_at(point.vertex)
                move = (float(dx), float(dy))
                steps.append(Step(name, point.vertex, point.name, point.rule, before, after, move))
    return tuple(steps)
