"""Few fair cubics through points or along a given curve, joined with common tangents."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from ..errors import GeometryError
from . import bezier
from .cubic_fit import Batch, Fitted, fit_free, fit_with_tangents
from .path import Path, unit_tangents
from .types import Floats, Ints

#: Samples of each span when a curve is given as a function.
SAMPLES = 33
_MOST_LEVELS = 12
_MOST_PIECES = 300
_TINY = 1e-12
_ENOUGH = 40


def fit_cubics(
    points: Floats | Sequence[Sequence[float]],
    tolerance: float,
    *,
    start_tangent: Floats | None = None,
    end_tangent: Floats | None = None,
    closed: bool = False,
) -> Path:
    """Few cubics through a smooth run of points (m, 2), tangents common at the joins.

    Every point lies within `tolerance` (mm) of the curve. The curve lies within
    `tolerance` of the polyline too, once the height that a smooth arc has over each
    chord (chord times turn, over 8) is granted, so coarse chords do not bind it.
    Tangents point the way of walking and need not be unit; a missing one is taken
    from the points. Joins are points of the run, the ends among them. A `closed` run
    is smooth at its first point as well, which need not be repeated.
    Raises GeometryError for fewer than two different points.
    """
    if not tolerance > 0:
        raise GeometryError(f"a fitting tolerance of {tolerance} mm is not above zero")
    pts = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    if not np.isfinite(pts).all():
        raise GeometryError("a coordinate is not a finite number")
    if len(pts):
        pts = pts[np.concatenate([[True], (np.diff(pts, axis=0) != 0).any(axis=1)])]
    if closed and len(pts) > 1 and not np.array_equal(pts[0], pts[-1]):
        pts = np.vstack([pts, pts[:1]])
    if len(pts) < (4 if closed else 2):
        raise GeometryError("a curve cannot be fitted through so few different points")
    controls, _ = fit_chain(
        pts, tolerance, start=_unit(start_tangent), end=_unit(end_tangent), closed=closed
    )
    return Path(controls, np.zeros(len(controls), dtype=bool), closed)


def fit_chain(
    pts: Floats,
    tolerance: float,
    *,
    start: Floats | None = None,
    end: Floats | None = None,
    closed: bool = False,
) -> tuple[Floats, Ints]:
    """As `fit_cubics`, with unit tangents and the closing point repeated.

    Returns controls (n, 4, 2) and the numbers (n + 1,) of the points at the joins.
    """
    chain = _Chain(pts, tolerance, closed, start, end)
    last = len(pts) - 1
    joins = [0, last]
    if closed:
        joins = [0, *chain.cuts(0, last, 4), last]
    spans = list(pairwise(joins))
    done: Fits = {}
    for _ in range(_MOST_LEVELS):
        fitted = chain.fit(spans)
        todo: list[tuple[int, int]] = []
        for (a, b), controls, error in zip(spans, *fitted, strict=True):
            if error <= tolerance or b - a < 2:
                done[0, a, b] = (controls, error)
                continue
            inner = [a, *chain.cuts(a, b, _pieces(error, tolerance)), b]
            todo += pairwise(inner)
        spans = todo
        if not spans:
            break
    else:
        for (a, b), controls, error in zip(spans, *chain.fit(spans), strict=True):
            done[0, a, b] = (controls, error)
    if all(error <= tolerance for _, error in done.values()):
        done = _evened(
            lambda some: chain.fit([(int(a), int(b)) for _, a, b in some]),
            done,
            tolerance,
            2 if closed else 1,
            whole=True,
        )
    keys = sorted(done)
    return (
        np.array([done[k][0] for k in keys]),
        np.array([int(keys[0][1]), *(int(k[2]) for k in keys)], dtype=np.intp),
    )


def _pieces(error: float, tolerance: float) -> int:
    """How many parts to try next: the error falls with about the sixth power of length."""
    parts: float = min((error / tolerance) ** (1 / 6), 4.0)
    return max(2, math.ceil(parts))


Span = tuple[int, float, float]
Fits = dict[Span, tuple[Floats, float]]


def _evened(
    fit: Callable[[list[Span]], tuple[list[Floats], list[float]]],
    done: Fits,
    tolerance: float,
    least: int,
    whole: bool,
) -> Fits:
    """The same curves in fewer spans of more even errors, where that can be had.

    The sixth root of a span's error over the tolerance tells how many spans its stretch
    needs; cuts at equal sums of that need give the fewest. `whole` keeps cuts at whole
    numbers.
    """
    best = _by_curve(done)
    errors = {k: error for k, (_, error) in done.items()}
    measured = dict(best)
    fewest = dict.fromkeys(best, least)
    tries = dict.fromkeys(best, 0)
    for _ in range(5):
        asked: dict[int, list[Span]] = {}
        for i, spans in best.items():
            need = sum(_need(errors[k], tolerance) for k in measured[i])
            count = max(math.ceil(need), fewest[i])
            if count < len(spans):
                cuts = _cuts_by_need(measured[i], errors, tolerance, count, whole)
                if len(cuts) == count + 1:
                    asked[i] = [(i, x, y) for x, y in pairwise(cuts)]
        if not asked:
            break
        flat = [span for spans in asked.values() for span in spans]
        for span, controls, error in zip(flat, *fit(flat), strict=True):
            errors[span] = error
            if error <= tolerance:
                done[span] = (controls, error)
        for i, spans in asked.items():
            measured[i] = spans
            tries[i] += 1
            if all(errors[k] <= tolerance for k in spans):
                best[i], tries[i] = spans, 0
            elif tries[i] == 2:
                fewest[i], tries[i] = len(spans) + 1, 0
    return {k: done[k] for spans in best.values() for k in spans}


def _by_curve(done: Fits) -> dict[int, list[Span]]:
    """The spans of each curve in order."""
    spans: dict[int, list[Span]] = {}
    for span in sorted(done):
        spans.setdefault(span[0], []).append(span)
    return spans


def _need(error: float, tolerance: float) -> float:
    need: float = max(error / tolerance, 1e-6) ** (1 / 6)
    return need


def _cuts_by_need(
    spans: list[Span], errors: dict[Span, float], tolerance: float, count: int, whole: bool
) -> list[float]:
    total = np.concatenate([[0.0], np.cumsum([_need(errors[k], tolerance) for k in spans])])
    ends = [spans[0][1], *(k[2] for k in spans)]
    inner = np.interp(np.arange(1, count) / count * total[-1], total, ends)
    if whole:
        inner = np.unique(np.rint(inner))
        inner = inner[(inner > ends[0]) & (inner < ends[-1])]
    return [ends[0], *inner.tolist(), ends[-1]]


class _Chain:
    """A run of points with the tangents found so far."""

    def __init__(
        self,
        pts: Floats,
        tolerance: float,
        closed: bool,
        start: Floats | None,
        end: Floats | None,
    ) -> None:
        self.pts = pts
        self.tolerance = tolerance
        self.closed = closed
        steps = np.diff(pts, axis=0)
        self.chords = np.hypot(steps[:, 0], steps[:, 1])
        self.s = np.concatenate([[0.0], np.cumsum(self.chords)])
        self.unit = steps / self.chords[:, None]
        before, after = self.unit[:-1], self.unit[1:]
        cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        turn = np.abs(np.arctan2(cross, (before * after).sum(axis=1)))
        if closed:
            a, b = self.unit[-1], self.unit[0]
            ends = abs(math.atan2(a[0] * b[1] - a[1] * b[0], float(a @ b)))
            turn = np.concatenate([[ends], turn, [ends]])
        elif len(turn):
            turn = np.concatenate([turn[:1], turn, turn[-1:]])
        else:
            turn = np.zeros(2)
        self.turn = turn
        #: Height of a smooth arc over each chord, granted to the curve.
        self.height = self.chords * np.maximum(turn[:-1], turn[1:]) * (1.5 / 8)
        if len(pts) == 2:
            self.height[:] = self.chords / 2
        self.tangents: dict[int, Floats] = {}
        if start is not None:
            self.tangents[0] = start
        if end is not None:
            self.tangents[len(pts) - 1] = end

    def fit(self, spans: list[tuple[int, int]]) -> tuple[list[Floats], list[float]]:
        """A cubic for each span and its deviation, mm."""
        self._find_tangents(spans)
        batch = Batch.of([self.pts[a : b + 1] for a, b in spans])
        fitted = fit_with_tangents(
            batch,
            np.array([self.tangents[a] for a, _ in spans]),
            np.array([self.tangents[b] for _, b in spans]),
        )
        return list(fitted.controls), list(self._deviations(spans, fitted))

    def _deviations(self, spans: list[tuple[int, int]], fitted: Fitted) -> Floats:
        """Points to curve, and curve to polyline less the arcs' own heights (n,)."""
        m = fitted.u.shape[1]
        index = np.array([a for a, _ in spans])[:, None] + np.arange(m - 1)
        inside = index < np.array([b for _, b in spans])[:, None]
        index = np.where(inside, index, 0)
        worst = fitted.error
        low, high = fitted.u[:, :-1], fitted.u[:, 1:]
        for share in (0.25, 0.5, 0.75):
            at = bezier.evaluate(fitted.controls[:, None], low + share * (high - low))
            off = at - self.pts[index]
            unit = self.unit[index]
            along = (off * unit).sum(axis=-1)
            beyond = np.maximum(np.maximum(-along, along - self.chords[index]), 0.0)
            across = np.abs(off[..., 1] * unit[..., 0] - off[..., 0] * unit[..., 1])
            excess = np.hypot(beyond, np.maximum(across - self.height[index], 0.0))
            worst = np.maximum(worst, np.where(inside, excess, 0.0).max(axis=1))
        return worst

    def cuts(self, a: int, b: int, pieces: int) -> list[int]:
        """Points that part a span into pieces alike in turn and length."""
        s = self.s[a : b + 1]
        x = np.linspace(s[0], s[-1], 4 * pieces + 9)
        coarse = np.stack([np.interp(x, s, self.pts[a : b + 1, k]) for k in (0, 1)], axis=1)
        at = np.interp(equal_shares(coarse, pieces), np.arange(len(x)), x)
        near = np.abs(self.s[None, a + 1 : b] - at[:, None]).argmin(axis=1) + a + 1
        return sorted({int(i) for i in near})

    def _find_tangents(self, spans: list[tuple[int, int]]) -> None:
        """Tangents at the spans' ends from free cubics over the neighbourhood of each."""
        reach: dict[int, float] = {}
        for a, b in spans:
            for k in (a, b):
                if k not in self.tangents:
                    span = float(self.s[b] - self.s[a])
                    reach[k] = min(reach.get(k, math.inf), span)
        if not reach:
            return
        windows: list[tuple[int, Ints, int]] = []
        for k, span in reach.items():
            for share in (1.0, 0.5, 0.25, 0.125):
                index, centre = self._window(k, share * span)
                if len(index) > 2 * _ENOUGH:
                    # So many points are more than a tangent needs.
                    step = len(index) // _ENOUGH
                    index, centre = index[centre % step :: step], centre // step
                windows.append((k, index, centre))
        runs = [self.pts[index] for _, index, _ in windows]
        fitted = fit_free(Batch.of(runs))
        centres = np.array([c for _, _, c in windows])
        u = fitted.u[np.arange(len(windows)), centres]
        tangents = unit_tangents(fitted.controls, u)
        best: dict[int, float] = {}
        for (k, index, centre), run, tangent, error in zip(
            windows, runs, tangents, fitted.error, strict=True
        ):
            wide = float(np.hypot(*(run[-1] - run[0])))
            if len(index) < 5:
                tangent = circle_tangent(run, centre)
                error = 0.05 * self.tolerance
            doubt = (error + 1e-3 * self.tolerance) / max(wide, _TINY)
            if len(index) < 8 and centre in (0, len(index) - 1):
                # At an end few points are met whether the tangent is right or not.
                doubt += 3e-3 * float(self.turn[index].sum())
            if doubt < best.get(k, math.inf):
                best[k] = doubt
                self.tangents[k] = tangent
        last = len(self.pts) - 1
        if self.closed and (0 in reach or last in reach):
            self.tangents[0] = self.tangents[last] = self.tangents[0 if 0 in reach else last]

    def _window(self, k: int, reach: float) -> tuple[Ints, int]:
        """Numbers of the points within `reach` of point k, and k's place among them."""
        last = len(self.pts) - 1
        reach *= 1 + 1e-9
        if self.closed:
            total = self.s[-1]
            reach = min(reach, 0.25 * total * (1 + 1e-9))
            lap = np.concatenate([self.s[:-1] - total, self.s[:-1], self.s[:-1] + total])
            lo, hi = np.searchsorted(lap, [self.s[k] - reach, self.s[k] + reach])
            middle = k % last + last if k < last else 2 * last
            lo, hi = min(int(lo), middle - 2), max(int(hi), middle + 3)
            return np.arange(lo, hi) % last, middle - lo
        lo, hi = np.searchsorted(self.s, [self.s[k] - reach, self.s[k] + reach])
        lo, hi = max(min(int(lo), k - 2), 0), min(max(int(hi), k + 3), last + 1)
        return np.arange(lo, hi), k - lo


