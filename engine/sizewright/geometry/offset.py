"""True parallels of a path as few smooth segments.

A positive distance lies to the right of the walking direction, so outside of a
counter-clockwise loop. The parallel of p(s) is p(s) + d n(s), n the right-hand unit
normal; it moves (1 + d k) times as fast, k the curvature (left positive), and turns
back on itself where that is negative (do Carmo, Differential Geometry of Curves and
Surfaces, exercise 1-5.6; recalled).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cached_property
from typing import NamedTuple

import numpy as np

from ..errors import GeometryError
from . import bezier, lengths
from .fit import fit_curves
from .path import Path, unit_tangents
from .trimming import loops_to_drop
from .types import Bools, Floats, Ints

#: mm; or the two at start and end, changing evenly by arc length; or a function of arc
#: lengths (m,) that gives distances (m,).
Distance = float | tuple[float, float] | Callable[[Floats], Floats]

_CHECKS = 33
_DENSE = 129


class Parallel(NamedTuple):
    """A parallel, and the number there of each vertex of its source, -1 where cut off."""

    path: Path
    vertex_map: Ints


def offset_open(
    path: Path, distance: Distance, tolerance: float = 0.01, *, corner_degrees: float = 3.0
) -> Path:
    """The true parallel of a smooth chain at a signed distance, right positive, mm.

    Lines give lines (unless the distance is a function); cubics give few cubics within
    `tolerance` (mm), with common tangents wherever the source has them. A closed path
    without corners gives a closed one. Where a vertex turns by less than
    `corner_degrees` the two sides are brought together on its bisector. Where the line
    bends inwards more sharply than the distance allows, the parallel's loops are cut
    off and a corner stays. A distance that changes along the path keeps its own slight
    kink where the curvature jumps.

    Raises GeometryError, with the place, at a corner inside the chain, and where loops
    cannot be cut off.
    """
    return parallel(path, distance, tolerance, corner_degrees=corner_degrees).path


def parallel(
    path: Path, distance: Distance, tolerance: float = 0.01, *, corner_degrees: float = 3.0
) -> Parallel:
    """As `offset_open`, and where the source's vertices went."""
    if not tolerance > 0:
        raise GeometryError(f"an offset tolerance of {tolerance} mm is not above zero")
    source = _Source(path, distance)
    source.refuse_corners(corner_degrees)
    if not source.curved.any() and source.runs_forward():
        return _assembled(source, [(0.0, float(len(path)))], tolerance)
    if source.runs_forward() and source.looks_simple():
        return _assembled(source, [(0.0, float(len(path)))], tolerance)
    if path.closed:
        begin = source.best_start()
        kept = _Source(path.rolled(begin), distance)
        turned = _assembled(kept, _kept_places(kept), tolerance)
        return Parallel(turned.path, np.roll(turned.vertex_map, begin))
    return _assembled(source, _kept_places(source), tolerance)


