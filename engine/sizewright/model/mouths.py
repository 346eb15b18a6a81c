"""Mouths of pleats and darts against the run that they lie in."""

from __future__ import annotations

import numpy as np

from ..errors import InputError
from ..geometry.types import Floats
from ..units import both
from .outline import Outline, Run

#: An edge that leaves a mouth within so many degrees of its direction goes on with it.
_TURN = 45.0
_ON = float(np.cos(np.radians(_TURN)))
#: A mouth that takes more than this share of its run is none.
WIDEST = 0.5


def run_round(outline: Outline, a: int, b: int) -> tuple[float, float]:
    """How wide the mouth from vertex `a` to `b` is, and how long the run is that it lies in, mm.

    The run is the shortest one with a name that has more than the mouth; else the edges that go
    on straight from it, more or less, with the mouth between them.
    """
    path = outline.path
    width = float(np.hypot(*(outline.vertex_at(b) - outline.vertex_at(a))))
    mouth = outline.run_length(Run(a, b))
    n = len(path)
    longer = []
    for run in outline.runs:
        first, last, span = (a - run.start) % n, (b - run.start) % n, (run.end - run.start) % n or n
        if first < (last or n) <= span and (first, last) != (0, span):
            longer.append(outline.run_length(run) - mouth + width)
    if longer:
        return width, min(longer)
    if width == 0.0:
        return width, path.length
    along = (outline.vertex_at(b) - outline.vertex_at(a)) / width
    return width, width + _beside(outline, b, along, 1) + _beside(outline, a, along, -1)


def _beside(outline: Outline, vertex: int, along: Floats, step: int) -> float:
    """How far the outline goes on from the end of a mouth, up to a corner that turns off.

    Darts that are cut out of it are passed over.
    """
    path, n = outline.path, len(outline.path)
    length, at, new = 0.0, vertex % n, True
    for _ in range(n):
        tangent = path.tangents_out[at] if step > 0 else path.tangents_in[at - 1]
        off = float(tangent @ along) < _ON if new else abs(float(path.turns[at])) > _TURN
        new = False
        if off:
            beyond = _over_dart(outline, at, along * step, step)
            if beyond is None:
                break
            length += float(np.hypot(*(path.vertices[beyond] - path.vertices[at])))
            at, new = beyond, True
            continue
        length += float(path.segment_lengths[at if step > 0 else at - 1])
        at = (at + step) % n
    return min(length, path.length)


def _over_dart(outline: Outline, vertex: int, way: Floats, step: int) -> int | None:
    """The other mouth corner of a dart whose mouth begins at `vertex` and goes on `way`."""
    corners, turns = outline.corners, outline.path.turns
    if vertex not in corners or len(corners) < 4:
        return None
    k = corners.index(vertex)
    tip, other = (corners[(k + j * step) % len(corners)] for j in (1, 2))
    across = outline.vertex_at(other) - outline.vertex_at(vertex)
    ahead = float(across @ way) >= _ON * float(np.hypot(*across)) > 0.0
    return other if ahead and turns[tip] < -_TURN else None


def refuse_wide(outline: Outline, a: int, b: int, what: str) -> None:
    """Raises InputError where the mouth from `a` to `b` is wider than half its run.

    `what` it is in words, such as `the pleat "left"`.
    """
    if 2 * outline.run_length(Run(a, b)) > outline.path.length:
        ends = [outline.reference(v) or "its other point" for v in (b, a)]
        raise InputError(
            f"{what} goes the long way round the piece, "
            f"{both(outline.run_length(Run(a, b)))} of {both(outline.path.length)}",
            cure=f'A stretch is told counter-clockwise: write "{ends[0]}..{ends[1]}".',
        )
    width, run = run_round(outline, a, b)
    if width > WIDEST * run + 1e-6:
        raise InputError(
            f"the mouth of {what} is {both(width)} wide, more than half of the {both(run)} that "
            "it lies in",
            cure="A pleat's mouth is the stretch between its two points: name or draw these.",
        )
