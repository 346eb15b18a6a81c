"""Pieces made longer or shorter across their adjust lines, or at places."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from sizewright.errors import InputError
from sizewright.findings import Finding
from sizewright.model import Amount, Pattern, Piece
from sizewright.plugin import (
    Operation,
    Outcome,
    Setting,
    Values,
    hookimpl,
    piece_settings,
    pieces_asked,
)
from sizewright.units import both

if TYPE_CHECKING:
    from sizewright.drafting import Ring, Settled

api = 1

#: Amounts smaller than this are none, mm.
_NONE = 1e-9


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `lengthen`."""
    return [
        Operation(
            "lengthen",
            "make pieces longer or shorter across adjust lines, or level with places",
            lengthen,
            (
                *piece_settings("lengthen"),
                Setting(
                    "at",
                    "text",
                    "adjust lines by their names, or places, which are cut level by the axis; "
                    "a piece that has several is opened at each by its part",
                    required=True,
                    shape="list",
                ),
                Setting(
                    "by",
                    "length",
                    "how much longer each piece gets in all; a negative length shortens",
                    required=True,
                    by_size=True,
                ),
                Setting("fair", "flag", "whether edges that cross become smooth again", True),
            ),
            before_grading=True,
        )
    ]


def lengthen(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with its pieces longer by `by`; without pieces named, all that have the
    adjust lines."""
    from sizewright.drafting import APART, mates_to_follow, redraft, slashed
    from sizewright.laying import spread_apart

    from .levels import lines_on, parted, with_lines

    at, by = tuple(values["at"]), values["by"]
    if not at:
        raise InputError("nothing says where", cure='Say at = "lengthen-body", or a place.')
    if not values["piece"] and not values["pieces"]:
        values = {**values, "pieces": with_lines(pattern, at)}
    names = pieces_asked(pattern, values)
    known = {a.name for p in pattern.pieces for a in p.adjusts if a.name and a.name in at}
    if _nothing(pattern, names, by):
        text = "it gets longer by nothing, so it stays as it is"
        found = tuple(Finding("nothing-to-lengthen", "note", text, name) for name in names)
        return Outcome(pattern, found)

    def edit(pieces: Mapping[str, Piece], settled: Settled) -> dict[str, Ring]:
        rings = {}
        for name, piece in pieces.items():
            amount = by.of(pattern, piece)
            cut = parted(piece, lines_on(piece, at, known, settled), amount, settled)
            ends = {v for span in cut.spans for v in (span.start, span.end)}
            fair = [(ends, None)] if values["fair"] else []
            rings[name] = slashed(cut.spans, _words(amount, at), cut.zones[0], fair=fair)
        return rings

    done = redraft(pattern, names, edit)
    findings = [*done.findings, *mates_to_follow(pattern, done.pattern, names)]
    after, moved = spread_apart(done.pattern, pattern, APART)
    return Outcome(after, (*findings, *moved))


def _nothing(pattern: Pattern, names: tuple[str, ...], by: Amount) -> bool:
    """Whether nothing is asked for. Raises InputError where only some sizes are changed, or some
    get longer and others shorter."""
    pieces = [p for p in pattern.pieces if p.name in names]
    pieces += [p.base for p in pieces if p.base is not None]
    amounts = [by.of(pattern, p) for p in pieces]
    ways = {0 if abs(a) <= _NONE else 1 if a > 0 else -1 for a in amounts}
    if len(ways) > 1:
        raise InputError(
            "some sizes get longer and others do not",
            cure="Give every size an amount above 0, or every size one below it.",
        )
    return ways == {0}


def _words(by: float, at: tuple[str, ...]) -> str:
    way = "lengthened" if by > 0 else "shortened"
    return f"{way} by {both(abs(by))} at {' and '.join(at)}"
