"""The blocks of an interchange drawing: one for each piece and size, placed as inserted."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from ...budget import OverBudget
from ...geometry import affine
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import Vec
from ..drawing.drafts import Gathered
from ..drawing.shapes import Text
from ..dxf.entities import Entity, block_entities
from ..dxf.texts import words_of
from ..dxf.xdata import APPID
from ..reading import SetAside
from .layers import BOUNDARY, CURVE, NOTCHES, TEXT, TURN, layer_number
from .texts import STYLE, labelled, rule_of

if TYPE_CHECKING:
    from ezdxf.document import Drawing

_LINES = frozenset({"LINE", "POLYLINE", "LWPOLYLINE", "SPLINE", "ARC", "CIRCLE", "ELLIPSE"})
#: Labels that no other kind of drawing has.
_TELLING = ("piecename", "stylename", "samplesize", "graderuletable")
#: Blocks with these beginnings are the drawing's own sheets.
_OWN = ("*model", "*paper", "$model", "$paper")


@dataclass
class Block:
    """What one block holds, in mm, where it is placed in the drawing.

    `paths` and `points` are by layer number; `depths` are those of notch points, in the
    order of `points` on their layer. `said` are its labelled texts, `rules` those of rule
    numbers with their layers, `texts` all others.
    """

    name: str
    paths: dict[int, list[Path]] = field(default_factory=dict)
    points: dict[int, list[Vec]] = field(default_factory=dict)
    depths: dict[int, list[float]] = field(default_factory=dict)
    texts: list[Text] = field(default_factory=list)
    rules: list[tuple[int | None, str, Vec]] = field(default_factory=list)
    said: dict[str, list[str]] = field(default_factory=dict)
    others: list[Entity] = field(default_factory=list)

    @property
    def is_piece(self) -> bool:
        """Whether it has a boundary."""
        return bool(self.paths.get(BOUNDARY))

    def first(self, label: str) -> str:
        """The first value of a label that is not blank; "" without any."""
        return next((v for v in self.said.get(label, ()) if v), "")


@dataclass
class Blocks:
    """All piece blocks of a drawing, and what its own sheet says of the style."""

    pieces: list[Block] = field(default_factory=list)
    said: dict[str, str] = field(default_factory=dict)
    out: Gathered = field(default_factory=Gathered)


def looks_like_interchange(doc: Drawing) -> bool:
    """Whether a drawing is in the interchange format, by its content.

    That is: a block with lines on layer 1, and either a labelled text that the format has, or
    turn or curve points in a block. Where names of layers stand for their numbers, only the
    texts of a style or a PIECE NAME count. Drawings that bear Sizewright's own data are not.
    """
    if APPID in doc.appids:
        return False
    numbered = named = points = piece = False
    for block in doc.blocks:
        if _is_own(block.name):
            continue
        for entity in block:
            if not entity.dxf.is_supported("layer"):
                continue  # of a kind that nothing is known of
            kind, name = entity.dxftype(), str(entity.dxf.get("layer", "0"))
            layer = layer_number(name)
            if kind in _LINES and layer == BOUNDARY:
                numbered, named = numbered or name.strip("0 ") == "1", True
            elif kind == "POINT":
                points = points or layer in (TURN, CURVE)
            elif kind in ("TEXT", "MTEXT"):
                piece = piece or _known(entity)
            if numbered and (points or piece):
                return True
    return named and any(
        e.dxftype() in ("TEXT", "MTEXT") and _tells(e)
        for layout in (doc.modelspace(), *doc.blocks)
        for e in layout
    )


def said_units(doc: Drawing) -> str:
    """What the UNITS text of a drawing says, in its sheet or else in a block; "" for none."""
    layouts = [doc.modelspace(), *(b for b in doc.blocks if not _is_own(b.name))]
    for layout in layouts:
        for entity in layout:
            if entity.dxftype() in ("TEXT", "MTEXT"):
                found = labelled(_plain(entity))
                if found is not None and found[0] == "units" and found[1]:
                    return found[1]
    return ""


def blocks_of(doc: Drawing, mm: float) -> Blocks:
    """The piece blocks of a drawing; `mm` to one of its units.

    A block is placed as it is inserted, scaled and turned; one that is mirrored is read as it
    is drawn, since rules count from its own axes; one that is not inserted as well. Each
    of these draws a finding.
    """
    return _Gatherer(doc, mm).run()


class _Gatherer:
    def __init__(self, doc: Drawing, mm: float) -> None:
        self.doc = doc
        self.mm = mm
        self.blocks = Blocks()
        self.out = self.blocks.out

    def run(self) -> Blocks:
        placed = self._inserts()
        whole: set[str] = set()
        for layout in self.doc.blocks:
            name = layout.name
            if _is_own(name) or getattr(layout.block, "is_xref", False):
                continue
            scene = block_entities(self.doc, name, self.mm)
            if not scene.set_aside:
                whole.add(name.casefold())
            own = [e for e in scene.entities if e.insert is None]
            if any(map(_is_boundary, own)) or not any(map(_is_boundary, scene.entities)):
                self._take(self._block(name, scene.entities), placed.get(name.casefold(), []))
                self.out.findings += scene.findings
        self._sheet(whole)
        return self.blocks

    def _inserts(self) -> dict[str, list[Floats]]:
        """The maps (2, 3) by which each block stands in the drawing, by name."""
        found: dict[str, list[Floats]] = {}
        inserts: Any = self.doc.modelspace().query("INSERT")
        for entity in inserts:
            rows = [list(row) for row in entity.matrix44().rows()]
            matrix = np.array(rows, dtype=np.float64).T
            m = np.column_stack([matrix[:2, :2], matrix[:2, 3] * self.mm])
            name = str(entity.dxf.get("name", ""))
            if np.isfinite(m).all() and affine.determinant(m) != 0:
                found.setdefault(name.casefold(), []).append(m)
            if self.doc.blocks.get(name) is None:
                text = f'the block "{name}" is inserted but not there'
                self.out.find("block-missing", "warn", text)
        return found

    def _block(self, name: str, entities: list[Entity]) -> Block:
        block = Block(name)
        for entity in entities:
            number = layer_number(entity.layer)
            if entity.text is not None:
                self._text(block, entity.text, number)
            elif number is None:
                block.others.append(entity)
            elif entity.path is not None:
                block.paths.setdefault(number, []).append(entity.path)
            elif entity.place is not None:
                block.points.setdefault(number, []).append(entity.place)
                if number in NOTCHES:
                    block.depths.setdefault(number, []).append(self._depth(entity))
        return block

    def _text(self, block: Block, text: Text, number: int | None) -> None:
        rest: list[str] = []
        for line in text.text.splitlines():
            found = labelled(line) if number != TEXT else None
            rule = rule_of(line) if number != TEXT else None
            if found is not None:
                block.said.setdefault(found[0], []).append(found[1])
            elif rule is not None:
                block.rules.append((number, rule, text.at))
            else:
                rest.append(line)
        if "".join(rest).strip():
            block.texts.append(text._replace(text="\n".join(rest)))

    def _depth(self, entity: Entity) -> float:
        raw: Any = self.doc.entitydb.get(entity.handle)
        depth = float(raw.dxf.get("thickness", 0.0)) * self.mm if raw is not None else 0.0
        return depth if 0.0 < depth < 100.0 else 0.0

    def _take(self, block: Block, places: list[Floats]) -> None:
        for key in sorted(STYLE & block.said.keys()):
            self.blocks.said.setdefault(key, block.first(key))
        if not block.is_piece:
            if (block.paths or block.said) and (places or not block.name.startswith("_")):
                reason = "a block without a boundary (layer 1)"
                self.out.set_aside.append(SetAside(block.name, "block", reason))
            return
        for entity in block.others:
            reason = f'on the layer "{entity.layer}", which the format has not'
            self.out.set_aside.append(SetAside(block.name, entity.kind.lower(), reason))
        self.blocks.pieces.append(self._placed(block, places))

    def _placed(self, block: Block, places: list[Floats]) -> Block:
        name = block.name
        if not places:
            text = f'the block "{name}" is never inserted; it was read where it is drawn'
            self.out.find("block-not-inserted", "note", text)
            return block
        if len(places) > 1:
            text = f'the block "{name}" is inserted {len(places)} times; it was read once'
            self.out.find("block-twice", "warn", text, "Say in QUANTITY how many are to be cut.")
        m = places[0]
        sx, sy = (float(np.hypot(*m[:, k])) for k in (0, 1))
        even = (
            abs(sx - sy) <= 1e-6 * max(sx, sy) and abs(float(m[:, 0] @ m[:, 1])) <= 1e-6 * sx * sy
        )
        if affine.determinant(m) < 0:
            self.out.find(
                "block-mirrored",
                "warn",
                f'the block "{name}" is inserted mirrored; it was read as it is drawn, so that '
                "its grade rules keep their axes",
                "Turn the piece over afterwards, if the other hand is meant.",
            )
            return _moved(block, affine.translation(float(m[0, 2]), float(m[1, 2])))
        if not even or abs(sx - 1.0) > 1e-6:
            scale = f"{sx:g}" if even else f"{sx:g} by {sy:g}"
            self.out.find(
                "block-scaled",
                "warn",
                f'the block "{name}" is inserted at a scale of {scale}',
                "Measure a length that you know before you cut.",
            )
        return _moved(block, m)

    def _sheet(self, whole: set[str]) -> None:
        """What stands in the drawing beside its blocks, and is set aside of any not `whole`."""
        from ..dxf.entities import entities_of

        scene = entities_of(self.doc, self.mm, whole)
        loose: dict[str, int] = {}
        for entity in scene.entities:
            if entity.insert is not None:
                continue
            for line in entity.text.text.splitlines() if entity.text else ():
                found = labelled(line)
                if found is not None:
                    self.blocks.said.setdefault(*found)
            if entity.text is None:
                loose[entity.kind] = loose.get(entity.kind, 0) + 1
        for kind, count in loose.items():
            reason = "outside the blocks" + (f" ({count} of them)" if count > 1 else "")
            self.out.set_aside.append(SetAside("", kind.lower(), reason))
        self.out.set_aside += scene.set_aside


def _moved(block: Block, m: Floats) -> Block:
    """The block with everything in it moved by an affine map."""
    if np.array_equal(m, affine.identity()):
        return block
    scale = float(np.sqrt(abs(affine.determinant(m))))
    turn = float(np.degrees(np.arctan2(m[1, 0], m[0, 0])))

    def vec(v: Vec) -> Vec:
        x, y = affine.apply(m, np.array(v))
        return float(x), float(y)

    return Block(
        block.name,
        {k: [p.transformed(m) for p in paths] for k, paths in block.paths.items()},
        {k: [vec(v) for v in places] for k, places in block.points.items()},
        {k: [d * scale for d in depths] for k, depths in block.depths.items()},
        [
            t._replace(at=vec(t.at), height=t.height * scale, angle=t.angle + turn)
            for t in block.texts
        ],
        [(layer, rule, vec(at)) for layer, rule, at in block.rules],
        block.said,
        block.others,
    )


def _is_own(name: str) -> bool:
    return name.casefold().startswith(_OWN)


def _is_boundary(entity: Entity) -> bool:
    return entity.path is not None and layer_number(entity.layer) == BOUNDARY


def _plain(entity: Any) -> str:
    try:
        return words_of(entity)
    except OverBudget:
        raise
    except Exception:  # a text that ezdxf cannot take apart says nothing
        return ""


def _known(entity: Any) -> bool:
    """Whether a text bears a label of the format."""
    return any(labelled(line) is not None for line in _plain(entity).splitlines())


def _tells(entity: Any) -> bool:
    """Whether a text bears a label that only this format has."""
    lines = _plain(entity).casefold().splitlines()
    return any(re.sub(r"[^a-z]", "", line).startswith(_TELLING) for line in lines)
