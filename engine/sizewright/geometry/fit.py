"""Few fair cubics through points or along a given curve, joined with common tangents."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ..errors import GeometryError
from . import bezier
from .cubic_fit import Batch, Fitted, fit_free, fit_with_tangents
from .path import Path, unit_tangents
from .types import Bools, Floats, Ints

#: Samples of each span when a curve is given as a function.
SAMPLES = 33
_MOST_LEVELS = 12
_MOST_PIECES = 300
_TINY = 1e-12
_ENOUGH = 40
#: How far to either side a tangent is looked for, of the shortest span that ends there.
_REACHES = np.array([1.0, 0.5, 0.25, 0.125])
#: Rows of up to so many points are fitted together, whatever their counts.
_NARROW = 32
#: Rows of so many points in all are fitted together: more takes longer to fetch than to reckon.
_AT_ONCE = 2**14


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
    stretch = Stretch(pts, _unit(start_tangent), _unit(end_tangent), closed)
    controls, _ = fit_chain(stretch, tolerance)
    return Path(controls, np.zeros(len(controls), dtype=bool), closed)


class Stretch(NamedTuple):
    """A smooth run of points (m, 2), each unlike the one before.

    `start` and `end` are unit tangents where they are known. A `closed` one is smooth at its
    first point as well, and ends with it.
    """

    points: Floats
    start: Floats | None = None
    end: Floats | None = None
    closed: bool = False


def fit_chain(stretch: Stretch, tolerance: float) -> tuple[Floats, Ints]:
    """As `fit_cubics`: controls (n, 4, 2) and the numbers (n + 1,) of the points at the joins."""
    return fit_chains([stretch], tolerance)[0]


def fit_chains(stretches: Sequence[Stretch], tolerance: float) -> list[tuple[Floats, Ints]]:
    """As `fit_chain` for each of many, fitted in step: a pass of all in each round.

    What comes of one depends on no other but in its last digits.
    """
    if not stretches:
        return []
    chains = _Chains(stretches, tolerance)
    spans: list[Span] = []
    for i, stretch in enumerate(stretches):
        last = len(stretch.points) - 1
        inner = chains.cuts(i, 0, last, 4) if stretch.closed else []
        spans += [(i, a, b) for a, b in pairwise([0, *inner, last])]
    done: Fits = {}
    rough: set[int] = set()
    for level in range(_MOST_LEVELS + 1):
        todo: list[Span] = []
        for (i, a, b), controls, error in zip(spans, *chains.fit(spans), strict=True):
            if error <= tolerance or b - a < 2 or level == _MOST_LEVELS:
                done[i, a, b] = (controls, error)
                if error > tolerance:
                    rough.add(i)
                continue
            cuts = chains.cuts(i, int(a), int(b), _pieces(error, tolerance))
            todo += [(i, x, y) for x, y in pairwise([a, *cuts, b])]
        spans = todo
        if not spans:
            break
    least = {i: 2 if s.closed else 1 for i, s in enumerate(stretches) if i not in rough}
    even = {k: fitted for k, fitted in done.items() if k[0] in least}
    left = {k: fitted for k, fitted in done.items() if k[0] in rough}
    done = left | _evened(chains.fit, even, tolerance, least, whole=True)
    return [
        (
            np.array([done[k][0] for k in keys]),
            np.array([keys[0][1], *(k[2] for k in keys)], dtype=np.intp),
        )
        for _, keys in sorted(_by_curve(done).items())
    ]


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
    least: dict[int, int],
    whole: bool,
) -> Fits:
    """The same curves in fewer spans of more even errors, where that can be had.

    `least` are the fewest spans of each.

    The sixth root of a span's error over the tolerance tells how many spans its stretch
    needs; cuts at equal sums of that need give the fewest. `whole` keeps cuts at whole
    numbers.
    """
    best = _by_curve(done)
    errors = {k: error for k, (_, error) in done.items()}
    measured = dict(best)
    fewest = dict(least)
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


class _Chains:
    """Runs of points, one after another, with the tangents found so far.

    Numbers of points count over all runs but where those of one run are meant; `first` is the
    number of the first of each.
    """

    def __init__(self, stretches: Sequence[Stretch], tolerance: float) -> None:
        self.tolerance = tolerance
        self.closed = np.array([s.closed for s in stretches])
        self.count = np.array([len(s.points) for s in stretches])
        self.first = np.cumsum(self.count) - self.count
        last = self.first + self.count - 1
        self.pts = np.concatenate([s.points for s in stretches])
        steps = np.diff(self.pts, axis=0, append=0.0)
        steps[last] = 0.0
        self.chords = np.hypot(steps[:, 0], steps[:, 1])
        self.unit = steps / np.where(self.chords > 0, self.chords, 1.0)[:, None]
        self.s = np.zeros(len(self.pts))
        for a, b in zip(self.first.tolist(), last.tolist(), strict=True):
            np.cumsum(self.chords[a:b], out=self.s[a + 1 : b + 1])
        before = np.roll(self.unit, 1, axis=0)
        before[self.first[self.closed]] = self.unit[last[self.closed] - 1]
        cross = before[:, 0] * self.unit[:, 1] - before[:, 1] * self.unit[:, 0]
        self.turn = np.abs(np.arctan2(cross, (before * self.unit).sum(axis=1)))
        # An open run goes on at its ends as it turns beside them.
        beside = np.where(self.closed, self.first, [self.first + 1, last - 1])
        for end, near in zip((self.first, last), beside, strict=True):
            self.turn[end] = np.where(self.count > 2, self.turn[near], 0.0)
        #: Height of a smooth arc over each chord, granted to the curve.
        self.height = self.chords * np.maximum(self.turn, np.roll(self.turn, -1)) * (1.5 / 8)
        two = self.first[self.count == 2]
        self.height[two] = self.chords[two] / 2
        self.tangents = np.full(self.pts.shape, np.nan)
        for stretch, a, b in zip(stretches, self.first, last, strict=True):
            if stretch.start is not None:
                self.tangents[a] = stretch.start
            if stretch.end is not None:
                self.tangents[b] = stretch.end

    def fit(self, spans: list[Span]) -> tuple[list[Floats], list[float]]:
        """A cubic for each span and its deviation, mm."""
        chain, a, b = np.array(spans).T.astype(np.intp)
        a, b = a + self.first[chain], b + self.first[chain]
        self._find_tangents(chain, a, b)
        controls = np.empty((len(spans), 4, 2))
        error = np.empty(len(spans))
        for some in _batches(b - a + 1, chain):
            low, high = a[some], b[some]
            index, used = _rows(low, high - low + 1)
            tangents = self.tangents[low], self.tangents[high]
            fitted = fit_with_tangents(Batch(self.pts[index], used), *tangents, chain[some])
            controls[some] = fitted.controls
            error[some] = self._deviations(index, used, fitted)
        return list(controls), error.tolist()

    def _deviations(self, index: Ints, used: Bools, fitted: Fitted) -> Floats:
        """Points to curve, and curve to polyline less the arcs' own heights (n,)."""
        inside, index = used[:, 1:], index[:, :-1]
        start, chord, height = self.pts[index], self.chords[index], self.height[index]
        unit = self.unit[index]
        worst = fitted.error
        low, high = fitted.u[:, :-1], fitted.u[:, 1:]
        for share in (0.25, 0.5, 0.75):
            at = bezier.evaluate(fitted.controls[:, None], low + share * (high - low))
            off = at - start
            along = (off * unit).sum(axis=-1)
            beyond = np.maximum(np.maximum(-along, along - chord), 0.0)
            across = np.abs(off[..., 1] * unit[..., 0] - off[..., 0] * unit[..., 1])
            excess = np.hypot(beyond, np.maximum(across - height, 0.0))
            worst = np.maximum(worst, np.where(inside, excess, 0.0).max(axis=1))
        return worst

    def cuts(self, chain: int, a: int, b: int, pieces: int) -> list[int]:
        """Points of a run that part a span of it into pieces alike in turn and length."""
        first = int(self.first[chain])
        s, pts = (all_[first + a : first + b + 1] for all_ in (self.s, self.pts))
        x = np.linspace(s[0], s[-1], 4 * pieces + 9)
        coarse = np.stack([np.interp(x, s, pts[:, k]) for k in (0, 1)], axis=1)
        at = np.interp(equal_shares(coarse, pieces), np.arange(len(x)), x)
        near = np.abs(s[None, 1:-1] - at[:, None]).argmin(axis=1) + a + 1
        return sorted({int(i) for i in near})

    def _find_tangents(self, chain: Ints, a: Ints, b: Ints) -> None:
        """Tangents at the spans' ends from free cubics over the neighbourhood of each."""
        ends, span = np.concatenate([a, b]), np.tile(self.s[b] - self.s[a], 2)
        new = np.isnan(self.tangents[ends, 0])
        if not new.any():
            return
        ends, of_end = np.unique(ends[new], return_inverse=True)
        reach = np.full(len(ends), np.inf)
        np.minimum.at(reach, of_end, span[new])
        chain = np.searchsorted(self.first, ends, side="right") - 1
        low, count, centre = self._windows(ends, chain, reach)
        # So many points are more than a tangent needs.
        step = np.where(count > 2 * _ENOUGH, count // _ENOUGH, 1)
        low, count, centre = (
            low + centre % step,
            -(-(count - centre % step) // step),
            centre // step,
        )
        first = np.repeat(self.first[chain], len(_REACHES))
        # The first point of a ring comes after the one before its last, which is the same.
        lap = np.repeat(
            np.where(self.closed[chain], self.count[chain] - 1, len(self.pts)), len(_REACHES)
        )
        tangent, doubt = np.empty((len(low), 2)), np.empty(len(low))
        for some in _batches(count, np.arange(len(low))):
            index, used = _rows(low[some], count[some], step[some])
            index = first[some, None] + index % lap[some, None]
            tangent[some], doubt[some] = self._tangents(index, used, centre[some])
        best = np.arange(len(ends)), doubt.reshape(len(ends), -1).argmin(axis=1)
        self.tangents[ends] = tangent.reshape(len(ends), -1, 2)[best]
        for i in np.flatnonzero(self.closed):
            a, b = self.first[i], self.first[i] + self.count[i] - 1
            if np.isin((a, b), ends).any():
                self.tangents[[a, b]] = self.tangents[a if a in ends else b]

    def _windows(self, ends: Ints, chain: Ints, reach: Floats) -> tuple[Ints, Ints, Ints]:
        """For each end and share of its reach (n,): the number in its run at which a window
        begins, of a ring in its second lap; how many points it has; and which is the end."""
        found = []
        for i in np.unique(chain):
            here = chain == i
            first, count = int(self.first[i]), int(self.count[i])
            s, k, last = self.s[first : first + count], ends[here] - first, count - 1
            near = np.outer(reach[here], _REACHES) * (1 + 1e-9)
            if self.closed[i]:
                total = s[-1]
                near = np.minimum(near, 0.25 * total * (1 + 1e-9))
                laps = np.concatenate([s[:-1] - total, s[:-1], s[:-1] + total])
                middle = np.where(k < last, k % last + last, 2 * last)
            else:
                laps, middle = s, k
            place = s[k][:, None]
            middle = middle[:, None]
            low = np.minimum(np.searchsorted(laps, place - near), middle - 2)
            high = np.maximum(np.searchsorted(laps, place + near), middle + 3)
            if not self.closed[i]:
                low, high = np.maximum(low, 0), np.minimum(high, count)
            found.append(np.stack([low, high - low, middle - low]).reshape(3, -1))
        low, count, centre = np.concatenate(found, axis=1)
        return low, count, centre

    def _tangents(self, index: Ints, used: Bools, centre: Ints) -> tuple[Floats, Floats]:
        """The tangent (n, 2) at one point of each window, and how doubtful it is (n,)."""
        every, count = np.arange(len(index)), used.sum(axis=1)
        points = self.pts[index]
        fitted = fit_free(Batch(points, used))
        tangent = unit_tangents(fitted.controls, fitted.u[every, centre])
        error = fitted.error
        for k in np.flatnonzero(count < 5):
            tangent[k] = circle_tangent(points[k, : count[k]], int(centre[k]))
            error[k] = 0.05 * self.tolerance
        wide = np.hypot(*(points[:, -1] - points[:, 0]).T)
        doubt = (error + 1e-3 * self.tolerance) / np.maximum(wide, _TINY)
        # At an end few points are met whether the tangent is right or not.
        at_end = (count < 8) & ((centre == 0) | (centre == count - 1))
        doubt += np.where(at_end, 3e-3 * np.where(used, self.turn[index], 0.0).sum(axis=1), 0.0)
        return tangent, doubt


def _rows(low: Ints, count: Ints, step: Ints | int = 1) -> tuple[Ints, Bools]:
    """Numbers (n, m) of so many things each, every `step`th from `low` on; the last is repeated
    to a width of whole eights, which leaves the sums of a row as they are. Which are `used`."""
    column = np.arange(-(-int(count.max()) // 8) * 8)
    used = column < count[:, None]
    at = np.minimum(column, count[:, None] - 1)
    return low[:, None] + np.reshape(step, (-1, 1)) * at, used


def _batches(count: Ints, group: Ints) -> list[Ints]:
    """Numbers of rows in batches that keep groups whole: of counts alike, and not too large."""
    longest = np.zeros(int(group.max()) + 1, dtype=np.intp)
    np.maximum.at(longest, group, count)
    width = longest[group]
    octave = np.ceil(np.log2(np.maximum(width / _NARROW, 1.0)))
    order = np.lexsort((group, octave))
    filled = np.cumsum(width[order]) // _AT_ONCE
    first = np.diff(group[order], prepend=-1) != 0
    batch = np.maximum.accumulate(np.where(first, filled, 0))
    ends = (np.diff(octave[order]) > 0) | (np.diff(batch) > 0)
    return np.split(order, np.flatnonzero(ends) + 1)


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
            done = _evened(
                fit_only, done, allowed, dict.fromkeys(range(len(ranges)), 1), whole=False
            )
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
