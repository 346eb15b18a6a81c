"""Notches: where they stand on the outline, of which kind and how deep."""

from __future__ import annotations

import re

import numpy as np

from ...geometry.nearest import nearest, nearest_point
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import NOTCH_KINDS, Notch, Outline, Spot
from .drafts import Draft
from .marking import bad, choice, length, side, whole
from .notch_place import place_on
from .shapes import Shape
from .vertices import EDGE_REACH, place_of

#: Points of a notch no further out than its nearest one by this, in mm, are its feet.
_FEET = 0.5
#: `data-at` counts where the shape stands within this of it, in mm.
_AGREE = 0.01
_AT = re.compile(r"\s*(\d{1,6})[\s,]+([-+]?(?:\d++(?:\.\d*+)?|\.\d++)(?:[eE][-+]?\d{1,3})?)\s*")


def read_notch(
    drawn: Shape, outline: Outline, cut_line: Outline | None, draft: Draft
) -> Notch | None:
    """The notch that a marked shape is; None, with a finding, where it is at no outline."""
    assert drawn.marking is not None
    points = _points(drawn)
    line = outline.path
    if cut_line is not None and len(points):
        on_cut = nearest(cut_line.path, points).distance.min()
        line = cut_line.path if on_cut <= nearest(outline.path, points).distance.min() else line
    s = _place(line, points) if len(points) else None
    if s is None:
        text = f"a notch is more than {EDGE_REACH:.0f} mm from the outline and was left out"
        cure = "Draw it at the outline, or give it another role."
        draft.find("notch-nowhere", "warn", text, cure, place=drawn.place, at=place_of(drawn))
        return None
    element = drawn.element
    kind = choice(element, "data-kind", NOTCH_KINDS, _kind(drawn))
    depth = length(element, "data-depth")
    keep = choice(element, "data-keep", ("nearer", "start", "end"), "nearer")
    return Notch(
        _spot(drawn, outline, line, s),
        kind,  # type: ignore[arg-type]
        _depth(drawn, line, points) if depth is None else depth,
        whole(element, "data-count", 1, range(1, 10)),
        drawn.marking.name,
        side(element),
        keep,  # type: ignore[arg-type]
        drawn.marking.rule,
        element.get("data-seam") or None,
    )


def _points(drawn: Shape) -> Floats:
    if not drawn.paths:
        return np.zeros((0, 2))
    return np.concatenate([p.vertices for p in drawn.paths])


def _place(line: Path, points: Floats) -> float | None:
    """Arc length on `line` where a notch of these points stands.

    Where no point lies on the line, the middle of those nearest to it, if they are near.
    """
    exact = place_on(line, points)
    if exact is not None:
        return exact
    near = nearest(line, points)
    least = float(near.distance.min())
    if least > EDGE_REACH:
        return None
    feet = near.distance <= least + _FEET
    return place_on(line, near.point[feet])


def _spot(drawn: Shape, outline: Outline, line: Path, s: float) -> Spot:
    """The place on the working outline: as written, where the shape still stands there."""
    written = drawn.element.get("data-at")
    if written:
        match = _AT.fullmatch(written)
        if match is None:
            cure = "Take it out: the place of the shape counts."
            raise bad(drawn.element, "data-at", written, cure)
        number, along = int(match[1]), float(match[2])
        if 1 <= number <= len(outline.edges):
            edge = outline.edges[number - 1]
            spot = Spot(edge.start, min(max(along, 0.0), edge.length))
            place = outline.path.at(outline.arc_length_of(spot))
            foot = nearest_point(line, place)
            if float(np.hypot(*(foot.point - line.at(s)))) <= _AGREE:
                return spot
    if line is not outline.path:
        s = nearest_point(outline.path, line.at(s)).s
    return outline.spot(s)


def _kind(drawn: Shape) -> str:
    """V for a shape of three points, else a slit."""
    if len(drawn.paths) != 1:
        return "slit"
    path = drawn.paths[0]
    return "v" if len(path.vertices) == 3 and path.lines.all() else "slit"


def _depth(drawn: Shape, line: Path, points: Floats) -> float:
    """Length of a plain line; else how far the shape reaches from the outline, mm."""
    if len(drawn.paths) == 1 and not drawn.paths[0].closed and len(drawn.paths[0]) == 1:
        return drawn.paths[0].length
    return float(nearest(line, points).distance.max())
