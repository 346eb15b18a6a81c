"""Slashing a piece into zones that move apart rigidly, what opens filled by straight lines."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import numpy as np

from ..geometry import affine
from ..geometry.path import Path
from ..model.piece import Piece
from .ring import FairEdge, Line, Ring, Slides, Span, Zone

#: Ends that come to lie nearer than this, mm, meet.
_MEET = 1e-7


def runs_over(piece: Piece, vertex: int) -> tuple[str, ...]:
    """The named runs, and the fold, that have a vertex within them, their ends left out.

    >>> from sizewright.model import Outline, Run
    >>> square = Path.polyline([(0, 0), (80, 0), (80, 80), (0, 80)], closed=True)
    >>> runs_over(Piece("pocket", Outline.of(square, runs=[Run(0, 2, "sewn")])), 1)
    ('sewn',)
    """
    fold, n = piece.fold, len(piece.outline.path)
    folded = fold is not None and 0 < (vertex - fold.start) % n < (fold.end - fold.start) % n
    return piece.outline.runs_over(vertex) + ("fold",) * folded


def slashed(
    spans: Sequence[Span],
    step: str,
    stays: Zone,
    *,
    lines: Mapping[tuple[int, int], Line] | None = None,
    fair: Sequence[tuple[Collection[int], Slides | None]] = (),
) -> Ring:
    """The ring of a piece whose zones moved apart, from all its spans in order round the outline.

    Where the next span does not begin where the last one ends now, a straight line goes there,
    over which their runs go on; `lines` gives others, by the old vertices that they
    begin and end at (one twice, where a cut opened).
    Marks and adjust lines run on over what opened. `fair`: groups of old vertices at which an
    edge was cut that is to be faired whole, and which of its ends slides (see `FairEdge`).
    """
    elements: list[Span | Line] = []
    # The old vertex at which each element starts.
    begins: list[int] = []
    for k, span in enumerate(spans):
        elements.append(span)
        begins.append(span.start)
        following = spans[(k + 1) % len(spans)]
        if lines and (span.end, following.start) in lines:
            elements.append(lines[span.end, following.start])
            begins.append(span.end)
            continue
        vertices = span.zone.piece.outline.path.vertices
        end = affine.apply(span.zone.move, vertices[span.end])
        start = affine.apply(following.zone.move, vertices[following.start])
        if float(np.hypot(*(start - end))) > _MEET:
            over = set(runs_over(span.zone.piece, following.start))
            goes_on = tuple(n for n in runs_over(span.zone.piece, span.end) if n in over)
            elements.append(Line(Path.polyline([end, start]), goes_on=goes_on))
            begins.append(span.end)
    edges = []
    for group, slides in fair:
        joints = tuple(k for k, vertex in enumerate(begins) if vertex in group)
        edges.append(FairEdge(joints, slides))
    return Ring(elements, step, stays, edges=tuple(edges), bridged=True)
