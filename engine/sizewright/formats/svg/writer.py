"""Patterns as SVG: small, true to scale, and the same to the byte for the same pattern."""

from __future__ import annotations

from base64 import b64encode
from itertools import groupby

from ...model import Label, Pattern, Piece
from ...palette import (
    ADJUST_LINE,
    AXIS_LINE,
    CUT_LINE,
    CUTOUT_LINE,
    GRAIN,
    GRAIN_LINE,
    HAIR,
    INK,
    MARK_LINE,
    NOTCH_LINE,
    PLAIN_LINE,
    SEW_LINE,
    SIZE_LINES,
    Line,
)
from ..drawing.described import Described, Description, describe
from ..drawing.scribe import Facts, Figure, without_forbidden
from ..drawing.settled import PLACES, number
from ..reading import Behind, Written
from .fold_out import FOLD, cover
from .names_out import Key, SizeName, name_tags, size_names, size_tags
from .page_out import Frame, line_ends, on_page
from .xml_out import Tag, named, stroke

_OUTLINE = {"sew": SEW_LINE, "cut": CUT_LINE, "unknown": PLAIN_LINE}
_OWN = {
    "sew": SEW_LINE,
    "fold": FOLD,
    "axis": AXIS_LINE,
    "adjust": ADJUST_LINE,
    "grain": GRAIN_LINE,
}
#: Shapes that are one straight line are an element of their own kind.
_LINES = frozenset(["outline", "sew", "cutout", "mark", *_OWN])
#: Neighbours of these roles stand in one group for its style.
_GROUPS = {
    **dict.fromkeys(("dart", "pleat", "hold"), 0),
    "cutout": 1,
    "mark": 2,
    "drill": 3,
    "notch": 4,
    "label": 5,
    **dict.fromkeys(("point", "edge"), 6),
}
_STYLES: tuple[Facts, ...] = (
    *map(stroke, (HAIR, CUTOUT_LINE, MARK_LINE, PLAIN_LINE, NOTCH_LINE)),
    {"fill": INK, "stroke": "none"},
    stroke(HAIR),
)
_ARROWS = ("arrow", "arrow-back")
_LEADING = 1.25


def write_svg(pattern: Pattern, behind: Behind | None = None) -> Written:
    """The pattern as SVG in mm on its page, for any vector editor and for `read_svg`.

    `behind` is a picture to stand behind it, which `read_svg` leaves aside.

    Everything of the model comes back within 1e-6 mm; what cannot (a name with characters
    that XML does not know, a seam that no phrase can say) is in the findings. A pattern of
    several sizes has a layer for each.
    """
    pattern, frame, findings = on_page(pattern)
    if any(f.code == "shifted" for f in findings):
        behind = None
    said = describe(pattern, taken=_ARROWS)
    root = _root(said, frame)
    if behind is not None:
        root.children.append(_behind(behind, frame))
    if any(piece.grain for piece in pattern.pieces):
        root.children.append(_arrows())
    places = size_names([d.piece for d in said.pieces])
    for size, group in groupby(said.pieces, lambda d: d.piece.size):
        tags = [_piece(pattern, d, frame, said, places) for d in group]
        if len(pattern.sizes) > 1 and size is not None:
            tags = [_layer(size, tags, said)]
        root.children += tags
    text = "\n".join(['<?xml version="1.0" encoding="UTF-8"?>', *root.lines(), ""])
    return Written(text.encode("utf-8"), (*findings, *said.findings))


def _data(says: Facts) -> Facts:
    return {f"data-{name}": value for name, value in says.items()}


def _root(said: Description, frame: Frame) -> Tag:
    width, height = number(frame.width), number(frame.height)
    about: Facts = {
        "xmlns": "http://www.w3.org/2000/svg",
        "xmlns:inkscape": "http://www.inkscape.org/namespaces/inkscape",
        "width": f"{width}mm",
        "height": f"{height}mm",
        "viewBox": f"0 0 {width} {height}",
        "fill": "none",
        "stroke-linejoin": "round",
        "font-family": "sans-serif",
    }
    root = Tag("svg", about | _data(said.says))
    if said.title:
        root.children.append(Tag("title", {}, said.title))
    return root


def _behind(behind: Behind, frame: Frame) -> Tag:
    """A layer with a picture, which editors can hide and lock."""
    x0, y0, x1, y1 = behind.box
    x, y = frame.xy((x0, y1))
    about: Facts = {
        "x": x,
        "y": y,
        "width": number(x1 - x0),
        "height": number(y1 - y0),
        "preserveAspectRatio": "none",
        "href": f"data:{behind.media};base64,{b64encode(behind.data).decode()}",
    }
    layer: Facts = {
        "id": "photo",
        "inkscape:groupmode": "layer",
        "inkscape:label": "photo",
        "data-role": "picture",
        "opacity": "0.6",
    }
    return Tag("g", layer, children=[Tag("image", about)])


