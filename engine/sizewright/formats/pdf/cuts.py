"""Pages that lie beside each other, found by lines that were cut at their edges.

One axis at a time: `u` runs along it, `v` across. The upper edge of one page, in u, is sought at
the lower edge of another, which begins `overlap` mm before the first one ends.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...budget import spend
from ...geometry.flatten import flatten
from ...geometry.path import Path
from ...geometry.types import Floats, Ints
from .items import Item
from .layout import Layout

#: Curves are followed by chords this near, mm.
_CHORD = 0.01
#: Cut ends lie on the edge within this, mm; an edge lies within this share of the page's side.
_EDGE, _BORDER = 0.06, 0.25
#: Ends meet lines within this, mm, and this turn, degrees.
_NEAR, _NEARER, _TURN = 0.3, 0.06, 5.0
#: Overlaps that are tried, mm; one below the last is none.
_MOST_OVERLAP, _STEP, _FINE, _NONE = 40.0, 0.5, 0.1, 0.08
#: Strips that are not shown between pages are tried up to this, mm. A line that goes on over one
#: turns by no more than so much, and so much more for each mm of it, up to the last, degrees.
_MOST_GAP = 26.0
_GAP_TURN, _GAP_BEND, _GAP_MOST = 5.0, 1.5, 25.0
#: Where lines go on without a strip as well, one below this may be, mm.
_SMALL_GAP = 4.0
#: Lines are led on where the cosine of their turn from the joint is above this.
_FLAT = 0.25
#: Ends lie off by no less than this, mm. An overlap that is not surer than the second is told by
#: no slope; it is open where it may be anything within more than the third.
_NOISE, _UNSURE, _OPEN = 0.003, 0.1, 0.3
#: Pages that may not lie over one another at all lie over one another by more than this, mm.
_HARDLY = 1.2
#: Just within an edge, mm, where lines cut there can be seen to go on.
_WITHIN = 0.02
#: A vertex where a line turns more, degrees, can be found again on the next page.
_CORNER = 10.0


#: Pages show no less than this, mm.
_LEAST = 20.0

Edges = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Ends:
    """Points of lines: u, v, direction (radians), page and kind of line, each (n,)."""

    u: Floats
    v: Floats
    turn: Floats
    page: Ints
    kind: Ints

    def take(self, which: np.ndarray) -> Ends:
        """Some of them."""
        return Ends(
            self.u[which], self.v[which], self.turn[which], self.page[which], self.kind[which]
        )


@dataclass(frozen=True, slots=True)
class Chords:
    """All lines in chords: starts and ends (n, 2), page and kind of line (n,)."""

    a: Floats
    b: Floats
    page: Ints
    kind: Ints

    def crossed(self, c: Floats) -> Ints:
        """How many cross u = c, for each of some (n,)."""
        low, high = (f(self.a[:, 0], self.b[:, 0]) for f in (np.minimum, np.maximum))
        across = low < high
        begun = np.searchsorted(np.sort(low[across]), c, side="left")
        done = np.searchsorted(np.sort(high[across]), c, side="right")
        crossed: Ints = begun - done
        return crossed

    def crossing(self, c: float) -> Ends:
        """Where they cross u = c."""
        u0, u1 = self.a[:, 0], self.b[:, 0]
        which = np.flatnonzero((u0 - c) * (u1 - c) < 0)
        a, d = self.a[which], self.b[which] - self.a[which]
        v = a[:, 1] + d[:, 1] * (c - a[:, 0]) / d[:, 0]
        turn = np.arctan2(d[:, 1], d[:, 0])
        return Ends(np.full(len(v), c), v, turn, self.page[which], self.kind[which])


@dataclass(frozen=True, slots=True)
class Axis:
    """What was found along one axis: edges, overlap, and how pages go on in one another.

    `score` (p, p): matches less misses of the second page after the first. `loose`: lines cross
    the edges too squarely to tell the overlap. `unsure`: several would do, from the least to the
    greatest.
    """

    low: float
    high: float
    overlap: float
    score: Floats
    loose: bool = False
    unsure: tuple[float, float] | None = None

    @property
    def step(self) -> float:
        """From one page to the next, mm."""
        return self.high - self.low - self.overlap


class Lines:
    """The lines of all pages, made ready to be searched: `paths` of each page with their kinds."""

    @classmethod
    def of(cls, kept: Sequence[list[Item]], sizes: list[tuple[float, float]]) -> Lines:
        """The lines of what is shown on each page, whose sizes are `sizes`."""
        kinds: dict[object, int] = {}
        paths = []
        for items in kept:
            lined = [i for i in items if i.chains and i.cut != "whole"]
            paths.append(
                [(p, kinds.setdefault(i.style, len(kinds))) for i in lined for p in i.paths()]
            )
        return cls(paths, sizes)

    def __init__(self, paths: list[list[tuple[Path, int]]], sizes: list[tuple[float, float]]):
        chords, ends, corners = [], [], []
        for page, lines in enumerate(paths):
            for path, kind in lines:
                points = flatten(path, _CHORD)
                if path.closed:
                    points = np.vstack([points, points[:1]])
                spend(5 * len(points), "lines over the edges of pages")
                d = np.diff(points, axis=0)
                keep = np.abs(d).max(axis=1) > 1e-9
                points = np.vstack([points[:1], points[1:][keep]])
                d = d[keep]
                if not len(d):
                    continue
                turn = np.arctan2(d[:, 1], d[:, 0])
                first, last = _tangents(d, turn)
                marks = np.full((len(d), 1), page), np.full((len(d), 1), kind)
                chords.append(np.hstack([points[:-1], points[1:], *marks]))
                bent = np.abs(_between(turn[1:], turn[:-1])) > np.radians(_CORNER)
                for k in np.flatnonzero(bent) + 1:
                    corners.append((*points[k], 0.0, page, kind))
                # Directions of ends are outward.
                if path.closed:
                    ends += [(*end, page, kind) for end in _ends_of_clip(points, d, turn)]
                else:
                    ends.append((*points[0], first + np.pi, page, kind))
                    ends.append((*points[-1], last, page, kind))
        c = np.vstack(chords) if chords else np.zeros((0, 6))
        self.chords = Chords(c[:, :2], c[:, 2:4], c[:, 4].astype(int), c[:, 5].astype(int))
        self.ends, self.corners = _ends(ends), _ends(corners)
        self.pages = len(paths)
        self.sizes = np.array(sizes)

    def without_corners(self, across: Edges | None, up: Edges | None) -> None:
        """Leave out ends at the corners of all pages' edges: there clips turn."""
        if across is not None and up is not None:
            e = self.ends
            on = [
                np.abs(at[:, None] - edges).min(axis=1) <= _EDGE
                for at, edges in ((e.u, across), (e.v, up))
            ]
            self.ends = e.take(~(on[0] & on[1]))

    def along(self, axis: int) -> Lines:
        """The same with u along x (0) or y (1)."""
        if axis == 0:
            return self
        other = object.__new__(Lines)
        c = self.chords
        other.chords = Chords(c.a[:, ::-1], c.b[:, ::-1], c.page, c.kind)
        e, k = self.ends, self.corners
        other.ends = Ends(e.v, e.u, np.pi / 2 - e.turn, e.page, e.kind)
        other.corners = Ends(k.v, k.u, k.turn, k.page, k.kind)
        other.pages, other.sizes = self.pages, self.sizes[:, ::-1]
        return other


