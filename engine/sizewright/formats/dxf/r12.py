"""DXF of release 12, as text: layers, and on the sheet only entities that every machine reads.

Group codes are those of the DXF reference for release 12, which needs neither handles nor
blocks. All lengths come in mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ...geometry.types import Floats
from ...units import Unit
from .units import unit_codes

Place = tuple[float, float] | Floats


class R12:
    """A flat drawing in the making, in mm or inches; `layers` gives each name its colour (ACI).

    Numbers are true to 1e-7 mm, where processors and libraries differ in what comes behind.
    """

    def __init__(self, unit: Unit, layers: Mapping[str, int]) -> None:
        self.unit = unit
        self.layers = layers
        self._places = 7 if unit is Unit.MM else 9
        self._lines: list[str] = []

    def line(self, start: Place, end: Place, layer: str) -> None:
        """A LINE."""
        self._tags((0, "LINE"), (8, layer), *self._at(start, 10), *self._at(end, 11))

    def polyline(self, points: Iterable[Place], layer: str, *, closed: bool) -> None:
        """A POLYLINE of straight chords."""
        self._tags((0, "POLYLINE"), (8, layer), (66, 1), *_ORIGIN, (70, int(closed)))
        for point in points:
            self._tags((0, "VERTEX"), (8, layer), *self._at(point, 10))
        self._tags((0, "SEQEND"), (8, layer))

    def circle(self, centre: Place, radius: float, layer: str) -> None:
        """A CIRCLE."""
        self._tags((0, "CIRCLE"), (8, layer), *self._at(centre, 10), (40, self._length(radius)))

    def text(self, words: str, at: Place, height: float, angle: float, layer: str) -> None:
        """A TEXT from its baseline's start; `angle` in degrees."""
        self._tags((0, "TEXT"), (8, layer), *self._at(at, 10), (40, self._length(height)))
        self._tags((1, words))
        if angle:
            self._tags((50, self._number(angle)))

    def to_bytes(self, bounds: tuple[float, float, float, float]) -> bytes:
        """The whole file, 7-bit. It says its unit as later releases do, which most heed."""
        entities, self._lines = self._lines, []
        insunits, measurement = unit_codes(self.unit)
        self._tags((0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1009"))
        self._tags((9, "$INSUNITS"), (70, insunits), (9, "$MEASUREMENT"), (70, measurement))
        self._tags((9, "$DWGCODEPAGE"), (3, "ANSI_1252"), (9, "$INSBASE"), *_ORIGIN)
        low, high = bounds[:2], bounds[2:]
        for name, corner in (("$EXTMIN", low), ("$EXTMAX", high)):
            self._tags((9, name), *self._at(corner, 10))
        for name, corner in (("$LIMMIN", low), ("$LIMMAX", high)):
            self._tags((9, name), *self._at(corner, 10)[:2])
        self._tags((0, "ENDSEC"), (0, "SECTION"), (2, "TABLES"), (0, "TABLE"), (2, "LTYPE"))
        self._tags((70, 1), (0, "LTYPE"), (2, "CONTINUOUS"), (70, 0), (3, "Solid line"))
        self._tags((72, 65), (73, 0), (40, "0.0"), (0, "ENDTAB"))
        layers = {"0": 7, **self.layers}
        self._tags((0, "TABLE"), (2, "LAYER"), (70, len(layers)))
        for name, colour in layers.items():
            self._tags((0, "LAYER"), (2, name), (70, 0), (62, colour), (6, "CONTINUOUS"))
        self._tags((0, "ENDTAB"), (0, "TABLE"), (2, "STYLE"), (70, 1), (0, "STYLE"))
        self._tags((2, "STANDARD"), (70, 0), (40, "0.0"), (41, "1.0"), (50, "0.0"), (71, 0))
        self._tags((42, "2.5"), (3, "txt"), (4, ""), (0, "ENDTAB"), (0, "ENDSEC"))
        self._tags((0, "SECTION"), (2, "ENTITIES"))
        head, self._lines = self._lines, entities
        end = ["  0\nENDSEC\n", "  0\nEOF\n"]
        return "".join([*head, *entities, *end]).encode("ascii")

    def _tags(self, *tags: tuple[int, str | int]) -> None:
        self._lines += [f"{code:>3}\n{value}\n" for code, value in tags]

    def _at(self, place: Place, code: int) -> list[tuple[int, str | int]]:
        x, y = (self._length(float(v)) for v in place)
        return [(code, x), (code + 10, y), (code + 20, "0.0")]

    def _length(self, mm: float) -> str:
        return self._number(self.unit.from_mm(mm))

    def _number(self, value: float) -> str:
        text = f"{value:.{self._places}f}".rstrip("0")
        text = text + "0" if text.endswith(".") else text
        return "0.0" if text == "-0.0" else text


_ORIGIN: list[tuple[int, str | int]] = [(10, "0.0"), (20, "0.0"), (30, "0.0")]
