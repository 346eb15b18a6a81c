"""The file that keeps a lay beside its job: a table that a spreadsheet edits."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..errors import InputError
from ..laying import Cloth, Item, Laid, Lay
from ..spreadsheets.csvtext import Row, Sheet, read_sheet

_HEAD = ("piece", "size", "copy", "side", "panel", "x", "y", "turn")
_HOW = (
    "x and y: from the lower left of the cloth or panel to the lower left of the piece's box, mm.",
    "turn: 0, or 180 for a piece that lies the other way along the grain.",
)
_LEFT = re.compile(r"left over: (?P<piece>[^:;=+,\"\n]+), size (?P<size>.*), copy (?P<copy>\d+)")
_SET = re.compile(r"set (?P<name>\S+) = (?P<value>\S.*)")

#: Piece, size and copy.
Key = tuple[str, str, int]


@dataclass(frozen=True)
class KeptLay:
    """A lay as its file has it, before it is held against the pattern.

    `fills` are the values that [[fill]] found for it, by step and setting.
    """

    places: Mapping[Key, tuple[str, str, float, float, int]]
    left: frozenset[Key]
    fills: Mapping[str, str]

    @classmethod
    def of(cls, lay: Lay, fills: Mapping[str, str]) -> KeptLay:
        """What the file of a lay would say."""
        places = {a.item.key: (a.item.side, a.panel, a.x, a.y, a.turn) for a in lay.laid}
        return cls(places, frozenset(item.key for item in lay.left), dict(fills))

    def lay(self, cloth: Cloth, items: Sequence[Item]) -> Lay | None:
        """The lay of these items, not yet proved; None where it is one of other items."""
        by_key = {item.key: item for item in items}
        if self.places.keys() | self.left != by_key.keys() or self.places.keys() & self.left:
            return None
        laid = []
        for key, (side, panel, x, y, turn) in self.places.items():
            if by_key[key].side != side:
                return None
            try:
                cloth.panel(panel)
            except KeyError:
                return None
            laid.append(Laid(by_key[key], panel, x, y, turn))
        return Lay(cloth, tuple(laid), tuple(by_key[key] for key in by_key if key in self.left))


def read_lay(path: Path) -> KeptLay:
    """The lay in a file. Raises InputError with the line for what cannot be read."""
    sheet = read_sheet(path)
    if tuple(cell.lower() for cell in sheet.header.cells) != _HEAD:
        sheet.fail(
            sheet.header,
            None,
            "this is not the table of a lay",
            f"Its columns are {','.join(_HEAD)}; delete the file to lay anew.",
        )
    places: dict[Key, tuple[str, str, float, float, int]] = {}
    for row in sheet.rows:
        cells = (*row.cells, *[""] * (len(_HEAD) - len(row.cells)))
        piece, size, copy, side, panel, x, y, turn = cells[: len(_HEAD)]
        key = (piece, size, _whole(sheet, row, 2, copy))
        if key in places:
            sheet.fail(row, 0, "this copy of the piece is laid twice", "Keep one of the rows.")
        turned = _whole(sheet, row, 7, turn)
        places[key] = side, panel, _number(sheet, row, 5, x), _number(sheet, row, 6, y), turned
    left, fills = set(), {}
    for note in sheet.notes:
        if m := _LEFT.fullmatch(note):
            left.add((m["piece"], m["size"], int(m["copy"])))
        elif m := _SET.fullmatch(note):
            fills[m["name"]] = m["value"]
    return KeptLay(places, frozenset(left), fills)


def write_lay(lay: Lay, fills: Mapping[str, str]) -> bytes:
    """The file of a lay; the same lay gives the same bytes."""
    out = io.StringIO(newline="")
    for note in (
        f"Lay on {lay.cloth.name}",
        *_HOW,
        *(f"set {name} = {value}" for name, value in fills.items()),
        *(f"left over: {p}, size {s}, copy {k}" for p, s, k in (i.key for i in lay.left)),
    ):
        out.write(f"# {note}\n")
    table = csv.writer(out, lineterminator="\n")
    table.writerow(_HEAD)
    for one in lay.laid:
        piece, size, copy = one.item.key
        x, y = (f"{v:.3f}".rstrip("0").rstrip(".") for v in (one.x, one.y))
        table.writerow((piece, size, copy, one.item.side, one.panel, x, y, one.turn))
    return out.getvalue().encode("utf-8")


def _number(sheet: Sheet, row: Row, column: int, text: str) -> float:
    plain = text.replace(",", ".") if sheet.decimal_commas else text
    if not re.fullmatch(r"[-+]?\d{1,7}(\.\d+)?", plain):
        raise _unread(sheet, row, column, text)
    return float(plain)


def _whole(sheet: Sheet, row: Row, column: int, text: str) -> int:
    if not re.fullmatch(r"\d{1,5}", text):
        raise _unread(sheet, row, column, text)
    return int(text)


def _unread(sheet: Sheet, row: Row, column: int, text: str) -> InputError:
    return sheet.error(row, column, f'"{text}" is no number', "Mend it, or delete the file.")