class _Source:
    """A path with its distances: samples, vertices and checks of its parallel."""

    def __init__(self, path: Path, distance: Distance) -> None:
        self.path = path
        total = path.length
        self.constant: float | None = None
        self.linear = True
        if callable(distance):
            if path.closed:
                raise GeometryError("a changing distance needs an open path")
            self.linear = False
            self.of_length = distance
        elif isinstance(distance, tuple):
            if path.closed:
                raise GeometryError("a changing distance needs an open path")
            d0, d1 = (float(d) for d in distance)
            self.of_length = lambda s: d0 + (d1 - d0) * (s / total)
            if d0 == d1:
                self.constant = d0
        else:
            self.constant = float(distance)
            self.of_length = lambda s: np.full_like(s, self.constant)
        probe = np.asarray(self.of_length(np.array([0.0, total])), dtype=np.float64)
        if probe.shape != (2,) or not np.isfinite(probe).all():
            raise GeometryError("an offset distance is not a finite number")
        self.curved: Bools = ~path.lines if self.linear else np.ones(len(path), dtype=bool)

    # --- the parallel as a function ---------------------------------------------

    def distances(self, i: Ints, u: Floats) -> tuple[Floats, Floats]:
        """Distance, and its change by arc length, at parameters `u` (n, m) of segments `i`."""
        if self.constant is not None:
            return np.full(u.shape, self.constant), np.zeros(u.shape)
        number = np.repeat(i, u.shape[1])
        part = lengths.partials(self.path.controls[number], self.path.lines[number], u.reshape(-1))
        s = self.path.cumulative[number] + part
        total = self.path.length
        h = 1e-5 * total
        low, high = np.maximum(s - h, 0.0), np.minimum(s + h, total)
        slope = (self.of_length(high) - self.of_length(low)) / (high - low)
        return self.of_length(s).reshape(u.shape), slope.reshape(u.shape)

    def sample(self, i: Ints, u: Floats) -> tuple[Floats, Floats, Floats]:
        """Points and directions (n, m, 2) of the parallel, and its speed over the source's.

        The speed is scaled by the cube of the parametric speed, so that it stays finite.
        """
        controls = self.path.controls[i][:, None]
        d, slope = self.distances(i, u)
        first, second = bezier.derivative(controls, u), bezier.second_derivative(controls, u)
        t = unit_tangents(controls, u)
        n = np.stack([t[..., 1], -t[..., 0]], axis=-1)
        cube = np.hypot(first[..., 0], first[..., 1]) ** 3
        cross = first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0]
        forward = cube + d * cross
        points = bezier.evaluate(controls, u) + d[..., None] * n
        directions = t
        if self.constant is None:
            ratio = np.divide(forward, cube, out=np.ones_like(cube), where=cube > 0)
            directions = ratio[..., None] * t + slope[..., None] * n
        return points, directions, forward

    @cached_property
    def joints(self) -> Floats:
        """The parallel's point at each vertex: on the bisector where the tangents differ."""
        path = self.path
        before, after = path.tangents_in, path.tangents_out
        if path.closed:
            before = np.roll(before, 1, axis=0)
        else:
            before = np.vstack([after[:1], before])
            after = np.vstack([after, before[-1:]])
        middle = before + after
        # (a + b) / (1 + a.b) is the bisector times 1 / cos(half the turn).
        middle = middle / (1.0 + (before * after).sum(axis=1))[:, None]
        d = np.asarray(self.of_length(path.cumulative[: len(middle)]))
        joints: Floats = path.vertices + d[:, None] * np.column_stack([middle[:, 1], -middle[:, 0]])
        return joints

    # --- checks -----------------------------------------------------------------

    def refuse_corners(self, degrees: float) -> None:
        """GeometryError at a vertex that turns by more than `degrees`."""
        turns = np.abs(self.path.turns)
        if turns.max() > degrees:
            k = int(turns.argmax())
            x, y = self.path.vertices[k]
            raise GeometryError(
                f"the line has a corner of {turns[k]:.2f} degrees at ({x:.3f}, {y:.3f})",
                cure="Split it there and offset each side by itself",
            )

    @cached_property
    def _checked(self) -> tuple[Floats, Floats]:
        """Points (n, m, 2) and forward speeds (n, m) of every curved segment."""
        i = np.flatnonzero(self.curved)
        u = np.tile(np.linspace(0.0, 1.0, _CHECKS), (len(i), 1))
        points, _, forward = self.sample(i, u)
        return points, forward

    def runs_forward(self) -> bool:
        """Whether the parallel nowhere turns back on its source."""
        if not self.curved.any():
            return True
        return bool((self._checked[1][:, 1:-1] > 0).all())

    def looks_simple(self) -> bool:
        """Whether the sampled parallel has no crossing (a closing point is no crossing)."""
        import shapely

        if not self.curved.any():
            return True
        parts: list[Floats] = []
        curved = iter(self._checked[0])
        following = np.vstack([self.joints, self.joints[:1]])
        for i, bends in enumerate(self.curved):
            parts.append(next(curved)[:-1] if bends else following[i : i + 1])
        parts.append(following[len(self.path) : len(self.path) + 1])
        return bool(shapely.LineString(np.concatenate(parts)).is_simple)

    def best_start(self) -> int:
        """A vertex of a closed path that is farthest from where the parallel turns back."""
        n = len(self.path)
        backward = np.zeros(n, dtype=bool)
        backward[np.flatnonzero(self.curved)] = (self._checked[1][:, 1:-1] <= 0).any(axis=1)
        if not backward.any():
            return 0
        total, at = self.path.length, self.path.cumulative[:-1]
        middles = (at + self.path.segment_lengths / 2)[backward]
        away = np.abs(at[:, None] - middles)
        return int(np.minimum(away, total - away).min(axis=1).argmax())


def _kept_places(source: _Source) -> list[tuple[float, float]]:
    """Stretches, by segment number plus parameter, that stay when loops are cut off."""
    import shapely

    path, n = source.path, len(source.path)
    i = np.arange(n)
    u = np.tile(np.arange(_DENSE) / (_DENSE - 1.0), (n, 1))
    points, _, forward = source.sample(i, u)
    points, forward = points[:, :-1], forward[:, :-1]
    points[:, 0] = source.joints[:n]
    last = source.joints[0 if path.closed else n]
    flat = np.vstack([points.reshape(-1, 2), last])
    places = np.append((i[:, None] + u[:, :-1]).reshape(-1), float(n))
    backward = np.append(forward.reshape(-1) < 0, False)
    bad = backward.copy()
    line = shapely.LineString(bezier.evaluate(path.controls[:, None], u).reshape(-1, 2))
    if source.constant is not None and line.is_simple:
        near = shapely.distance(line, shapely.points(flat))
        bad |= near < abs(source.constant) * 0.999 - 1e-3
    dropped = loops_to_drop(flat, places, bad, lambda a, b: _refined(source, a, b))
    for x, y in dropped:
        backward &= ~((places >= x) & (places <= y))
    if backward.any() or (path.closed and not dropped and bad.all()):
        k = min(int(places[backward.argmax()]), n - 1)
        x, y = bezier.evaluate(path.controls[k], np.asarray(places[backward.argmax()] - k))
        far = "" if source.constant is None else f"{abs(source.constant):g} mm away "
        raise GeometryError(
            f"near ({x:.3f}, {y:.3f}) the line bends more sharply than a parallel {far}to that "
            "side can follow: it would fold over itself",
            cure="Make the distance smaller or the curve flatter there",
        )
    kept = []
    begin = 0.0
    for x, y in dropped:
        kept.append((begin, x))
        begin = y
    kept.append((begin, float(n)))
    return kept