def _tangents(d: Floats, turn: Floats) -> tuple[float, float]:
    """The directions of a curve right at its first and last point, by its chords there."""
    found = []
    for k, n in ((0, 1), (-1, -2)):
        way = float(turn[k])
        if len(d) > 1:
            bend = float(_between(turn[k : k + 1 or None], turn[n : n + 1 or None])[0])
            if abs(bend) < np.radians(_CORNER):
                one, two = np.hypot(*d[k]), np.hypot(*d[n])
                way += bend * float(one / (one + two))
        found.append(way)
    return found[0], found[1]


def _ends_of_clip(points: Floats, d: Floats, turn: Floats) -> list[tuple[float, ...]]:
    """Where a closed line turns into a side along an axis, as one does that a clip has closed."""
    found: list[tuple[float, ...]] = []
    for k in np.flatnonzero((np.abs(d).min(axis=1) < 1e-3) & (np.abs(d).max(axis=1) > _NEAR)):
        found.append((*points[k], turn[k - 1]))
        found.append((*points[k + 1], turn[(k + 1) % len(d)] + np.pi))
    return found


def _ends(rows: list[tuple[float, ...]]) -> Ends:
    r = np.array(rows).reshape(-1, 5)
    return Ends(r[:, 0], r[:, 1], r[:, 2], r[:, 3].astype(int), r[:, 4].astype(int))


def _between(a: Floats, b: Floats) -> Floats:
    """Angles from b to a, -pi to pi."""
    turn: Floats = np.mod(a - b + np.pi, 2 * np.pi) - np.pi
    return turn


