"""DXF of release 13, as text: only what a drawing of blocks with plain entities needs.

Group codes are those of the DXF reference for release 13 (subclass markers, handles, a
table of block records, a dictionary of objects). All lengths come in mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import count

from ...geometry.types import Floats
from ...units import Unit

Place = tuple[float, float] | Floats
Tag = tuple[int, str | int]


class Sheet:
    """Entities of the drawing's own sheet or of one block; places and lengths in mm."""

    def __init__(self, doc: R13, owner: str) -> None:
        self._doc = doc
        self.owner = owner
        self.tags: list[Tag] = []

    def point(self, at: Place, layer: int, *, thickness: float = 0.0) -> None:
        """A POINT; `thickness` (group 39) holds the depth of a notch."""
        self._entity("POINT", layer, "AcDbPoint")
        self._place(10, at)
        if thickness:
            self.tags.append((39, self._doc.number(thickness)))

    def line(self, start: Place, end: Place, layer: int) -> None:
        """A LINE."""
        self._entity("LINE", layer, "AcDbLine")
        self._place(10, start)
        self._place(11, end)

    def polyline(self, points: Sequence[Place] | Floats, layer: int, *, closed: bool) -> None:
        """A POLYLINE of straight chords."""
        self._entity("POLYLINE", layer, "AcDb2dPolyline")
        self.tags += [(66, 1), (10, "0.0"), (20, "0.0"), (30, "0.0"), (70, 1 if closed else 0)]
        for point in points:
            self._entity("VERTEX", layer, "AcDbVertex", "AcDb2dVertex")
            self._place(10, point)
        self._entity("SEQEND", layer)

    def text(self, text: str, at: Place, height: float, layer: int, *, angle: float = 0.0) -> None:
        """A TEXT; `angle` in degrees."""
        self._entity("TEXT", layer, "AcDbText")
        self._place(10, at)
        self.tags += [(40, self._doc.number(height)), (1, text)]
        if angle:
            self.tags.append((50, self._doc.decimal(angle)))
        self.tags.append((100, "AcDbText"))

    def insert(self, block: str, layer: int) -> None:
        """An INSERT at the origin, neither scaled nor turned."""
        self._entity("INSERT", layer, "AcDbBlockReference")
        self.tags.append((2, block))
        self._place(10, (0.0, 0.0))

    def _entity(self, kind: str, layer: int, *classes: str) -> None:
        self._doc.layers.add(layer)
        self.tags += [(0, kind), (5, self._doc.handle()), (100, "AcDbEntity"), (8, str(layer))]
        self.tags += [(100, name) for name in classes]

    def _place(self, code: int, at: Place) -> None:
        number = self._doc.number
        self.tags += [(code, number(float(at[0]))), (code + 10, number(float(at[1])))]
        self.tags.append((code + 20, "0.0"))


