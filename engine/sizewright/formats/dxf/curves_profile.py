"""The `curves` profile: everything that the pattern says, for a trip without loss.

Shapes and what they say are those of `drawing.described`, as in SVG; the facts ride on the
entities as extended data (docs/files.md). So one set of conventions holds for both.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from ...findings import Finding
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import Label, Pattern
from ...units import Unit
from ..drawing.described import Described, describe
from ..drawing.names import untaken
from ..drawing.scribe import Facts, Figure
from ..reading import Written
from .saving import bounds_of, name_place, new_document, to_bytes
from .texts import words_of
from .xdata import APPID, set_attributes

if TYPE_CHECKING:
    from ezdxf.document import Drawing

#: Layer for each role, with its colour number (ACI), near those of the palette.
_LAYERS: Mapping[str, tuple[str, int]] = {
    "cut": ("CUT", 7),
    "sew": ("SEW", 4),
    "unknown": ("OUTLINE", 7),
    "cutout": ("CUTOUT", 7),
    "notch": ("NOTCH", 1),
    "drill": ("DRILL", 1),
    "mark": ("MARK", 3),
    "grain": ("GRAIN", 5),
    "axis": ("AXIS", 8),
    "fold": ("FOLD", 6),
    "adjust": ("ADJUST", 8),
    "label": ("TEXT", 2),
    "picture": ("NAMES", 8),
    "point": ("POINTS", 30),
    "edge": ("EDGES", 30),
    "dart": ("DARTS", 8),
    "pleat": ("DARTS", 8),
    "hold": ("HOLDS", 8),
    "pattern": ("PATTERN", 8),
}
#: A turn of less than this, in degrees, goes on smoothly within one spline.
_SMOOTH = 3.0
_CLOSED, _PLANAR = 1, 8
#: Signs that mean something in MTEXT.
_MTEXT = str.maketrans({"\\": "\\\\", "{": "\\{", "}": "\\}", "\n": "\\P"})
_FORBIDDEN_IN_NAMES = str.maketrans(dict.fromkeys('<>/\\":;?*|=,`', "-"))


def write_curves(pattern: Pattern, unit: Unit = Unit.MM) -> Written:
    """The pattern as DXF R2000 whose splines are the pattern's own cubics.

    `unit` is mm or inches. Each piece is a group of entities on layers by role.
    """
    said = describe(pattern)
    doc = new_document(unit, dict(_LAYERS.values()))
    doc.appids.add(APPID)
    pen = _Pen(doc, unit.from_mm(1.0))
    pen.pattern(pattern, said.says)
    for piece in said.pieces:
        pen.piece(piece)
    pen.names(pattern)
    for name, entities in pen.groups.items():
        doc.groups.new(name).extend(entities)
    data = to_bytes(doc, unit, bounds_of(pattern))
    return Written(data, (*said.findings, *pen.findings))


def _data(says: Facts) -> dict[str, str]:
    return {f"data-{name}": value for name, value in says.items() if value is not None}


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
    def __init__(self, doc: Drawing, scale: float) -> None:
        self.space: Any = doc.modelspace()
        self.scale = scale
        self.findings: list[Finding] = []
        self.groups: dict[str, list[Any]] = {}

    def pattern(self, pattern: Pattern, says: Facts) -> None:
        """A point that bears what is said of the whole pattern."""
        about = {"sizewright": "1"} | _data(says)
        if pattern.title:
            about["title"] = pattern.title
        if pattern.page is not None:
            about["page"] = f"{pattern.page[0]!r} {pattern.page[1]!r}"
        layer, _ = _LAYERS["pattern"]
        point = self.space.add_point((0.0, 0.0), dxfattribs={"layer": layer})
        self._mark(point, about, "the seams of the pattern")

    def piece(self, said: Described) -> None:
        """The shapes of a piece, as a group that an editor moves whole."""
        all_says = {f"piece:{k}": v for k, v in said.says.items() if v is not None}
        few = {k: v for k, v in all_says.items() if v and k in ("piece:piece", "piece:size")}
        if said.story:
            all_says["piece:story"] = "\n".join(said.story)
        entities = []
        for shape in said.shapes:
            about = {"group": said.named.id, "id": shape.named.id} | _data(shape.says)
            shown = said.says["outline"] if shape.role == "outline" else shape.role
            layer, _ = _LAYERS[shown or "unknown"]
            about |= all_says if shape.role == "outline" else few
            entities += self._draw(shape, about, layer)
        title = " ".join(v for v in (said.says["piece"], said.says["size"]) if v)
        plain = title.translate(_FORBIDDEN_IN_NAMES).upper()[:200] or "PIECE"
        self.groups[untaken(plain, self.groups)] = entities

    # --- one shape --------------------------------------------------------------------

    def _draw(self, shape: Figure, about: dict[str, str], layer: str) -> list[Any]:
        """The entities of a shape: the first bears all that is said of it."""
        what = f"what is said of {shape.named.id}"
        if shape.label is not None or shape.dot is not None:
            entity = (
                self._text(shape.label, layer, about)
                if shape.label is not None
                else self._circle(shape, layer)
            )
            self._mark(entity, about, what)
            return [entity]
        keep = ("group", "id", "data-role", "piece:piece", "piece:size")
        few = {name: about[name] for name in keep if name in about}
        entities = []
        for number, path in enumerate(shape.paths):
            made = _add_path(self.space, path, self.scale, layer=layer)
            whole = f"{len(made)} {'closed' if path.closed else 'open'}"
            for k, entity in enumerate(made):
                part = {"part": f"{number} {k} {whole}"}
                self._mark(entity, (few if k else about) | part, what)
            entities += made
        return entities

    def _circle(self, shape: Figure, layer: str) -> Any:
        assert shape.dot is not None
        (x, y), radius = shape.dot
        centre = x * self.scale, y * self.scale
        return self.space.add_circle(centre, radius * self.scale, dxfattribs={"layer": layer})

    def _text(self, label: Label, layer: str, about: dict[str, str]) -> Any:
        place = np.array(label.at) * self.scale
        height = label.height * self.scale
        about["text"] = label.text
        dxf = {"layer": layer, "rotation": label.angle}
        if "\n" in label.text:
            turn = np.radians(label.angle)
            place = place + np.array([-np.sin(turn), np.cos(turn)]) * height
            words = label.text.translate(_MTEXT)
            entity = self.space.add_mtext(words, dxfattribs=dxf | {"char_height": height})
        else:
            entity = self.space.add_text(label.text, dxfattribs=dxf | {"height": height})
        entity.dxf.insert = (float(place[0]), float(place[1]))
        return _shows(entity, about)

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

    # --- for the eye ------------------------------------------------------------------

    def names(self, pattern: Pattern) -> None:
        """The name of each piece that has no label, in it."""
        layer, _ = _LAYERS["picture"]
        for piece in pattern.pieces:
            if piece.labels:
                continue
            place = name_place(piece.drawn.path, len(piece.title))
            x, y, height = (v * self.scale for v in place)
            dxf = {"layer": layer, "height": round(height, 3)}
            text = self.space.add_text(piece.title, dxfattribs=dxf)
            text.dxf.insert = (round(x, 3), round(y, 3))
            set_attributes(text, {"data-role": "picture", "piece:piece": piece.name})


# --- paths ----------------------------------------------------------------------------------


def _add_path(layout: Any, path: Path, scale: float, **dxf: Any) -> list[Any]:
    """The path as entities of `layout`, in the order of its segments.

    Straight runs are a LINE or an LWPOLYLINE; each smooth chain of cubics is one SPLINE of
    degree 3 whose inner knots are threefold, so that its control points are the cubics' own.
    `scale` is units of the drawing to one mm; `dxf` goes to every entity.
    """
    controls = path.controls * scale
    chains = _chains(path)
    whole = path.closed and len(chains) == 1
    made = []
    for first, last in chains:
        part = controls[first:last]
        if not path.lines[first]:
            made.append(_spline(layout, part, whole, dxf))
        elif len(part) == 1 and not whole:
            made.append(layout.add_line(tuple(part[0, 0]), tuple(part[0, 3]), dxfattribs=dxf))
        else:
            points = part[:, 0] if whole else np.vstack([part[:, 0], part[-1:, 3]])
            xy = [tuple(p) for p in points]
            made.append(layout.add_lwpolyline(xy, close=whole, dxfattribs=dxf))
    return made


def _chains(path: Path) -> list[tuple[int, int]]:
    """First and past-the-last segment of each run that is one entity."""
    cuts = [0]
    for i in range(1, len(path)):
        kind = path.lines[i] != path.lines[i - 1]
        corner = not path.lines[i] and abs(float(path.turns[i])) > _SMOOTH
        if kind or corner:
            cuts.append(i)
    return list(zip(cuts, [*cuts[1:], len(path)], strict=True))


def _spline(layout: Any, cubics: Floats, closed: bool, dxf: dict[str, Any]) -> Any:
    n = len(cubics)
    points = np.vstack([cubics[:, :3].reshape(-1, 2), cubics[-1:, 3]])
    knots = np.concatenate([[0.0], np.repeat(np.arange(n + 1.0), 3), [float(n)]])
    spline = layout.add_spline(degree=3, dxfattribs=dxf)
    spline.control_points = [(float(x), float(y), 0.0) for x, y in points]
    spline.knots = knots.tolist()
    spline.dxf.flags = _PLANAR | (_CLOSED if closed else 0)
    return spline
