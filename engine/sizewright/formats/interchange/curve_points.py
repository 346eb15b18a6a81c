"""Where curve points must stand so that whoever refits a line through them lands near it."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ...geometry import bezier
from ...geometry.flatten import chord_counts, flatten
from ...geometry.path import Path
from ...geometry.splines import spline_controls
from ...geometry.types import Floats, Ints

#: Chords leave their curve by at most this, mm; the format's users expect 0.05.
CHORDS = 0.02
#: A smooth curve through the curve points leaves the line by at most this, mm.
THROUGH = 0.08
#: Parts that a segment is cut into by curve points, tried in turn.
_PARTS = np.array([1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64])
_MOST_POINTS = 2000
#: The line that curves are compared with is within this of the true one, mm.
_FINE = 0.005
#: Where on each span of a curve it is looked at.
_SHARES = np.array([0.15, 0.3, 0.5, 0.7, 0.85])


class Chords(NamedTuple):
    """A line as chords: `points` (m, 2), and which of them are turn and curve points.

    The first point of a closed line is not repeated. `worst` is how far, in mm, a smooth
    curve through the curve points leaves the line where more points did not help.
    """

    points: Floats
    turn: np.ndarray
    curve: np.ndarray
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
    counts = chord_counts(path, tolerance)
    parts = np.ones(n, dtype=np.intp)
    worst = 0.0
    for a, b in pairwise(ends):
        index = np.arange(a, b) % n
        parts[index], away = _parts(path, index, counts)
        worst = max(worst, away)
    counts = np.maximum(counts, parts)
    segment, step, first = _each(counts)
    points = bezier.evaluate(path.controls[segment], step / counts[segment])
    points[first] = path.controls[:, 0]
    marked = np.zeros(len(segment), dtype=bool)
    part_of, part, _ = _each(parts)
    marked[first[part_of] + _steps(part, counts[part_of], parts[part_of])] = True
    turn = np.zeros(len(segment), dtype=bool)
    turn[first] = corner[:n]
    if not path.closed:
        points = np.vstack([points, path.end])
        marked, turn = np.append(marked, True), np.append(turn, True)
    return Chords(points, turn, marked & ~turn, worst)


def _each(counts: Ints) -> tuple[Ints, Ints, Ints]:
    """For so many of each: whose each one is, its number there, and the first of each."""
    first = np.cumsum(counts) - counts
    whose = np.repeat(np.arange(len(counts)), counts)
    return whose, np.arange(len(whose)) - first[whose], first


def _steps(part: Ints, counts: Ints, parts: Ints) -> Ints:
    """At which chord of its segment a part begins: parts are as even as chords allow."""
    return (2 * part * counts + parts) // (2 * parts)


def _parts(path: Path, index: Ints, counts: Ints) -> tuple[Ints, float]:
    """How many parts each segment of a stretch between corners needs, and what is left, mm.

    Only segments off which a curve lies too far are cut further.
    """
    import shapely

    # A segment that ends where it begins is a loop, of which two points would show nothing.
    loop = (path.controls[index, 0] == path.controls[index, 3]).all(axis=1)
    rungs = np.where(loop, 2, 0)
    if len(index) == 1 and path.lines[index[0]]:
        return _PARTS[rungs], 0.0
    stretch = path.segments(int(index[0]), int(index[-1]) + 1)
    true = shapely.linestrings(flatten(stretch, _FINE))
    best = (_PARTS[rungs], np.inf)
    while True:
        parts = _PARTS[rungs]
        segment, part, first = _each(parts)
        chord = np.maximum(counts[index], parts)[segment]
        t = _steps(part, chord, parts[segment]) / chord
        places = bezier.evaluate(stretch.controls[segment], t)
        looks = _looks(np.vstack([places, stretch.end]))
        off = shapely.distance(true, shapely.points(looks)).reshape(2, len(segment), -1)
        away = np.maximum.reduceat(off.max(axis=(0, 2)), first)
        if len(segment) == 1:
            one = shapely.LineString([stretch.start, stretch.end])
            away = np.maximum(away, shapely.hausdorff_distance(true, one))
        if away.max() < best[1]:
            best = (parts, float(away.max()))
        if away.max() <= THROUGH:
            return parts, 0.0
        rungs = np.minimum(rungs + (away > THROUGH), len(_PARTS) - 1)
        if (_PARTS[rungs] == parts).all() or _PARTS[rungs].sum() > _MOST_POINTS:
            return best


def _looks(points: Floats) -> Floats:
    """Places (m, 2) on the smooth curves that readers may lay through points."""
    controls = spline_controls(points, "natural", "not-a-knot")
    return bezier.evaluate(controls[:, None], _SHARES).reshape(-1, 2)
