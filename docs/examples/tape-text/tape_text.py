"""Reads and writes patterns as text: corners measured with a tape."""

from sizewright.errors import InputError
from sizewright.findings import Finding
from sizewright.formats import Reading
from sizewright.geometry import Path
from sizewright.model import Outline, Pattern, Piece, Point
from sizewright.plugin import Output, Reader, Setting, Values, Writer, hookimpl
from sizewright.units import Unit

api = 1


@hookimpl
def add_readers() -> list[Reader]:
    kinds = ("sew", "cut", "unknown")
    line = Setting("line", "choice", "what the outlines are", "unknown", choices=kinds)
    help = "corners measured with a tape, as text"
    return [Reader("tape-text", help, lambda head, _: head.startswith(b"tape in "), read, (line,))]


def read(data: bytes, name: str, units: Unit | None, values: Values) -> Reading:
    head, *parts = data.decode("utf-8").split("piece ")
    unit = units or Unit[head.split()[2].upper()]
    pieces = []
    for part in parts:
        title, *rows = part.strip().splitlines()
        try:
            corners = [(float(x), float(y), *word) for x, y, *word in map(str.split, rows)]
        except ValueError:
            raise InputError("a corner is not X Y NAME", where=title, cure="As 14 0 hem.") from None
        path = Path.polyline([(unit.to_mm(c[0]), unit.to_mm(c[1])) for c in corners], closed=True)
        points = [Point(i, str(c[2])) for i, c in enumerate(corners) if len(c) > 2]
        pieces.append(Piece(title, Outline.of(path, points=points), kind=values["line"]))
    return Reading(Pattern(tuple(pieces)))


@hookimpl
def add_writers() -> list[Writer]:
    places = Setting("decimals", "count", "decimals of a centimetre", 2, low=0, high=6)
    return [Writer("tape-text", "corners as text, in cm", write, (".tape",), (places,))]


def write(pattern: Pattern, values: Values) -> Output:
    lines, curved = ["tape in cm"], []
    for piece in pattern.pieces:
        lines.append(f"piece {piece.title}")
        if not piece.outline.path.lines.all():
            curved.append(Finding("not-held", "warn", "its curves are straight now", piece.title))
        for vertex in piece.outline.corners:
            x, y = (f"{mm / 10:.{values['decimals']}f}" for mm in piece.outline.vertex_at(vertex))
            lines.append(f"{x} {y} {piece.outline.point(vertex).name or ''}".rstrip())
    return Output("\n".join([*lines, ""]).encode(), tuple(curved))
