"""How wide the seam allowance of a piece is along each edge: as it is meant, else as drawn."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ..geometry.flatten import flatten
from ..geometry.types import Floats
from ..model.allowances import Allowances
from ..model.outline import Edge, Outline
from ..model.piece import Piece
from ..units import Unit

# A cutting line nearer to the sewing line than this, mm, lies on it.
_ON = 0.05
# No allowance is looked for further out than this, mm.
_FURTHEST = 300.0
# Where along an edge its width is measured, as shares of its length.
_PLACES = np.array([0.1, 0.3, 0.5, 0.7, 0.9])
# A width is taken for a round one that lies within this, mm: what files keep of a line.
_DRAWN = 0.05
# Round widths are multiples of these, mm.
_ROUND = (0.5, Unit.IN.to_mm(1 / 16))


class EdgeAllowance(NamedTuple):
    """The width in mm at the start and end of an edge, or of a named part of one."""

    name: str
    w0: float
    w1: float


def edge_allowances(piece: Piece) -> tuple[EdgeAllowance, ...]:
    """The allowance along each edge, in corner order; parts of an edge where it changes there.

    An edge without a name has that of the shortest named run that it is part of, else `#n`. Left
    out are the fold where nothing is added there, and the legs of darts. Empty for a piece
    without a cutting line.
    """
    allowances = known_allowances(piece)
    if allowances is None or piece.cut_line is None:
        return ()
    outline = piece.outline
    n = len(outline.path)
    widths = allowances.by_segment(outline.path)
    found: list[EdgeAllowance] = []
    for edge in outline.edges:
        if any(_within(n, edge.start, edge.end, d.a, d.b) for d in piece.darts):
            continue
        marks = [s.start for s in allowances.stretches] + [s.end for s in allowances.stretches]
        inner = sorted({(v - edge.start) % n for v in marks})
        length = (edge.end - edge.start) % n or n
        places = [0, *(k for k in inner if 0 < k < length), length]
        for a, b in pairwise(places):
            start, end = (edge.start + a) % n, (edge.start + b) % n
            w0, w1 = (float(w) for w in (widths[start, 0], widths[end - 1, 1]))
            folded = piece.fold is not None and _within(
                n, start, end, piece.fold.start, piece.fold.end
            )
            if folded and piece.allowances is not None:
                continue
            if not (folded and w0 == w1 == 0.0):
                found.append(EdgeAllowance(_name(outline, edge, start, end), w0, w1))
    return tuple(found)


def known_allowances(piece: Piece) -> Allowances | None:
    """What is meant by a piece's two lines: its own intent, else measured; None without both."""
    return piece.allowances or measured_allowances(piece)


def measured_allowances(piece: Piece, tolerance: float = _DRAWN) -> Allowances | None:
    """The widths between the two lines of a piece, edge by edge; None where it has not both.

    An edge has one width, or one that changes evenly, where what is measured keeps within
    twice the `tolerance` (mm) of that; else the width in its middle. A width within the
    tolerance of a whole multiple of 0.5 mm or of 1/16 in is taken for that. Corners are taken
    for mitred.
    """
    if piece.cut_line is None:
        return None
    outline = piece.outline
    edges = outline.edges
    widths = np.zeros((len(outline.path), 2))
    begins = np.array([e.offset for e in edges])
    lengths = np.array([e.length for e in edges])
    s = (begins[:, None] + lengths[:, None] * _PLACES) % outline.path.length
    measured = _straight_out(piece, s.reshape(-1)).reshape(s.shape)
    n = len(outline.path)
    for edge, row in zip(edges, measured, strict=True):
        slope, level = np.polyfit(_PLACES, row, 1)
        ends = np.array([level, level + slope])
        if (
            np.ptp(row) <= 2 * tolerance
            or np.abs(level + slope * _PLACES - row).max() > 2 * tolerance
        ):
            ends[:] = row[2]
        w0, w1 = (_meant(max(float(w), 0.0), tolerance) for w in ends)
        count = (edge.end - edge.start) % n or n
        i = (edge.start + np.arange(count)) % n
        along = np.cumsum(outline.path.segment_lengths[i])
        share = np.stack([along - outline.path.segment_lengths[i], along], axis=1) / along[-1]
        widths[i] = w0 + (w1 - w0) * share
    for dart in piece.darts:
        if dart.tip is not None:
            legs = (dart.a + np.arange((dart.b - dart.a) % n)) % n
            widths[legs] = widths[dart.a - 1, 1]
    return Allowances.of(outline.path, widths)


def _straight_out(piece: Piece, s: Floats) -> Floats:
    """The way from the outline at arc lengths `s` straight out to the cutting line, mm."""
    import shapely

    assert piece.cut_line is not None
    path = piece.outline.path
    at, along = path.at(s), path.tangents(s)
    ring = shapely.LinearRing(flatten(piece.cut_line.path, 0.001))
    here = shapely.points(at)
    near: Floats = shapely.distance(here, ring)
    # Straight out: on a narrow piece the nearest line may be that of another edge.
    out = at + np.stack([along[:, 1], -along[:, 0]], axis=1) * _FURTHEST
    rays = shapely.linestrings(np.stack([at, out], axis=1))
    reached = shapely.distance(here, shapely.intersection(rays, ring))
    found: Floats = np.where(near < _ON, 0.0, np.where(np.isnan(reached), near, reached))
    return found


def _meant(width: float, tolerance: float) -> float:
    """The round width that is meant by a measured one."""
    near = [round(width / unit) * unit for unit in _ROUND]
    best = min(near, key=lambda w: abs(w - width))
    return best if abs(best - width) <= tolerance else width


def _name(outline: Outline, edge: Edge, start: int, end: int) -> str:
    n = len(outline.path)
    if edge.name and (start, end) == (edge.start, edge.end):
        return edge.name
    runs = [r for r in outline.runs if r.name and _within(n, start, end, r.start, r.end)]
    shortest = min(runs, key=outline.run_length, default=None)
    return f"#{edge.number}" if shortest is None else shortest.name or ""


def _within(n: int, start: int, end: int, first: int, last: int) -> bool:
    """Whether the stretch from `start` to `end` lies wholly on that from `first` to `last`."""
    span = (last - first) % n or n
    return (start - first) % n + ((end - start) % n or n) <= span
