"""How wide the seam allowance of a piece is along each edge, measured on its two lines."""

from __future__ import annotations

import numpy as np

from ..geometry.crossings import crossings
from ..geometry.nearest import nearest
from ..geometry.path import Path
from ..geometry.types import Floats
from .outline import Edge, Outline, Run
from .piece import Piece

# A cutting line nearer to the sewing line than this, mm, lies on it.
_ON = 0.05
# No allowance is looked for further out than this, mm.
_FURTHEST = 300.0


def edge_allowances(piece: Piece) -> tuple[tuple[str, float], ...]:
    """The name of each edge and the width of its allowance in mm, in corner order.

    The width is the distance from the middle of the edge straight out to the cutting line. An
    edge without a name has that of the shortest named run that it is part of, else `#n`. Left
    out are the fold where nothing is added there, and the legs of darts. Empty for a piece
    without a cutting line.
    """
    if piece.cut_line is None:
        return ()
    found = []
    for edge in piece.outline.edges:
        if any(_within(piece.outline, edge, Run(d.a, d.b)) for d in piece.darts):
            continue
        width = _width(piece.outline, edge, piece.cut_line.path)
        fold = piece.fold
        folded = fold is not None and _within(piece.outline, edge, Run(fold.start, fold.end))
        if not (folded and width == 0.0):
            found.append((_name(piece.outline, edge), width))
    return tuple(found)


def _width(outline: Outline, edge: Edge, cut: Path) -> float:
    s = np.array([(edge.offset + edge.length / 2) % outline.path.length])
    at, along = outline.path.at(s)[0], outline.path.tangents(s)[0]
    near = float(nearest(cut, at[None]).distance[0])
    if near < _ON:
        return 0.0
    # Straight out: on a narrow piece the nearest line may be that of another edge.
    out: Floats = np.array([along[1], -along[0]])
    ray = Path.polyline(np.array([at, at + out * _FURTHEST]))
    reached = [c.s0 for c in crossings(ray, cut)]
    return float(min(reached, default=near))


def _name(outline: Outline, edge: Edge) -> str:
    if edge.name:
        return edge.name
    runs = [r for r in outline.runs if r.name and _within(outline, edge, r)]
    shortest = min(runs, key=outline.run_length, default=None)
    return f"#{edge.number}" if shortest is None else shortest.name or ""


def _within(outline: Outline, edge: Edge, run: Run) -> bool:
    """Whether an edge lies wholly within a run."""
    n = len(outline.path)
    span = (run.end - run.start) % n or n
    first = (edge.start - run.start) % n
    length = (edge.end - edge.start) % n or n
    return first + length <= span
