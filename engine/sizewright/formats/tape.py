"""Paper patterns measured by tape and ruler: a table of points becomes pieces.

Points follow one another round the piece. Between corners the line is straight, or one fair
curve through the curve points there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ..errors import GeometryError, InputError
from ..findings import Finding
from ..geometry import affine
from ..geometry.crossings import self_crossings
from ..geometry.path import Path
from ..geometry.splines import spline_through
from ..geometry.types import Floats
from ..model import Outline, Pattern, Piece, Point
from ..spreadsheets import cells
from ..spreadsheets.csvtext import Row, Sheet, read_sheet
from ..units import Unit, both, format_length
from .drawing.names import plain_name
from .reading import Reading
from .source import Source, content

#: Columns of every such table, and the two pairs that tell where a point lies.
_ALWAYS = ("piece", "point", "kind")
_PLACES = (("x", "y"), ("along", "out"))
_KINDS = ("corner", "curve", "length")
#: Measures beyond this, mm, are meant in another unit.
_MOST = 10_000.0
#: A tape along a curve is off by so much without anything being wrong: mm, and of its length.
_TAPE, _TAPE_SHARE = 2.0, 0.005
#: Less than this, mm, no tape can tell.
_TOLD = 0.5
#: Pieces that were measured over each other are laid so far apart, mm.
_GAP = 100.0
#: Points of an outline without corners that are taken twice, so that it closes smoothly.
_LAP = 12
_POINTS = 2_000
#: Tables for other uses, by how their headers begin: claimed too, so as to say what they are.
_OTHERS = {
    ("piece", "point", "rule"): (
        "a table of points and their rules",
        "Name it in a job.",
    ),
    ("rule", "axis"): ("a table of grade rules", "Give it to grade with --rules."),
    ("measure", "unit"): ("a size chart", "Give it to grade or size with --chart."),
}
_CURE = "Begin with the columns piece,point,x,y,kind,unit or piece,point,along,out,kind,unit."


def is_table(head: bytes) -> bool:
    """Whether a file that begins with `head` is a table of measured points, or one of `_OTHERS`."""
    try:
        sheet = read_sheet(head.rpartition(b"\n")[0] or head)
    except InputError:
        return False
    named = {cell.casefold() for cell in sheet.header.cells}
    # A table that lacks a column, or all their names, is told so.
    ours = len(named & {*_ALWAYS, "unit", *_PLACES[0], *_PLACES[1]}) > 1 and named & {*_ALWAYS}
    return bool(_other(sheet) or ours or _is_point(sheet.header))


def read_tape(source: Source, *, name: str = "", units: Unit | None = None) -> Reading:
    """The pattern in a table of points measured by tape and ruler.

    Columns `piece`, `point`, `kind` and `x`, `y`, or `along`, `out` (along a straight line and
    square to it, to its left), `unit` (mm, cm, in) where `units` does not say it. `kind` is
    `corner`, `curve`, or `length`: what was measured along the line from one point to another
    (`shoulder..underarm`), in the first of the two columns, against which the curve is held.
    An empty `piece` or `unit` is that of the row above. Pieces that would lie over one before
    them are laid to the right of all before.
    Raises InputError with the line of the file.
    """
    data, where = content(source, name, "table")
    sheet = read_sheet(data, name=where)
    columns = _columns(sheet)
    pieces: dict[str, _Measured] = {}
    above: dict[str, str] = {}
    for row in sheet.rows:
        _take(sheet, row, columns, pieces, units, above)
    if not pieces:
        raise InputError("the table has no point", where=where, cure=_CURE)
    made, findings = [], []
    for one in pieces.values():
        piece, vertices = one.piece()
        made.append(piece)
        findings += one.compared(piece, vertices)
    return Reading(Pattern(tuple(_beside(made))), findings=tuple(findings))


def _beside(pieces: Sequence[Piece]) -> list[Piece]:
    """The pieces, each that was measured from a corner of its own moved off those before it."""
    laid: list[Piece] = []
    for piece in pieces:
        x0, y0, x1, y1 = piece.bounds
        boxes = [one.bounds for one in laid]
        if any(a < x1 and x0 < c and b < y1 and y0 < d for a, b, c, d in boxes):
            right = max(c for _, _, c, _ in boxes)
            piece = piece.transformed(affine.translation(right + _GAP - x0, 0.0))
        laid.append(piece)
    return laid


def _other(sheet: Sheet) -> tuple[str, str] | None:
    """What another table of ours is, and where to give it."""
    named = tuple(cell.casefold() for cell in sheet.header.cells)
    return next((told for begins, told in _OTHERS.items() if named[: len(begins)] == begins), None)


def _is_point(row: Row) -> bool:
    """Whether a row is a point of a table, and no header."""
    return any(cell.casefold() in _KINDS for cell in row.cells) and any(
        cell[:1].isdigit() for cell in row.cells
    )


def _columns(sheet: Sheet) -> dict[str, int]:
    if _is_point(sheet.header):
        what = "this is a point, where the names of the columns have to stand"
        sheet.fail(sheet.header, None, what, _CURE.replace("Begin with", "Put a row above it with"))
    named = [cell.casefold() for cell in sheet.header.cells]
    columns = {name: k for k, name in reversed(list(enumerate(named)))}
    for name in named:
        if name and named.count(name) > 1:
            sheet.fail(sheet.header, None, f'the column "{name}" is there twice', _CURE)
    if other := _other(sheet):
        sheet.fail(sheet.header, None, f"this is {other[0]}, not a pattern", other[1])
    missing = [name for name in _ALWAYS if name not in columns]
    pairs = [pair for pair in _PLACES if set(pair) <= columns.keys()]
    if missing or not pairs:
        what = ", ".join(missing) or "x and y, or along and out"
        sheet.fail(sheet.header, None, f"the table has no column {what}", _CURE)
    if len(pairs) > 1:
        sheet.fail(
            sheet.header,
            None,
            "the table has both x, y and along, out",
            "Give a table of its own to what was measured the other way.",
        )
    first, second = pairs[0]
    return {**columns, "first": columns[first], "second": columns[second]}


@dataclass(frozen=True)
class _Length:
    """A measure taken along the line from one point to another, mm."""

    row: Row
    start: str
    end: str
    length: float


@dataclass
class _Measured:
    """The rows of one piece."""

    name: str
    sheet: Sheet
    rows: list[Row] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    places: list[tuple[float, float]] = field(default_factory=list)
    corners: list[bool] = field(default_factory=list)
    lengths: list[_Length] = field(default_factory=list)

    def piece(self) -> tuple[Piece, dict[str, int]]:
        """The piece, and the vertex of each point by its name."""
        where = self.sheet.where(self.rows[0]) if self.rows else self.sheet.name
        if len(self.places) < 3:
            raise InputError(
                f'"{self.name}" has {len(self.places)} points, too few for a piece',
                where=where,
                cure="Measure each corner, and a few points of every curve.",
            )
        points, corner, names = np.array(self.places), np.array(self.corners), list(self.names)
        x, y = (points - points[0]).T
        if float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) < 0:
            points, corner, names = points[::-1], corner[::-1], names[::-1]
        again = np.flatnonzero((points == np.roll(points, -1, axis=0)).all(axis=1))
        if len(again):
            twice = names[int(again[0])] or "a point"
            raise InputError(
                f'"{self.name}": {twice} lies where the next point lies',
                where=where,
                cure="Take one of them out; the line closes by itself.",
            )
        try:
            path = _line(points, corner)
        except GeometryError as error:
            raise error.at(where) from None
        if crossed := [c for c in self_crossings(path) if c.kind != "touch"]:
            across, up = crossed[0].point
            raise InputError(
                f'"{self.name}" crosses itself at {across:.0f}, {up:.0f} mm',
                where=where,
                cure="Give the points in their order round the piece; look for one misread.",
            )
        first = int(np.flatnonzero(corner)[0]) if corner.any() else 0
        vertices = {n: (k - first) % len(names) for k, n in enumerate(names)}
        # A bare number means a corner, so such a name gets a letter; all show in the picture.
        said = [Point(v, f"p{n}" if n.isdigit() else n) for n, v in vertices.items()]
        said.sort(key=lambda p: p.vertex)
        turned = np.flatnonzero(np.roll(corner, -first))
        outline = Outline(path, tuple(int(v) for v in turned), tuple(said))
        return Piece(self.name, outline), vertices

    def compared(self, piece: Piece, vertices: dict[str, int]) -> list[Finding]:
        """What was measured along the line against the line drawn, the largest misfit first."""
        at, whole = piece.outline.path.cumulative, piece.outline.path.length
        misfits: list[tuple[float, _Length, float]] = []
        for one in self.lengths:
            for end in (one.start, one.end):
                if end not in vertices:
                    known = ", ".join(n for n in vertices) or "none"
                    self.sheet.fail(
                        one.row, None, f'"{self.name}" has no point "{end}"', f"Points: {known}."
                    )
            a, b = vertices[one.start], vertices[one.end]
            round_ = float((at[b] - at[a]) % whole) or whole
            # Whichever way the tape went round.
            drawn = min(round_, whole - round_ or whole, key=lambda s: abs(s - one.length))
            misfits.append((drawn - one.length, one, drawn))
        misfits.sort(key=lambda m: -abs(m[0]))
        found = []
        for k, (off, one, drawn) in enumerate(misfits):
            wrong = abs(off) > max(_TAPE, _TAPE_SHARE * one.length)
            if not wrong and k:
                continue
            most = "the largest misfit: " if len(misfits) > 1 and not k else ""
            text = (
                f"{most}{one.start}..{one.end} is {both(drawn)} on the drawing and "
                f"{both(one.length)} by the tape"
            )
            if abs(off) >= _TOLD:
                away = "longer" if off > 0 else "shorter"
                text += f", {format_length(abs(off), Unit.MM)} {away}"
            cure = "Measure the points there again, and more of them where the curve bends."
            found.append(
                Finding(
                    "tape-misfit" if wrong else "tape-fits",
                    "warn" if wrong else "note",
                    text,
                    self.name,
                    cure=cure if wrong else "",
                )
            )
        return found


def _take(
    sheet: Sheet,
    row: Row,
    columns: dict[str, int],
    pieces: dict[str, _Measured],
    units: Unit | None,
    above: dict[str, str],
) -> None:
    """One row into its piece; `above` is what rows above said of piece and unit."""

    def cell(name: str) -> str:
        k = columns.get(name, len(row.cells))
        text = row.cells[k] if k < len(row.cells) else ""
        if name in ("piece", "unit"):
            text = above[name] = text or above.get(name, "")
        return text

    if any(row.cells[len(sheet.header.cells) :]):
        what = "the row has more cells than the header has columns"
        sheet.fail(row, None, what, "Look for a comma in a number or a name, and put it in quotes.")
    title = plain_name(cell("piece"))
    if not title:
        sheet.fail(row, columns["piece"], "no piece is named", "Name it in its first row.")
    kind = cell("kind").casefold()
    if kind not in _KINDS:
        sheet.fail(
            row,
            columns["kind"],
            f'"{cell("kind")}" is no kind of point',
            f"Write {', '.join(_KINDS[:-1])} or {_KINDS[-1]}.",
        )
    unit = units
    if cell("unit"):
        try:
            unit = cells.unit(cell("unit"))
        except InputError as error:
            sheet.fail(row, columns["unit"], error.what, error.cure)
    if unit is None:
        sheet.fail(
            row,
            columns.get("unit"),
            "nothing says which unit the numbers are in",
            "Write cm, mm or in into a column unit, once in its first row; or add --units cm.",
        )

    def measure(name: str) -> float:
        try:
            return cells.length(cell(name), unit, most=_MOST, decimal_comma=sheet.decimal_commas)
        except InputError as error:
            sheet.fail(row, columns[name], error.what, error.cure)

    one = pieces.setdefault(title, _Measured(title, sheet))
    point = " ".join(cell("point").split())
    if kind == "length":
        start, dots, end = (part.strip() for part in point.partition(".."))
        if not (start and dots and end):
            sheet.fail(
                row,
                columns["point"],
                f'"{point}" does not say from where to where',
                "Write two points of the piece, as shoulder..underarm.",
            )
        length = measure("first")
        if length <= 0:
            sheet.fail(row, columns["first"], "a length is above zero", "Measure it again.")
        one.lengths.append(_Length(row, start, end, length))
        return
    if len(one.places) >= _POINTS:
        sheet.fail(row, None, f"a piece has more than {_POINTS} points", "Measure fewer.")
    point = point or str(len(one.names) + 1)
    if point in one.names:
        sheet.fail(
            row, columns["point"], f'"{point}" is there twice', "Give each point its own name."
        )
    one.rows.append(row)
    one.names.append(point)
    one.places.append((measure("first"), measure("second")))
    one.corners.append(kind == "corner")


def _line(points: Floats, corner: Sequence[bool] | np.ndarray) -> Path:
    """The closed line through `points` (m, 2), begun at its first corner, a vertex at each."""
    at = np.flatnonzero(corner)
    n = len(points)
    if not len(at):
        round_ = np.arange(-_LAP, n + _LAP + 1) % n
        lap = spline_through(points[round_])
        controls = lap.controls[_LAP : _LAP + n]
        return Path(controls, np.zeros(n, dtype=bool), True)
    parts = []
    for a, b in zip(at, [*at[1:], at[0] + n], strict=True):
        part = points[np.arange(a, b + 1) % n]
        parts.append(spline_through(part) if len(part) > 2 else Path.polyline(part))
    return Path.join(parts, closed=True)