def _arrows() -> Tag:
    """Arrow heads for both ends of a grain line; editors draw them, readers leave them out."""
    drawn = ("M 0 0.5 L 7 3 L 0 5.5 Z", "7"), ("M 7 0.5 L 0 3 L 7 5.5 Z", "0")
    heads = []
    for name, (data, ref) in zip(_ARROWS, drawn, strict=True):
        about: Facts = {
            "id": name,
            "orient": "auto",
            "markerUnits": "userSpaceOnUse",
            "markerWidth": "8",
            "markerHeight": "6",
            "refX": ref,
            "refY": "3",
        }
        head = Tag("path", {"d": data, "fill": GRAIN, "stroke": "none"})
        heads.append(Tag("marker", about, children=[head]))
    return Tag("defs", children=heads)


def _layer(size: str, pieces: list[Tag], said: Description) -> Tag:
    held = without_forbidden(size)
    about: Facts = {
        "id": said.ids.take(f"size-{held}"),
        "inkscape:groupmode": "layer",
        "inkscape:label": held,
        "data-size": held,
    }
    return Tag("g", about, children=pieces)


def _piece(
    pattern: Pattern,
    said: Described,
    frame: Frame,
    whole: Description,
    places: dict[Key, SizeName],
) -> Tag:
    piece = said.piece
    nest = None
    if len(pattern.sizes) > 1 and piece.size is not None:
        nest = SIZE_LINES[pattern.sizes.index(piece.size) % len(SIZE_LINES)]
    tag = Tag("g", {**named(said.named), **_data(said.says)})
    if said.story:
        tag.children.append(Tag("desc", {}, "\n".join(said.story)))

    def picture(*children: Tag, style: Facts | None = None) -> Tag:
        """What is drawn for the eye only; readers leave it out."""
        name = whole.ids.named(f"{piece.name}.picture", said.suffix)
        about: Facts = {**named(name), "data-role": "picture", **(style or {})}
        return Tag("g", about, children=list(children))

    for group, shapes in groupby(said.shapes, lambda shape: _GROUPS.get(shape.role)):
        tags = []
        for shape in shapes:
            if shape.role == "fold":
                tags.append(picture(*cover(piece, shape.paths[0], frame)))
            tags.append(_shape(shape, frame))
            if group is None:
                style = _style(shape, piece, nest)
                tags[-1].attributes = {**tags[-1].attributes, **style}
        line = _STYLES[group] if group is not None else None
        tag.children += tags if line is None else [Tag("g", line, children=tags)]
    if nest is not None and piece.key in places:
        children, style = size_tags(piece, places[piece.key], nest, frame)
        tag.children.append(picture(*children, style=style))
    # One of a piece's sizes bears its names.
    if pattern.piece(piece.name).key == piece.key:
        own = [place.body for key, place in places.items() if key[0] == piece.name]
        children, style = name_tags(piece, frame, own)
        if children:
            tag.children.append(picture(*children, style=style))
    return tag


def _style(shape: Figure, piece: Piece, nest: Line | None) -> Facts:
    """How a line that stands in no group is drawn; in a nest in the colour of its size."""
    if shape.role == "outline":
        return stroke(nest or _OUTLINE[piece.drawn_kind])
    style = stroke(_OWN[shape.role])
    if shape.role == "sew" and nest is not None:
        style["stroke"] = nest.colour
    if shape.role == "grain":
        style["marker-start"] = "url(#arrow-back)" if shape.says["ends"] == "2" else None
        style["marker-end"] = "url(#arrow)"
    return style


def _shape(shape: Figure, frame: Frame) -> Tag:
    about = {**named(shape.named), **_data(shape.says)}
    if shape.label is not None:
        return _label(shape.label, about, frame)
    if shape.dot is not None:
        place, radius = shape.dot
        # An edge is nowhere exactly: it is enough that its marker is nearest to it.
        x, y = frame.xy(place, 3 if shape.role == "edge" else PLACES)
        return Tag("circle", about | {"cx": x, "cy": y, "r": number(radius)})
    path = shape.paths[0]
    if shape.role in _LINES and not path.closed and len(path) == 1 and path.lines[0]:
        return Tag("line", about | line_ends(frame, path))
    data = " ".join(frame.data(p, short=shape.role != "notch") for p in shape.paths)
    return Tag("path", about | {"d": data})


def _label(label: Label, about: Facts, frame: Frame) -> Tag:
    x, y = frame.xy(label.at)
    turn = number(label.angle)
    lines = label.text.split("\n")
    blanks = any(line != " ".join(line.split()) for line in lines)
    about |= {
        "xml:space": "preserve" if blanks else None,
        "x": x,
        "y": y,
        "font-size": number(label.height),
        "transform": None if turn == "0" else f"rotate(-{turn} {x} {y})",
    }
    if len(lines) == 1:
        return Tag("text", about, label.text)
    leading = number(label.height * _LEADING, 3)
    spans = [Tag("tspan", {"x": x, "dy": leading if i else None}, t) for i, t in enumerate(lines)]
    return Tag("text", about, "", spans)
