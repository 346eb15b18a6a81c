"""A piece's own lines as shapes: outlines, fold, and what names their points, edges and runs."""

from __future__ import annotations

import re

import numpy as np

from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...model import CORNER_ANGLE, Outline, Run, Vec, number_corners
from .scribe import Facts, Scribe
from .settled import rounded

_POINT_RADIUS = 1.0
_EDGE_RADIUS = 0.7
#: Vertices closer than this, in mm, cannot be told apart in a drawing.
_APART = 1e-5
#: An edge is named at its middle where no other edge is as near as this, mm.
_CLEAR = 0.01
#: A turn this close to the corner angle, in degrees, is not left to be judged again.
_DOUBT = 1e-3
#: A point this near a straight line, in mm, lies on it.
_STRAIGHT = 1e-6
#: A name that can stand as the end of a run without being taken for something else.
_PLAIN_NAME = re.compile(r"(?![#@0-9\s.])(?!.*\.\.)[^;=%]*[^;=%\s.]")


def draw_outlines(scribe: Scribe) -> None:
    """The outline, or the cutting line and the sewing line in it."""
    piece = scribe.piece
    _outline(scribe, piece.drawn, "outline")
    if piece.cut_line is not None:
        _outline(scribe, piece.outline, "sew")


def draw_fold(scribe: Scribe) -> None:
    """The stretch on the fold."""
    fold = scribe.piece.fold
    if fold is not None:
        path = scribe.piece.outline.path.segments(fold.start, fold.end)
        scribe.line("fold", {"role": "fold"}, straight(path))


def draw_markers(scribe: Scribe, marked: dict[Run, Vec]) -> None:
    """Small circles that name points and the `marked` edges."""
    piece = scribe.piece
    _points(scribe, piece.outline, None)
    for run, place in marked.items():
        name = scribe.held(run.name, "the name of an edge")
        scribe.dot("edge", {"edge": name}, place, _EDGE_RADIUS, name)
    if piece.cut_line is not None:
        _points(scribe, piece.cut_line, "cut")


def runs_text(scribe: Scribe, outline: Outline, marked: dict[Run, Vec]) -> str | None:
    """The runs that no edge marker names, as `waist = cf..side; ...`; None without any."""
    parts = []
    for run in sorted(outline.runs, key=lambda r: (r.start, r.end)):
        if run not in marked:
            name = scribe.held(run.name, "the name of a run") or ""
            name = name.replace("%", "%25").replace(";", "%3B").replace("=", "%3D")
            parts.append(f"{name} = {_end(outline, run.start)}..{_end(outline, run.end)}")
    return "; ".join(parts) or None


def marked_edges(outline: Outline) -> dict[Run, Vec]:
    """Named runs that are one edge each, and where a marker names it beyond doubt."""
    named: dict[tuple[int, int], Run] = {}
    for run in outline.runs:
        named.setdefault((run.start, run.end), run)
    wanted = [
        e for e in outline.edges if e.name is not None and e.name == named[e.start, e.end].name
    ]
    if not wanted:
        return {}
    path = outline.path
    middles = rounded(path.at(np.array([e.offset + e.length / 2 for e in wanted])))
    # Only segments whose boxes come near can be too near.
    low, high = path.controls.min(axis=1), path.controls.max(axis=1)
    gap = np.maximum(low - middles[:, None], middles[:, None] - high).max(axis=2)
    own = np.array([_own(e.start, e.end, len(path)) for e in wanted])
    result = {}
    for k, edge in enumerate(wanted):
        others = np.flatnonzero((gap[k] <= _CLEAR) & ~own[k]).tolist()
        near = [nearest(path.segments(i, i + 1), middles[k]).distance.min() for i in others]
        if min(near, default=np.inf) > _CLEAR:
            x, y = middles[k]
            result[named[edge.start, edge.end]] = (float(x), float(y))
    return result


def straight(run: Path) -> Path:
    """One line from end to end where the whole of an open path lies on it."""
    step = run.end - run.start
    size = float(np.hypot(*step))
    if size == 0 or not run.lines.all():
        return run
    off = run.vertices - run.start
    away = np.abs(step[0] * off[:, 1] - step[1] * off[:, 0]) / size
    return run if (away > _STRAIGHT).any() else Path.polyline(np.array([run.start, run.end]))


def _own(start: int, end: int, n: int) -> np.ndarray:
    """Which of `n` segments lie from vertex `start` to vertex `end`."""
    return (np.arange(n) - start) % n < ((end - start) % n or n)


def _outline(scribe: Scribe, outline: Outline, role: str) -> None:
    path = outline.path
    for i in np.flatnonzero(path.segment_lengths < _APART):
        x, y = path.controls[i, 0]
        scribe.found(
            "short-segment",
            f"a segment of the {role} line is shorter than {_APART:.5f} mm and will be dropped",
            place=f"({x:.1f}, {y:.1f})",
        )
    on_cut = outline is scribe.piece.cut_line
    says: Facts = {
        "role": role,
        "corners": _corners(outline),
        "runs": runs_text(scribe, outline, {}) if on_cut else None,
    }
    scribe.line(role, says, path)


def _points(scribe: Scribe, outline: Outline, on: str | None) -> None:
    for point in outline.points:
        if point.name is None and point.rule is None:
            continue
        x, y = outline.vertex_at(point.vertex)
        name = scribe.held(point.name, "the name of a point")
        says: Facts = {
            "point": name,
            "rule": scribe.held(point.rule, "the rule of a point"),
            "on": on,
        }
        scribe.dot("point", says, (float(x), float(y)), _POINT_RADIUS, name)


def _end(outline: Outline, vertex: int) -> str:
    name = outline.point(vertex).name
    if name is not None and _PLAIN_NAME.fullmatch(name):
        return name
    corner = outline.corner_number(vertex)
    return f"@{vertex}" if corner is None else f"#{corner}"


def _corners(outline: Outline) -> str | None:
    """Vertex numbers of the corners where numbering anew might give others; else None."""
    path = outline.path
    doubtful = (np.abs(np.abs(path.turns) - CORNER_ANGLE) < _DOUBT).any()
    if not doubtful and number_corners(path) == outline.corners:
        return None
    return " ".join(str(v) for v in outline.corners)
