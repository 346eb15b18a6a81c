"""Double-pointed darts, inside a piece."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from sizewright.drafting import Edit, Ring, Settled, Span, Zone
from sizewright.errors import GeometryError, InputError
from sizewright.geometry import Path, contains, crossings
from sizewright.model import Mark, Pattern, Piece, axis_frame
from sizewright.plugin import Values
from sizewright.units import both

from .planned import Asked


def doubled(pattern: Pattern, asked: Asked, values: Values) -> Edit:
    """The edit that marks double-pointed darts: `take` wide at their places, upright by the axis.

    Raises InputError where a length is missing, and, when done, GeometryError for one that
    leaves its piece.
    """
    lengths = values["length-up"], values["length-down"]
    if None in lengths:
        raise InputError(
            "a double dart needs both of its lengths",
            cure='Say length-up = "10 cm" and length-down = "12 cm".',
        )
    if asked.across or asked.length is not None or asked.tip is not None:
        raise InputError(
            "a double dart lies within its piece, with a length up and a length down",
            cure="Leave length, tip and across out.",
        )

    def edit(pieces: Mapping[str, Piece], settled: Settled) -> dict[str, Ring]:
        rings = {}
        for name, piece in pieces.items():
            frame, _ = axis_frame(piece)
            take = asked.each(pattern, piece)
            above, below = (one.of(pattern, piece) for one in lengths)
            marks: list[Mark] = []
            for place in asked.places(name):
                middle = settled.place(piece, place).point
                apart = 0.0 if asked.apart is None else asked.apart.of(pattern, piece)
                if asked.count > 1 and not apart:
                    apart = take + 25.4
                for k in range(asked.count):
                    at = middle + frame.out * apart * (k - (asked.count - 1) / 2)
                    out, up = frame.out * take / 2, frame.up
                    shape = Path.polyline(
                        [at - up * below, at + out, at + up * above, at - out], closed=True
                    )
                    words = asked.name or "double-dart"
                    if asked.count * len(asked.places(name)) > 1:
                        words = f"{words}-{len(marks) + 1}"
                    mark = Mark(shape, "dart", words)
                    _check(piece, mark, marks, place.text)
                    marks.append(mark)
            zone = Zone(piece)
            step = f"double dart, {both(take)} wide, {both(above)} up and {both(below)} down"
            rings[name] = Ring([Span(zone, 0, 0)], step, marks=tuple(marks))
        return rings

    return edit


def _check(piece: Piece, mark: Mark, made: list[Mark], place: str) -> None:
    path = piece.outline.path
    others = [m.path for m in (*piece.marks, *made) if m.kind == "dart"]
    others += [c.path for c in piece.cutouts]
    for dart in piece.darts:
        a, b = (piece.outline.vertex_at(v) for v in (dart.a, dart.b))
        others.append(Path.polyline(np.array([a, dart.apex, b])))
    met = [c.point for line in (path, *others) for c in crossings(mark.path, line)]
    if not met and not np.all(contains(path, mark.path.vertices)):
        met = [mark.path.vertices[0]]
    if met:
        x, y = met[0]
        raise GeometryError(
            f'the dart "{mark.name}" would leave the piece or meet another near ({x:.0f}, {y:.0f})',
            where=f'{piece.title}: place "{place}"',
            cure="Take another place, a smaller take or shorter lengths.",
        )
