"""A length that may be another in each size, or as long as edges of the pattern are sewn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ..errors import InputError, LookupFailed
from ..units import parse_length
from .pattern import Pattern
from .piece import Piece
from .seam_text import parse_chain
from .seams import ChainPart
from .walk import walk_chain


@dataclass(frozen=True)
class Amount:
    """A length as it was said: one `value` in mm, one for each size, or that of a chain.

    >>> parse_amount("3 cm"), parse_amount({"12": "3 cm", "14": "32 mm"}).by_size
    (Amount(value=30.0), {'12': 30.0, '14': 32.0})
    """

    value: float | None = None
    by_size: Mapping[str, float] = field(default_factory=dict)
    chain: tuple[ChainPart, ...] = ()

    def __repr__(self) -> str:
        if self.value is not None:
            return f"Amount(value={self.value})"
        return f"Amount(by_size={self.by_size!r}, chain={self.chain!r})"

    def values(self) -> tuple[float, ...]:
        """The lengths that were said, mm; none for a chain."""
        return (self.value,) if self.value is not None else tuple(self.by_size.values())

    def in_size(self, pattern: Pattern, size: str | None) -> float:
        """The length in mm for a size of a pattern, whatever piece of it has that size."""
        piece = next((p for p in pattern.pieces if p.size == size), pattern.pieces[0])
        return self.of(pattern, piece)

    def of(self, pattern: Pattern, piece: Piece) -> float:
        """The length in mm for the size of `piece`, which is a piece of `pattern` or the base
        that one was graded from.

        A base that no size asked for takes what the first size listed has. Raises LookupFailed
        for a size that is not listed, and for a chain that is not there.
        """
        if self.value is not None:
            return self.value
        is_base = any(p.base is piece for p in pattern.pieces)
        if self.by_size:
            if piece.size is not None and piece.size in self.by_size:
                return self.by_size[piece.size]
            if is_base:
                return next(iter(self.by_size.values()))
            raise LookupFailed(
                f"no length is given for size {piece.size or 'none'}",
                where=piece.title,
                cure=f"Sizes that have one: {', '.join(self.by_size)}.",
            )
        if is_base:
            return walk_chain(pattern.bases, self.chain).length
        return walk_chain(pattern, self.chain, piece.size).length


def parse_amount(raw: Any) -> Amount:
    """Read `"3 cm"`, a table of sizes, or `"as front:waist + back:waist"`, a sewn length.

    Raises InputError.
    """
    if isinstance(raw, Mapping):
        if not raw:
            raise InputError("the table of sizes is empty")
        return Amount(by_size={str(size): parse_length(_text(v)) for size, v in raw.items()})
    if isinstance(raw, str) and raw.strip().startswith("as "):
        return Amount(chain=parse_chain(raw.strip().removeprefix("as ")))
    if isinstance(raw, int | float) and not isinstance(raw, bool) and raw == 0:
        return Amount(0.0)
    return Amount(parse_length(_text(raw)))


def _text(raw: Any) -> str:
    if isinstance(raw, bool) or not isinstance(raw, str | int | float):
        raise InputError(f"{raw!r} cannot be read as a length")
    return str(raw)
