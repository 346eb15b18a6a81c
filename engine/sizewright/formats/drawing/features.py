"""What a piece bears besides outline and notches, out of marked shapes."""

from __future__ import annotations

from typing import Literal

import numpy as np

from ...errors import InputError
from ...geometry.nearest import nearest, nearest_point
from ...geometry.path import Path
from ...geometry.regions import contains
from ...geometry.straight import straight_segments
from ...geometry.types import Floats
from ...model import Axis, Dart, Edge, Fold, Grain, Hold, Outline, Pleat, Vec, refuse_wide
from .drafts import Draft
from .loops import sides
from .marking import choice, flag, whole
from .shapes import Shape
from .vertices import EDGE_REACH, centre_of, edge_under, place_of, vertex_under

#: A fold line lies along the edge within this, in mm.
FOLD_REACH = 2.0
#: A closed mark of a dart that is longer than this, in mm, is the dart itself.
_DART = 20.0
#: Segments this near one line, in mm, go on straight.
_STRAIGHT = 0.05


def vec(point: Floats) -> Vec:
    """A point as the model's plain pair."""
    return float(point[0]), float(point[1])


def _ends(drawn: Shape) -> tuple[Floats, Floats]:
    """Start and end of the longest line of a mark; the far ends of a closed shape."""
    if not drawn.paths:
        raise InputError("the mark has no line", where=drawn.place, cure="Draw a line there.")
    path = max(drawn.paths, key=lambda p: p.length)
    if not path.closed:
        return path.start, path.end
    points = path.vertices
    away = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    i, j = np.unravel_index(int(away.argmax()), away.shape)
    return points[i], points[j]


def read_grain(drawn: Shape) -> Grain:
    """The grain line as drawn; one end means the arrow is at the line's end."""
    start, end = _ends(drawn)
    one = whole(drawn.element, "data-ends", 2, (1, 2)) == 1
    return Grain(vec(start), vec(end), 1 if one else 2)


def read_axis(drawn: Shape) -> Axis:
    """The grade axis; with two ends the one nearer the page's top is up."""
    start, end = _ends(drawn)
    if whole(drawn.element, "data-ends", 2, (1, 2)) == 2 and start[1] > end[1]:
        start, end = end, start
    word = choice(drawn.element, "data-away", ("left", "right"), "")
    away: Literal["left", "right"] | None = (
        "left" if word == "left" else "right" if word == "right" else None
    )
    return Axis(vec(start), vec(end), flag(drawn.element, "data-given", default=True), away)


# --- fold -------------------------------------------------------------------------


def read_fold(drawn: Shape, outline: Outline, draft: Draft) -> Fold | None:
    """The straight stretch of outline that a fold line lies along; None with a finding."""
    found = _fold(drawn, outline, draft) if drawn.paths else None
    if found is None:
        text = f"the fold line lies along no edge of the outline (within {FOLD_REACH:.0f} mm)"
        cure = "Draw it along the edge that is laid on the fold."
        draft.find("fold-nowhere", "fail", text, cure, place=drawn.place, at=place_of(drawn))
    return found


def _fold(drawn: Shape, outline: Outline, draft: Draft) -> Fold | None:
    line = max(drawn.paths, key=lambda p: p.length)
    path = outline.path
    ends = vertex_under(path, line.start), vertex_under(path, line.end)
    if ends[0] is not None and ends[1] is not None and ends[0] != ends[1]:
        exact = all(
            float(np.hypot(*(path.vertices[v] - p))) <= _STRAIGHT
            for v, p in zip(ends, (line.start, line.end), strict=True)
        )
        if exact or len(line) > 1:
            found = _between(path, line, ends[0], ends[1])
            if found is not None:
                return found
    return _along(outline, line.start, line.end, drawn, draft)


def _between(path: Path, line: Path, a: int, b: int) -> Fold | None:
    """From vertex to vertex, the way round that runs beside the line."""
    share = np.linspace(0.0, 1.0, 9)
    best: Fold | None = None
    least = FOLD_REACH
    for first, last in ((a, b), (b, a)):
        run = path.segments(first, last)
        gap = float(nearest(line, run.at(share * run.length)).distance.max())
        if gap <= least:
            best, least = Fold(first, last), gap
    return best


