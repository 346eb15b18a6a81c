"""Drawn pieces measured without the program: read from the XML, lengths by quadrature.

Segments are (2, 2) or (4, 2) arrays, y down as in the file. Independent of the engine: the
path data are read by svgelements, lengths are scipy's, areas shapely's.
"""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path

import numpy as np
import shapely
import svgelements
from scipy.integrate import quad

from sizewright.model import Piece


@cache
def drawn(file: Path, name: str) -> tuple[np.ndarray, ...]:
    """Segments of a piece's outline, each (2, 2) or (4, 2), by svgelements, y down."""
    tree = ET.parse(file)
    group = next(g for g in tree.iter() if g.get("data-piece") == name)
    path = next(e for e in group.iter() if e.get("data-role") == "outline")
    found = []
    for one in svgelements.Path(path.get("d")):
        if isinstance(one, svgelements.CubicBezier):
            points = (one.start, one.control1, one.control2, one.end)
        elif isinstance(one, svgelements.Line | svgelements.Close) and one.start != one.end:
            points = (one.start, one.end)
        else:
            continue
        found.append(np.array([[p.x, p.y] for p in points]))
    return tuple(found)


def length(*segments: np.ndarray) -> float:
    def speed(t: float, x: list[float], y: list[float]) -> float:
        return math.hypot((x[0] * t + x[1]) * t + x[2], (y[0] * t + y[1]) * t + y[2])

    total = 0.0
    for one in segments:
        if len(one) == 2:
            total += math.dist(*one)
            continue
        # The derivative is 3 ((1 - t)^2 a + 2 (1 - t) t b + t^2 c).
        a, b, c = 3 * np.diff(one, axis=0)
        powers = np.array([a - 2 * b + c, 2 * (b - a), a]).T.tolist()
        total += quad(speed, 0, 1, args=tuple(powers), epsabs=1e-10)[0]
    return total


def curvature(segment: np.ndarray, count: int = 101) -> np.ndarray:
    t = np.linspace(0, 1, count)[:, None]
    p0, p1, p2, p3 = segment
    d = 3 * ((1 - t) ** 2 * (p1 - p0) + 2 * (1 - t) * t * (p2 - p1) + t * t * (p3 - p2))
    dd = 6 * ((1 - t) * (p2 - 2 * p1 + p0) + t * (p3 - 2 * p2 + p1))
    return (d[:, 0] * dd[:, 1] - d[:, 1] * dd[:, 0]) / np.hypot(*d.T) ** 3


def flattened(segments: tuple[np.ndarray, ...], count: int = 64) -> shapely.Polygon:
    t = np.linspace(0, 1, count, endpoint=False)[:, None]
    points = []
    for one in segments:
        if len(one) == 2:
            points.append(one[:1])
            continue
        a, b, c, d = one
        points.append(
            (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d
        )
    return shapely.Polygon(np.concatenate(points))


def at(piece: Piece, name: str) -> np.ndarray:
    return piece.outline.vertex_at(piece.outline.vertex(name))


def sewn(piece: Piece, run: str) -> float:
    return piece.sewn_length(piece.run(run))


def angle(piece: Piece, point: str) -> float:
    """Angle inside the cloth at a corner, degrees."""
    path, v = piece.outline.path, piece.outline.vertex(point)
    return 180.0 - float(path.turns[v])
