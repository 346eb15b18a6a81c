"""B-splines of any degree, plain or rational, as cubics."""

from __future__ import annotations

from functools import partial

import numpy as np

from ..errors import GeometryError
from . import bezier
from .path import Path
from .types import Floats

#: How far, in mm, a cubic may lie from a curve that no cubic can be exactly.
TOLERANCE = 1e-3
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
    found = np.array([_blossoms(t, points, degree, k) for k in spans])
    return found, np.array([(t[k], t[k + 1]) for k in spans])


def _blossoms(t: Floats, points: Floats, p: int, k: int) -> Floats:
    a, b = t[k], t[k + 1]
    # Row j holds the working points for Bezier point j, whose arguments are p - j times a,
    # then j times b.
    work = np.repeat(points[None, k - p : k + 1], p + 1, axis=0)
    j = np.arange(p + 1)
    for r in range(1, p + 1):
        u = np.where(j >= r, b, a)
        for i in range(p, r - 1, -1):
            low, high = t[k - p + i], t[k + 1 + i - r]
            share = ((u - low) / (high - low))[:, None]
            work[:, i] = (1.0 - share) * work[:, i - 1] + share * work[:, i]
    return work[:, p]


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
    return _fitted(spans, _smooth_stretches(np.asarray(knots), ranges, degree), closed, tolerance)


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
