"""The `curves` profile: everything that the pattern says, for a trip without loss.

The drawing is the one that the SVG writer makes: the same shapes with the same attributes,
which ride on the entities as extended data (docs/files.md). So one set of conventions holds
for both, and what one reader learns the other knows.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from ...findings import Finding
from ...geometry import affine
from ...geometry.types import Floats
from ...model import Pattern
from ...units import Unit
from ..drawing.shapes import Element, Shape, Text
from .curves_out import add_path
from .drawing import drawing_of, piece_node, role_of
from .entities import words_of
from .inside import bounds_of, name_place
from .layers import CURVES
from .saving import new_document, to_bytes
from .written import Written
from .xdata import APPID, set_attributes

if TYPE_CHECKING:
    from ezdxf.document import Drawing

#: Signs that mean something in MTEXT.
_MTEXT = str.maketrans({"\\": "\\\\", "{": "\\{", "}": "\\}", "\n": "\\P"})
_FORBIDDEN_IN_NAMES = str.maketrans(dict.fromkeys('<>/\\":;?*|=,`', "-"))


def write_curves(pattern: Pattern, unit: Unit = Unit.MM) -> Written:
    """The pattern as DXF R2000 whose splines are the pattern's own cubics.

    `unit` is mm or inches. Each piece is a group of entities on layers by role.
    """
    drawing = drawing_of(pattern)
    doc = new_document("R2000", unit, dict(CURVES.values()))
    doc.appids.add(APPID)
    pen = _Pen(doc, drawing.shift, unit.from_mm(1.0))
    pen.root(drawing.root, pattern)
    for drawn in drawing.shapes:
        pen.draw(drawn)
    pen.names(pattern)
    pen.group()
    data = to_bytes(doc, unit, bounds=bounds_of(pattern))
    return Written(data, (*drawing.findings, *pen.findings))


def _shows(entity: Any, about: dict[str, str]) -> Any:
    """Note what a text entity will show once read, where that is another text."""
    kept = str(entity.dxf.text if entity.dxftype() == "TEXT" else entity.text)
    again = entity.copy()
    written = entity.doc.encode(kept).decode("cp1252")
    if entity.dxftype() == "TEXT":
        again.dxf.text = written
    else:
        again.text = written
    shown = words_of(again)
    if shown != about["text"]:
        about["shows"] = shown
    return entity


class _Pen:
    def __init__(self, doc: Drawing, shift: Floats, scale: float) -> None:
        self.doc = doc
        self.space: Any = doc.modelspace()
        self.shift = shift
        self.scale = scale
        self.findings: list[Finding] = []
        self.by_group: dict[str, list[Any]] = {}
        self.titled: dict[str, str] = {}

    # --- the pattern as a whole ----------------------------------------------------

    def root(self, root: Element, pattern: Pattern) -> None:
        """A point that bears what is said of the whole pattern."""
        about = {"sizewright": "1"}
        about |= {k: v for k, v in root.attributes.items() if k.startswith("data-")}
        if pattern.title:
            about["title"] = pattern.title
        if pattern.page is not None:
            about["page"] = f"{pattern.page[0]!r} {pattern.page[1]!r}"
        layer, _ = CURVES["pattern"]
        point = self.space.add_point((0.0, 0.0), dxfattribs={"layer": layer})
        self._mark(point, about, "the seams of the pattern")

    # --- one shape --------------------------------------------------------------------

    def draw(self, drawn: Shape) -> None:
        """One shape with its attributes."""
        group = piece_node(drawn)
        if group is None:
            return
        key = group.get("id")
        role = role_of(drawn)
        shown = group.get("data-outline", "unknown") if role == "outline" else role
        layer, _ = CURVES.get(shown, CURVES["mark"])
        about = {"group": key, "id": drawn.element.get("id")}
        about |= {k: v for k, v in drawn.element.attributes.items() if k.startswith("data-")}
        own = {k: group.get(k) for k in ("data-piece", "data-size") if group.get(k)}
        if role == "outline":
            own |= {k: v for k, v in group.attributes.items() if k.startswith("data-")}
            story = "\n".join(group.story)
            own |= {"story": story} if story else {}
        about |= {f"piece:{k.removeprefix('data-')}": v for k, v in own.items()}
        self.titled[key] = " ".join(own.get(k, "") for k in ("data-piece", "data-size")).strip()
        for text in drawn.texts:
            self._add(key, about, [self._text(text, layer, about)])
        if drawn.element.kind == "circle" and drawn.paths:
            self._add(key, about, [self._circle(drawn, layer)])
            return
        for number, path in enumerate(drawn.paths):
            path = path.transformed(self.shift)
            made = add_path(self.space, path, self.scale, layer=layer)
            parts = len(made), "closed" if path.closed else "open"
            self._add(key, about, made, number=number, parts=parts)

    def _circle(self, drawn: Shape, layer: str) -> Any:
        x0, y0, x1, y1 = drawn.paths[0].transformed(self.shift).bounds
        centre = (x0 + x1) / 2 * self.scale, (y0 + y1) / 2 * self.scale
        radius = (x1 - x0) / 2 * self.scale
        return self.space.add_circle(centre, radius, dxfattribs={"layer": layer})

    def _text(self, text: Text, layer: str, about: dict[str, str]) -> Any:
        x, y = affine.apply(self.shift, np.array(text.at)) * self.scale
        height = text.height * self.scale
        about["text"] = text.text
        if "\n" not in text.text:
            dxf = {"layer": layer, "height": height, "rotation": text.angle}
            entity = self.space.add_text(text.text, dxfattribs=dxf)
            entity.dxf.insert = (float(x), float(y))
            return _shows(entity, about)
        turn = np.radians(text.angle)
        up = np.array([-np.sin(turn), np.cos(turn)]) * height
        dxf = {"layer": layer, "char_height": height, "rotation": text.angle}
        words = text.text.translate(_MTEXT)
        entity = self.space.add_mtext(words, dxfattribs=dxf)
        entity.dxf.insert = (float(x + up[0]), float(y + up[1]))
        return _shows(entity, about)

    def _add(
        self,
        key: str,
        about: Mapping[str, str],
        made: list[Any],
        *,
        number: int = 0,
        parts: tuple[int, str] | None = None,
    ) -> None:
        """Entities of one shape: the first bears all that is said of it."""
        for k, entity in enumerate(made):
            keep = ("group", "id", "data-role", "piece:piece", "piece:size")
            bears = dict(about) if k == 0 else {n: about[n] for n in keep if n in about}
            if parts is not None:
                bears["part"] = f"{number} {k} {parts[0]} {parts[1]}"
            self._mark(entity, bears, f"what is said of {about.get('id', 'a shape')}")
            self.by_group.setdefault(key, []).append(entity)

    def _mark(self, entity: Any, about: Mapping[str, str], what: str) -> None:
        if set_attributes(entity, about):
            return
        self.findings.append(
            Finding("too-long", "warn", f"{what} is too long for DXF and was cut", place=what)
        )
        # The longest go first: the story and seams of a long-lived pattern.
        kept = dict(about)
        while kept and not set_attributes(entity, kept):
            kept.pop(max(kept, key=lambda name: len(kept[name])))

    # --- for the eye, and for moving a piece as one ----------------------------------------

    def names(self, pattern: Pattern) -> None:
        """The name of each piece that has no label, in it."""
        layer, _ = CURVES["picture"]
        for piece in pattern.pieces:
            if piece.labels:
                continue
            place = name_place(piece.drawn.path, len(piece.title))
            x, y, height = (v * self.scale for v in place)
            dxf = {"layer": layer, "height": round(height, 3)}
            text = self.space.add_text(piece.title, dxfattribs=dxf)
            text.dxf.insert = (round(x, 3), round(y, 3))
            set_attributes(text, {"data-role": "picture", "piece:piece": piece.name})

    def group(self) -> None:
        """Each piece as a group, so that an editor moves it whole."""
        taken: set[str] = set()
        for key, entities in self.by_group.items():
            plain = self.titled[key].translate(_FORBIDDEN_IN_NAMES).upper()[:200] or "PIECE"
            name, number = plain, 1
            while name.casefold() in taken:
                number += 1
                name = f"{plain}-{number}"
            taken.add(name.casefold())
            group = self.doc.groups.new(name)
            group.extend(entities)
