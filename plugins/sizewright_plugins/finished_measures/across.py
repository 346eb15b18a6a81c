"""What one piece measures: across it at a level, along a run, down between two points."""

from __future__ import annotations

import numpy as np
import shapely

from sizewright.geometry import Floats, flatten
from sizewright.model import CENTRES, Dart, Frame, Piece, Run, axis_frame, eye_darts, walk

#: Chords of the outline leave it by at most so much, mm.
_FINE = 0.002
#: A level is looked at so far above and below it, mm.
_BESIDE = 0.01
#: What lies beyond an inner centre line is a lap where it is less than this share of the rest.
_LAP = 0.25
#: A pleat is closed at a level this near to its mouth, mm.
_PLEAT = 20.0
#: Places along a run at which its side of the centre line is looked at.
_SAMPLES = 2000


def across(piece: Piece, length: float) -> float:
    """Width of the piece at a place along the grade axis, mm, darts and pleats closed.

    `length` is the place, in the coordinates of the piece's `Frame`. The width goes from the
    outermost edge on one side to that on the other: an armhole that dips below its own end
    takes nothing away. What lies beyond a centre line drawn inside the piece, as a button
    stand does, is left out.
    """
    frame, _ = axis_frame(piece)
    area = shapely.Polygon(frame.local(flatten(piece.outline.path, _FINE)))
    wedges = [_wedge(piece, dart, frame) for dart in piece.darts]
    wedges += [_sound(frame.local(flatten(eye.path, _FINE))) for eye in eye_darts(piece)]
    darts = shapely.union_all(wedges)
    corners = frame.local(piece.outline.path.vertices)
    on_it = corners[np.abs(corners[:, 1] - length) <= _BESIDE, 0]
    width = 0.0
    # Never on the level itself, where edges and dart mouths may lie.
    for at in (length - _BESIDE, length + _BESIDE):
        x0, _, x1, _ = area.bounds
        line = shapely.LineString([(x0 - 1.0, at), (x1 + 1.0, at)])
        cut = area.intersection(line)
        if cut.is_empty:
            continue
        ends = [*on_it, *cut.bounds[0::2]]
        span = shapely.LineString([(min(ends), at), (max(ends), at)])
        cloth = span.difference(darts)
        width = max(width, _halves(piece, cloth, frame, at))
    for pleat in piece.pleats:
        mouth = frame.local(piece.outline.path.vertices[[pleat.a, pleat.b]])
        if abs(float(mouth[:, 1].mean()) - length) <= _PLEAT:
            width -= piece.outline.run_length(Run(pleat.a, pleat.b))
    return max(width, 0.0)


def along(piece: Piece, run: Run) -> float:
    """Sewn length of a run, mm, without what lies beyond a centre line inside the piece."""
    frame, _ = axis_frame(piece)
    stretches = [(min(s), max(s)) for s in walk(piece, run).stretches]
    total = sum(b - a for a, b in stretches)
    centre = _centre_line(piece, frame)
    if centre is None:
        return total
    sides = [0.0, 0.0]
    for a, b in stretches:
        s = np.linspace(a, b, _SAMPLES)
        points = piece.outline.path.at(s % piece.outline.path.length)
        out = frame.local(points)[:, 0] - _centre_at(centre, frame.local(points)[:, 1])
        step = (b - a) / (_SAMPLES - 1)
        # The share of each step on the far side, by where it crosses the centre line.
        far = np.clip(_share(out[:-1], out[1:]), 0.0, 1.0)
        sides[0] += float((step * (1 - far)).sum())
        sides[1] += float((step * far).sum())
    return _without_lap(*sides)


def down(piece: Piece, a: str, b: str) -> float:
    """Distance of two points along the grade axis, mm."""
    frame, _ = axis_frame(piece)
    ends = [piece.outline.vertex_at(piece.outline.vertex(name)) for name in (a, b)]
    lengths = frame.local(np.array(ends))[:, 1]
    return abs(float(lengths[1] - lengths[0]))


def length_of(piece: Piece, vertex: int) -> float:
    """The place of a vertex along the grade axis, mm."""
    frame, _ = axis_frame(piece)
    return float(frame.local(piece.outline.vertex_at(vertex)[None])[0, 1])


def _wedge(piece: Piece, dart: Dart, frame: Frame) -> shapely.Polygon:
    """What a dart takes out of the cloth, in (width, length) coordinates."""
    path = piece.outline.path
    if dart.tip is None:
        mouth = path.vertices[[dart.a, dart.b]]
        return shapely.Polygon(frame.local(np.vstack([mouth, dart.apex])))
    return _sound(frame.local(flatten(path.segments(dart.a, dart.b), _FINE)))


def _sound(points: Floats) -> shapely.Polygon:
    polygon = shapely.Polygon(points)
    return polygon if polygon.is_valid else polygon.buffer(0)


def _halves(piece: Piece, cloth: shapely.Geometry, frame: Frame, length: float) -> float:
    """Length of what a level line has of cloth, without a lap beyond an inner centre line."""
    centre = _centre_line(piece, frame)
    if centre is None or cloth.is_empty:
        return float(cloth.length)
    at = float(_centre_at(centre, np.array([length]))[0])
    x0, _, x1, _ = cloth.bounds
    halves = (
        shapely.LineString([(min(x0, at) - 1.0, length), (at, length)]),
        shapely.LineString([(at, length), (max(x1, at) + 1.0, length)]),
    )
    return _without_lap(*(float(cloth.intersection(half).length) for half in halves))


def _centre_line(piece: Piece, frame: Frame) -> Floats | None:
    """Ends (2, 2) in (width, length) coordinates of a centre line drawn inside the piece."""
    for mark in piece.marks:
        names = {name.casefold() for name in (mark.name, mark.kind) if name}
        if names & set(CENTRES) and not mark.path.closed:
            ends = frame.local(np.array([mark.path.start, mark.path.end]))
            if abs(ends[1, 1] - ends[0, 1]) > abs(ends[1, 0] - ends[0, 0]):
                return ends
    return None


def _centre_at(centre: Floats, lengths: Floats) -> Floats:
    """Widths (m,) of a centre line at places along the axis (m,)."""
    (w0, l0), (w1, l1) = centre
    widths: Floats = w0 + (lengths - l0) * (w1 - w0) / (l1 - l0)
    return widths


def _share(before: Floats, after: Floats) -> Floats:
    """Share of each step that lies where the value is positive."""
    high = np.maximum(before, after)
    span = np.abs(after - before)
    with np.errstate(divide="ignore", invalid="ignore"):
        share: Floats = np.where(span > 0, high / span, (high > 0) * 1.0)
    return share


def _without_lap(a: float, b: float) -> float:
    """Both sides of a centre line together, or the larger where the other is only a lap."""
    small, large = sorted((a, b))
    return large if small < _LAP * large else small + large