def _along(outline: Outline, start: Floats, end: Floats, drawn: Shape, draft: Draft) -> Fold | None:
    path = outline.path
    step = end - start
    size = float(np.hypot(*step))
    if size == 0:
        return None
    unit = step / size
    off = path.controls - start
    along = off @ unit
    across = np.abs(off[..., 0] * unit[1] - off[..., 1] * unit[0])
    overlap = np.minimum(along.max(axis=1), size) - np.maximum(along.min(axis=1), 0.0)
    beside = (across.max(axis=1) <= FOLD_REACH) & (overlap > 0)
    if not beside.any():
        return None
    seed = int(np.where(beside, overlap, -np.inf).argmax())
    if not straight_segments(path, _STRAIGHT)[seed]:
        edge, _ = outline.edge_along(float(path.cumulative[seed]) + 1e-6)
        text = "the edge on the fold is not straight"
        cure = "Draw it as one straight line."
        draft.find("fold-curved", "warn", text, cure, place=drawn.place, at=place_of(drawn))
        return Fold(edge.start, edge.end)
    n = len(path)
    first, last = seed, seed + 1
    while last - first < n - 1 and _goes_on(path, seed, last % n):
        last += 1
    while last - first < n - 1 and _goes_on(path, seed, (first - 1) % n):
        first -= 1
    return Fold(first % n, last % n)


def _goes_on(path: Path, seed: int, segment: int) -> bool:
    """Whether a segment lies on the straight line through the seed segment, the same way."""
    start, end = path.controls[seed, 0], path.controls[seed, 3]
    unit = (end - start) / np.hypot(*(end - start))
    off = path.controls[segment] - start
    across = np.abs(off[:, 0] * unit[1] - off[:, 1] * unit[0])
    steps = np.diff(off @ unit)
    return bool(across.max() <= _STRAIGHT and (steps >= 0).all())


# --- darts, pleats, holds ---------------------------------------------------------


def _through(drawn: Shape) -> Floats | None:
    """The points of a mark drawn as one open line; None for other shapes."""
    if len(drawn.paths) != 1 or drawn.paths[0].closed:
        return None
    return drawn.paths[0].vertices


def mouth_ends(drawn: Shape) -> Floats:
    """Where the mouth of a dart or pleat drawn as a line begins and ends, (2, 2), else (0, 2)."""
    mouth = drawn.marking is not None and (drawn.marking.dart or drawn.marking.pleat) is not None
    points = _through(drawn) if mouth else None
    return np.empty((0, 2)) if points is None else points[[0, -1]]


def drawn_closed(drawn: Shape) -> bool:
    """Whether a dart's mark is the closed line of one within the piece, not a dot at its point."""
    if len(drawn.paths) != 1 or not drawn.paths[0].closed:
        return False
    return sides(drawn.paths[0])[1] >= _DART


