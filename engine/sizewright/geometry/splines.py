"""B-splines of any degree, plain or rational, as cubics; cubic splines through points."""

from __future__ import annotations

from functools import partial
from itertools import pairwise
from typing import Literal

import numpy as np

from ..errors import GeometryError
from . import bezier
from .path import Path
from .types import Floats, Ints

#: What holds at the ends of a spline: no curvature, or that the two spans there are one cubic.
Ends = Literal["natural", "not-a-knot"]
#: How far, in mm, a cubic may lie from a curve that no cubic can be exactly.
TOLERANCE = 1e-3
#: So many places of each span are held against what was fitted to it.
_LOOKED_AT = 256
#: So many spans are cut at once, which bounds the room that they take.
_AT_ONCE = 4096
#: Higher degrees are no drawing.
HIGHEST = 25


def bezier_spans(knots: Floats, points: Floats, degree: int) -> tuple[Floats, Floats]:
    """A B-spline cut at its knots: Bezier points (m, degree + 1, d) and knot ranges (m, 2).

    `points` (n, d) may be homogeneous (x w, y w, w). Only the range where all basis functions
    add up to one is taken, `knots[degree]` to `knots[n]`, so knots need not be repeated at the
    ends. Each Bezier point is the blossom of its span (de Boor's scheme with one argument to a
    level), exact where knots are repeated `degree` times. Raises GeometryError for counts that
    do not fit together, knots that fall, or a range of no length.
    """
    t = np.asarray(knots, dtype=np.float64)
    points = np.asarray(points, dtype=np.float64)
    n = len(points)
    if not 1 <= degree <= HIGHEST or n <= degree or len(t) != n + degree + 1:
        raise GeometryError(
            f"a spline of degree {degree} with {n} control points and {len(t)} knots is none"
        )
    if not (np.isfinite(t).all() and np.isfinite(points).all()) or (np.diff(t) < 0).any():
        raise GeometryError("the knots of a spline must be finite and must not fall")
    tiny = 1e-12 * max(float(t[n] - t[degree]), 0.0)
    spans = [k for k in range(degree, n) if t[k + 1] - t[k] > tiny]
    if not spans:
        raise GeometryError("the knots of a spline span nothing")
    k = np.array(spans)
    some = [_blossoms(t, points, degree, k[i : i + _AT_ONCE]) for i in range(0, len(k), _AT_ONCE)]
    return np.concatenate(some), np.stack([t[k], t[k + 1]], axis=1)


def _blossoms(t: Floats, points: Floats, p: int, k: Ints) -> Floats:
    """Bezier points (m, p + 1, d) of the spans from knots `k` (m,)."""
    a, b = t[k, None], t[k + 1, None]
    # Row j holds the working points for Bezier point j, whose arguments are p - j times a,
    # then j times b.
    near = points[k[:, None] - p + np.arange(p + 1)]
    work = np.repeat(near[:, None], p + 1, axis=1)
    j = np.arange(p + 1)
    for r in range(1, p + 1):
        u = np.where(j >= r, b, a)
        for i in range(p, r - 1, -1):
            low, high = t[k - p + i, None], t[k + 1 + i - r, None]
            share = ((u - low) / (high - low))[..., None]
            work[:, :, i] = (1.0 - share) * work[:, :, i - 1] + share * work[:, :, i]
    blossoms: Floats = work[:, :, p]
    return blossoms


def spline_path(
    knots: Floats,
    points: Floats,
    degree: int,
    weights: Floats | None = None,
    *,
    closed: bool = False,
    tolerance: float = TOLERANCE,
) -> Path:
    """A B-spline in the plane as a path: exact up to degree 3 without weights.

    `points` (n, 2) in mm; equal `weights` count as none. Higher degrees and unequal weights
    become few cubics with common tangents within `tolerance` mm. Degree 1 gives straight
    segments. `closed` makes a closed path of one whose ends meet. Raises GeometryError.
    """
    points = np.asarray(points, dtype=np.float64)
    even = weights is None or len(weights) == 0 or np.ptp(weights) == 0
    if even and degree <= 3:
        spans, _ = bezier_spans(knots, points, degree)
        return Path.of([_as_cubic(span) for span in spans], closed=closed)
    if not even:
        w = np.asarray(weights, dtype=np.float64)
        if len(w) != len(points) or not (w > 0).all():
            raise GeometryError("the weights of a spline must be above zero, one to a point")
        points = np.column_stack([points * w[:, None], w])
    spans, ranges = bezier_spans(knots, points, degree)
    stretches = _smooth_stretches(np.asarray(knots), ranges, degree)
    # The fit looks at few places of a span; it is held closer where it strays between them.
    near = tolerance
    while True:
        path = _fitted(spans, stretches, closed, near)
        if near < tolerance / 64 or _strays(spans, path) <= 0.5 * tolerance:
            return path
        near /= 2


