"""Notches: where they stand on the outline, of which kind and how deep."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ...geometry.nearest import nearest, nearest_point
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import NOTCH_KINDS, Notch, Outline, Spot
from .drafts import Draft
from .marking import bad, choice, length, side, whole
from .notch_place import place_between, place_on
from .shapes import Shape
from .vertices import EDGE_REACH, place_of

#: Points of a notch no further out than its nearest one by this, in mm, are its feet.
_FEET = 0.5
#: `data-at` counts where the shape stands within this of it, in mm.
_AGREE = 0.01
_AT = re.compile(r"\s*(\d{1,6})[\s,]+([-+]?(?:\d++(?:\.\d*+)?|\.\d++)(?:[eE][-+]?\d{1,3})?)\s*")


class Feet(NamedTuple):
    """The line that a drawn notch stands on, and the places there nearest to its points: arc
    lengths and distances (m,), and the places themselves (m, 2)."""

    line: Path
    s: Floats
    distance: Floats
    point: Floats


def feet_of(marks: Sequence[Shape], outline: Outline, cut_line: Outline | None) -> list[Feet]:
    """Where drawn notches stand, all looked up together: on the cutting line, if it is nearer."""
    points = [_points(drawn) for drawn in marks]
    ends = np.cumsum([0, *map(len, points)])
    lines = [line.path for line in (cut_line, outline) if line is not None]
    looks = [(line, nearest(line, np.concatenate(points))) for line in lines if points]
    found = []
    for a, b in pairwise(ends):
        each = [Feet(p, near.s[a:b], near.distance[a:b], near.point[a:b]) for p, near in looks]
        found.append(min(each, key=lambda feet: feet.distance.min(initial=np.inf)))
    return found


def read_notch(drawn: Shape, feet: Feet, outline: Outline, draft: Draft) -> Notch | None:
    """The notch that a marked shape is; None, with a finding, where it is at no outline."""
    assert drawn.marking is not None
    s = _place(feet)
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
        _spot(drawn, outline, feet.line, s),
        kind,  # type: ignore[arg-type]
        _depth(drawn, feet) if depth is None else depth,
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


def _place(feet: Feet) -> float | None:
    """Arc length on the line where a notch stands.

    Where no point lies on the line, the middle of those nearest to it, if they are near.
    """
    exact = place_between(feet.s, feet.distance, feet.line.length)
    if exact is not None:
        return exact
    least = feet.distance.min(initial=np.inf)
    if least > EDGE_REACH:
        return None
    return place_on(feet.line, feet.point[feet.distance <= least + _FEET])


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


def _depth(drawn: Shape, feet: Feet) -> float:
    """Length of a plain line; else how far the shape reaches from the outline, mm."""
    if len(drawn.paths) == 1 and not drawn.paths[0].closed and len(drawn.paths[0]) == 1:
        return drawn.paths[0].length
    return float(feet.distance.max())
