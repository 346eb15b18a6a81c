"""What a piece bears besides outline and notches, in SVG."""

from __future__ import annotations

import numpy as np

from ...geometry.path import Path
from ...model import Dart, Grain, Hold, Label, Side
from ...palette import (
    ADJUST_LINE,
    AXIS_LINE,
    CUTOUT_LINE,
    GRAIN_LINE,
    HAIR,
    INK,
    MARK_LINE,
    PLAIN_LINE,
    Line,
)
from .fold_out import fold_tags
from .numbers_out import number
from .pen import Pen, group, stroke
from .xml_out import Tag

_DRILL_RADIUS = 1.5
_HOLD_RADIUS = 1.6
#: A point this near a straight line, in mm, lies on it.
_STRAIGHT = 1e-6
_LEADING = 1.25


def line_tags(pen: Pen) -> list[Tag]:
    """Fold, grain, grade axis and adjust lines."""
    piece = pen.piece
    tags = fold_tags(pen)
    if piece.axis is not None:
        given = None if piece.axis.given else "no"
        about: dict[str, str | None] = {
            "data-role": "axis",
            "data-ends": "1",
            "data-given": given,
            "data-away": piece.axis.away,
        }
        line = Path.polyline([piece.axis.start, piece.axis.end])
        tags.append(_styled(pen.shape(line, "axis", about), AXIS_LINE))
    for adjust in piece.adjusts:
        name = pen.held(adjust.name, "the name of an adjust line")
        about = {"data-role": "adjust", "data-name": name}
        tags.append(_styled(pen.shape(adjust.path, "adjust", about, name=name), ADJUST_LINE))
    if piece.grain is not None:
        tags.append(_grain(pen, piece.grain))
    return tags


def shaping_tags(pen: Pen) -> list[Tag]:
    """Darts, pleats and holds: thin lines between vertices, to lie below the outline."""
    tags = [_dart(pen, d) for d in pen.piece.darts]
    for pleat in pen.piece.pleats:
        name = pen.held(pleat.name, "the name of a pleat")
        ends = pen.through([pen.vertex(pleat.a), pen.vertex(pleat.b)])
        tags.append(pen.tag("path", "pleat", {"data-pleat": name, "d": ends}, name=name))
    return group(HAIR, [*tags, *(_hold(pen, h) for h in pen.piece.holds)])


def inner_tags(pen: Pen) -> list[Tag]:
    """Cut-outs, marks and drill holes."""
    cutouts, marks, drills = [], [], []
    for c in pen.piece.cutouts:
        about = _about(pen, "cutout", c.name, c.side)
        cutouts.append(pen.shape(c.path, "cutout", about, name=c.name))
    for m in pen.piece.marks:
        about = _about(pen, "mark", m.name, m.side, m.kind)
        marks.append(pen.shape(m.path, "mark", about, name=m.name))
    for d in pen.piece.drills:
        about = _about(pen, "drill", d.name, d.side)
        drills.append(pen.dot(d.at, "drill", about, name=d.name, r=_DRILL_RADIUS))
    return [*group(CUTOUT_LINE, cutouts), *group(MARK_LINE, marks), *group(PLAIN_LINE, drills)]


def label_tags(pen: Pen) -> list[Tag]:
    """The texts of the piece."""
    labels = [_label(pen, label) for label in pen.piece.labels]
    style: dict[str, str | None] = {"fill": INK, "stroke": "none"}
    return [Tag("g", style, children=labels)] if labels else []


def _styled(tag: Tag, line: Line) -> Tag:
    tag.attributes = {**tag.attributes, **stroke(line)}
    return tag


def _grain(pen: Pen, grain: Grain) -> Tag:
    about: dict[str, str | None] = {"data-role": "grain", "data-ends": str(grain.ends)}
    tag = _styled(pen.shape(Path.polyline([grain.start, grain.end]), "grain", about), GRAIN_LINE)
    back = "url(#arrow-back)" if grain.ends == 2 else None
    tag.attributes = {**tag.attributes, "marker-start": back, "marker-end": "url(#arrow)"}
    return tag


def _about(
    pen: Pen, role: str, name: str | None, side: Side, kind: str | None = None
) -> dict[str, str | None]:
    return {
        "data-role": role,
        "data-kind": pen.held(kind, f"the kind of a {role}") or None,
        "data-name": pen.held(name, f"the name of a {role}"),
        "data-side": None if side == "both" else side,
    }


def _dart(pen: Pen, dart: Dart) -> Tag:
    """Mouth, point, mouth; the outline's own vertex twice where the point lies off it."""
    name = pen.held(dart.name, "the name of a dart")
    places = [dart.apex]
    if dart.tip is not None:
        tip = pen.vertex(dart.tip)
        off = np.hypot(tip[0] - dart.apex[0], tip[1] - dart.apex[1])
        places = [tip] if off <= _STRAIGHT else [tip, dart.apex, tip]
    legs = pen.through([pen.vertex(dart.a), *places, pen.vertex(dart.b)])
    attributes = {
        "data-dart": name,
        "data-tip": "no" if dart.tip is None else None,
        "d": legs,
    }
    return pen.tag("path", "dart", attributes, name=name)


def _hold(pen: Pen, hold: Hold) -> Tag:
    name = pen.held(hold.name, "the name of a hold")
    places = [pen.vertex(v) for v in hold.vertices]
    if len(places) == 1:
        attributes: dict[str, str | None] = {"data-hold": "point", "data-name": name}
        return pen.dot(places[0], "hold", attributes, name=name, r=_HOLD_RADIUS)
    attributes = {"data-hold": "yes", "data-name": name, "d": pen.through(places)}
    return pen.tag("path", "hold", attributes, name=name)


def _label(pen: Pen, label: Label) -> Tag:
    x, y = pen.frame.xy(label.at)
    turn = number(label.angle % 360.0)
    text = pen.held(label.text, "a label") or ""
    lines = text.split("\n")
    blanks = any(line != " ".join(line.split()) for line in lines)
    attributes: dict[str, str | None] = {
        "data-role": "label",
        "xml:space": "preserve" if blanks else None,
        "x": x,
        "y": y,
        "font-size": number(label.height),
        "transform": None if turn in ("0", "360") else f"rotate(-{turn} {x} {y})",
    }
    tag = pen.tag("text", "label", attributes, text=text)
    if len(lines) > 1:
        tag.text = ""
        leading = number(label.height * _LEADING, 3)
        tag.children = [
            Tag("tspan", {"x": x, "dy": leading if i else None}, line)
            for i, line in enumerate(lines)
        ]
    if not text.strip():
        pen.found("label-empty", "a label without text may be lost")
    return tag
