"""Single cubics through many runs of points at once, the core of curve fitting.

Least squares on the inner control points (Schneider's construction, recalled), then
Gauss-Newton on the distance along the curve's normal with foot points renewed by
Newton's method, which converges faster than moving parameters alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import bezier
from .types import Bools, Floats

#: Handles are kept between these shares of the run's length, so that no curve is flung out.
SHORTEST, LONGEST = 0.004, 0.95
_ROUNDS = 7
_FEW = 6


@dataclass(frozen=True)
class Batch:
    """Runs of points (n, m, 2), padded at the end by repeating the last one; `used` (n, m)."""

    points: Floats
    used: Bools

    @classmethod
    def of(cls, runs: list[Floats]) -> Batch:
        """Runs of unlike counts, padded to the longest."""
        most = max(len(r) for r in runs)
        points = np.empty((len(runs), most, 2))
        used = np.zeros((len(runs), most), dtype=bool)
        for row, mask, run in zip(points, used, runs, strict=True):
            row[: len(run)] = run
            row[len(run) :] = run[-1]
            mask[: len(run)] = True
        return cls(points, used)


@dataclass(frozen=True)
class Fitted:
    """Controls (n, 4, 2), foot parameters (n, m) and distances (n, m) of each point, mm."""

    controls: Floats
    u: Floats
    distance: Floats

    @property
    def error(self) -> Floats:
        """Largest distance from a point to its foot on the curve, for each run (n,)."""
        worst: Floats = self.distance.max(axis=1)
        return worst

    def better(self, other: Fitted) -> Fitted:
        """Of two fits of the same runs, the one with the smaller error for each."""
        swap = other.error < self.error
        return Fitted(
            np.where(swap[:, None, None], other.controls, self.controls),
            np.where(swap[:, None], other.u, self.u),
            np.where(swap[:, None], other.distance, self.distance),
        )


def fit_with_tangents(batch: Batch, start: Floats, end: Floats) -> Fitted:
    """One cubic for each run through its ends along unit tangents (n, 2), walking on.

    The handle lengths are chosen by least squares of the points' distances.
    """
    points, used = batch.points, batch.used
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
    for step in range(_ROUNDS):
        controls = _with_handles(first, last, start, end, handles)
        u = _feet(controls, points, u)
        newer = _measured(controls, points, used, u)
        gained = best is None or bool((newer.error < 0.97 * best.error).any())
        best = newer if best is None else best.better(newer)
        if not gained or step == _ROUNDS - 1 or not (best.error > 1e-12).any():
            break
        miss = points - bezier.evaluate(controls[:, None], u)
        handles = np.clip(handles + _handle_steps(controls, used, u, miss, start, end), low, high)
    assert best is not None
    return best


def fit_free(batch: Batch, rounds: int = 3) -> Fitted:
    """One cubic for each run through its ends, its inner control points wholly free."""
    points, used = batch.points, batch.used
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
        u = _feet(controls, points, u)
    best = _measured(controls, points, used, u)
    for _ in range(3):
        controls = _normal_step(best, points, used)
        newer = _measured(controls, points, used, _feet(controls, points, best.u))
        best = best.better(newer)
    return best


def _measured(controls: Floats, points: Floats, used: Bools, u: Floats) -> Fitted:
    miss = points - bezier.evaluate(controls[:, None], u)
    return Fitted(controls, u, np.where(used, np.hypot(miss[..., 0], miss[..., 1]), 0.0))


def _normal_step(fitted: Fitted, points: Floats, used: Bools) -> Floats:
    """Gauss-Newton step of the inner control points on distances along the normal.

    Runs of fewer than eight points leave too much open and keep their controls.
    """
    u, controls = fitted.u, fitted.controls
    d = bezier.derivative(controls[:, None], u)
    size = np.hypot(d[..., 0], d[..., 1])
    size = np.where(size > 0, size, 1.0)
    normal = np.stack([-d[..., 1] / size, d[..., 0] / size], axis=-1) * used[..., None]
    s = 1.0 - u
    j = np.concatenate(
        [(3 * s * s * u)[..., None] * normal, (3 * s * u * u)[..., None] * normal], axis=-1
    )
    miss = points - bezier.evaluate(controls[:, None], u)
    r = (miss * normal).sum(axis=-1)
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
    controls: Floats, used: Bools, u: Floats, miss: Floats, start: Floats, end: Floats
) -> Floats:
    """Gauss-Newton step of the handle lengths (n, 2) on distances along the normal."""
    d = bezier.derivative(controls[:, None], u)
    size = np.hypot(d[..., 0], d[..., 1])
    size = np.where(size > 0, size, 1.0)
    nx, ny = -d[..., 1] / size, d[..., 0] / size
    s = 1.0 - u
    j1 = 3 * s * s * u * (nx * start[:, :1] + ny * start[:, 1:]) * used
    j2 = -3 * s * u * u * (nx * end[:, :1] + ny * end[:, 1:]) * used
    r = (miss[..., 0] * nx + miss[..., 1] * ny) * used
    a11, a22, a12 = (j1 * j1).sum(axis=1), (j2 * j2).sum(axis=1), (j1 * j2).sum(axis=1)
    # A little damping holds handles that the points say nothing about.
    damp = 1e-7 * (a11 + a22) + 1e-12 * used.sum(axis=1)
    a11, a22 = a11 + damp, a22 + damp
    r1, r2 = (j1 * r).sum(axis=1), (j2 * r).sum(axis=1)
    det = a11 * a22 - a12 * a12
    return np.stack([(a22 * r1 - a12 * r2) / det, (a11 * r2 - a12 * r1) / det], axis=1)


def _feet(controls: Floats, points: Floats, u: Floats) -> Floats:
    """Parameters moved by Newton's method towards the points' feet; the ends stay."""
    c = controls[:, None]
    for _ in range(2):
        miss = bezier.evaluate(c, u) - points
        d, dd = bezier.derivative(c, u), bezier.second_derivative(c, u)
        f = (miss * d).sum(axis=-1)
        speed = (d * d).sum(axis=-1)
        slope = speed + (miss * dd).sum(axis=-1)
        # Where Newton's slope is no minimum the plain Gauss step is safe.
        slope = np.where(slope > 0.1 * speed, slope, speed)
        step = np.divide(f, slope, out=np.zeros_like(f), where=slope > 0)
        u = np.clip(u - np.clip(step, -0.2, 0.2), 0.0, 1.0)
    u[:, 0] = 0.0
    return u