def equal_shares(samples: Floats, pieces: int) -> Floats:
    """Places (pieces - 1,), as fractional sample numbers, that share out turn and length.

    Where a curve bends more its pieces are shorter, yet a straight part counts too.
    """
    steps = np.diff(samples, axis=0)
    size = np.hypot(steps[:, 0], steps[:, 1])
    angle = np.arctan2(steps[:, 1], steps[:, 0])
    turn = np.abs((np.diff(angle) + np.pi) % (2 * np.pi) - np.pi)
    bend = np.zeros(len(size))
    bend[:-1] += turn / 2
    bend[1:] += turn / 2
    weight = size / max(size.sum(), _TINY)
    if bend.sum() > 1e-3:
        weight = 0.3 * weight + 0.7 * bend / bend.sum()
    total = np.concatenate([[0.0], np.cumsum(weight)])
    wanted = np.arange(1, pieces) / pieces * total[-1]
    places: Floats = np.interp(wanted, total, np.arange(len(total), dtype=np.float64))
    return places


def circle_tangent(run: Floats, k: int) -> Floats:
    """Unit tangent at point k of two to four points, of the circle through three of them."""
    if len(run) == 2:
        chord = run[1] - run[0]
        straight: Floats = chord / np.hypot(*chord)
        return straight
    i = min(max(k, 1), len(run) - 2)
    before, after = run[i] - run[i - 1], run[i + 1] - run[i]
    a, b = np.hypot(*before), np.hypot(*after)
    before, after = before / a, after / b
    # Tangent at the middle point: directions weighted by the other chord.
    middle: Floats = before * b + after * a
    middle /= np.hypot(*middle)
    if k == i:
        return middle
    chord = before if k < i else after
    along = float((middle * chord).sum())
    mirrored: Floats = 2 * along * np.asarray(chord) - middle
    return mirrored


