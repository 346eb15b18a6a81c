"""DXF of release 2000, as text: curves, long texts, data and groups of entities.

`r2000.txt` is the drawing without entities, as ezdxf writes it with its fixed marks (dates,
version, GUIDs), and a `%(name)s` for each thing that differs.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import count
from pathlib import Path as FilePath

import numpy as np

from ...geometry.types import Floats
from ...units import Unit
from .sheet import Place, Sheet, Tag, written
from .units import unit_codes

_SHELL = FilePath(__file__).with_name("r2000.txt")
#: The first handle that the shell has not, its sheet, and its dictionary of groups.
_FIRST, _SPACE, _GROUPS = 0x2F, "17", "C"
_CLOSED, _PLANAR = 1, 8
#: A text of several lines is told in strings of so many letters.
_LONGEST = 250


class R2000(Sheet):
    """A drawing in the making whose places and lengths come in its own unit, mm or inches.

    Numbers are true to 1e-7 mm. `layers` gives each name its colour (ACI); `appid` is the
    name under which entities bear data.
    """

    def __init__(self, unit: Unit, layers: Mapping[str, int], appid: str) -> None:
        super().__init__(unit, 7 if unit is Unit.MM else 9)
        self._insunits, self._measurement = unit_codes(unit)
        self._appid = appid
        self._handles = count(_FIRST)
        rows = []
        for name, colour in layers.items():
            row: list[Tag] = [(0, "LAYER"), (5, self._handle()), (330, 1)]
            row += [(100, "AcDbSymbolTableRecord"), (100, "AcDbLayerTableRecord"), (2, name)]
            row += [(70, 0), (62, colour), (6, "Continuous"), (370, -3), (390, 13)]
            rows.append(written(row))
        self._layers = rows
        self._appid_handle = self._handle()
        #: For each entity its handle, and where in `parts` its group is to be told.
        self._entities: list[tuple[str, int]] = []
        self._groups: dict[str, tuple[int, int]] = {}

    def __len__(self) -> int:
        """How many entities there are."""
        return len(self._entities)

    def lwpolyline(self, points: Floats, layer: str, *, closed: bool) -> None:
        """A LWPOLYLINE of straight chords, points (n, 2)."""
        self._entity("LWPOLYLINE", layer, "AcDbPolyline")
        self._tags((90, len(points)), (70, _CLOSED if closed else 0))
        self.parts += [
            f" 10\n{self.number(x)}\n 20\n{self.number(y)}\n" for x, y in points.tolist()
        ]

    def spline(self, cubics: Floats, layer: str, *, closed: bool) -> None:
        """Cubics in a row, (n, 4, 2), as a SPLINE of degree 3 with their own control points."""
        n = len(cubics)
        points = np.vstack([cubics[:, :3].reshape(-1, 2), cubics[-1:, 3]]).tolist()
        knots = [0.0, *(float(k) for k in range(n + 1) for _ in range(3)), float(n)]
        self._entity("SPLINE", layer, "AcDbSpline")
        self._tags((70, _PLANAR | (_CLOSED if closed else 0)), (71, 3))
        self._tags((72, len(knots)), (73, len(points)), (74, 0))
        self.parts += [f" 40\n{knot!r}\n" for knot in knots]
        for x, y in points:
            self.parts.append(f" 10\n{self.number(x)}\n 20\n{self.number(y)}\n 30\n0.0\n")

    def text(
        self, words: str, at: Place, height: float, layer: str | int, *, angle: float = 0.0
    ) -> None:
        """A TEXT from its baseline's start; `angle` in degrees."""
        super().text(letters(words), at, _height(height), layer, angle=angle)

    def mtext(self, codes: str, at: Place, height: float, layer: str, *, angle: float) -> None:
        """A MTEXT from its top left; `codes` are its words with the codes of such texts."""
        self._entity("MTEXT", layer, "AcDbMText")
        self._place(10, at)
        self._tags((40, self.length(_height(height))), (71, 1))
        chunks: list[str] = []
        start = 0
        while start < len(codes) or not chunks:
            chunk = codes[start : start + _LONGEST]
            # A caret and its sign stay together.
            chunks.append(chunk[:-1] if len(chunk) == _LONGEST and chunk[-1] == "^" else chunk)
            start += len(chunks[-1])
        self._tags(*((3, letters(chunk)) for chunk in chunks[:-1]), (1, letters(chunks[-1])))
        if angle:
            self._tags((50, self.number(angle)))

    def data(self, strings: Iterable[str]) -> None:
        """Data of the entity that was drawn last."""
        self._tags((1001, self._appid), *((1000, string) for string in strings))

    def group(self, name: str, first: int) -> None:
        """The entities from number `first` on as a group, under a name not taken."""
        self._groups[name] = first, len(self)

    def to_bytes(self, bounds: tuple[float, float, float, float]) -> bytes:
        """The whole file. `bounds` in mm is the box that the drawing fills."""
        box = [round(self.unit.from_mm(v), 6) for v in bounds]
        low, high = box[:2], box[2:]
        names, groups = [], []
        for name, (first, end) in self._groups.items():
            group, members = self._handle(), self._entities[first:end]
            for _, place in members:
                self.parts[place] = _reactor(group)
            names.append(written([(3, letters(name)), (350, group)]))
            tags: list[Tag] = [(330, _GROUPS), (100, "AcDbGroup"), (300, ""), (70, 0), (71, 1)]
            tags += [(340, handle) for handle, _ in members]
            head = written([(0, "GROUP"), (5, group)])
            groups += [head, _reactor(_GROUPS), written(tags)]
        # Where the lower or the upper end is the origin, the header counts as not told.
        told = any(low) and any(high)
        whole = _SHELL.read_text("ascii") % {
            "low": self._extent(10, low if told else [1e20] * 3),
            "high": self._extent(10, high if told else [-1e20] * 3),
            "insunits": self._insunits,
            "measurement": self._measurement,
            "per_mm": self.number(0.03937007874),
            "layer_count": 2 + len(self._layers),
            "layers": "".join(self._layers),
            "appid": self._appid_handle,
            "entities": "".join(self.parts),
            "group_names": "".join(names),
            "lowest": self._extent(14, low),
            "highest": self._extent(15, high),
            "groups": "".join(groups),
            **{name: self._handle() for name in ("hatch", "ezdxf", "written", "next")},
        }
        return whole.encode("cp1252")

    def length(self, mm: float) -> str:
        """A length as it is written, which is in the drawing's own unit already."""
        return self.number(mm)

    def number(self, value: float) -> str:
        """A number as it is written."""
        return repr(value and round(value, self.places) + 0.0)

    def _handle(self) -> str:
        return f"{next(self._handles):X}"

    def _extent(self, code: int, at: list[float]) -> str:
        x, y, z = (*at, 0.0)[:3]
        return written([(code, repr(x)), (code + 10, repr(y)), (code + 20, repr(z))])

    def _entity(self, kind: str, layer: str | int, *classes: str) -> None:
        handle = self._handle()
        self._entities.append((handle, len(self.parts) + 1))
        rest = written([(330, _SPACE), (100, "AcDbEntity"), (8, layer)])
        self.parts += [f"  0\n{kind}\n  5\n{handle}\n", "", rest]
        self._classes(*classes)


def letters(text: str) -> str:
    """`text` in the letters of code page 1252, others as `\\U+` and their number."""
    if text.isascii():
        return text
    return "".join(c if c.isascii() else _letter(c) for c in text)


def _letter(sign: str) -> str:
    try:
        sign.encode("cp1252")
    except UnicodeEncodeError:
        number = ord(sign)
        if number <= 0xFF:
            return f"\\x{number:02x}"
        return f"\\U+{number:04x}" if number <= 0xFFFF else f"\\U+{number:08x}"
    return sign


def _height(height: float) -> float:
    """A letter height: a text that has none gets that of the format."""
    return height if height > 0.0 else 2.5


def _reactor(handle: str) -> str:
    return f"102\n{{ACAD_REACTORS\n330\n{handle}\n102\n}}\n"
