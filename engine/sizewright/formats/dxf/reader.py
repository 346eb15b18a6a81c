"""DXF drawings in: `read_dxf`."""

from __future__ import annotations

import math
from dataclasses import replace

from ...errors import SizewrightError
from ...findings import Finding
from ...geometry import affine
from ...model import CORNER_ANGLE
from ...units import Unit
from ..reading import Reading, SetAside
from ..source import Source, content
from ..svg.assemble import assembled
from ..svg.drawn import Scene as Shapes
from ..svg.options import REFIT_TOLERANCE, Options
from ..svg.page import Page
from ..svg.shapes import Viewport
from .entities import Entity, Scene, entities_of
from .load import Loaded, load
from .marked_in import is_marked, marked_shapes
from .nodes import EntityNode
from .strangers import stranger_shapes
from .units import Scale, scale_of

#: Ends this close, in mm, meet.
JOIN_TOLERANCE = 0.1
#: Drawings all of whose lines are shorter than this, in mm, are hardly in the right unit.
_SMALL = 60.0


def read_dxf(
    source: Source,
    *,
    name: str = "",
    units: Unit | None = None,
    join_tolerance: float = JOIN_TOLERANCE,
    refit_tolerance: float = REFIT_TOLERANCE,
    corner_angle: float = CORNER_ANGLE,
) -> Reading:
    """The pattern in a DXF drawing, in mm, y up from the drawing's own origin.

    `source` is a file (its name or path) or its bytes; `name` names it in messages.
    `units` is what a number of the drawing is, whatever its header says. Loose lines whose
    ends are within `join_tolerance` mm are joined.
    `refit_tolerance` in mm: how far a curve that replaces a run of short chords may lie from
    them. `corner_angle` in degrees: a vertex that turns more is a corner.

    Drawings that Sizewright wrote bring back all that they hold; in others, closed lines are
    pieces, and layers, blocks and texts say the rest where they can. What is doubtful comes
    back as findings, what is no part of a piece as set aside. Raises InputError for what
    cannot be read or cannot be meant.
    """
    data, where = content(source, name)
    return reading_of(
        load(data, where),
        name=where,
        units=units,
        join_tolerance=join_tolerance,
        refit_tolerance=refit_tolerance,
        corner_angle=corner_angle,
    )


def reading_of(
    loaded: Loaded,
    *,
    name: str = "",
    units: Unit | None = None,
    join_tolerance: float = JOIN_TOLERANCE,
    refit_tolerance: float = REFIT_TOLERANCE,
    corner_angle: float = CORNER_ANGLE,
) -> Reading:
    """`read_dxf` for a drawing that is loaded already."""
    options = Options(corner_angle, refit_tolerance)
    try:
        scale = scale_of(loaded.header, units)
        scene = entities_of(loaded.doc, scale.mm)
        reading = _pattern(scene, options, join_tolerance)
        told = (*loaded.findings, *scale.findings, *_doubtful(scene, scale), *scene.findings)
        return replace(
            reading,
            set_aside=(*scene.set_aside, *reading.set_aside),
            findings=(*told, *reading.findings),
        )
    except SizewrightError as error:
        raise error.at(name or "drawing") from None


def _pattern(scene: Scene, options: Options, join_tolerance: float) -> Reading:
    root = EntityNode("dxf", {}, None, "the drawing")
    marked = [e for e in scene.entities if is_marked(e)]
    plain = [e for e in scene.entities if not is_marked(e)]
    shapes = marked_shapes(marked, root)
    if not shapes.drawn:
        strange = stranger_shapes(plain, root, join_tolerance)
        page = _page(())
        reading = assembled(root, page, Shapes(strange.drawn, strange.findings), options)
        return replace(reading, set_aside=(*strange.set_aside, *reading.set_aside))
    _say(root, shapes.root)
    page = _page(_numbers(shapes.root.get("page", "")))
    for position, drawn in enumerate(shapes.drawn):
        drawn.position = position
    reading = assembled(root, page, Shapes(shapes.drawn, shapes.findings), options)
    left = tuple(_unmarked(e) for e in plain)
    return replace(reading, set_aside=(*left, *reading.set_aside))


def _page(numbers: tuple[float, ...]) -> Page:
    size = (numbers[0], numbers[1]) if len(numbers) == 2 else None
    return Page(affine.identity(), size, None, Viewport(0.0, 0.0), ())


def _numbers(text: str) -> tuple[float, ...]:
    try:
        found = tuple(float(word) for word in text.split())
    except ValueError:
        return ()
    return found if all(0 < v < math.inf for v in found) else ()


def _say(root: EntityNode, about: dict[str, str]) -> None:
    """What is said of the whole pattern, onto the node of the drawing."""
    root.attributes |= {k: v for k, v in about.items() if k.startswith("data-")}
    if about.get("title"):
        title = EntityNode("title", {}, root, "the title")
        title.content.append(about["title"])
        root.content.append(title)


def _unmarked(entity: Entity) -> SetAside:
    return SetAside(entity.layer, entity.kind.lower(), "outside the pieces that are marked")


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
