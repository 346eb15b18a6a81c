"""A pattern as the shapes that the SVG writer would draw, for other carriers of them."""

from __future__ import annotations

from dataclasses import dataclass

from ...findings import Finding
from ...geometry import affine
from ...geometry.types import Floats
from ...model import Pattern
from ..drawing.shapes import Element, Shape
from ..svg.page import read_page
from ..svg.page_out import on_page
from ..svg.walk import walk
from ..svg.writer import write_svg
from ..svg.xml_tree import parse

#: Findings of the page, which DXF does not have.
_OF_PAGE = frozenset({"shifted", "page-grown"})


@dataclass(frozen=True)
class Drawing:
    """Shapes in the pattern's own coordinates once moved by `shift` (2, 3), and their root.

    `findings` are what the shapes and their attributes cannot say.
    """

    root: Element
    shapes: tuple[Shape, ...]
    shift: Floats
    findings: tuple[Finding, ...]


def drawing_of(pattern: Pattern) -> Drawing:
    """The pattern drawn: one set of shapes and attributes serves every format."""
    moved, _, _ = on_page(pattern)
    made = write_svg(moved)
    root = parse(made.text.encode("utf-8"), "drawing")
    shapes = tuple(walk(root, read_page(root, None)).shapes)
    findings = tuple(f for f in made.findings if f.code not in _OF_PAGE)
    return Drawing(root, shapes, _shift(pattern, moved), findings)


def piece_node(drawn: Shape) -> Element | None:
    """The node of the piece that a shape belongs to."""
    return next((g.element for g in drawn.group.chain() if g.element.get("data-piece")), None)


def role_of(drawn: Shape) -> str:
    """The role of a shape: that of its mark, or `point`, `edge`, `dart`, `pleat`, `hold`."""
    marking = drawn.marking
    if marking is None or marking.role:
        return marking.role if marking else ""
    for word in ("edge", "dart", "pleat", "hold"):
        if getattr(marking, word) not in (None, ""):
            return word
    return "point"


def _shift(pattern: Pattern, moved: Pattern) -> Floats:
    """What brings the pattern back from its page: whole millimetres."""
    if not pattern.pieces:
        return affine.identity()
    step = pattern.pieces[0].outline.path.start - moved.pieces[0].outline.path.start
    return affine.translation(*(float(round(v)) for v in step))
