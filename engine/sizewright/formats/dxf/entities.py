"""Everything that a DXF drawing shows, in mm: lines, points and texts, blocks resolved."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from ...budget import OverBudget
from ...errors import GeometryError, InputError
from ...findings import Finding
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import Vec
from ..drawing.shapes import PLAIN, Style, Text
from ..reading import SetAside
from .curves_in import Frame, NoCurve, curve_of
from .load import dxf_errors
from .texts import decoded, text_of
from .xdata import attributes_of

if TYPE_CHECKING:
    from ezdxf.document import Drawing

#: More than these a drawing may not show once its blocks are put in.
MOST_ENTITIES = 200_000
MOST_SEGMENTS = 1_000_000
#: Blocks in blocks deeper than this are refused.
DEEPEST = 30
_TEXTS = frozenset({"TEXT", "MTEXT", "ATTRIB"})
#: Kinds that say nothing to a pattern and are left out without a word.
_SILENT = frozenset({"ATTDEF", "VIEWPORT", "SEQEND"})
#: What data that make no sense raise.
_BROKEN = (
    *(GeometryError, ValueError, TypeError, AttributeError, LookupError),
    ArithmeticError,
)


def _broken() -> tuple[type[Exception], ...]:
    return (*_BROKEN, *dxf_errors())


class Insert(NamedTuple):
    """One placing of a block: its name, a number of its own, and the placing it stands in."""

    block: str
    number: int
    parent: Insert | None = None


class Entity(NamedTuple):
    """One thing that is drawn, in mm, y up.

    `kind` is the DXF type, `layer` where it shows (layer 0 of a block takes its insert's).
    Of `path`, `text` and `place` (a POINT) one is set. `insert` is the innermost placing of a
    block that it stands in. `attributes` are the ones that Sizewright wrote with it.
    """

    kind: str
    layer: str
    handle: str
    path: Path | None = None
    text: Text | None = None
    place: Vec | None = None
    insert: Insert | None = None
    style: Style = PLAIN
    attributes: Mapping[str, str] = MappingProxyType({})

    def shown(self) -> str:
        """The entity as messages show it."""
        return f"{self.kind} on layer {self.layer}" + (f" (#{self.handle})" if self.handle else "")


@dataclass
class Scene:
    """What is drawn, in the file's order; what was left out; what was found."""

    entities: list[Entity] = field(default_factory=list)
    set_aside: list[SetAside] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def entities_of(doc: Drawing, mm: float, shut: Collection[str] = ()) -> Scene:
    """All that the model space of `doc` shows; `mm` to one unit of the drawing.

    Nothing of what stands in blocks `shut` (their names, case folded) is told.

    Hidden entities and layers (off, frozen, never plotted), paper space, hatches, dimensions,
    meshes and references to other files are set aside. Raises InputError for drawings that
    show too much, or whose blocks hold themselves.
    """
    return _Walker(doc, shut).run(mm)


def block_entities(doc: Drawing, block: str, mm: float) -> Scene:
    """The same for what stands in one block, in the block's own coordinates."""
    return _Walker(doc).run(mm, block)


class _State(NamedTuple):
    frame: Frame
    insert: Insert | None = None
    layer: str = "0"
    blocks: tuple[str, ...] = ()


class _Walker:
    def __init__(self, doc: Drawing, shut: Collection[str] = ()) -> None:
        self.doc = doc
        self.shut = shut
        self.scene = Scene()
        self.count = 0
        self.segments = 0
        self.inserts = 0
        self.tilted = 0
        self.broken: list[str] = []
        self.hidden: dict[str, bool] = {}
        self.styles: dict[tuple[Any, ...], Style] = {}
        self._aside: dict[tuple[str, str, str], int] = {}

    def run(self, mm: float, block: str | None = None) -> Scene:
        layout: Any = self.doc.modelspace() if block is None else self.doc.blocks.get(block)
        # What overflows is found, and told, where lines and texts are placed.
        with np.errstate(over="ignore", invalid="ignore"):
            self._all(layout, _State(Frame.scaling(mm)))
        self._tell()
        return self.scene

    def _all(self, entities: Iterable[Any], state: _State) -> None:
        for entity in entities:
            self._count()
            kind = entity.dxftype()
            if kind in _SILENT:
                continue
            if not entity.dxf.is_supported("layer"):
                self._set_aside("", kind, "of a kind that is not known")
                continue
            said = entity.dxf.all_existing_dxf_attribs()
            layer = str(said.get("layer", "0"))
            layer = state.layer if layer == "0" else layer
            reason = self._unseen(said, layer)
            if reason:
                self._set_aside(layer, kind, reason)
            elif kind == "INSERT":
                self._insert(entity, layer, state)
            else:
                self._one(entity, said, layer, state)

    def _count(self) -> None:
        self.count += 1
        if self.count > MOST_ENTITIES or self.segments > MOST_SEGMENTS:
            raise InputError(
                f"the drawing shows more than {MOST_ENTITIES} things",
                cure="Take everything but the pieces out of it.",
            )

    # --- what is not seen -----------------------------------------------------------

    def _unseen(self, said: Mapping[str, Any], layer: str) -> str:
        if said.get("invisible"):
            return "invisible"
        if said.get("paperspace"):
            return "in paper space"
        key = layer.casefold()
        if key not in self.hidden:
            self.hidden[key] = self._hides(layer)
        return "on a hidden layer" if self.hidden[key] else ""

    def _hides(self, layer: str) -> bool:
        if layer.casefold() == "defpoints":
            return True
        try:
            table = self.doc.layers.get(layer)
            return bool(table.is_off() or table.is_frozen())
        except Exception:  # the layer is in no table: it shows
            return False

    def _set_aside(self, name: str, kind: str, reason: str) -> None:
        key = (name, kind.lower(), reason)
        self._aside[key] = self._aside.get(key, 0) + 1

    # --- one entity -------------------------------------------------------------------

    def _one(self, entity: Any, said: Mapping[str, Any], layer: str, state: _State) -> None:
        """Take one entity, of which the file has `said` these attributes."""
        kind = entity.dxftype()
        about: dict[str, Any] = {
            "kind": kind,
            "layer": decoded(layer),
            "handle": str(said.get("handle") or ""),
            "insert": state.insert,
            "style": self._style(entity, said),
        }
        try:
            if kind in _TEXTS:
                about["text"] = text_of(entity, state.frame)
                if about["text"] is None:
                    self._set_aside(layer, kind, "has no words")
                    return
            elif kind == "POINT":
                about["place"] = state.frame.spot(*entity.dxf.location)
            else:
                curve = curve_of(entity, state.frame)
                if curve is None:
                    self._set_aside(layer, kind, "has no length")
                    return
                self.segments += len(curve.path)
                self.tilted += curve.tilted
                about["path"] = curve.path
            if attributes := attributes_of(entity):
                about["attributes"] = attributes
            self.scene.entities.append(Entity(**about))
        except OverBudget:
            raise
        except NoCurve as why:
            self._set_aside(layer, kind, str(why))
        except _broken() as error:
            what = error.what if isinstance(error, GeometryError) else "its data make no sense"
            self._set_aside(layer, kind, f"cannot be drawn: {what}")
            self.broken.append(f"{kind} on layer {layer} (#{about['handle']}): {what}")

    def _style(self, entity: Any, said: Mapping[str, Any]) -> Style:
        key = tuple(map(said.get, _STYLING))
        if key not in self.styles:
            self.styles[key] = _style(entity)
        return self.styles[key]

    # --- blocks -------------------------------------------------------------------------

    def _insert(self, entity: Any, layer: str, state: _State) -> None:
        name = str(entity.dxf.get("name", ""))
        block = self.doc.blocks.get(name)
        if block is None:
            self._set_aside(layer, "INSERT", f'the block "{name}" is not there')
            self.broken.append(f'INSERT on layer {layer}: the block "{name}" is not there')
            return
        if getattr(block.block, "is_xref", False):
            self._set_aside(layer, "INSERT", f'"{name}" is in another file')
            self._warn(
                "outside-reference",
                f'"{name}" is drawn in another file, which was not opened',
                "Bind the reference into the drawing, or convert that file too.",
            )
            return
        key = name.casefold()
        if key in state.blocks:
            raise InputError(
                f'the block "{name}" holds itself', cure="Explode or redefine the block."
            )
        if len(state.blocks) >= DEEPEST:
            raise InputError(
                f"blocks stand in blocks more than {DEEPEST} deep", cure="Explode the outer ones."
            )
        first = True
        for matrix in self._placings(entity):
            self._count()
            self.inserts += 1
            insert = Insert(decoded(name), self.inserts, state.insert)
            inner = _State(state.frame.within(matrix), insert, layer, (*state.blocks, key))
            if key not in self.shut:
                self._all(block, inner)
            if first:
                # Attributes of the block stand in the coordinates round it.
                self._all(entity.attribs, _State(state.frame, insert, layer, state.blocks))
            first = False

    def _placings(self, entity: Any) -> Iterator[Floats]:
        """The maps (4, 4) of an insert, one for each place of its grid."""
        base = np.array([list(row) for row in entity.matrix44().rows()], dtype=np.float64).T
        if not np.isfinite(base).all() or not base[:3, :3].any():
            self._set_aside(str(entity.dxf.layer), "INSERT", "its scale is nothing")
            return
        rows = max(1, int(entity.dxf.get("row_count", 1)))
        columns = max(1, int(entity.dxf.get("column_count", 1)))
        if rows * columns > MOST_ENTITIES:
            raise InputError(
                f"a block is placed {rows} x {columns} times", cure="Take most of them out."
            )
        ocs = entity.ocs()
        angle = math.radians(float(entity.dxf.get("rotation", 0.0)))
        ux, uy = (np.array(tuple(v)) for v in (ocs.ux, ocs.uy))
        along = math.cos(angle) * ux + math.sin(angle) * uy
        across = -math.sin(angle) * ux + math.cos(angle) * uy
        along = along * float(entity.dxf.get("column_spacing", 0.0))
        across = across * float(entity.dxf.get("row_spacing", 0.0))
        done: set[tuple[float, ...]] = set()
        for row in range(rows):
            for column in range(columns):
                matrix = base.copy()
                matrix[:3, 3] += column * along + row * across
                key = tuple(matrix[:3, 3])
                if key not in done:
                    done.add(key)
                    yield matrix

    # --- what was found -------------------------------------------------------------------

    def _warn(self, code: str, text: str, cure: str = "") -> None:
        self.scene.findings.append(Finding(code, "warn", text, cure=cure))

    def _tell(self) -> None:
        for (name, kind, reason), count in self._aside.items():
            many = f" ({count} of them)" if count > 1 else ""
            self.scene.set_aside.append(SetAside(name, kind, reason + many))
        if self.tilted:
            self._warn(
                "non-planar",
                f"{self.tilted} line(s) leave the plane of the drawing; their heights were dropped",
                "Draw them flat: a slanted line is shorter seen from above.",
            )
        if self.broken:
            first = "; ".join(self.broken[:3])
            more = f"; and {len(self.broken) - 3} more" if len(self.broken) > 3 else ""
            self._warn("cannot-be-drawn", f"left out: {first}{more}")


#: The attributes that tell how an entity is drawn.
_STYLING = ("layer", "color", "true_color", "lineweight", "linetype")


def _style(entity: Any) -> Style:
    """How an entity is drawn, by itself or by its layer."""
    layers = getattr(entity.doc, "layers", None)
    name = entity.dxf.get("layer", "0")
    layer = layers.get(name) if layers is not None and layers.has_entry(name) else None
    colour = _rgb(entity) or (_rgb(layer) if layer is not None else "")
    width = int(entity.dxf.get("lineweight", -1))
    dashes = str(entity.dxf.get("linetype", "BYLAYER"))
    if layer is not None:
        width = int(layer.dxf.get("lineweight", -1)) if width == -1 else width
        dashes = layer.dxf.get("linetype", "") if dashes.upper() == "BYLAYER" else dashes
    solid = dashes.upper() in ("BYLAYER", "CONTINUOUS")
    return Style(colour, width / 100.0 if width >= 0 else None, "" if solid else dashes)


def _rgb(item: Any) -> str:
    """The colour that an entity or layer has itself, as `#rrggbb`; black is drawn as white too."""
    from ezdxf.colors import aci2rgb, int2rgb

    true = item.dxf.get("true_color")
    number = abs(int(item.dxf.get("color", 256)))
    if true is not None:
        red, green, blue = int2rgb(int(true))
    elif 0 < number < 256:
        red, green, blue = (0, 0, 0) if number == 7 else aci2rgb(number)
    else:
        return ""
    return f"#{red:02x}{green:02x}{blue:02x}"
