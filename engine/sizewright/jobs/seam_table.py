"""The seams of a pattern as a table for people: both sides in every size."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ..errors import SizewrightError
from ..model import format_seam, match_seam, unjudged
from ..units import Unit, format_length

if TYPE_CHECKING:
    from ..model import Pattern, Seam

_WIDTH = 80
# How wide a length is written.
_SIDE = 22


@dataclass(frozen=True, slots=True)
class SeamRow:
    """One seam in one size: sewn lengths of both sides, by how much the first is longer and
    by how much it should be, mm. `trouble` says why there are none."""

    size: str
    first: float = 0.0
    second: float = 0.0
    wanted: float = 0.0
    trouble: str = ""

    @property
    def surplus(self) -> float:
        """By how much the first side is longer, mm."""
        return self.first - self.second

    @property
    def off(self) -> float:
        """How far the surplus is from what the seam asks for, mm."""
        return self.surplus - self.wanted


def seam_rows(pattern: Pattern, seam: Seam) -> tuple[SeamRow, ...]:
    """A seam in each size of the pattern."""
    if unjudged(pattern, seam):
        return (SeamRow("", trouble="not judged: sewing line or cutting line is not said"),)
    rows = []
    for size in pattern.sizes or (None,):
        try:
            match = match_seam(pattern, seam, size)
        except SizewrightError as error:
            rows.append(SeamRow(size or "", trouble=error.what))
            continue
        rows.append(SeamRow(size or "", match.first.length, match.second.length, match.wanted))
    return tuple(rows)


def seam_lines(pattern: Pattern) -> Iterator[str]:
    """Every seam with its phrase, and a line for each size; nothing where there are no seams."""
    for seam in pattern.seams:
        yield from textwrap.wrap(format_seam(seam), _WIDTH, subsequent_indent="    ")
        rows = seam_rows(pattern, seam)
        width = max(4, *(len(row.size) for row in rows))
        yield (
            f"  {'size':<{width}}  {'first side':>{_SIDE}}  {'second side':>{_SIDE}}"
            f"  {'longer':>10}  {'off':>10}"
        )
        for row in rows:
            size = f"  {row.size:<{width}}  "
            if row.trouble:
                yield f"{size}{row.trouble}"
                continue
            sides = f"{_side(row.first)}  {_side(row.second)}"
            yield f"{size}{sides}  {_mm(row.surplus)}  {_mm(row.off)}"
        yield ""


def seam_data(pattern: Pattern) -> list[dict[str, Any]]:
    """The same for JSON: lengths in mm."""
    return [
        {
            "seam": seam.name,
            "size": row.size,
            "first": row.first,
            "second": row.second,
            "wanted": row.wanted,
            "off": row.off,
        }
        for seam in pattern.seams
        for row in seam_rows(pattern, seam)
        if not row.trouble
    ]


def _side(mm: float) -> str:
    """A length in centimetres and inches, as wide as its column."""
    inches = format_length(mm, Unit.IN, mark="")
    return f"{mm / 10:7.2f} cm {inches:>11}"


def _mm(value: float) -> str:
    return f"{round(value, 2) + 0.0:7.2f} mm"
