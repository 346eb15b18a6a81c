"""Sizes of one piece laid over each other: at which place, and by how far."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..errors import LookupFailed
from ..geometry import affine
from ..geometry.types import Floats
from .pattern import Pattern
from .piece import Piece
from .place import Place, locate


def over_each_other(a: Piece, b: Piece) -> bool:
    """Whether the middle of each box lies in the other."""

    def within(box: tuple[float, ...], other: tuple[float, ...]) -> bool:
        x, y = (other[0] + other[2]) / 2, (other[1] + other[3]) / 2
        return box[0] <= x <= box[2] and box[1] <= y <= box[3]

    return within(a.bounds, b.bounds) and within(b.bounds, a.bounds)


def place_for(piece: Piece, places: Sequence[Place]) -> Place | None:
    """The place at which a piece is laid: its own first, else a general one that it has."""
    for place in places:
        if place.piece == piece.name:
            return place
    for place in places:
        if place.piece is None and has_place(piece, place):
            return place
    return None


def check_places(pattern: Pattern, places: Iterable[Place]) -> None:
    """Raises LookupFailed for a place whose piece is not there or that no piece has."""
    for place in places:
        if place.piece is not None:
            pattern.piece(place.piece)
        elif not any(has_place(p, place) for p in pattern.pieces):
            raise LookupFailed(
                f'no piece has the place "{place.text}"',
                cure="Name a point or run that a piece has, or leave it out.",
            )


def has_place(piece: Piece, place: Place) -> bool:
    """Whether a piece has the point or run that a place names."""
    try:
        locate(piece, place)
    except LookupFailed:
        return False
    return True


def point_at(piece: Piece, place: Place) -> Floats:
    """Where a place lies on a piece, (2,) mm. Raises what `locate` raises."""
    return locate(piece, place).point


def shifted(piece: Piece, by: Floats) -> Piece:
    """The piece moved by (2,) mm; itself where that is nothing."""
    dx, dy = float(by[0]), float(by[1])
    if dx == dy == 0.0:
        return piece
    return piece.transformed(affine.translation(dx, dy))
