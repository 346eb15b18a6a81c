"""Single cubics through many runs of points at once, the core of curve fitting.

Least squares on the inner control points (Schneider's construction, recalled), then
Gauss-Newton on the distance along the curve's normal with foot points renewed by
Newton's method, which converges faster than moving parameters alone.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .types import Bools, Floats, Ints

#: Handles are kept between these shares of the run's length, so that no curve is flung out.
SHORTEST, LONGEST = 0.004, 0.95
_ROUNDS = 7
_FEW = 6


class Batch(NamedTuple):
    """Runs of points (n, m, 2), padded at the end by repeating the last one; `used` (n, m)."""

    points: Floats
    used: Bools


class Fitted(NamedTuple):
    """Controls (n, 4, 2), foot parameters (n, m) and distances (n, m) of each point, mm."""

    controls: Floats
    u: Floats
    distance: Floats

    @property
    def error(self) -> Floats:
        """Largest distance from a point to its foot on the curve, for each run (n,)."""
        worst: Floats = self.distance.max(axis=1)
        return worst

    def better(self, other: Fitted, where: Bools | bool = True) -> Fitted:
        """Of two fits of the same runs, the one with the smaller error for each, `where` asked."""
        swap = (other.error < self.error) & where
        return Fitted(
            np.where(swap[:, None, None], other.controls, self.controls),
            np.where(swap[:, None], other.u, self.u),
            np.where(swap[:, None], other.distance, self.distance),
        )


def fit_with_tangents(
    batch: Batch, start: Floats, end: Floats, group: Ints | None = None
) -> Fitted:
    """One cubic for each run through its ends along unit tangents (n, 2), walking on.

    The handle lengths are chosen by least squares of the points' distances. Rounds go on for
    all runs of a `group` (n,) while they help one of it; without groups all runs are one.
    """
    group = np.zeros(len(batch.points), dtype=np.intp) if group is None else group

    def with_group(some: Bools) -> Bools:
        told: Bools = np.bincount(group, some)[group] > 0
        return told

    points, used = batch.points, batch.used
    planes = _planes(points)
    first, last = points[:, 0], points[:, -1]
    u, length = _chord_parameters(points)
    chord = np.hypot(*(last - first).T)
    # A circular arc's handle: 2/3 chord / (1 + cos(turn / 2)), from 4/3 tan(turn/4) R.
    half = np.arccos(np.clip((start * end).sum(axis=1), -1.0, 1.0)) / 2
    arc = chord * (2.0 / 3.0) / (1.0 + np.cos(half))
    handles = np.stack([arc, arc], axis=1)
    many = used.sum(axis=1) >= _FEW
    if many.any():
        guess = _handles_by_points(points, used, u, start, end)
        sane = (guess > 0.02 * length[:, None]).all(axis=1) & (guess < length[:, None]).all(axis=1)
        handles = np.where((many & sane)[:, None], guess, handles)
    low, high = SHORTEST * length[:, None], np.maximum(LONGEST * length, 1e-300)[:, None]
    handles = np.clip(handles, low, high)
    best: Fitted | None = None
    going = np.ones(len(points), dtype=bool)
    for step in range(_ROUNDS):
        controls = _with_handles(first, last, start, end, handles)
        powers = _powers(controls)
        u = _feet(powers, planes, u)
        miss = planes - _places(powers, u)
        newer = _measured(controls, used, u, miss)
        gained = going if best is None else going & (newer.error < 0.97 * best.error)
        best = newer if best is None else best.better(newer, going)
        going = with_group(gained) & with_group(best.error > 1e-12)
        if step == _ROUNDS - 1 or not going.any():
            break
        handles = np.clip(handles + _handle_steps(powers, used, u, miss, start, end), low, high)
    assert best is not None
    return best


def fit_free(batch: Batch, rounds: int = 3) -> Fitted:
    """One cubic for each run through its ends, its inner control points wholly free."""
    points, used = batch.points, batch.used
    planes = _planes(points)
    u, _ = _chord_parameters(points)
    first, last = points[:, :1], points[:, -1:]
    controls = np.empty((len(points), 4, 2))
    for _ in range(rounds):
        whole = _bernstein(u)
        b = whole * used[..., None]
        rest = points - whole[..., :1] * first - whole[..., 3:] * last
        a11 = (b[..., 1] ** 2).sum(axis=1)
        a22 = (b[..., 2] ** 2).sum(axis=1)
        a12 = (b[..., 1] * b[..., 2]).sum(axis=1)
        r1 = (b[..., 1:2] * rest).sum(axis=1)
        r2 = (b[..., 2:3] * rest).sum(axis=1)
        det = a11 * a22 - a12 * a12
        det = np.where(det > 1e-12 * a11 * a22, det, np.inf)[:, None]
        controls[:, 0], controls[:, 3] = first[:, 0], last[:, 0]
        controls[:, 1] = (a22[:, None] * r1 - a12[:, None] * r2) / det
        controls[:, 2] = (a11[:, None] * r2 - a12[:, None] * r1) / det
        powers = _powers(controls)
        u = _feet(powers, planes, u)
    best = _measured(controls, used, u, planes - _places(powers, u))
    for _ in range(3):
        controls = _normal_step(best, planes, used)
        powers = _powers(controls)
        u = _feet(powers, planes, best.u)
        best = best.better(_measured(controls, used, u, planes - _places(powers, u)))
    return best


def _planes(points: Floats) -> Floats:
    """Points (n, m, 2) as (2, n, m): all x, then all y, in which the loops are quickest."""
    return np.ascontiguousarray(np.moveaxis(points, -1, 0))


def _powers(controls: Floats) -> Floats:
    """Coefficients (4, 2, n, 1) of 1, t, t2, t3 of cubics (n, 4, 2)."""
    p0, p1, p2, p3 = controls.transpose(1, 2, 0)[..., None]
    return np.stack([p0, 3 * (p1 - p0), 3 * (p2 - 2 * p1 + p0), p3 - p0 + 3 * (p1 - p2)])


def _places(powers: Floats, u: Floats) -> Floats:
    """Points (2, n, m) of the cubics at `u` (n, m)."""
    c0, c1, c2, c3 = powers
    places: Floats = ((c3 * u + c2) * u + c1) * u + c0
    return places


def _speeds(powers: Floats, u: Floats) -> Floats:
    """First derivatives (2, n, m) at `u`."""
    _, c1, c2, c3 = powers
    speeds: Floats = (3 * c3 * u + 2 * c2) * u + c1
    return speeds


def _measured(controls: Floats, used: Bools, u: Floats, miss: Floats) -> Fitted:
    return Fitted(controls, u, np.where(used, np.hypot(*miss), 0.0))


def _normals(powers: Floats, u: Floats) -> Floats:
    """Unit normals (2, n, m) at `u`; zero where the curve stands still."""
    dx, dy = _speeds(powers, u)
    size = np.hypot(dx, dy)
    return np.stack([-dy, dx]) / np.where(size > 0, size, 1.0)


def _normal_step(fitted: Fitted, planes: Floats, used: Bools) -> Floats:
    """Gauss-Newton step of the inner control points on distances along the normal.

    Runs of fewer than eight points leave too much open and keep their controls.
    """
    u, controls = fitted.u, fitted.controls
    powers = _powers(controls)
    normal = _normals(powers, u) * used
    b1, b2 = 3 * (1.0 - u) ** 2 * u, 3 * (1.0 - u) * u * u
    j = np.concatenate([b1 * normal, b2 * normal]).transpose(1, 2, 0)
    r = ((planes - _places(powers, u)) * normal).sum(axis=0)
    a = j.transpose(0, 2, 1) @ j
    damp = 1e-6 * np.trace(a, axis1=1, axis2=2) + 1e-12
    a = a + damp[:, None, None] * np.eye(4)
    step = np.linalg.solve(a, j.transpose(0, 2, 1) @ r[..., None])[..., 0].reshape(-1, 2, 2)
    step[used.sum(axis=1) < 8] = 0.0
    moved = controls.copy()
    moved[:, 1:3] += step
    return moved


def _chord_parameters(points: Floats) -> tuple[Floats, Floats]:
    steps = np.diff(points, axis=1)
    cumulative = np.zeros(points.shape[:2])
    np.cumsum(np.hypot(steps[..., 0], steps[..., 1]), axis=1, out=cumulative[:, 1:])
    length = cumulative[:, -1]
    return cumulative / np.where(length > 0, length, 1.0)[:, None], length


def _bernstein(u: Floats) -> Floats:
    s = 1.0 - u
    return np.stack([s * s * s, 3 * s * s * u, 3 * s * u * u, u * u * u], axis=-1)


def _with_handles(first: Floats, last: Floats, start: Floats, end: Floats, h: Floats) -> Floats:
    return np.stack([first, first + h[:, :1] * start, last - h[:, 1:] * end, last], axis=1)


def _handles_by_points(
    points: Floats, used: Bools, u: Floats, start: Floats, end: Floats
) -> Floats:
    """Handle lengths (n, 2) that bring the curve at `u` nearest the points; 0 where undefined."""
    b = _bernstein(u) * used[..., None]
    first, last = points[:, :1], points[:, -1:]
    rest = points - (b[..., :1] + b[..., 1:2]) * first - (b[..., 2:3] + b[..., 3:]) * last
    c11 = (b[..., 1] ** 2).sum(axis=1)
    c22 = (b[..., 2] ** 2).sum(axis=1)
    c12 = -(b[..., 1] * b[..., 2]).sum(axis=1) * (start * end).sum(axis=1)
    x1 = (b[..., 1] * (rest @ start[:, :, None])[..., 0]).sum(axis=1)
    x2 = -(b[..., 2] * (rest @ end[:, :, None])[..., 0]).sum(axis=1)
    det = c11 * c22 - c12 * c12
    det = np.where(det > 1e-12 * c11 * c22, det, np.inf)
    return np.stack([(x1 * c22 - x2 * c12) / det, (x2 * c11 - x1 * c12) / det], axis=1)


def _handle_steps(
    powers: Floats, used: Bools, u: Floats, miss: Floats, start: Floats, end: Floats
) -> Floats:
    """Gauss-Newton step of the handle lengths (n, 2) on distances along the normal."""
    nx, ny = _normals(powers, u)
    s = 1.0 - u
    j1 = 3 * s * s * u * (nx * start[:, :1] + ny * start[:, 1:]) * used
    j2 = -3 * s * u * u * (nx * end[:, :1] + ny * end[:, 1:]) * used
    r = (miss[0] * nx + miss[1] * ny) * used
    a11, a22, a12 = (j1 * j1).sum(axis=1), (j2 * j2).sum(axis=1), (j1 * j2).sum(axis=1)
    # A little damping holds handles that the points say nothing about.
    damp = 1e-7 * (a11 + a22) + 1e-12 * used.sum(axis=1)
    a11, a22 = a11 + damp, a22 + damp
    r1, r2 = (j1 * r).sum(axis=1), (j2 * r).sum(axis=1)
    det = a11 * a22 - a12 * a12
    return np.stack([(a22 * r1 - a12 * r2) / det, (a11 * r2 - a12 * r1) / det], axis=1)


def _feet(powers: Floats, planes: Floats, u: Floats) -> Floats:
    """Parameters moved by Newton's method towards the points' feet; the ends stay."""
    c0, c1, c2, c3 = powers
    from_start, twice, thrice = c0 - planes, 2 * c2, 3 * c3
    for _ in range(2):
        miss = ((c3 * u + c2) * u + c1) * u + from_start
        d, dd = (thrice * u + twice) * u + c1, 2 * thrice * u + twice
        f = miss[0] * d[0] + miss[1] * d[1]
        speed = d[0] * d[0] + d[1] * d[1]
        slope = speed + miss[0] * dd[0] + miss[1] * dd[1]
        # Where Newton's slope is no minimum the plain Gauss step is safe.
        slope = np.where(slope > 0.1 * speed, slope, speed)
        step = np.divide(f, slope, out=np.zeros_like(f), where=slope > 0)
        u = u - np.minimum(np.maximum(step, -0.2), 0.2)
        u = np.minimum(np.maximum(u, 0.0), 1.0)
    u[:, 0] = 0.0
    return u
