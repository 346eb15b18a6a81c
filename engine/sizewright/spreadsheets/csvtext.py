"""CSV as spreadsheets save it: any of their encodings and separators, with places kept."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

from ..errors import InputError

#: A table is at most this large, in bytes; a larger file is something else.
LARGEST = 4_000_000
_SEPARATORS = ",;\t"
_SHOWN = re.compile(r"[-+]?(?:\d+,(?:\d{1,2}|\d{4,})|0,\d+)")
#: What a spreadsheet may run as a formula, and what in it is a plain number all the same.
_RUNS = re.compile(r"'*[-+=@\t\r]")
_PLAIN = re.compile(r"[-+]?[0-9.,/ ]*[0-9]%?")
#: A cell is at most this long, in characters.
_LONGEST = 1000
_AS_CSV = "Save it from the spreadsheet as CSV (text)."


@dataclass(frozen=True, slots=True)
class Row:
    """Cells of one row, stripped, and the line of the file that it ends on."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Sheet:
    """A table of text: where it came from, comment lines without `#`, header and rows.

    Blank rows, and blank columns beyond the header, are left out.
    """

    name: str
    notes: tuple[str, ...]
    header: Row
    rows: tuple[Row, ...]
    separator: str = ","

    @property
    def decimal_commas(self) -> bool:
        """Whether a comma in a number can only be a decimal one: the cells are not parted by
        commas, or some number in the table shows it (`84,5`)."""
        if self.separator != ",":
            return True
        return any(_SHOWN.fullmatch(cell) for row in self.rows for cell in row.cells)

    def where(self, row: Row, column: int | None = None) -> str:
        """`file, line 4, column C (14)`: column counted from 0."""
        place = f"{self.name}, line {row.line}" if self.name else f"line {row.line}"
        if column is None:
            return place
        place += f", column {letters(column)}"
        if column < len(self.header.cells) and row is not self.header:
            place += f" ({self.header.cells[column]})"
        return place

    def fail(self, row: Row, column: int | None, what: str, cure: str) -> NoReturn:
        """Raise the error for a place in the table."""
        raise self.error(row, column, what, cure)

    def error(self, row: Row, column: int | None, what: str, cure: str) -> InputError:
        """The error for a place in the table."""
        return InputError(what, where=self.where(row, column), cure=cure)


def letters(column: int) -> str:
    """A column's letters as a spreadsheet has them: 0 is A, 26 is AA."""
    text = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def as_text(cell: str) -> str:
    """A cell as it is written: with `'` before what a spreadsheet would run, which marks text.

    >>> as_text("=HYPERLINK(1)"), as_text("-2.5"), as_text("waist")
    ("'=HYPERLINK(1)", '-2.5', 'waist')
    """
    return f"'{cell}" if _RUNS.match(cell) and not _PLAIN.fullmatch(cell) else cell


def _as_read(cell: str) -> str:
    """A cell without the mark that `as_text` put."""
    return cell[1:] if cell.startswith("'") and _RUNS.match(cell) else cell


def read_sheet(source: Path | str | bytes, *, name: str = "") -> Sheet:
    """A table from a file (Path), from text (str) or from a file's bytes.

    Raises InputError for what is no text, has no header or cannot be parted into cells.
    """
    if isinstance(source, Path):
        name = name or str(source)
        try:
            with source.open("rb") as file:
                source = file.read(LARGEST + 1)
        except OSError as error:
            raise InputError(
                f"the table cannot be read: {error.strerror or error}",
                where=name,
                cure="Check the name and that it is a file.",
            ) from None
    text = _decoded(source, name) if isinstance(source, bytes) else source
    text = text.removeprefix("\ufeff")
    if "\0" in text:
        raise InputError("the file is no text", where=name, cure=_AS_CSV)
    lines = text.splitlines()
    if lines and re.fullmatch(r'"?sep=.?"?', lines[0].strip(), re.IGNORECASE):
        text = "\n" + text.partition("\n")[2]
    if not text.strip().strip(_SEPARATORS + "\"' \r\n"):
        raise InputError("the table is empty", where=name, cure="Give it a header and rows.")
    return _parted(text, name)


def _decoded(data: bytes, name: str) -> str:
    if len(data) > LARGEST:
        raise InputError("the file is too large for a table", where=name, cure=_AS_CSV)
    if data[:2] == b"PK" or data[:4] == b"\xd0\xcf\x11\xe0":
        raise InputError("this is a spreadsheet's own file, not CSV", where=name, cure=_AS_CSV)
    encodings = ["utf-8-sig", "cp1252"]
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encodings = ["utf-16"]
    elif b"\0" in data[:200]:
        encodings = ["utf-16-be" if data[:1] == b"\0" else "utf-16-le"]
    for encoding in encodings:
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise InputError("the file is no text", where=name, cure=_AS_CSV)


def _parted(text: str, name: str) -> Sheet:
    separator = _separator(text, name)
    notes: list[str] = []
    lines = text.splitlines()
    for k, line in enumerate(lines):
        # A comment that stands as it was typed keeps its own commas and quotes.
        if line.startswith("#"):
            notes.append(line.rstrip(separator + " ").lstrip("#").strip())
            lines[k] = ""
    reader = csv.reader(io.StringIO("\n".join([*lines, ""]), newline=""), delimiter=separator)
    rows: list[Row] = []
    try:
        for cells in reader:
            broken = any("\n" in cell for cell in cells)
            if any(len(cell) > _LONGEST for cell in cells):
                raise csv.Error(f"a cell has more than {_LONGEST} characters")
            cells = [_as_read(" ".join(cell.split())) for cell in cells]
            if not any(cells):
                continue
            if broken and not cells[0].startswith("#"):
                raise csv.Error("a cell goes on over the end of its line")
            if cells[0].startswith("#"):
                # Cut at commas when it was opened: put together again.
                notes.append(", ".join(cells).rstrip(", ").lstrip("#").strip())
                continue
            rows.append(Row(reader.line_num, tuple(cells)))
    except csv.Error as error:
        raise InputError(
            f"the row cannot be parted into cells: {error}",
            where=f"{name}, line {reader.line_num}" if name else f"line {reader.line_num}",
            cure="Look for a quotation mark that is not closed.",
        ) from None
    if not rows:
        raise InputError(
            "the table has no header row", where=name, cure="Begin with rule,axis,unit,..."
        )
    header = Row(rows[0].line, _trimmed(rows[0].cells))
    body = tuple(Row(row.line, _trimmed(row.cells)) for row in rows[1:])
    return Sheet(name, tuple(n for n in notes if n), header, body, separator)


def _separator(text: str, name: str) -> str:
    """What stands after the first word of the header."""
    for line in text.splitlines():
        plain = line.strip().lstrip(_SEPARATORS + " ")
        if not plain or plain.lstrip('"').startswith("#"):
            continue
        found = [c for c in line if c in _SEPARATORS]
        if found:
            return found[0]
        raise InputError(
            f'"{plain[:40]}" is no header of a table',
            where=name,
            cure="Part the columns by commas, semicolons or tabs.",
        )
    return ","


def _trimmed(cells: tuple[str, ...]) -> tuple[str, ...]:
    last = max((k for k, cell in enumerate(cells) if cell), default=-1)
    return cells[: last + 1]
