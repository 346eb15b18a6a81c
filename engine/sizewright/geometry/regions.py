"""What a closed path encloses: side, middle, inside or outside. And gaps between paths."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import numpy as np

from ..errors import GeometryError
from . import bezier
from .extremes import turning_points
from .flatten import flatten
from .nearest import nearest
from .path import Path
from .types import Bools, Floats, Ints

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(5)
_T, _W = (_NODES + 1) / 2, _WEIGHTS / 2


def centroid(path: Path) -> Floats:
    """Middle (2,) of the area inside a closed path, mm.

    Green's theorem: integrals of x^2 dy / 2 and -y^2 dx / 2 over the area. They are
    polynomials of degree 8 on each cubic, so 5-point Gauss quadrature is exact.
    Raises GeometryError where the path encloses no area.
    """
    x0, y0, x1, y1 = path.bounds
    if not abs(path.area) > 1e-12 * max(x1 - x0, y1 - y0) ** 2:
        raise GeometryError("a path that encloses no area has no middle")
    origin = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    local = (path.controls - origin)[:, None]
    t = np.broadcast_to(_T, (len(path), len(_T)))
    p, d = bezier.evaluate(local, t), bezier.derivative(local, t)
    moment_x = (p[..., 0] ** 2 * d[..., 1] / 2 @ _W).sum()
    moment_y = (-(p[..., 1] ** 2) * d[..., 0] / 2 @ _W).sum()
    middle: Floats = origin + np.array([moment_x, moment_y]) / path.area
    return middle


def winding_numbers(path: Path, points: Floats) -> Ints:
    """How often a closed path runs round each of `points` (m, 2), counter-clockwise positive.

    Rays to the right are met with the true curves, cut where they turn in y, so
    only points within rounding of the line itself are left to chance. Raises
    GeometryError for an open path.
    """
    if not path.closed:
        raise GeometryError("only a closed path has an inside")
    points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    pieces = _rising_pieces(path)
    y0, y1 = pieces[:, 0, 1], pieces[:, 3, 1]
    lower, upper = np.minimum(y0, y1), np.maximum(y0, y1)
    total = np.zeros(len(points), dtype=np.intp)
    step = max(1, 2_000_000 // max(1, len(pieces)))
    for k in range(0, len(points), step):
        x, y = points[k : k + step, 0], points[k : k + step, 1]
        # Half-open in y, so that a ray through a joint meets one of its two pieces.
        row, piece = np.nonzero((lower <= y[:, None]) & (upper > y[:, None]))
        met = pieces[piece, :, 0].min(axis=1) > x[row]
        unsure = np.flatnonzero(~met & (pieces[piece, :, 0].max(axis=1) >= x[row]))
        if len(unsure):
            cubics = pieces[piece[unsure]]
            met[unsure] = _x_at(cubics, y[row[unsure]]) > x[row[unsure]]
        way = np.where(y1 > y0, 1, -1)[piece[met]]
        total[k : k + step] += np.bincount(row[met], way, len(y)).astype(np.intp)
    return total


def contains(path: Path, points: Floats) -> Bools:
    """Whether each of `points` (m, 2) is inside a closed path (it runs round it at all).

    >>> square = Path.polyline([(0, 0), (80, 0), (80, 80), (0, 80)], closed=True)
    >>> contains(square, np.array([(10, 10), (90, 10)])).tolist()
    [True, False]
    """
    inside: Bools = winding_numbers(path, points) != 0
    return inside


@lru_cache(maxsize=128)
def _rising_pieces(path: Path) -> Floats:
    """Segments cut where y turns, so that each piece rises or falls throughout.

    Kept for the paths asked last, of which one point after another is asked.
    """
    turns = turning_points(path.controls)[:, :, 1]
    plain = np.isnan(turns).all(axis=1) | path.lines
    pieces = [path.controls[plain]]
    for cubic, ts in zip(path.controls[~plain], turns[~plain], strict=True):
        cuts = [0.0, *sorted(set(ts[~np.isnan(ts)].tolist())), 1.0]
        rest = cubic
        for a, b in pairwise(cuts):
            if b < 1.0:
                first, rest = bezier.split(rest, (b - a) / (1.0 - a))
            else:
                first = rest
            pieces.append(first[None])
    cut = np.concatenate(pieces)
    rising: Floats = cut[cut[:, 0, 1] != cut[:, 3, 1]]
    return rising


def _x_at(pieces: Floats, y: Floats) -> Floats:
    """x of pieces that rise or fall throughout, at heights within them; bracketed Newton."""
    local = pieces[..., 1] - y[:, None]
    rising = local[:, 3] > local[:, 0]
    local = np.where(rising[:, None], local, -local)
    cubics = np.stack([np.zeros_like(local), local], axis=-1)
    low, high = np.zeros(len(y)), np.ones(len(y))
    t = np.clip(-local[:, 0] / (local[:, 3] - local[:, 0]), 0.0, 1.0)
    for _ in range(80):
        value, slope = bezier.evaluate(cubics, t)[:, 1], bezier.derivative(cubics, t)[:, 1]
        low, high = np.where(value <= 0, t, low), np.where(value >= 0, t, high)
        newer = t - np.divide(value, slope, out=np.full_like(t, np.inf), where=slope > 0)
        newer = np.where((newer >= low) & (newer <= high), newer, (low + high) / 2)
        moved = np.abs(newer - t)
        t = newer
        if (moved <= 4e-16).all():
            break
    return bezier.evaluate(pieces, t)[:, 0]


def gap(a: Path, b: Path) -> tuple[float, Floats, Floats]:
    """Least distance between two lines in mm, and the points of `a` and `b` where it is.

    Found from samples of both, vertices among them, about a hundred to a curve; the
    closest pairs are drawn together by turns to within 1e-6 mm. Closed paths count as
    lines, not areas, and paths that cross have a gap of zero.
    """
    from .crossings import crossings

    met = crossings(a, b)
    if met:
        return 0.0, met[0].point, met[0].point
    best: tuple[float, Floats, Floats] | None = None
    for first, second, swap in ((a, b, False), (b, a, True)):
        points = flatten(first, max(first.length * 1e-5, 1e-9))
        reached = nearest(second, points)
        # Start from every sample that is no farther than its neighbours, the nearest first.
        d = reached.distance
        beside = np.minimum(np.append(d[1:], d[-1]), np.append(d[0], d[:-1]))
        order = np.flatnonzero(d <= beside)
        order = order[np.argsort(d[order], kind="stable")][:16]
        p, q = points[order], reached.point[order]
        for _ in range(200):
            p = nearest(first, q).point
            near = nearest(second, p)
            moved, q = np.abs(near.point - q).max(), near.point
            if moved <= 1e-10:
                break
        k = int(near.distance.argmin())
        if best is None or near.distance[k] < best[0]:
            pair = (q[k], p[k]) if swap else (p[k], q[k])
            best = (float(near.distance[k]), *pair)
    assert best is not None
    return best
