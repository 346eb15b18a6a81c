"""Which way a run counts: for places, shares, starts and ends, and the chains of seams.

From the end nearer the centre of the body (the fold, an edge or inner line named as the
centre, or the side that the axis says width counts away from); with no centre, or both ends
alike, from the lower end by the axis; else counter-clockwise. So pieces that mirror each
other count alike, and a front and a back are sewn as `front:side = back:side`.
"""

from __future__ import annotations

import numpy as np

from .frame import across_centre
from .outline import Run
from .piece import Piece

#: Ends whose places differ by less than this, mm, are alike.
_ALIKE = 1.0


def counts_backward(piece: Piece, run: Run) -> bool:
    """Whether a run counts from its `end`, clockwise.

    Settled on the base that a piece was graded from, so that all its sizes count alike.
    """
    piece, run = _as_settled(piece, run)
    path = piece.outline.path
    n = len(path)
    if run.start % n == run.end % n:
        return False
    ends = path.vertices[[run.start % n, run.end % n]]
    away = across_centre(piece, ends)
    if away is not None and abs(away[1] - away[0]) > _ALIKE:
        return bool(away[1] < away[0])
    start, end = ends @ np.array(piece.up)
    return bool(end < start - _ALIKE)


def _as_settled(piece: Piece, run: Run) -> tuple[Piece, Run]:
    """A run on the base of its piece; as it is where the base has none between the same points."""
    base = piece.base
    if base is None:
        return piece, run
    if len(base.outline.path) == len(piece.outline.path):
        return base, run
    # Vertices were put in: the names of the run and of its ends tell.
    ends = [piece.outline.reference(v) for v in (run.start, run.end)]
    for old in base.outline.runs:
        there = [base.outline.reference(v) for v in (old.start, old.end)]
        if run.name and old.name == run.name and there == ends:
            return base, old
    return piece, run
