"""What is meant by the allowance of a new outline, carried from the old ones."""

from __future__ import annotations

import numpy as np

from ..geometry.types import Floats
from ..model.allowances import Allowances, CornerShape
from ..model.vec import Side
from .ring import Drawn, Line, Placed
from .told_allowances import known_allowances

_SIDES: tuple[Side, ...] = ("left", "right")


def carried_allowances(drawn: Drawn) -> Allowances | None:
    """The allowance of a drawn ring: stretches of old outlines keep their widths and corners.

    A new line takes the width of the run that it stands for or goes on, else the default of the
    piece that stays; None where that has no allowance. A corner that takes the name of one that
    is gone takes its kind. A piece of which only both lines are known is measured.
    """
    base = known_allowances(drawn.ring.staying.piece)
    if base is None:
        return None
    widths = np.full((len(drawn.path), 2), float(base.default))
    sided: dict[Side, Floats] = {}
    shapes = {}
    for one in drawn.placed:
        known = known_allowances(one.zone.piece)
        if known is None:
            continue
        i = (one.start + np.arange(one.count)) % one.old
        at = (one.at + np.arange(one.count)) % one.around
        rows = known.by_segment(one.zone.piece.outline.path, one.zone.side)[i]
        widths[at] = rows[::-1, ::-1] if one.zone.mirrored else rows
        if known.sided and one.zone.side == "both":
            for side in _SIDES:
                rows = known.by_segment(one.zone.piece.outline.path, side)[i]
                own = sided.setdefault(side, np.full_like(widths, np.nan))
                own[at] = rows[::-1, ::-1] if one.zone.mirrored else rows
        shapes.update({c.vertex: c for c in _corners(one, known) if c.vertex in drawn.corners})
    for line, first, last in drawn.lines:
        _on_line(drawn, line, first, last, base, widths, shapes)
    corners = tuple(shapes[v] for v in sorted(shapes))
    made = Allowances.of(
        drawn.path,
        widths,
        default=base.default,
        corner=base.corner,
        corners=corners,
        limit=base.limit,
    )
    for side, rows in sided.items():
        made = made.with_side(drawn.path, np.where(np.isnan(rows), widths, rows), side)
    return made


def _on_line(
    drawn: Drawn,
    line: Line,
    first: int,
    last: int,
    base: Allowances,
    widths: Floats,
    shapes: dict[int, CornerShape],
) -> None:
    """Widths and corners of a new line that takes the place of old runs, put in."""
    outline = drawn.ring.staying.piece.outline
    ends: tuple[float, float] | None = None
    if line.stands_for:
        rows, run = base.by_segment(outline.path), outline.run(line.stands_for[0])
        ends = float(rows[run.start, 0]), float(rows[run.end - 1, 1])
    elif line.goes_on:
        before, after = _beside(drawn, first, -1), _beside(drawn, last, 1)
        if before is not None and after is not None:
            ends = float(widths[before, 1]), float(widths[after, 0])
    if ends is not None:
        along = drawn.path.cumulative[first : last + 1] - drawn.path.cumulative[first]
        even = ends[0] + (ends[1] - ends[0]) * along / along[-1]
        widths[first:last] = np.stack([even[:-1], even[1:]], axis=1)
    named = {p.name: p.vertex for p in outline.points}
    for k, name in line.points.items():
        vertex = (first + k) % len(drawn.path)
        shape = base.shape_at(named[name]) if name in named else None
        if shape is not None and vertex in drawn.corners and vertex not in shapes:
            shapes[vertex] = shape.moved(vertex)


def _beside(drawn: Drawn, vertex: int, way: int) -> int | None:
    """The segment of an old outline nearest to a vertex of a new line; None where there is none."""
    n = len(drawn.path)
    known = {(one.at + k) % n for one in drawn.placed for k in range(one.count)}
    first = vertex if way > 0 else vertex - 1
    return next((k % n for k in range(first, first + way * n, way) if k % n in known), None)


def _corners(one: Placed, known: Allowances) -> list[CornerShape]:
    """The corners of an old outline that lie on a span, as they are on the new one."""
    found = []
    for shape in known.corners:
        vertex = one.vertex(shape.vertex)
        if vertex is not None:
            found.append(shape.moved(vertex, turned_over=one.zone.mirrored))
    return found
