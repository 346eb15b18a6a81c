"""The point of a path that lies nearest to given points.

For a cubic B and a point P the distance is least at an end or where
g(t) = (B(t) - P) . B'(t), a quintic, passes through zero from below. Roots are
isolated by the sign changes of g's Bernstein coefficients (variation diminishing:
no change, no root; one change, one root; Farin, Curves and Surfaces for CAGD;
recalled), halving while there are more, then found by Newton's method in a
bracket. So every local minimum is seen, not only the one below a sample.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from . import bezier, lengths
from .path import Path, is_kept
from .types import Bools, Floats, Ints

#: Largest number of (point, segment) pairs held at once; bounds the memory.
_BATCH = 400_000
#: Halvings after which a piece with several roots counts as one flat minimum.
_DEEPEST = 20


class Nearest(NamedTuple):
    """Nearest places of a path, one for each of m points.

    `s` (m,) arc length from the path's start in mm; `segment` (m,) and `t` (m,) the
    same place as segment number and parameter; `point` (m, 2) the place itself;
    `distance` (m,) in mm. A place on a vertex is given as the start of the segment
    that begins there. Of places equally near the first along the path is taken.
    """

    s: Floats
    segment: Ints
    t: Floats
    point: Floats
    distance: Floats


class Foot(NamedTuple):
    """Nearest place to one point: as Nearest, with plain numbers and a point (2,)."""

    s: float
    segment: int
    t: float
    point: Floats
    distance: float


def nearest(path: Path, points: Floats) -> Nearest:
    """Nearest place of `path` for each of `points` (m, 2); for a closed path, of its line."""
    points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    kept = is_kept(path, len(points))
    return _again(path, points.tobytes()) if kept else _nearest(path, points)


@lru_cache(maxsize=512)
def _again(path: Path, points: bytes) -> Nearest:
    """`nearest` of few points: what is drawn asks for the same places several times over."""
    found = _nearest(path, np.frombuffer(points).reshape(-1, 2))
    for array in found:
        array.flags.writeable = False
    return found


def _nearest(path: Path, points: Floats) -> Nearest:
    low, high = path.controls.min(axis=1), path.controls.max(axis=1)
    step = max(1, _BATCH // len(path))
    found = [
        _some(path, points[k : k + step], low, high) for k in range(0, max(1, len(points)), step)
    ]
    index = np.concatenate([f[0] for f in found])
    t, distance = (np.concatenate([f[i] for f in found]) for i in (1, 2))
    point = bezier.evaluate(path.controls[index], t)
    # An end is its vertex to the bit, and belongs to the segment that begins there.
    point = np.where((t == 1.0)[:, None], path.controls[index, 3], point)
    turn_over = (t == 1.0) & (path.closed | (index < len(path) - 1))
    index = np.where(turn_over, (index + 1) % len(path), index)
    t = np.where(turn_over, 0.0, t)
    s = path.cumulative[index] + lengths.partials(path.controls[index], path.lines[index], t)
    return Nearest(s, index, t, point, distance)


def nearest_point(path: Path, point: Floats | tuple[float, float]) -> Foot:
    """Nearest place of `path` for one point (2,).

    >>> square = Path.polyline([(0, 0), (80, 0), (80, 80), (0, 80)], closed=True)
    >>> foot = nearest_point(square, (100, 20))
    >>> foot.distance, foot.s
    (20.0, 100.0)
    """
    near = nearest(path, np.asarray(point, dtype=np.float64).reshape(1, 2))
    return Foot(
        float(near.s[0]),
        int(near.segment[0]),
        float(near.t[0]),
        near.point[0],
        float(near.distance[0]),
    )


def _some(path: Path, points: Floats, low: Floats, high: Floats) -> tuple[Ints, Floats, Floats]:
    """Segment, parameter and distance for a batch of points."""
    m = len(points)
    # A segment whose box is farther than some vertex cannot hold the nearest place.
    gap_x = np.maximum(np.maximum(low[:, 0] - points[:, :1], points[:, :1] - high[:, 0]), 0.0)
    gap_y = np.maximum(np.maximum(low[:, 1] - points[:, 1:], points[:, 1:] - high[:, 1]), 0.0)
    at_least = gap_x * gap_x + gap_y * gap_y
    start, end = path.controls[:, 0], path.controls[:, 3]
    middle = (start + end + 3 * (path.controls[:, 1] + path.controls[:, 2])) / 8
    at_most = np.full(m, np.inf)
    for known in (start, middle, end[-1:]):
        dx, dy = known[:, 0] - points[:, :1], known[:, 1] - points[:, 1:]
        at_most = np.minimum(at_most, (dx * dx + dy * dy).min(axis=1))
    # A place worked out on a segment may lie outside its box by rounding.
    largest = max(np.abs(path.controls).max(), np.abs(points).max(initial=0.0))
    slack = float(1e-14 * largest) ** 2
    row, segment = np.nonzero(at_least <= at_most[:, None] * (1 + 1e-9) + slack)
    # The point as origin: differences are taken once, before anything is multiplied.
    local = path.controls[segment] - points[row][:, None]
    line = path.lines[segment]

    pair, t = _candidates(local, line)
    place = bezier.evaluate(local[pair], t)
    place = np.where((t == 0.0)[:, None], local[pair, 0], place)
    place = np.where((t == 1.0)[:, None], local[pair, 3], place)
    distance = np.hypot(place[:, 0], place[:, 1])
    # The least distance of each row; ties go to the first along the path.
    order = np.lexsort((t, segment[pair], distance, row[pair]))
    first = order[np.searchsorted(row[pair][order], np.arange(m))]
    return segment[pair][first], t[first], distance[first]


def _candidates(local: Floats, line: Bools) -> tuple[Ints, Floats]:
    """Pairs (numbers) and parameters where the distance to the origin may be least."""
    every = np.arange(len(local))
    pairs, ts = [every, every], [np.zeros(len(local)), np.ones(len(local))]

    straight = np.flatnonzero(line)
    start, along = local[straight, 0], local[straight, 3] - local[straight, 0]
    square = (along * along).sum(axis=1)
    t = -np.divide((start * along).sum(axis=1), square, out=np.zeros_like(square), where=square > 0)
    inside = (t > 0) & (t < 1)
    pairs.append(straight[inside])
    ts.append(t[inside])

    curved = np.flatnonzero(~line)
    if len(curved):
        pair, low, high = _isolate(_slopes(local[curved]))
        pairs.append(curved[pair])
        ts.append(_minimum(local[curved[pair]], low, high))
    return np.concatenate(pairs), np.concatenate(ts)


def _slopes(local: Floats) -> Floats:
    """Bernstein coefficients (n, 6) of g = B . B' for cubics about the origin."""
    d = np.diff(local, axis=1)
    products = np.einsum("nik,njk->nij", local, d)
    # Degree 3 times degree 2: weights C(3, i) C(2, j) / C(5, i + j); B' = 3 d.
    g = np.zeros((len(local), 6))
    for i, a in enumerate((1, 3, 3, 1)):
        for j, b in enumerate((1, 2, 1)):
            g[:, i + j] += a * b * products[:, i, j]
    slopes: Floats = 3 * g / np.array([1, 5, 10, 10, 5, 1])
    return slopes


