"""DXF of release 13, as text: only what a drawing of blocks with plain entities needs.

Group codes are those of the DXF reference for release 13 (subclass markers, handles, a
table of block records, a dictionary of objects). All lengths come in mm.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count

from ...units import Unit
from ..dxf.sheet import ORIGIN, Sheet, Tag, written


class Space(Sheet):
    """The drawing's own sheet, or one block."""

    def __init__(self, doc: R13, owner: str) -> None:
        super().__init__(doc.unit, doc.places)
        self._doc = doc
        self.owner = owner

    def insert(self, block: str, layer: int) -> None:
        """An INSERT at the origin, neither scaled nor turned."""
        self._entity("INSERT", layer, "AcDbBlockReference")
        self._tags((2, block), *ORIGIN)

    def _entity(self, kind: str, layer: str | int, *classes: str) -> None:
        self._doc.layers.add(int(layer))
        self._tags((0, kind), (5, self._doc.handle()), (100, "AcDbEntity"), (8, layer))
        self._classes(*classes)


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
        self.sheet = Space(self, self.handle())
        self._paper = self.handle()
        self.blocks: dict[str, Space] = {}

    def handle(self) -> str:
        """The next handle."""
        return f"{next(self._handles):X}"

    def block(self, name: str) -> Space:
        """A new, empty block."""
        made = self.blocks[name] = Space(self, self.handle())
        return made

    def to_bytes(self, bounds: tuple[float, float, float, float], note: str) -> bytes:
        """The whole file, 7-bit, lines ended by CR LF."""
        whole = [
            written([(999, note)]),
            _section("HEADER", written(self._header(bounds))),
            _section("CLASSES", ""),
            _section("TABLES", written(self._tables(sorted(self.layers)))),
            _section("BLOCKS", "".join(self._blocks())),
            _section("ENTITIES", "".join(self.sheet.parts)),
            _section("OBJECTS", written(self._objects())),
            written([(0, "EOF")]),
        ]
        return "".join(whole).replace("\n", "\r\n").encode("ascii")

    def _header(self, bounds: tuple[float, float, float, float]) -> list[Tag]:
        x0, y0, x1, y1 = (self.sheet.length(v) for v in bounds)
        tags: list[Tag] = [(9, "$ACADVER"), (1, "AC1012"), (9, "$DWGCODEPAGE"), (3, "ansi_1252")]
        tags += [(9, "$INSBASE"), *ORIGIN]
        tags += [(9, "$EXTMIN"), (10, x0), (20, y0), (30, "0.0")]
        tags += [(9, "$EXTMAX"), (10, x1), (20, y1), (30, "0.0")]
        return [*tags, (9, "$PDMODE"), (70, 3), (9, "$HANDSEED"), (5, f"{0x10000000:X}")]

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
        return [
            *self._table("VPORT", [("AcDbViewportTableRecord", view)]),
            *self._table("LTYPE", types),
            *self._table("LAYER", rows),
            *self._table("STYLE", [("AcDbTextStyleTableRecord", style)]),
            *self._table("VIEW", []),
            *self._table("UCS", []),
            *self._table("APPID", [("AcDbRegAppTableRecord", [(2, "ACAD"), (70, 0)])]),
            *self._table("DIMSTYLE", [("AcDbDimStyleTableRecord", [(2, "STANDARD"), (70, 0)])]),
            *self._table("BLOCK_RECORD", records),
        ]

    def _owners(self) -> list[tuple[str, str]]:
        own = [("*MODEL_SPACE", self.sheet.owner), ("*PAPER_SPACE", self._paper)]
        return [*own, *((name, sheet.owner) for name, sheet in self.blocks.items())]

    def _blocks(self) -> Iterator[str]:
        for name, _ in self._owners():
            entity: list[Tag] = [(5, self.handle()), (100, "AcDbEntity")]
            if name == "*PAPER_SPACE":
                entity.append((67, 1))
            entity.append((8, "0"))
            yield written([(0, "BLOCK"), *entity, (100, "AcDbBlockBegin"), (2, name), (70, 0)])
            yield written([*ORIGIN, (3, name), (1, "")])
            yield from self.blocks[name].parts if name in self.blocks else []
            entity[0] = (5, self.handle())
            yield written([(0, "ENDBLK"), *entity, (100, "AcDbBlockEnd")])

    def _objects(self) -> list[Tag]:
        root, group = self.handle(), self.handle()
        tags: list[Tag] = [(0, "DICTIONARY"), (5, root), (330, "0"), (100, "AcDbDictionary")]
        tags += [(3, "ACAD_GROUP"), (350, group)]
        tags += [(0, "DICTIONARY"), (5, group), (102, "{ACAD_REACTORS"), (330, root), (102, "}")]
        return [*tags, (330, root), (100, "AcDbDictionary")]


def _section(name: str, text: str) -> str:
    return written([(0, "SECTION"), (2, name)]) + text + written([(0, "ENDSEC")])
