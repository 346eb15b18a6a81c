"""Where curve points must stand so that whoever refits a line through them lands near it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ...geometry import bezier
from ...geometry.flatten import chord_counts, flatten
from ...geometry.path import Path
from ...geometry.types import Floats, Ints
from .lines_in import strung_through

#: Chords leave their curve by at most this, mm; the format's users expect 0.05.
CHORDS = 0.02
#: A smooth curve through the curve points leaves the line by at most this, mm.
THROUGH = 0.08
#: Parts that a segment is cut into by curve points, tried in turn.
_PARTS = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64)
_MOST_POINTS = 2000
#: The line that curves are compared with is within this of the true one, mm.
_FINE = 0.005
#: Where on each span of a curve it is looked at.
_SHARES = np.array([0.15, 0.3, 0.5, 0.7, 0.85])


@dataclass(frozen=True)
class Chords:
    """A line as chords: `points` (m, 2), and which of them are turn and curve points.

    The first point of a closed line is not repeated. `worst` is how far, in mm, a smooth
    curve through the curve points leaves the line where more points did not help.
    """

    points: Floats
    turn: np.ndarray
    curve: np.ndarray
    vertices: Ints
    worst: float = 0.0


def chords(path: Path, corners: tuple[int, ...], tolerance: float = CHORDS) -> Chords:
    """A path as chords within `tolerance` mm, with its turn and curve points.

    `corners` are the vertices that are turn points; the ends of an open path are as well.
    All others are curve points, and as many between as keep both a natural and a
    not-a-knot cubic spline through the points between two corners within 0.08 mm.
    """
    n = len(path)
    corner = np.zeros(n + 1, dtype=bool)
    corner[list(corners)] = True
    if not path.closed:
        corner[[0, n]] = True
    at = [int(v) for v in np.flatnonzero(corner[:n] if path.closed else corner)]
    ends = [*at, at[0] + n] if path.closed and at else at or [0, n]
    parts = np.ones(n, dtype=np.intp)
    worst = 0.0
    for a, b in pairwise(ends):
        index = np.arange(a, b) % n
        parts[index], away = _parts(path, index)
        worst = max(worst, away)
    counts = chord_counts(path, tolerance)
    counts = -(-counts // parts) * parts
    segment = np.repeat(np.arange(n), counts)
    first = np.cumsum(counts) - counts
    step = np.arange(len(segment)) - first[segment]
    points = bezier.evaluate(path.controls[segment], step / counts[segment])
    points[first] = path.controls[:, 0]
    marked = step % (counts[segment] // parts[segment]) == 0
    turn = np.zeros(len(segment), dtype=bool)
    turn[first] = corner[:n]
    if not path.closed:
        points = np.vstack([points, path.end])
        marked, turn = np.append(marked, True), np.append(turn, True)
        first = np.append(first, len(points) - 1)
    return Chords(points, turn, marked & ~turn, first, worst)


def _parts(path: Path, index: Ints) -> tuple[int, float]:
    """How many parts each segment of a stretch between corners needs, and what is left, mm."""
    import shapely

    stretch = Path(path.controls[index], path.lines[index], False)
    if len(stretch) == 1 and stretch.lines[0]:
        return 1, 0.0
    true = shapely.LineString(flatten(stretch, _FINE))
    best = (1, np.inf)
    for parts in _PARTS:
        if len(stretch) * parts > _MOST_POINTS:
            break
        t = np.tile(np.arange(parts) / parts, len(stretch))
        places = bezier.evaluate(stretch.controls[np.repeat(np.arange(len(stretch)), parts)], t)
        looks = _looks(np.vstack([places, stretch.end]))
        away = float(shapely.distance(true, shapely.points(looks)).max())
        if parts * len(stretch) == 1:
            chord = shapely.LineString([stretch.start, stretch.end])
            away = max(away, float(shapely.hausdorff_distance(true, chord)))
        if away < best[1]:
            best = (parts, away)
        if away <= THROUGH:
            return parts, 0.0
    return best


def _looks(points: Floats) -> Floats:
    """Places (m, 2) on the smooth curves that readers may lay through points."""
    found = []
    for ends in ("natural", "not-a-knot"):
        curve = strung_through(points, ends=ends)
        every = np.repeat(np.arange(len(curve)), len(_SHARES))
        found.append(bezier.evaluate(curve.controls[every], np.tile(_SHARES, len(curve))))
    return np.concatenate(found)