def _isolate(g: Floats) -> tuple[Ints, Floats, Floats]:
    """Rows and brackets [low, high] in which g passes zero upwards once (or is flat)."""
    rows, lows, highs = [], [], []
    row, low, high = np.arange(len(g)), np.zeros(len(g)), np.ones(len(g))
    for depth in range(_DEEPEST + 1):
        changes, upward = _sign_changes(g)
        take = (changes == 1) & upward
        if depth == _DEEPEST:
            take |= changes > 1
        rows.append(row[take])
        lows.append(low[take])
        highs.append(high[take])
        go = changes > 1
        if depth == _DEEPEST or not go.any():
            break
        left, right = _halve(g[go])
        middle = (low[go] + high[go]) / 2
        # A root at the joint itself is inside neither half.
        joint = right[:, 0] == 0
        rows.append(row[go][joint])
        lows.append(middle[joint])
        highs.append(middle[joint])
        g = np.concatenate([left, right])
        row = np.concatenate([row[go], row[go]])
        low, high = np.concatenate([low[go], middle]), np.concatenate([middle, high[go]])
    return np.concatenate(rows), np.concatenate(lows), np.concatenate(highs)


def _sign_changes(g: Floats) -> tuple[Ints, Bools]:
    """Number of sign changes in each row, zeros left out; whether the last is upward."""
    sign = np.sign(g)
    for k in range(1, g.shape[1]):
        sign[:, k] = np.where(sign[:, k] == 0, sign[:, k - 1], sign[:, k])
    changes = (sign[:, 1:] * sign[:, :-1] < 0).sum(axis=1)
    return changes, sign[:, -1] > 0


def _halve(g: Floats) -> tuple[Floats, Floats]:
    left, right = np.empty_like(g), np.empty_like(g)
    level = g
    for k in range(g.shape[1]):
        left[:, k], right[:, g.shape[1] - 1 - k] = level[:, 0], level[:, -1]
        level = (level[:, 1:] + level[:, :-1]) / 2
    return left, right


def _minimum(local: Floats, low: Floats, high: Floats) -> Floats:
    """Where g passes zero in each bracket: Newton's method, halving where it leaves it."""
    t = (low + high) / 2
    live = np.arange(len(t))
    for _ in range(80 if len(t) else 0):
        b, q = bezier.evaluate(local[live], t[live]), local[live]
        d, dd = bezier.derivative(q, t[live]), bezier.second_derivative(q, t[live])
        g = (b * d).sum(axis=1)
        slope = (d * d).sum(axis=1) + (b * dd).sum(axis=1)
        low[live] = np.where(g <= 0, t[live], low[live])
        high[live] = np.where(g >= 0, t[live], high[live])
        newer = t[live] - np.divide(g, slope, out=np.full_like(g, np.inf), where=slope > 0)
        middle = (low[live] + high[live]) / 2
        newer = np.where((newer >= low[live]) & (newer <= high[live]), newer, middle)
        moved = np.abs(newer - t[live])
        t[live] = newer
        live = live[(moved > 4e-16) & (high[live] - low[live] > 4e-16)]
        if not len(live):
            break
    return t
