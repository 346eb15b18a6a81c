"""Measures as a user declares them: `2 x across front:underarm + 2 x across back:underarm`."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from sizewright.errors import InputError
from sizewright.model import Pattern

from .across import across, along, down, length_of

Way = Literal["along", "across", "down"]

_TERM = re.compile(
    r"(?:(?P<count>\d{1,6})\s*[x×]\s*)?(?:(?P<way>across|down|along)\s+)?(?P<piece>[^:]+):(?P<what>.+)"
)


@dataclass(frozen=True, slots=True)
class Term:
    """One part of a declared measure: along a run, across at a point, or down between two."""

    count: int
    way: Way
    piece: str
    what: str

    def length(self, pattern: Pattern, size: str | None) -> float:
        """Its length in one size, mm. Raises LookupFailed for names that are not there."""
        piece = pattern.piece(self.piece, size)
        if self.way == "across":
            at = length_of(piece, piece.outline.vertex(self.what))
            return self.count * across(piece, at)
        if self.way == "down":
            a, _, b = (part.strip() for part in self.what.partition(".."))
            return self.count * down(piece, a, b)
        return self.count * along(piece, piece.run(self.what))


def parse_terms(name: str, text: str) -> tuple[Term, ...]:
    """A declared measure. Raises InputError that shows the forms."""
    terms = []
    for part in text.split("+"):
        m = _TERM.fullmatch(part.strip())
        way = (m["way"] or "along") if m else ""
        if m is None or int(m["count"] or 1) < 1 or (way == "down" and ".." not in m["what"]):
            raise InputError(
                f'"{part.strip()}" is no part of a measure',
                where=f"measure {name}",
                cure="Write it like 2 x front:waist + 2 x back:waist, "
                "2 x across front:underarm, or down back:neck-centre..waist-centre.",
            )
        kind: Way = "across" if way == "across" else "down" if way == "down" else "along"
        terms.append(Term(int(m["count"] or 1), kind, m["piece"].strip(), m["what"].strip()))
    return tuple(terms)