def spline_through(points: Floats, ends: Ends = "not-a-knot") -> Path:
    """The cubic spline through points (m, 2), m >= 2, with chord lengths as its parameter.

    `ends` is the end condition: no curvature there, or the two spans at an end one cubic.
    Points at the same place as the one before are left out; two points give a line.
    """
    controls = spline_controls(points, ends)
    return Path(controls, np.full(len(controls), len(controls) == 1), False)


def spline_controls(points: Floats, *ends: Ends) -> Floats:
    """The control points (n, 4, 2) of `spline_through`, for each end condition after another."""
    step = np.hypot(*(points[1:] - points[:-1]).T)
    if not step.all():
        points = points[np.concatenate([[True], step > 0])]
        step = step[step > 0]
    if len(points) < 2:
        raise GeometryError("a curve needs two places")
    if len(points) < 3:
        return np.concatenate([bezier.line_controls(points[:-1], points[1:])] * len(ends))
    rows, h = points.tolist(), step.tolist()
    ways = [
        ((x1 - x0) / s, (y1 - y0) / s)
        for (x0, y0), (x1, y1), s in zip(rows, rows[1:], h, strict=False)
    ]
    slopes = np.array([_slopes(ways, h, end) for end in ends])
    span = step[:, None]
    controls = np.empty((len(ends), len(h), 4, 2))
    controls[:, :, 0], controls[:, :, 3] = points[:-1], points[1:]
    controls[:, :, 1] = points[:-1] + slopes[:, :-1] * span / 3
    controls[:, :, 2] = points[1:] - slopes[:, 1:] * span / 3
    return controls.reshape(-1, 4, 2)


def _slopes(d: list[tuple[float, float]], h: list[float], ends: Ends) -> list[list[float]]:
    """Derivatives at the points of a spline, whose spans are `h` long, with chords `d` for each mm.

    The usual conditions of a continuous second derivative, one row to a point and none but
    neighbours in it, so that the elimination goes down and up once. Plain numbers: the rows are
    few, and a solver's call would cost more than they do.
    """
    if ends == "not-a-knot" and len(h) == 2:  # one parabola
        both = h[0] + h[1]
        bends = [(b - a) / both for a, b in zip(*d, strict=True)]
        return [
            [a - h[0] * bend for a, bend in zip(d[0], bends, strict=True)],
            [a + h[0] * bend for a, bend in zip(d[0], bends, strict=True)],
            [a + h[1] * bend for a, bend in zip(d[1], bends, strict=True)],
        ]
    below, above = [0.0, *h[1:], 0.0], [0.0, *h[:-1], 0.0]
    middle = [2.0, *(2 * (b + a) for a, b in pairwise(h)), 2.0]
    right = [
        [0.0, 0.0],
        *(
            [3 * (b * ax + a * bx), 3 * (b * ay + a * by)]
            for (a, b), ((ax, ay), (bx, by)) in zip(pairwise(h), pairwise(d), strict=True)
        ),
        [0.0, 0.0],
    ]
    for e, n, away in ((0, 1, above), (-1, -2, below)):
        if ends == "natural":
            away[e], right[e] = 1.0, [3 * x for x in d[e]]
            continue
        both = h[e] + h[n]
        middle[e], away[e] = h[n], both
        right[e] = [
            ((h[e] + 2 * both) * h[n] * x + h[e] ** 2 * y) / both
            for x, y in zip(d[e], d[n], strict=True)
        ]
    return _eliminated(below, middle, above, right)


def _eliminated(
    below: list[float], middle: list[float], above: list[float], right: list[list[float]]
) -> list[list[float]]:
    """Solution (m, 2) of rows with one entry below, one on and one above the diagonal."""
    for k in range(1, len(middle)):
        share = below[k] / middle[k - 1]
        middle[k] -= share * above[k - 1]
        right[k][0] -= share * right[k - 1][0]
        right[k][1] -= share * right[k - 1][1]
    x, y = 0.0, 0.0
    for k in range(len(middle) - 1, -1, -1):
        x = (right[k][0] - above[k] * x) / middle[k]
        y = (right[k][1] - above[k] * y) / middle[k]
        right[k] = [x, y]
    return right