def usual_size(sizes: Sequence[tuple[float, float]]) -> tuple[int, int]:
    """The size of most pages, in whole mm."""
    return Counter((round(w), round(h)) for w, h in sizes).most_common(1)[0][0]


def edges_of(lines: Lines) -> Edges | None:
    """Where all pages are cut at their lower and upper side in u; None where nothing says it."""
    low, high = _edge(lines, False), _edge(lines, True)
    return None if low is None or high is None or high - low < _LEAST else (low, high)


def _edge(lines: Lines, upper: bool) -> float | None:
    """Where pages are cut at their upper or lower side in u; None where nothing says it."""
    side = lines.sizes[:, 0]
    outward = np.cos(lines.ends.turn) * (1 if upper else -1) > 0.1
    share = lines.ends.u / side[lines.ends.page]
    zone = (share > 1 - _BORDER) if upper else (share < _BORDER)
    ends = lines.ends.take(outward & zone)
    best: tuple[float, float] | None = None
    tried = np.unique(np.round(ends.u, 2))
    spend(100 * len(tried), "the edges of pages")
    over = lines.chords.crossed(tried + (3 * _EDGE if upper else -3 * _EDGE))
    for c, lost in zip(tried, over.tolist(), strict=True):
        here = np.abs(ends.u - c) <= _EDGE
        score = float(here.sum()) - 2.0 * lost
        if score > 0 and (best is None or score > best[0]):
            best = score, float(np.median(ends.u[here]))
    return None if best is None else best[1]


def found_along(lines: Lines, edges: Edges, overlap: float | None) -> Axis | None:
    """Which pages go on in which along u, between their edges; None where none does."""
    low, high = edges
    search = _Search(lines, low, high)
    if overlap is not None:
        return search.axis(overlap)
    tried = np.arange(-_MOST_GAP, min(_MOST_OVERLAP, (high - low) / 2), _STEP)
    totals = np.array([_total(search.score(float(o), _STEP / 2)) for o in tried])
    if totals.max() <= 0:
        return None
    good = tried[totals >= totals.max() - 0.5]
    if good[0] < 0:
        # Lines that cross nearly squarely meet over a strip as they do without: look closer.
        near = np.array([_total(search.score(float(o), _STEP / 2, _NEARER)) for o in good])
        good = good[near >= near.max() - 0.5]
        if good[-1] > -_SMALL_GAP:
            good = good[good > -_SMALL_GAP]
    # Where lines cross the edges nearly squarely much is as good; then finer scales tell.
    fine = np.arange(good[0] - _STEP, good[-1] + _STEP, _FINE)
    totals = np.array([_total(search.score(float(o), _FINE / 2, _NEARER)) for o in fine])
    good = fine[totals >= totals.max() - 0.5]
    axis = search.refined(search.axis(float(np.median(good))))
    if not axis.loose:
        return search.refined(axis) if axis.overlap < 0 else axis
    good = np.maximum(good, 0.0)
    if good[0] == 0 and good[-1] <= _HARDLY:
        return replace(search.axis(0.0), loose=True)
    if good[-1] - good[0] > _OPEN:
        return replace(axis, unsure=(float(good[0]), float(good[-1])))
    return axis


def bend_over(gap: float) -> float:
    """How far a line may turn over a strip of `gap` mm, degrees."""
    return min(_GAP_TURN + _GAP_BEND * gap, _GAP_MOST)


def matched(lines: Lines, axis: Axis) -> Floats:
    """How pages of some lines go on in one another along an axis, as `Axis.score`."""
    return _Search(lines, axis.low, axis.high).axis(axis.overlap).score


def _total(score: Floats) -> float:
    """How well all pages go on in others, each in the one that it does best."""
    return float(np.maximum(score.max(axis=1), 0).sum()) if len(score) else 0.0


