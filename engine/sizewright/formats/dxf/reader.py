"""DXF drawings in, but for those of the interchange format."""

from __future__ import annotations

import math

from ...errors import SizewrightError
from ...findings import Finding
from ...units import Unit
from ..drawing.assemble import understood
from ..drawing.drafts import Options
from ..drawing.shapes import Drawing, Element, Group, Shape
from ..reading import Reading
from .entities import Entity, Insert, Scene, entities_of
from .load import Loaded
from .marked_in import marked_shapes
from .units import Scale, scale_of

#: Drawings all of whose lines are shorter than this, in mm, are hardly in the right unit.
_SMALL = 60.0


def reading_of(
    loaded: Loaded, options: Options, *, name: str = "", units: Unit | None = None
) -> Reading:
    """The pattern in a DXF drawing that is loaded, in mm, y up from the drawing's own origin.

    Drawings that Sizewright wrote bring back all that they hold; in others, closed lines are
    pieces, and layers, blocks and texts say the rest where they can. What is doubtful comes
    back as findings, what is no part of a piece as set aside. Raises InputError for what
    cannot be read or cannot be meant.
    """
    try:
        scale = scale_of(loaded.header, units)
        scene = entities_of(loaded.doc, scale.mm)
        told = (*loaded.findings, *scale.findings, *_doubtful(scene, scale), *scene.findings)
        drawing = _drawing(scene)
        drawing.findings[:0] = told
        return understood(drawing, options)
    except SizewrightError as error:
        raise error.at(name or "drawing") from None


def _drawing(scene: Scene) -> Drawing:
    """What the entities show, as a drawing of any kind."""
    root = Element("dxf", place="the drawing")
    drawing = Drawing(root, set_aside=list(scene.set_aside))
    marked = marked_shapes([e for e in scene.entities if e.attributes], root)
    drawing.shapes += marked.drawn
    drawing.findings += marked.findings
    groups = _Groups(root)
    unmarked = (e for e in scene.entities if not e.attributes)
    drawing.shapes += [_shape(entity, groups.of(entity)) for entity in unmarked]
    for position, shape in enumerate(drawing.shapes):
        shape.position = position
    root.attributes |= {k: v for k, v in marked.root.items() if k.startswith("data-")}
    drawing.title = marked.root.get("title", "")
    page = _numbers(marked.root.get("page", ""))
    drawing.page = (page[0], page[1]) if len(page) == 2 else None
    return drawing


def _shape(entity: Entity, group: Group) -> Shape:
    shape = Shape(Element(entity.kind.lower(), place=entity.shown()), group, None)
    shape.style, shape.dot = entity.style, entity.place
    if entity.path is not None:
        shape.paths.append(entity.path)
    if entity.text is not None:
        shape.texts.append(entity.text)
    return shape


class _Groups:
    """A group for each layer of each placed block, and for each placed block."""

    def __init__(self, root: Element) -> None:
        self.root = Group(root, None)
        self.layers: dict[str, Element] = {}
        self.blocks: dict[int, Group] = {}
        self.groups: dict[tuple[int, str], Group] = {}

    def of(self, entity: Entity) -> Group:
        """The group that an entity stands in."""
        key = (entity.insert.number if entity.insert else 0, entity.layer)
        if key not in self.groups:
            if entity.layer not in self.layers:
                name = entity.layer
                self.layers[name] = Element("layer", None, self.root.element, label=name)
            self.groups[key] = Group(self.layers[entity.layer], self._block(entity.insert))
        return self.groups[key]

    def _block(self, insert: Insert | None) -> Group:
        if insert is None:
            return self.root
        if insert.number not in self.blocks:
            name = "" if insert.block.startswith("*") else insert.block
            block = Element("block", label=name)
            self.blocks[insert.number] = Group(block, self._block(insert.parent))
        return self.blocks[insert.number]


def _numbers(text: str) -> tuple[float, ...]:
    try:
        found = tuple(float(word) for word in text.split())
    except ValueError:
        return ()
    return found if all(0 < v < math.inf for v in found) else ()


def _doubtful(scene: Scene, scale: Scale) -> tuple[Finding, ...]:
    """A finding where all of the drawing is smaller than any piece of a garment."""
    boxes = [e.path.bounds for e in scene.entities if e.path is not None]
    longest = max((max(b[2] - b[0], b[3] - b[1]) for b in boxes), default=math.inf)
    if longest >= _SMALL:
        return ()
    text = (
        f"nothing in the drawing is longer than {longest:.3g} mm when its numbers are read as "
        f"{scale.name}; nothing was changed"
    )
    cure = "If that is wrong, say its unit (--units in, --units cm)."
    return (Finding("units-doubtful", "warn", text, cure=cure),)