def read_dart(drawn: Shape, outline: Outline, draft: Draft) -> Dart | None:
    """A dart drawn by its legs, or by a small shape at the vertex that is its point."""
    assert drawn.marking is not None
    path = outline.path
    name = drawn.marking.dart or "dart"
    points = _through(drawn)
    if points is not None and len(points) in (3, 5):
        a, b = vertex_under(path, points[0]), vertex_under(path, points[-1])
        tip = vertex_under(path, points[1])
        if drawn.element.get("data-tip") == "no":
            tip = None
        if a is not None and b is not None and a != b:
            a, b = _round(path, a, b, tip)
            return Dart(name, a, b, vec(points[len(points) // 2]), tip)
    else:
        tip = vertex_under(path, centre_of(drawn))
        if tip is not None and outline.corner_number(tip) is not None and len(outline.corners) > 2:
            a, b = neighbours(outline, tip)
            return Dart(name, a, b, vec(outline.vertex_at(tip)), tip)
    draft.find(
        "dart-nowhere",
        "fail",
        f'the dart "{name}" is at no corner of the outline',
        cure="Put its mark on the corner that is the dart's point, or draw its two legs "
        "from mouth corner to point to mouth corner.",
        place=drawn.place,
        at=place_of(drawn),
    )
    return None


def _round(path: Path, a: int, b: int, tip: int | None = None) -> tuple[int, int]:
    """The ends of a mouth in outline order, whichever was drawn first: by way of its tip, or
    else the shorter way round."""
    if tip not in (None, a, b):
        ordered = (int(tip or 0) - a) % len(path) < (b - a) % len(path)
    else:
        ordered = 2 * path.segments(a, b).length <= path.length
    return (a, b) if ordered else (b, a)


def _between_points(outline: Outline, edge: Edge, place: Floats) -> tuple[int, int]:
    """The named points of an edge on both sides of a place; its own ends where none is."""
    path = outline.path
    start = float(path.cumulative[edge.start])
    along = (nearest_point(path, place).s - start) % path.length
    named = [
        (float(path.cumulative[p.vertex] - start) % path.length, p.vertex) for p in outline.points
    ]
    before = max(((s, v) for s, v in named if s <= along), default=(0.0, edge.start))
    after = min(((s, v) for s, v in named if along < s < edge.length), default=(0.0, edge.end))
    return before[1], after[1]


def neighbours(outline: Outline, vertex: int) -> tuple[int, int]:
    """The corners before and after a corner, in outline order."""
    k = outline.corners.index(vertex)
    return outline.corners[k - 1], outline.corners[(k + 1) % len(outline.corners)]


def read_pleat(drawn: Shape, outline: Outline, draft: Draft) -> Pleat | None:
    """A pleat by a line along its mouth, or by a small shape at the edge that is its mouth."""
    assert drawn.marking is not None
    name = drawn.marking.pleat or "pleat"
    points = _through(drawn)
    if points is not None:
        a, b = vertex_under(outline.path, points[0]), vertex_under(outline.path, points[-1])
        if a is not None and b is not None and a != b:
            return _pleat(name, outline, *_round(outline.path, a, b))
    else:
        edge = edge_under(outline, drawn)
        return _pleat(name, outline, *_between_points(outline, edge, centre_of(drawn)))
    text = f'the mouth of the pleat "{name}" does not begin and end at outline vertices'
    cure = "Draw its line from node to node of the outline."
    draft.find("pleat-nowhere", "fail", text, cure, place=drawn.place, at=place_of(drawn))
    return None


def _pleat(name: str, outline: Outline, a: int, b: int) -> Pleat:
    refuse_wide(outline, a, b, f'the pleat "{name}"')
    return Pleat(name, a, b)


def read_hold(drawn: Shape, outline: Outline, draft: Draft) -> Hold | None:
    """Vertices that move together: under a line's points, or about a small marker."""
    assert drawn.marking is not None
    name = drawn.marking.name
    points = _through(drawn)
    if points is not None and drawn.marking.hold != "point":
        under = [vertex_under(outline.path, p) for p in points]
        if all(v is not None for v in under):
            return Hold(tuple(v for v in under if v is not None), name)
    else:
        place = centre_of(drawn)
        vertex = vertex_under(outline.path, place)
        if vertex is not None:
            if drawn.marking.hold != "point" and _reflex(outline, vertex):
                a, b = neighbours(outline, vertex)
                return Hold((a, vertex, b), name)
            return Hold((vertex,), name)
        mouth = _mouth_round(outline, place)
        if mouth is not None:
            return Hold(mouth, name)
        foot = nearest_point(outline.path, place)
        if foot.distance <= EDGE_REACH:
            edge, _ = outline.edge_along(foot.s)
            if edge.start != edge.end:
                return Hold((edge.start, edge.end), name)
    text = "a hold mark is in no dart mouth or placket, and at no vertex or edge"
    cure = "Put it into the mouth that it holds, or onto a vertex."
    draft.find("hold-nowhere", "fail", text, cure, place=drawn.place, at=place_of(drawn))
    return None


def _reflex(outline: Outline, vertex: int) -> bool:
    """Whether the outline turns into the cloth at a corner."""
    corner = outline.corner_number(vertex) is not None
    return corner and len(outline.corners) > 2 and float(outline.path.turns[vertex]) < 0


def _mouth_round(outline: Outline, place: Floats) -> tuple[int, ...] | None:
    """The shortest run of 3 to 5 corners whose polygon, outside the cloth, holds a place."""
    if contains(outline.path, place[None])[0]:
        return None
    corners = np.array(outline.corners, dtype=np.intp)
    n = len(corners)
    for count in range(3, min(5, n) + 1):
        runs = corners[(np.arange(n)[:, None] + np.arange(count)) % n]
        polygons = outline.path.vertices[runs]
        low, high = polygons.min(axis=1), polygons.max(axis=1)
        for k in np.flatnonzero(((low <= place) & (place <= high)).all(axis=1)):
            polygon = Path.polyline(polygons[k], closed=True)
            # Corners that bound a mouth run round it clockwise, since it is no cloth.
            if polygon.area < 0 and contains(polygon, place[None])[0]:
                return tuple(int(v) for v in runs[k])
    return None
