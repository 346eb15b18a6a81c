"""What is meant by the allowance of a new outline, carried from the old ones."""

from __future__ import annotations

import numpy as np

from ..model.allowances import Allowances, CornerShape
from .ring import Drawn, Placed
from .told_allowances import known_allowances


def carried_allowances(drawn: Drawn) -> Allowances | None:
    """The allowance of a drawn ring: stretches of old outlines keep their widths and corners.

    A new line that a run goes on over has the width of that run beside it, any other the
    default of the piece that stays; None where that has no allowance.
    A piece of which only both lines are known is measured.
    """
    base = known_allowances(drawn.ring.staying.piece)
    if base is None:
        return None
    widths = np.full((len(drawn.path), 2), float(base.default))
    shapes = {}
    for one in drawn.placed:
        known = known_allowances(one.zone.piece)
        if known is None:
            continue
        i = (one.start + np.arange(one.count)) % one.old
        rows = known.by_segment(one.zone.piece.outline.path)[i]
        at = (one.at + np.arange(one.count)) % one.around
        widths[at] = rows[::-1, ::-1] if one.zone.mirrored else rows
        shapes.update({c.vertex: c for c in _corners(one, known) if c.vertex in drawn.corners})
    for line, first, last in drawn.lines:
        if line.goes_on:
            beside = _beside(drawn, first, -1), _beside(drawn, last, 1)
            if beside[0] is not None and beside[1] is not None:
                widths[first:last] = (widths[beside[0], 1] + widths[beside[1], 0]) / 2
    corners = tuple(shapes[v] for v in sorted(shapes))
    return Allowances.of(
        drawn.path,
        widths,
        default=base.default,
        corner=base.corner,
        corners=corners,
        limit=base.limit,
    )


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
