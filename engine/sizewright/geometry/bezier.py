"""Cubic Bezier segments, many at once: arrays of shape (n, 4, 2), parameters in [0, 1].

Formulas are the Bernstein form and de Casteljau's construction
(Farin, Curves and Surfaces for CAGD, chapters 4 and 5; recalled).
"""

from __future__ import annotations

import numpy as np

from .single import point_and_way
from .types import Floats


def evaluate(controls: Floats, t: Floats) -> Floats:
    """Points at `t`; `controls` (..., 4, 2) and `t` (...) broadcast together."""
    t = np.asarray(t, dtype=np.float64)
    if t.size == 1 and controls.size == 8 and controls.ndim == t.ndim + 2:
        # Half of all points are asked one by one.
        return np.array(point_and_way(controls.ravel().tolist(), t.item())[:2]).reshape(*t.shape, 2)
    t = t[..., None]
    s = 1.0 - t
    p0, p1, p2, p3 = (controls[..., i, :] for i in range(4))
    points: Floats = s * s * s * p0 + 3 * s * s * t * p1 + 3 * s * t * t * p2 + t * t * t * p3
    return points


def derivative(controls: Floats, t: Floats) -> Floats:
    """First derivatives by parameter at `t`, mm per unit of t."""
    t = np.asarray(t, dtype=np.float64)[..., None]
    s = 1.0 - t
    p0, p1, p2, p3 = (controls[..., i, :] for i in range(4))
    d: Floats = 3 * (s * s * (p1 - p0) + 2 * s * t * (p2 - p1) + t * t * (p3 - p2))
    return d


def quadratic(controls: Floats, t: Floats) -> Floats:
    """Points of quadratic Beziers (..., 3, 2) at `t` (...), such as a cubic's hodograph."""
    t = np.asarray(t, dtype=np.float64)[..., None]
    s = 1.0 - t
    points: Floats = (
        s * s * controls[..., 0, :] + 2 * s * t * controls[..., 1, :] + t * t * controls[..., 2, :]
    )
    return points


def second_derivative(controls: Floats, t: Floats) -> Floats:
    """Second derivatives by parameter at `t`."""
    t = np.asarray(t, dtype=np.float64)[..., None]
    p0, p1, p2, p3 = (controls[..., i, :] for i in range(4))
    d: Floats = 6 * ((1.0 - t) * (p2 - 2 * p1 + p0) + t * (p3 - 2 * p2 + p1))
    return d


def split(controls: Floats, t: float) -> tuple[Floats, Floats]:
    """One cubic (4, 2) as the two that it is before and after `t` (de Casteljau).

    They meet in the point that `evaluate` gives, to the bit.
    """
    p0, p1, p2, p3 = controls
    a = p0 + t * (p1 - p0)
    b = p1 + t * (p2 - p1)
    c = p2 + t * (p3 - p2)
    d = a + t * (b - a)
    e = b + t * (c - b)
    m = evaluate(controls, np.asarray(t))
    return np.array([p0, a, d, m]), np.array([m, e, c, p3])


def after(controls: Floats, t: Floats) -> Floats:
    """The parts of cubics (n, 4, 2) after `t` (n,), as `split` gives them."""
    p1, p2, p3 = (controls[:, i] for i in (1, 2, 3))
    t = t[:, None]
    b = p1 + t * (p2 - p1)
    c = p2 + t * (p3 - p2)
    return np.stack([evaluate(controls, t[:, 0]), b + t * (c - b), c, p3], axis=1)


def between(controls: Floats, t0: float, t1: float) -> Floats:
    """The part of one cubic (4, 2) from t0 to t1, 0 <= t0 < t1 <= 1.

    Its ends are the points that `evaluate` gives, to the bit.
    """
    part = controls
    if t1 < 1.0:
        part = split(part, t1)[0]
    if t0 > 0.0:
        part = split(part, t0 / t1)[1]
        part[0] = evaluate(controls, np.asarray(t0))
    return part


def line_controls(start: Floats, end: Floats) -> Floats:
    """Straight segments between points (..., 2), or (..., 3), as cubics, inner points at thirds."""
    start, end = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    first, second = thirds(start, end)
    controls = np.empty((*first.shape[:-1], 4, first.shape[-1]))
    controls[..., 0, :], controls[..., 3, :] = start, end
    controls[..., 1, :], controls[..., 2, :] = first, second
    return controls


def thirds(start: Floats, end: Floats) -> tuple[Floats, Floats]:
    """The points at a third and at two thirds of the way, which a straight cubic has within."""
    third = (end - start) / 3.0
    return start + third, end - third


def elevate(quadratic: Floats) -> Floats:
    """A quadratic Bezier (3, 2) as the same curve in cubic form (4, 2), exact."""
    q0, q1, q2 = quadratic
    return np.array([q0, q0 + 2.0 / 3.0 * (q1 - q0), q2 + 2.0 / 3.0 * (q1 - q2), q2])


def areas(controls: Floats) -> Floats:
    """Each segment's term of the area inside a closed loop, mm2: integral of (x dy - y dx) / 2.

    Exact polynomial integral; positive counter-clockwise. Take coordinates near the
    loop itself, since the terms of a far-off loop cancel with loss of figures.
    """
    p0, p1, p2, p3 = (controls[..., i, :] for i in range(4))

    def cross(a: Floats, b: Floats) -> Floats:
        product: Floats = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
        return product

    total: Floats = (
        6 * cross(p0, p1)
        + 3 * cross(p0, p2)
        + cross(p0, p3)
        + 3 * cross(p1, p2)
        + 3 * cross(p1, p3)
        + 6 * cross(p2, p3)
    ) / 20.0
    return total
