"""The sizes of each piece laid over each other."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..geometry.types import Floats
from ..model import Pattern, Piece, Place
from ..model.overlay import check_places, over_each_other, place_for, point_at, shifted

Group = tuple[Piece, ...]


def sizes_in_order(pattern: Pattern) -> tuple[str, ...]:
    """All sizes, the one with the smallest pieces first.

    Each piece is compared with its own other sizes, so that a piece that only some sizes
    have does not put them out of order.
    """
    ratios: dict[str, list[float]] = {size: [] for size in pattern.sizes}
    for name in pattern.names:
        areas = {p.size: p.area for p in pattern.pieces if p.name == name and p.size is not None}
        if len(areas) > 1:
            mean = sum(areas.values()) / len(areas)
            for size, area in areas.items():
                ratios[size].append(area / mean)
    if not all(ratios.values()):
        for size in ratios:
            ratios[size] = [p.area for p in pattern.pieces if p.size == size]
    return tuple(sorted(ratios, key=lambda size: sum(ratios[size]) / len(ratios[size])))


def laid_over(pattern: Pattern, at: Sequence[Place] = ()) -> Pattern:
    """The pattern with the sizes of each piece over each other, at a place where one is told.

    A place that names a piece is for that piece; one that names none, for every other piece
    that has it. Pieces without a place stay as they lie (as graded: over what does not
    grow); where they do not lie over each other, first corner lies on first corner. The base
    size stays. Raises LookupFailed for a piece that is not there, and for a place that is on
    none of its pieces, and what `find_place` raises.
    """
    groups = nested(pattern)
    moved: dict[tuple[str, str | None], Piece] = {}
    for group in groups:
        base = _base(group, pattern.base_size)
        place = place_for(base, at)
        if place is None:
            laid = _as_they_lie(base, group)
        else:
            laid = [shifted(p, point_at(base, place) - point_at(p, place)) for p in group]
        moved |= {p.key: p for p in laid}
    check_places(pattern, at)
    return pattern.replacing(lambda p: moved[p.key])


def nested(pattern: Pattern) -> tuple[Group, ...]:
    """Each piece in all its sizes, smallest first, in the order of the pieces."""
    order = sizes_in_order(pattern)

    def rank(piece: Piece) -> int:
        return order.index(piece.size) if piece.size in order else -1

    return tuple(
        tuple(sorted((p for p in pattern.pieces if p.name == name), key=rank))
        for name in pattern.names
    )


def _base(group: Group, size: str | None) -> Piece:
    return next((p for p in group if p.size == size), group[len(group) // 2])


def _as_they_lie(base: Piece, group: Group) -> list[Piece]:
    if all(over_each_other(base, other) for other in group):
        return list(group)
    return [shifted(other, _first(base) - _first(other)) for other in group]


def _first(piece: Piece) -> Floats:
    """The first corner of the outermost line, else the lower left of its box."""
    if piece.drawn.corners:
        return piece.drawn.vertex_at(piece.drawn.corners[0])
    return np.array(piece.bounds[:2])
