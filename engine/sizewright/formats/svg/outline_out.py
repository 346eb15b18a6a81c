"""Outlines in SVG: the lines themselves, corners, named points, edges and runs."""

from __future__ import annotations

import re

import numpy as np

from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...model import CORNER_ANGLE, Outline, Run, Vec, number_corners
from ...palette import HAIR, Line
from .numbers_out import number
from .pen import Pen, group, stroke
from .xml_out import Tag

_POINT_RADIUS = 1.0
_EDGE_RADIUS = 0.7
#: Vertices closer than this, in mm, cannot be told apart in a drawing.
_APART = 1e-5
#: A turn this close to the corner angle, in degrees, is not left to be judged again.
_DOUBT = 1e-3
#: A name that can stand as the end of a run without being taken for something else.
_PLAIN_NAME = re.compile(r"(?![#@0-9\s])(?!.*\.\.)[^;=%]*[^;=%\s]")


def outline_tag(pen: Pen, outline: Outline, role: str, line: Line) -> Tag:
    """The closed path of the working outline or of the cutting line."""
    path = pen.drawn if outline is pen.piece.cut_line else pen.outline.path
    _check_vertices(pen, path, role)
    runs = runs_text(pen, outline) if outline is pen.piece.cut_line else None
    attributes: dict[str, str | None] = {
        "data-role": role,
        "data-corners": _corners(outline, path),
        "data-runs": runs,
    }
    tag = pen.shape(path, role, attributes)
    tag.attributes = {**tag.attributes, **stroke(line)}
    return tag


def marker_tags(pen: Pen) -> list[Tag]:
    """Small circles that name points and edges."""
    tags = [*_points(pen, pen.piece.outline, None), *_edges(pen)]
    if pen.piece.cut_line is not None:
        tags += _points(pen, pen.piece.cut_line, "cut")
    return group(HAIR, tags)


def runs_text(pen: Pen, outline: Outline) -> str | None:
    """The runs that no edge marker can name, as `waist = cf..side; ...`; None without any."""
    marked = set() if outline is pen.piece.cut_line else set(marked_edges(pen))
    parts = []
    for run in sorted(outline.runs, key=lambda r: (r.start, r.end)):
        if run not in marked:
            name = pen.held(run.name, "the name of a run") or ""
            name = name.replace("%", "%25").replace(";", "%3B").replace("=", "%3D")
            parts.append(f"{name} = {_end(outline, run.start)}..{_end(outline, run.end)}")
    return "; ".join(parts) or None


def marked_edges(pen: Pen) -> dict[Run, Vec]:
    """Named runs that are one edge each, and where a marker names it beyond doubt."""
    outline = pen.outline
    named: dict[tuple[int, int], Run] = {}
    for run in outline.runs:
        named.setdefault((run.start, run.end), run)
    wanted = [e for e in outline.edges if e.name is not None and (e.start, e.end) in named]
    if not wanted:
        return {}
    middles = np.array([outline.path.at(e.offset + e.length / 2) for e in wanted])
    gaps = np.array(
        [nearest(outline.path.segments(e.start, e.end), middles).distance for e in outline.edges]
    )
    result = {}
    for k, edge in enumerate(wanted):
        gaps[edge.number - 1, k] = np.inf
        run = named[edge.start, edge.end]
        if gaps[:, k].min() > 0.01 and run.name == edge.name:
            result[run] = (float(middles[k, 0]), float(middles[k, 1]))
    return result


def _points(pen: Pen, outline: Outline, on: str | None) -> list[Tag]:
    path = pen.drawn if on else pen.outline.path
    tags = []
    for point in outline.points:
        if point.name is None and point.rule is None:
            continue
        x, y = path.vertices[point.vertex]
        name = pen.held(point.name, "the name of a point")
        attributes: dict[str, str | None] = {
            "data-point": name,
            "data-rule": pen.held(point.rule, "the rule of a point"),
            "data-on": on,
        }
        place = float(x), float(y)
        tags.append(pen.dot(place, "point", attributes, name=name, r=_POINT_RADIUS))
    return tags


def _edges(pen: Pen) -> list[Tag]:
    tags = []
    for run, place in marked_edges(pen).items():
        name = pen.held(run.name, "the name of an edge")
        x, y = pen.frame.xy(place, 3)
        circle = {"data-edge": name, "cx": x, "cy": y, "r": number(_EDGE_RADIUS)}
        tags.append(pen.tag("circle", "edge", dict(circle), name=name))
    return tags


def _end(outline: Outline, vertex: int) -> str:
    name = outline.point(vertex).name
    if name is not None and _PLAIN_NAME.fullmatch(name):
        return name
    corner = outline.corner_number(vertex)
    return f"@{vertex}" if corner is None else f"#{corner}"


def _corners(outline: Outline, path: Path) -> str | None:
    """Vertex numbers of the corners where numbering anew might give others; else None."""
    doubtful = (np.abs(np.abs(path.turns) - CORNER_ANGLE) < _DOUBT).any()
    if not doubtful and number_corners(path) == outline.corners:
        return None
    return " ".join(str(v) for v in outline.corners)


def _check_vertices(pen: Pen, path: Path, role: str) -> None:
    for i in np.flatnonzero(path.segment_lengths < _APART):
        x, y = path.controls[i, 0]
        pen.found(
            "short-segment",
            f"a segment of the {role} line is shorter than {_APART:.5f} mm and will be dropped",
            place=f"({x:.1f}, {y:.1f})",
        )