def _refined(source: _Source, a: Floats, b: Floats) -> tuple[Floats, Floats]:
    """Crossing places by Newton's method on the true parallel, held to their segments."""
    if not len(a):
        return a, b
    n = len(source.path)
    first, second = a.copy(), b.copy()
    ends = [np.minimum(p.astype(np.intp), n - 1) for p in (a, b)]
    h = 1e-6
    for _ in range(12):
        at, move = [], []
        for i, place in zip(ends, (first, second), strict=True):
            u = np.clip(place - i, h, 1 - h)[:, None] + np.array([-h, 0.0, h])
            points, _, _ = source.sample(i, u)
            at.append(points[:, 1])
            move.append((points[:, 2] - points[:, 0]) / (2 * h))
        gap = at[1] - at[0]
        det = move[0][:, 1] * move[1][:, 0] - move[0][:, 0] * move[1][:, 1]
        det = np.where(det == 0, np.inf, det)
        da = (gap[:, 1] * move[1][:, 0] - gap[:, 0] * move[1][:, 1]) / det
        db = (gap[:, 1] * move[0][:, 0] - gap[:, 0] * move[0][:, 1]) / det
        first = np.clip(first + np.clip(da, -0.02, 0.02), ends[0], ends[0] + 1.0)
        second = np.clip(second + np.clip(db, -0.02, 0.02), ends[1], ends[1] + 1.0)
    far = (np.abs(first - a) > 0.05) | (np.abs(second - b) > 0.05)
    return np.where(far, a, first), np.where(far, b, second)


def _assembled(source: _Source, kept: list[tuple[float, float]], tolerance: float) -> Parallel:
    """The parallel over the kept stretches, and where the vertices went."""
    path, n = source.path, len(source.path)
    spans: list[tuple[int, float, float]] = []
    for low, high in kept:
        first, last = int(low), min(math.ceil(high), n)
        for i in range(first, last):
            u0, u1 = max(low - i, 0.0), min(high - i, 1.0)
            if u1 - u0 > 1e-9:
                spans.append((i, u0, u1))
    curved = [k for k, (i, _, _) in enumerate(spans) if source.curved[i]]
    fitted: dict[int, Floats] = {}
    if curved:
        number = np.array([spans[k][0] for k in curved], dtype=np.intp)

        def sample(which: Ints, u: Floats) -> tuple[Floats, Floats]:
            points, directions, _ = source.sample(number[which], u)
            return points, directions

        ranges = np.array([spans[k][1:] for k in curved])
        fitted = dict(zip(curved, fit_curves(sample, ranges, tolerance), strict=True))
    ends = np.vstack([source.joints, source.joints[:1]])
    controls: list[Floats] = []
    lines: list[bool] = []
    vertex_map = np.full(len(path.vertices), -1, dtype=np.intp)
    for k, (i, u0, u1) in enumerate(spans):
        start, end = ends[i], ends[i + 1]
        if u0 == 0.0:
            vertex_map[i] = len(lines)
        if k in fitted:
            piece = fitted[k].copy()
            if u0 == 0.0:
                piece[:1] = begun_at(piece[:1], start[None])
            if u1 == 1.0:
                piece[-1:] = begun_at(piece[-1:, ::-1], end[None])[:, ::-1]
            controls.extend(piece)
            lines.extend([False] * len(piece))
        else:
            a, b = start + u0 * (end - start), start + u1 * (end - start)
            controls.append(bezier.line_controls(a, b))
            lines.append(True)
        if u1 == 1.0 and i + 1 < len(vertex_map):
            vertex_map[i + 1] = len(lines)
    if not controls:
        raise GeometryError("nothing is left of the line at that distance")
    if path.closed:
        vertex_map[vertex_map == len(lines)] = 0
    return Parallel(Path(np.array(controls), np.array(lines), path.closed), vertex_map)


def begun_at(cubics: Floats, points: Floats) -> Floats:
    """Cubics (n, 4, 2) begun at points (n, 2) very near their starts, on their own lines
    carried on or cut."""
    shift = points - cubics[:, 0]
    d = 3 * (cubics[:, 1] - cubics[:, 0])
    square = (d * d).sum(axis=1)
    t = np.divide((shift * d).sum(axis=1), square, out=np.zeros_like(square), where=square > 0)
    off = (shift != 0).any(axis=1)
    moved = cubics.copy()
    cut = off & (np.abs(t) > 1e-12)
    moved[cut] = bezier.after(cubics[cut], t[cut])
    moved[off, :2] += (points - moved[:, 0])[off, None]
    return moved