class _Search:
    def __init__(self, lines: Lines, low: float, high: float) -> None:
        self.lines, self.low, self.high = lines, low, high
        ends = lines.ends
        out = np.cos(ends.turn)
        self.upper = ends.take((np.abs(ends.u - high) <= _EDGE) & (out > 0.05))
        self.lower = ends.take((np.abs(ends.u - low) <= _EDGE) & (out < -0.05))
        inner = (ends.u > low + _EDGE) & (ends.u < high - _EDGE)
        self.marks = _both(ends.take(inner), lines.corners)

    def score(self, overlap: float, slack: float, near: float = _NEAR) -> Floats:
        """Matches less misses of each page (row) with each as the next one (column)."""
        searched = len(self.lines.chords.page) if overlap >= 0 else len(self.upper.u)
        spend(2 * searched + 500, "lines over the edges of pages")
        p = self.lines.pages
        score = np.zeros((p, p))
        for ends, other, forth in self._meeting(overlap):
            k, m = _near(ends, other, slack, near, bend=max(-overlap, 0.0))
            pairs = np.unique(np.stack([k, other.page[m]]), axis=1)
            hit = np.zeros((p, p))
            np.add.at(hit, (ends.page[pairs[0]], pairs[1]), 1.0)
            count = np.bincount(ends.page, minlength=p)[:, None]
            part = 2 * hit - count
            score += part if forth else part.T
        if overlap > 1:
            score += self._marks_met(overlap, slack)
        np.fill_diagonal(score, -1e3)
        return score

    def _meeting(self, overlap: float) -> Iterator[tuple[Ends, Ends, bool]]:
        """What meets where pages overlap: cut ends and lines, or ends midway over a strip."""
        if overlap < 0:
            # Lines of one curvature, led on straight from both sides, meet just there.
            one, two = _led_on(self.upper, -overlap / 2), _led_on(self.lower, overlap / 2)
            yield one, two, True
            yield two, one, False
            return
        within = max(overlap, _WITHIN)
        yield self.upper, self.lines.chords.crossing(self.low + within), True
        yield self.lower, self.lines.chords.crossing(self.high - within), False

    def _marks_met(self, overlap: float, slack: float) -> Floats:
        """The same for corners and ends of lines within the strip that two pages share."""
        p, m = self.lines.pages, self.marks
        a = m.take((m.u > self.high - overlap + 1) & (m.u < self.high - 0.5))
        b = m.take((m.u > self.low + 0.5) & (m.u < self.low + overlap - 1))
        a = Ends(a.u - self.high + overlap, a.v, a.turn, a.page, a.kind)
        b = Ends(b.u - self.low, b.v, b.turn, b.page, b.kind)
        score = np.zeros((p, p))
        for one, other, forth in ((a, b, True), (b, a, False)):
            k, n = _near(one, other, slack, turned=True)
            near = np.abs(one.u[k] - other.u[n]) <= _NEAR + slack
            pairs = np.unique(np.stack([k[near], other.page[n[near]]]), axis=1)
            hit = np.zeros((p, p))
            np.add.at(hit, (one.page[pairs[0]], pairs[1]), 1.0)
            part = 2 * hit - np.bincount(one.page, minlength=p)[:, None]
            score += part if forth else part.T
        return score

    def axis(self, overlap: float) -> Axis:
        """With an overlap that is settled."""
        return Axis(self.low, self.high, overlap, self.score(overlap, 0.05))

    def refined(self, axis: Axis) -> Axis:
        """With the overlap that lets lines meet best, by least squares over all joints."""
        within = axis.overlap if axis.overlap < 0 else max(axis.overlap, _WITHIN)
        rows = []
        follows = axis.score.argmax(axis=1)
        sure = axis.score.max(axis=1) > 0
        for ends, other, forth in self._meeting(axis.overlap):
            k, m = _near(ends, other, 0.05, bend=max(-axis.overlap, 0.0))
            one, two = ends.page[k], other.page[m]
            first, second = (one, two) if forth else (two, one)
            good = sure[first] & (follows[first] == second)
            slope = np.tan(other.turn[m[good]])
            if axis.overlap < 0:
                slope = (slope + np.tan(ends.turn[k[good]])) / 2
            away = (ends.v[k[good]] - other.v[m[good]]) * (1 if forth else -1)
            rows.append(np.stack([away, slope], axis=1))
        found = np.vstack(rows) if rows else np.zeros((0, 2))
        found = found[np.abs(found[:, 1]) < 20]
        # A page moved on by du takes its line at a slope m across by -m du.
        away, slopes = found[:, 0], found[:, 1]
        keep = np.ones(len(found), dtype=bool)
        du, open_by = 0.0, math.inf
        for _ in range(3):
            weight = float(slopes[keep] @ slopes[keep])
            if weight == 0:
                return replace(axis, loose=True)
            du = -float(slopes[keep] @ away[keep]) / weight
            left = np.abs(away + slopes * du)
            noise = max(1.5 * float(np.median(left[keep])), _NOISE)
            open_by = noise / math.sqrt(weight)
            keep = left <= 2 * max(noise, _WITHIN)
        if open_by > _UNSURE or abs(du) > 2 * _STEP:
            return replace(axis, loose=True)
        overlap = within - du
        none = abs(overlap) < max(_NONE, 3 * open_by)
        return replace(axis, overlap=0.0 if none else overlap)


