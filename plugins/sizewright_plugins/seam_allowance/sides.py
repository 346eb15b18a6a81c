"""An outline parted into sides of one width each, with their parallels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sizewright.errors import GeometryError
from sizewright.geometry import Floats, Path, offset_open
from sizewright.model import Dart, Piece

#: How far the cutting line may be from the true parallel, mm.
TOLERANCE = 0.005
_SAME = 1e-9


@dataclass(frozen=True)
class Side:
    """One side between breaks: vertices, widths at its ends, its line, and its parallel."""

    start: int
    end: int
    w0: float
    w1: float
    line: Path
    parallel: Path

    @property
    def out_at_start(self) -> Floats:
        """Unit vector (2,) outward at its start."""
        return _right(self.line.tangents_out[0])

    @property
    def out_at_end(self) -> Floats:
        """Unit vector (2,) outward at its end."""
        return _right(self.line.tangents_in[-1])


def sides_of(piece: Piece, widths: Floats) -> list[Side]:
    """The sides of an outline in order, the legs of darts left out.

    Sides part at corners and wherever the width jumps. An outline without breaks is one
    closed side.
    """
    path = piece.outline.path
    n = len(path)
    legs = {v for dart in piece.darts if dart.tip is not None for v in _leg_vertices(dart, n)}
    corners = set(piece.outline.corners)
    breaks = [
        v
        for v in range(n)
        if v in corners
        or abs(widths[v, 0] - widths[v - 1, 1]) > _SAME
        or (v in legs) != ((v - 1) % n in legs)
        or _kinks(widths, path, v)
    ]
    if not breaks:
        return [_side(piece, path, 0, 0, widths)]
    sides = []
    for a, b in zip(breaks, breaks[1:] + breaks[:1], strict=True):
        if a not in legs:
            sides.append(_side(piece, path.segments(a, b), a, b, widths))
    return sides


def _side(piece: Piece, line: Path, a: int, b: int, widths: Floats) -> Side:
    n = len(piece.outline.path)
    w0, w1 = float(widths[a, 0]), float(widths[(b - 1) % n, 1])
    if w0 == w1 == 0.0:
        parallel = line
    else:
        distance = w0 if w0 == w1 else (w0, w1)
        try:
            parallel = offset_open(line, distance, TOLERANCE)
        except GeometryError as error:
            x, y = line.at(line.length / 2)
            raise GeometryError(
                f"no allowance of {max(w0, w1):g} mm fits along the edge near "
                f"({x:.0f}, {y:.0f}): {error.what}",
                cure="Make it narrower there, or the curve less tight.",
            ) from None
    return Side(a, b, w0, w1, line, parallel)


def _leg_vertices(dart: Dart, n: int) -> list[int]:
    """Numbers of the segments that a dart's legs are made of."""
    return [(dart.a + i) % n for i in range((dart.b - dart.a) % n)]


def _kinks(widths: Floats, path: Path, v: int) -> bool:
    """Whether the width changes at another rate after vertex v than before it."""
    lengths = path.segment_lengths
    before = (widths[v - 1, 1] - widths[v - 1, 0]) / lengths[v - 1]
    after = (widths[v, 1] - widths[v, 0]) / lengths[v]
    return bool(abs(before - after) > 1e-6)


def _right(tangent: Floats) -> Floats:
    return np.array([tangent[1], -tangent[0]])