class R13:
    """A drawing in the making, in mm or inches.

    A coordinate has so many decimals that it is true to a tenth of a micrometre or finer.
    `layers` are those that bear something.
    """

    def __init__(self, unit: Unit) -> None:
        self.unit = unit
        self.places = {Unit.MM: 4, Unit.IN: 6}[unit]
        self.layers: set[int] = set()
        self._handles = count(1)
        self.sheet = Sheet(self, self.handle())
        self._paper = self.handle()
        self.blocks: dict[str, Sheet] = {}

    def handle(self) -> str:
        """The next handle."""
        return f"{next(self._handles):X}"

    def number(self, mm: float) -> str:
        """A length or coordinate as it is written."""
        return self.decimal(self.unit.from_mm(mm))

    def decimal(self, value: float) -> str:
        """A number as it is written."""
        text = f"{value:.{self.places}f}".rstrip("0")
        text = text + "0" if text.endswith(".") else text
        return "0.0" if text == "-0.0" else text

    def block(self, name: str) -> Sheet:
        """A new, empty block."""
        made = self.blocks[name] = Sheet(self, self.handle())
        return made

    def to_bytes(self, bounds: tuple[float, float, float, float], note: str) -> bytes:
        """The whole file, 7-bit, lines ended by CR LF."""
        body = [
            *self._tables(sorted(self.layers)),
            *self._blocks(),
            *_section("ENTITIES", self.sheet.tags),
            *self._objects(),
        ]
        tags = [(999, note), *self._header(bounds), *_section("CLASSES", []), *body, (0, "EOF")]
        return "".join(f"{code:>3}\r\n{value}\r\n" for code, value in tags).encode("ascii")

    def _header(self, bounds: tuple[float, float, float, float]) -> list[Tag]:
        x0, y0, x1, y1 = (self.number(v) for v in bounds)
        tags: list[Tag] = [(9, "$ACADVER"), (1, "AC1012"), (9, "$DWGCODEPAGE"), (3, "ansi_1252")]
        tags += [(9, "$INSBASE"), (10, "0.0"), (20, "0.0"), (30, "0.0")]
        tags += [(9, "$EXTMIN"), (10, x0), (20, y0), (30, "0.0")]
        tags += [(9, "$EXTMAX"), (10, x1), (20, y1), (30, "0.0")]
        tags += [(9, "$PDMODE"), (70, 3), (9, "$HANDSEED"), (5, f"{0x10000000:X}")]
        return _section("HEADER", tags)

    def _table(self, name: str, entries: list[tuple[str, list[Tag]]]) -> list[Tag]:
        tags: list[Tag] = [(0, "TABLE"), (2, name), (5, self.handle()), (100, "AcDbSymbolTable")]
        tags.append((70, len(entries)))
        for marker, rest in entries:
            own: list[Tag] = list(rest)
            given = next((v for code, v in own if code == 5), None)
            handle = given if given is not None else self.handle()
            own = [t for t in own if t[0] != 5]
            tags += [(0, name), (105 if name == "DIMSTYLE" else 5, handle)]
            tags += [(100, "AcDbSymbolTableRecord"), (100, marker), *own]
        return [*tags, (0, "ENDTAB")]

    def _tables(self, layers: list[int]) -> list[Tag]:
        view: list[Tag] = [(2, "*ACTIVE"), (70, 0), (10, "0.0"), (20, "0.0"), (11, "1.0")]
        view += [(21, "1.0"), (12, "0.0"), (22, "0.0"), (40, "1000.0"), (41, "1.0")]
        types = []
        for name in ("BYBLOCK", "BYLAYER", "CONTINUOUS"):
            kind: list[Tag] = [(2, name), (70, 0), (3, ""), (72, 65), (73, 0), (40, "0.0")]
            types.append(("AcDbLinetypeTableRecord", kind))
        rows = []
        for layer in ("0", *map(str, layers)):
            row: list[Tag] = [(2, layer), (70, 0), (62, 7), (6, "CONTINUOUS")]
            rows.append(("AcDbLayerTableRecord", row))
        style: list[Tag] = [(2, "STANDARD"), (70, 0), (40, "0.0"), (41, "1.0"), (50, "0.0")]
        style += [(71, 0), (42, "2.5"), (3, "txt"), (4, "")]
        records: list[tuple[str, list[Tag]]] = [
            ("AcDbBlockTableRecord", [(2, name), (5, owner)]) for name, owner in self._owners()
        ]
        return _section(
            "TABLES",
            [
                *self._table("VPORT", [("AcDbViewportTableRecord", view)]),
                *self._table("LTYPE", types),
                *self._table("LAYER", rows),
                *self._table("STYLE", [("AcDbTextStyleTableRecord", style)]),
                *self._table("VIEW", []),
                *self._table("UCS", []),
                *self._table("APPID", [("AcDbRegAppTableRecord", [(2, "ACAD"), (70, 0)])]),
                *self._table("DIMSTYLE", [("AcDbDimStyleTableRecord", [(2, "STANDARD"), (70, 0)])]),
                *self._table("BLOCK_RECORD", records),
            ],
        )

    def _owners(self) -> list[tuple[str, str]]:
        own = [("*MODEL_SPACE", self.sheet.owner), ("*PAPER_SPACE", self._paper)]
        return [*own, *((name, sheet.owner) for name, sheet in self.blocks.items())]

    def _blocks(self) -> list[Tag]:
        tags: list[Tag] = []
        for name, _ in self._owners():
            entity: list[Tag] = [(5, self.handle()), (100, "AcDbEntity")]
            if name == "*PAPER_SPACE":
                entity.append((67, 1))
            entity.append((8, "0"))
            tags += [(0, "BLOCK"), *entity, (100, "AcDbBlockBegin"), (2, name), (70, 0)]
            tags += [(10, "0.0"), (20, "0.0"), (30, "0.0"), (3, name), (1, "")]
            tags += self.blocks[name].tags if name in self.blocks else []
            tags += [(0, "ENDBLK"), (5, self.handle()), *entity[1:], (100, "AcDbBlockEnd")]
        return _section("BLOCKS", tags)

    def _objects(self) -> list[Tag]:
        root, group = self.handle(), self.handle()
        tags: list[Tag] = [(0, "DICTIONARY"), (5, root), (330, "0"), (100, "AcDbDictionary")]
        tags += [(3, "ACAD_GROUP"), (350, group)]
        tags += [(0, "DICTIONARY"), (5, group), (102, "{ACAD_REACTORS"), (330, root), (102, "}")]
        tags.append((330, root))
        return _section("OBJECTS", [*tags, (100, "AcDbDictionary")])


def _section(name: str, tags: Iterable[Tag]) -> list[Tag]:
    return [(0, "SECTION"), (2, name), *tags, (0, "ENDSEC")]
