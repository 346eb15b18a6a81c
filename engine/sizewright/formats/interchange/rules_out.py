"""Rule table files out."""

from __future__ import annotations

from ...errors import InputError
from ...units import Unit
from .rules import Deltas, RuleFile, to_neighbours
from .texts import ascii_only

#: Decimals of a delta: a tenth of a micrometre or finer.
_PLACES = {Unit.MM: 4, Unit.IN: 6}
SYSTEMS = {Unit.MM: "METRIC", Unit.IN: "ENGLISH"}


def write_rule_file(table: RuleFile, deltas: Deltas = "sample", *, author: str = "") -> bytes:
    """A rule table file, in the table's own unit (mm or inches), 7-bit, lines ended by CR LF.

    Sizes lose their blanks, since the list parts them by blanks. Raises InputError for
    other units and for sizes that would be one.
    """
    if table.unit not in SYSTEMS:
        raise InputError(
            f"a rule table is not written in {table.unit.symbol}", cure="Use mm or in."
        )
    sizes = [size_word(size) for size in table.sizes]
    if len(set(sizes)) != len(sizes):
        raise InputError(
            f"sizes cannot be told apart in a rule table: {', '.join(sizes)}",
            cure="Give them names that differ in plain letters and figures.",
        )
    lines = [f"AUTHOR: {ascii_only(author) or 'SIZEWRIGHT'}"]
    lines += [
        f"UNITS: {SYSTEMS[table.unit]}",
        f"GRADE RULE TABLE: {ascii_only(table.name)}",
        f"NUMBER OF SIZES: {len(sizes)}",
        f"SIZE LIST: {' '.join(sizes)}",
        f"SAMPLE SIZE: {sizes[table.base]}",
    ]
    for number, moves in table.rules.items():
        lines.append(f"RULE: DELTA {number}")
        rows = moves if deltas == "sample" else to_neighbours(moves, table.base)
        lines += [f"{_shown(x, table.unit)}, {_shown(y, table.unit)}" for x, y in rows]
    return "\r\n".join([*lines, "END", ""]).encode("ascii")


def size_word(size: str) -> str:
    """A size as the list of sizes can hold it: 7-bit, no blanks, no separators."""
    word = "_".join(ascii_only(size).replace(",", ".").replace(";", "_").split())
    return word or "_"


def _shown(mm: float, unit: Unit) -> str:
    text = f"{unit.from_mm(mm):.{_PLACES[unit]}f}"
    return text[1:] if float(text) == 0.0 and text.startswith("-") else text
