"""DXF of release 12, as text: layers, and on the sheet only entities that every machine reads.

Release 12 needs neither handles nor blocks.
"""

from __future__ import annotations

from collections.abc import Mapping

from ...units import Unit
from .sheet import ORIGIN, Sheet, Tag, written
from .units import unit_codes


class R12(Sheet):
    """A flat drawing in mm or inches, true to 1e-7 mm; `layers` gives each its colour (ACI)."""

    def __init__(self, unit: Unit, layers: Mapping[str, int]) -> None:
        super().__init__(unit, 7 if unit is Unit.MM else 9)
        self.layers = layers

    def to_bytes(self, bounds: tuple[float, float, float, float]) -> bytes:
        """The whole file, 7-bit. It says its unit as later releases do, which most heed."""
        insunits, measurement = unit_codes(self.unit)
        x0, y0, x1, y1 = (self.length(v) for v in bounds)
        tags: list[Tag] = [(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1009")]
        tags += [(9, "$INSUNITS"), (70, insunits), (9, "$MEASUREMENT"), (70, measurement)]
        tags += [(9, "$DWGCODEPAGE"), (3, "ANSI_1252"), (9, "$INSBASE"), *ORIGIN]
        tags += [(9, "$EXTMIN"), (10, x0), (20, y0), (30, "0.0")]
        tags += [(9, "$EXTMAX"), (10, x1), (20, y1), (30, "0.0")]
        tags += [(9, "$LIMMIN"), (10, x0), (20, y0), (9, "$LIMMAX"), (10, x1), (20, y1)]
        tags += [(0, "ENDSEC"), (0, "SECTION"), (2, "TABLES"), (0, "TABLE"), (2, "LTYPE")]
        tags += [(70, 1), (0, "LTYPE"), (2, "CONTINUOUS"), (70, 0), (3, "Solid line")]
        tags += [(72, 65), (73, 0), (40, "0.0"), (0, "ENDTAB")]
        layers = {"0": 7, **self.layers}
        tags += [(0, "TABLE"), (2, "LAYER"), (70, len(layers))]
        for name, colour in layers.items():
            tags += [(0, "LAYER"), (2, name), (70, 0), (62, colour), (6, "CONTINUOUS")]
        tags += [(0, "ENDTAB"), (0, "TABLE"), (2, "STYLE"), (70, 1), (0, "STYLE")]
        tags += [(2, "STANDARD"), (70, 0), (40, "0.0"), (41, "1.0"), (50, "0.0"), (71, 0)]
        tags += [(42, "2.5"), (3, "txt"), (4, ""), (0, "ENDTAB"), (0, "ENDSEC")]
        tags += [(0, "SECTION"), (2, "ENTITIES")]
        end = written([(0, "ENDSEC"), (0, "EOF")])
        return "".join([written(tags), *self.parts, end]).encode("ascii")

    def _entity(self, kind: str, layer: str | int, *classes: str) -> None:
        self._tags((0, kind), (8, layer))

    def _classes(self, *names: str) -> None:
        pass