def fit_curve(
    position: Callable[[Floats], Floats],
    tangent: Callable[[Floats], Floats],
    u0: float,
    u1: float,
    tolerance: float,
) -> Path:
    """Few cubics along a smooth curve given by functions of its parameter.

    `position` and `tangent` take parameters (m,) and give points and directions of
    walking (m, 2), the latter of any length. The deviation, sampled at 33 places of
    each cubic, stays within `tolerance` mm; tangents at the ends and joins are the
    curve's own. Raises GeometryError where that cannot be reached (a curve too wild to
    follow) or a point is not finite.
    """

    def sample(_: Ints, u: Floats) -> tuple[Floats, Floats]:
        flat = u.reshape(-1)
        return (
            np.asarray(position(flat)).reshape(*u.shape, 2),
            np.asarray(tangent(flat)).reshape(*u.shape, 2),
        )

    groups = fit_curves(sample, np.array([[u0, u1]]), tolerance)
    controls = groups[0]
    return Path(controls, np.zeros(len(controls), dtype=bool), False)


def fit_curves(
    sample: Callable[[Ints, Floats], tuple[Floats, Floats]], ranges: Floats, tolerance: float
) -> list[Floats]:
    """Many curves fitted at once; for each its cubics (k, 4, 2) in order.

    `sample(i, u)` takes curve numbers (n,) and parameters (n, m) and gives points and
    directions (n, m, 2). `ranges` (curves, 2) holds the parameters of the ends.
    """
    grid = np.linspace(0.0, 1.0, SAMPLES)
    # A little under, for what lies between the samples.
    allowed = 0.95 * tolerance

    def fit(some: list[Span]) -> tuple[Floats, Floats, Fitted]:
        number = np.array([i for i, _, _ in some], dtype=np.intp)
        low = np.array([a for _, a, _ in some])[:, None]
        high = np.array([b for _, _, b in some])[:, None]
        u = low + (high - low) * grid
        points, directions = sample(number, u)
        if not (np.isfinite(points).all() and np.isfinite(directions).all()):
            raise GeometryError("a point of the curve is not a finite number")
        size = np.hypot(directions[..., 0], directions[..., 1])
        directions = directions / np.where(size > 0, size, 1.0)[..., None]
        used = np.ones(points.shape[:2], dtype=bool)
        batch = Batch(points, used)
        return u, points, fit_with_tangents(batch, directions[:, 0], directions[:, -1])

    def fit_only(some: list[Span]) -> tuple[list[Floats], list[float]]:
        _, _, fitted = fit(some)
        return list(fitted.controls), list(fitted.error)

    spans: list[Span] = [(i, float(a), float(b)) for i, (a, b) in enumerate(ranges)]
    done: Fits = {}
    for _ in range(_MOST_LEVELS):
        u, points, fitted = fit(spans)
        todo: list[Span] = []
        for k, error in enumerate(fitted.error.tolist()):
            i, a, b = spans[k]
            if error <= allowed:
                done[i, a, b] = (fitted.controls[k], error)
                continue
            shares = equal_shares(points[k], _pieces(error, allowed))
            at = np.interp(shares, np.arange(SAMPLES), u[k])
            todo += [(i, x, y) for x, y in pairwise([a, *at.tolist(), b])]
        spans = todo
        if len(done) + len(spans) > _MOST_PIECES * len(ranges):
            break
        if not spans:
            done = _evened(fit_only, done, allowed, 1, whole=False)
            by_curve = _by_curve(done)
            return [np.array([done[k][0] for k in by_curve[i]]) for i in range(len(ranges))]
    x, y = (float(v) for v in sample(*_first(spans))[0][0, 0])
    raise GeometryError(
        f"no smooth curve keeps within {tolerance:g} mm near ({x:.3f}, {y:.3f})",
        cure="Split the line there, or allow a wider tolerance",
    )


def _first(spans: list[Span]) -> tuple[Ints, Floats]:
    i, a, _ = spans[0]
    return np.array([i], dtype=np.intp), np.array([[a]])


def _unit(direction: Floats | None) -> Floats | None:
    if direction is None:
        return None
    d = np.asarray(direction, dtype=np.float64).reshape(2)
    size = float(np.hypot(*d))
    if not (math.isfinite(size) and size > 0):
        raise GeometryError("a tangent needs a finite direction")
    unit: Floats = d / size
    return unit
