"""What is meant by the allowance of a new outline, carried from the old ones."""

from __future__ import annotations

import numpy as np

from ..model.allowances import Allowances, CornerShape
from .ring import Drawn, Placed
from .told_allowances import known_allowances


def carried_allowances(drawn: Drawn) -> Allowances | None:
    """The allowance of a drawn ring: stretches of old outlines keep their widths and corners.

    A new line over which old runs go on takes the widths beside it, any other the default of
    the piece that stays; None where that has no allowance.
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
            before, after = widths[first - 1, 1], widths[last % len(widths), 0]
            share = np.linspace(0.0, 1.0, last - first + 1)[:, None]
            edge = before + (after - before) * share
            widths[first:last] = np.hstack([edge[:-1], edge[1:]])
    corners = tuple(shapes[v] for v in sorted(shapes))
    return Allowances.of(
        drawn.path,
        widths,
        default=base.default,
        corner=base.corner,
        corners=corners,
        limit=base.limit,
    )


def _corners(one: Placed, known: Allowances) -> list[CornerShape]:
    """The corners of an old outline that lie on a span, as they are on the new one."""
    found = []
    for shape in known.corners:
        vertex = one.vertex(shape.vertex)
        if vertex is not None:
            found.append(shape.moved(vertex, turned_over=one.zone.mirrored))
    return found
