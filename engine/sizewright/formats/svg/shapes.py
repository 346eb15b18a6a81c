"""Basic shapes as subpaths, in user units (SVG 1.1, chapter 9)."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ...errors import InputError
from ...geometry import affine
from ...geometry.arcs import arc_to_cubics, ellipse
from ...geometry.path import Path
from ...geometry.types import Floats
from ..drawing.loops import cleaned
from .path_data import PathData, Point, Segment, Subpath, parse_path
from .values import numbers, user_length, within_reach
from .xml_tree import Node

SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})


class Viewport(NamedTuple):
    """Width and height of the innermost viewport in user units, for percentages."""

    width: float
    height: float

    @property
    def diagonal(self) -> float:
        """What a percentage of neither width nor height is taken of."""
        return math.hypot(self.width, self.height) / math.sqrt(2.0)


def shape_data(node: Node, viewport: Viewport, scale: float, most: int) -> PathData:
    """Subpaths of a shape element. `scale` is mm to the user unit, for cutting arcs.

    Raises InputError for lengths that cannot be read, negative sizes and too many segments.
    """

    def length(name: str, default: float = 0.0) -> float:
        text = node.get(name)
        if not text or text == "auto":
            return default
        of = {"x": viewport.width, "y": viewport.height}.get(_AXIS.get(name, ""), viewport.diagonal)
        try:
            return user_length(text, percent_of=of)
        except InputError as error:
            raise error.at(name) from None

    if node.kind == "path":
        return parse_path(node.get("d"), scale, most)
    if node.kind in ("polyline", "polygon"):
        return _poly(node)
    if node.kind == "line":
        ends = (length("x1"), length("y1")), (length("x2"), length("y2"))
        return PathData([Subpath([ends])])
    if node.kind == "rect":
        width, height = _size(length("width"), "width"), _size(length("height"), "height")
        if width == 0 or height == 0:
            return PathData([])
        rx, ry = length("rx", -1.0), length("ry", -1.0)
        rx, ry = (ry if rx < 0 else rx), (rx if ry < 0 else ry)
        rx, ry = min(max(rx, 0.0), width / 2), min(max(ry, 0.0), height / 2)
        within_reach(*(v * scale for v in (length("x"), length("y"), width, height, rx, ry)))
        return PathData([_rect(length("x"), length("y"), width, height, rx, ry, scale)])
    if node.kind == "circle":
        rx = ry = _size(length("r"), "r")
    else:
        rx, ry = length("rx", -1.0), length("ry", -1.0)
        rx, ry = (ry if rx < 0 else rx), (rx if ry < 0 else ry)
    if rx <= 0 or ry <= 0:
        return PathData([])
    sizes = [v * scale for v in (length("cx"), length("cy"), rx, ry)]
    within_reach(*sizes)
    whole = ellipse(*sizes).controls / scale
    segments: list[Segment] = [tuple((x, y) for x, y in c) for c in whole.tolist()]
    return PathData([Subpath(segments, True)])


_AXIS = {
    **dict.fromkeys(("x", "width", "rx", "cx", "x1", "x2"), "x"),
    **dict.fromkeys(("y", "height", "ry", "cy", "y1", "y2"), "y"),
}


def _size(value: float, name: str) -> float:
    if value < 0:
        raise InputError(f"{name} is below zero", cure="Give a size above zero.")
    return value


def _poly(node: Node) -> PathData:
    values, rest = numbers(node.get("points"))
    if len(values) % 2:
        rest = rest or f"{values[-1]:g}"
    points: list[Point] = list(zip(values[0::2], values[1::2], strict=False))
    segments: list[Segment] = list(pairwise(points))
    if not segments:
        return PathData([], rest)
    return PathData([Subpath(segments, node.kind == "polygon")], rest)


def _rect(
    x: float, y: float, width: float, height: float, rx: float, ry: float, scale: float
) -> Subpath:
    """A rectangle from its upper left, clockwise on the page; round corners by SVG 1.1, 9.2."""
    x1, y1 = x + width, y + height
    if rx == 0 or ry == 0:
        corners = [(x, y), (x1, y), (x1, y1), (x, y1)]
        return Subpath(list(pairwise(corners)), True)
    sides: list[tuple[Point, Point]] = [
        ((x + rx, y), (x1 - rx, y)),
        ((x1, y + ry), (x1, y1 - ry)),
        ((x1 - rx, y1), (x + rx, y1)),
        ((x, y1 - ry), (x, y + ry)),
    ]
    segments: list[Segment] = []
    k = scale
    for i, (start, end) in enumerate(sides):
        following = sides[(i + 1) % 4][0]
        if start != end:
            segments.append((start, end))
        arc = arc_to_cubics(
            (end[0] * k, end[1] * k),
            rx * k,
            ry * k,
            0.0,
            False,
            True,
            (following[0] * k, following[1] * k),
        )
        points = [[(float(p[0]) / k, float(p[1]) / k) for p in cubic] for cubic in arc]
        if not points:  # a radius lost in rounding
            continue
        points[0][0], points[-1][3] = end, following
        segments.extend(tuple(p) for p in points)
    return Subpath(segments, True)


def to_path(subpath: Subpath, matrix: Floats) -> Path | None:
    """The subpath moved by `matrix` into mm; None where nothing of it has a length."""
    segments = subpath.segments
    if not segments:
        return None
    n = len(segments)
    lines = np.fromiter((len(s) == 2 for s in segments), dtype=bool, count=n)
    user = np.empty((n, 4, 2))
    for i, segment in enumerate(segments):
        if len(segment) == 2:
            user[i, 0], user[i, 1], user[i, 2], user[i, 3] = (
                segment[0],
                segment[0],
                segment[1],
                segment[1],
            )
        else:
            user[i] = segment
    controls = affine.apply(matrix, user)
    return cleaned(controls, lines, subpath.closed)