def _both(a: Ends, b: Ends) -> Ends:
    return Ends(
        np.concatenate([a.u, b.u]),
        np.concatenate([a.v, b.v]),
        np.concatenate([a.turn, b.turn]),
        np.concatenate([a.page, b.page]),
        np.concatenate([a.kind, b.kind]),
    )


def _led_on(ends: Ends, by: float) -> Ends:
    """Ends led on straight by so much in u; those that run too flatly left out."""
    ends = ends.take(np.abs(np.cos(ends.turn)) > _FLAT)
    return replace(ends, u=ends.u + by, v=ends.v + by * np.tan(ends.turn))


def _near(
    ends: Ends,
    other: Ends,
    slack: float,
    near: float = _NEAR,
    turned: bool = False,
    bend: float = 0.0,
) -> tuple[Ints, Ints]:
    """Numbers of ends and of others that lie at the same v, run the same way, are of one kind.

    `bend`: they are led on over a strip of so many mm.
    """
    order = np.argsort(other.v, kind="stable")
    v = other.v[order]
    reach = np.full(len(ends.v), near + slack)
    if not turned:
        steep = np.minimum(np.abs(np.tan(ends.turn)), 5.0)
        reach = near + slack * steep
    first = np.searchsorted(v, ends.v - reach)
    count = np.searchsorted(v, ends.v + reach) - first
    k = np.repeat(np.arange(len(ends.v)), count)
    start = np.repeat(np.cumsum(count) - count, count)
    m = order[np.repeat(first, count) + np.arange(len(k)) - start]
    fits = ends.kind[k] == other.kind[m]
    if not turned:
        apart = np.abs(_between(2 * ends.turn[k], 2 * other.turn[m])) / 2
        fits &= apart <= np.radians(bend_over(bend) if bend else _TURN)
    return k[fits], m[fits]


# --- page to page ---------------------------------------------------------------------------


Axes = tuple[Axis | None, Axis | None]


def step_of(axes: Axes, column: float, row: float) -> Floats:
    """How far a page lies from another so many columns and rows before, upward, mm."""
    x, y = axes
    by = np.zeros(2)
    if x is not None:
        by[0] = column * x.step
    if y is not None:
        by[1] = row * y.step
    return by


def join_cut(axes: Axes, layout: Layout) -> None:
    """Join the pages of a layout by what goes on in what, the surest first."""
    edges = []
    for number, axis in enumerate(axes):
        if axis is None:
            continue
        step = _commonest(axis.score)
        for a, b in np.argwhere(axis.score > 0).tolist():
            usual = b - a == step
            edges.append((float(axis.score[a, b]) + 0.5 * usual, a, b, number))
    groups = {k: {k: (0, 0)} for k in range(len(layout.windows))}
    for _, a, b, number in sorted(edges, key=lambda e: (-e[0], abs(e[2] - e[1]), e[1], e[2])):
        ours, theirs = groups[a], groups[b]
        if ours is theirs:
            continue
        to = (ours[a][0] + (number == 0), ours[a][1] + (number == 1))
        shift = (to[0] - theirs[b][0], to[1] - theirs[b][1])
        moved = {k: (c + shift[0], r + shift[1]) for k, (c, r) in theirs.items()}
        if _fits(ours, moved, axes) and layout.join(a, b, step_of(axes, number == 0, number == 1)):
            ours.update(moved)
            for k in moved:
                groups[k] = ours


def _commonest(score: Floats) -> int:
    """By how many pages the next one follows most often, where it is sure."""
    best = score.argmax(axis=1)
    sure = [
        int(best[k]) - k
        for k in range(len(score))
        if score[k].max() >= 2 and (score[k] >= score[k].max() - 1).sum() == 1
    ]
    return min(Counter(sure).items(), key=lambda c: (-c[1], abs(c[0])))[0] if sure else 1


def _fits(
    ours: dict[int, tuple[int, int]],
    moved: dict[int, tuple[int, int]],
    axes: Axes,
) -> bool:
    """Whether two groups go on in one another wherever they would touch."""
    taken = {place: k for k, place in ours.items()}
    total = 0.0
    for k, (c, r) in moved.items():
        if (c, r) in taken:
            return False
        for number, (dc, dr) in ((0, (1, 0)), (1, (0, 1))):
            axis = axes[number]
            if axis is None:
                continue
            for first, second in (
                (k, taken.get((c + dc, r + dr))),
                (taken.get((c - dc, r - dr)), k),
            ):
                if first is None or second is None:
                    continue
                score = float(axis.score[first, second])
                if score <= -2:
                    return False
                total += score
    return total > 0
