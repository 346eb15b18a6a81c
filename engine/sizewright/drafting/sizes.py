"""The sizes of a pattern in the order in which an edit is made: what is drawn comes first."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from ..model.pattern import Pattern
from ..model.piece import Piece


def base_first(pattern: Pattern) -> list[str | None]:
    """The sizes of a pattern, the base size first; only None where it has none."""
    sizes: list[str | None] = [*pattern.sizes] or [None]
    if pattern.base_size in sizes:
        sizes.remove(pattern.base_size)
        sizes.insert(0, pattern.base_size)
    return sizes


def drawn_sizes(pattern: Pattern, names: Collection[str]) -> list[tuple[Pattern, str | None]]:
    """Each size that an edit of the pieces `names` is made in, with the pattern it lies in.

    What they were graded from is edited as they are, before all: as a pattern of its own, with
    None for its size. `with_remade` puts both back.
    """
    sizes: list[tuple[Pattern, str | None]] = [(pattern, s) for s in base_first(pattern)]
    if {p.name for p in pattern.pieces if p.base is not None}.issuperset(names):
        return [(pattern.bases, None), *sizes]
    return sizes


def with_remade(pattern: Pattern, made: Mapping[int, Piece]) -> Pattern:
    """The pattern with pieces, and bases of pieces, in the place of old ones, told by their id."""
    bases = {p.name: made.get(id(p)) for p in pattern.bases.pieces}

    def new(piece: Piece) -> Piece:
        done = made.get(id(piece), piece)
        base = None if piece.base is None else bases[piece.name]
        return done if base is None else replace(done, base=base)

    return pattern.replacing(new)