def _as_cubic(span: Floats) -> Floats:
    return bezier.elevate(span) if len(span) == 3 else span


def _smooth_stretches(knots: Floats, ranges: Floats, degree: int) -> list[tuple[int, int]]:
    """First and past-the-last span between knots that are repeated `degree` times."""
    cuts = [0]
    for i in range(1, len(ranges)):
        if int((np.abs(knots - ranges[i, 0]) == 0).sum()) >= degree:
            cuts.append(i)
    return list(zip(cuts, [*cuts[1:], len(ranges)], strict=True))


def _fitted(
    spans: Floats, stretches: list[tuple[int, int]], closed: bool, tolerance: float
) -> Path:
    from .fit import fit_curve

    parts = []
    for first, last in stretches:
        some = spans[first:last]
        parts.append(
            fit_curve(
                partial(_position, some), partial(_tangent, some), 0.0, float(len(some)), tolerance
            )
        )
    return Path.join(parts, closed=closed)


def _strays(spans: Floats, path: Path) -> float:
    """How far a path lies from the curve of its spans, looked at closely, mm."""
    from .nearest import nearest

    u = np.linspace(0.0, len(spans), _LOOKED_AT * len(spans) + 1)
    return float(nearest(path, _position(spans, u)).distance.max())


def _position(spans: Floats, u: Floats) -> Floats:
    return _at(spans, u)[0]


def _tangent(spans: Floats, u: Floats) -> Floats:
    return _at(spans, u)[1]


def _at(spans: Floats, u: Floats) -> tuple[Floats, Floats]:
    """Points and derivatives at `u`: whole part the span, the rest the place in it."""
    k = np.clip(np.floor(u).astype(int), 0, len(spans) - 1)
    t = (u - k)[:, None, None]
    work = spans[k]
    while work.shape[1] > 2:
        work = work[:, :-1] + t * (work[:, 1:] - work[:, :-1])
    step = (work[:, 1] - work[:, 0]) * (spans.shape[1] - 1)
    place = work[:, 0] + t[:, 0] * (work[:, 1] - work[:, 0])
    if spans.shape[2] == 2:
        return place, step
    w, dw = place[:, 2:], step[:, 2:]
    xy = place[:, :2] / w
    return xy, (step[:, :2] - dw * xy) / w


def curve_through(points: Floats, start: Floats | None = None, end: Floats | None = None) -> Path:
    """One fair curve through points (m, 2), m >= 2: a cubic spline by its own arc length.

    `start` and `end` are unit tangents (2,), the way that the curve runs; where there is none
    the curve ends without curvature. Points at the same place as the one before are left out.
    Raises GeometryError for fewer than two places.
    """
    points = np.asarray(points, dtype=np.float64)
    step = np.hypot(*np.diff(points, axis=0).T)
    points = points[np.concatenate([[True], step > 0])]
    if len(points) < 2:
        raise GeometryError("a curve needs two places")
    h = np.asarray(step[step > 0], dtype=np.float64)
    if len(points) == 2 and start is None and end is None:
        return Path.polyline(points)
    lines = np.zeros(len(h), dtype=bool)
    for _ in range(50):
        slope = _clamped_slopes(points, h, start, end)
        inner = points[:-1] + slope[:-1] * h[:, None] / 3, points[1:] - slope[1:] * h[:, None] / 3
        path = Path(np.stack([points[:-1], *inner, points[1:]], axis=1), lines, False)
        if np.abs(path.segment_lengths - h).max() < 1e-9 * path.length:
            break
        h = np.asarray(path.segment_lengths, dtype=np.float64)
    return path


def _clamped_slopes(points: Floats, h: Floats, start: Floats | None, end: Floats | None) -> Floats:
    """Derivatives (m, 2) at the points, with a unit tangent or no curvature at each end."""
    n = len(points)
    d = np.diff(points, axis=0) / h[:, None]
    rows, right = np.zeros((n, n)), np.zeros((n, 2))
    for k in range(1, n - 1):
        rows[k, k - 1], rows[k, k], rows[k, k + 1] = h[k], 2 * (h[k - 1] + h[k]), h[k - 1]
        right[k] = 3 * (h[k] * d[k - 1] + h[k - 1] * d[k])
    for k, beside, tangent, slope in ((0, 1, start, d[0]), (n - 1, n - 2, end, d[-1])):
        if tangent is None:
            rows[k, k], rows[k, beside], right[k] = 2.0, 1.0, 3 * slope
        else:
            rows[k, k], right[k] = 1.0, tangent
    return np.asarray(np.linalg.solve(rows, right), dtype=np.float64)
