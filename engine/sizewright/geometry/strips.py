"""Parallels of the segments of a closed path, each by itself, with a width at both ends.

The parallel of a segment lies to the right of the walking direction, so outside of a
counter-clockwise loop. Where a curve bends inwards more tightly than its width its parallel
turns back on itself; what turns back lies inside the strip between the two and is left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from . import bezier, lengths
from .fit import fit_curves
from .offset import begun_at
from .path import Path, unit_tangents
from .types import Bools, Floats, Ints

_CHECKS = 33
_QUICK = 17
#: A fit by derivatives alone is biased to one side, so it is held to this share of the tolerance.
_QUICK_SHARE = 0.05
#: Where a curve turns by more than this between two samples, radians, it is looked at closely.
_STEEP = 0.3
_DEEPEST = 24
#: So many segments are sampled at once.
_AT_ONCE = 1024


@dataclass(frozen=True, eq=False)
class Strip:
    """A stretch `u0` to `u1` (parameters) of one segment, with its parallel: `controls`
    (k, 4, 2) of cubics, or of one `line`."""

    segment: int
    u0: float
    u1: float
    controls: Floats
    line: bool

    @cached_property
    def path(self) -> Path:
        """The parallel, open."""
        return strips_joined([self])

    @property
    def whole(self) -> bool:
        """Whether it is all of its segment."""
        return (self.u0, self.u1) == (0.0, 1.0)


def strips_joined(strips: Sequence[Strip]) -> Path:
    """The parallels of strips, each of which begins where the one before it ends, as one line."""
    counts = [len(strip.controls) for strip in strips]
    lines = np.repeat([strip.line for strip in strips], counts)
    return Path(np.concatenate([strip.controls for strip in strips]), lines, False)


def segment_parallels(
    path: Path, widths: Floats, through: Bools, tolerance: float
) -> list[list[Strip]]:
    """The parallels of every segment of a closed path, in order along it.

    `widths` (n, 2) in mm at the start and end of each segment, none below zero, changing
    evenly by arc length. `through` (n,): vertices where the parallels before and after meet on
    the bisector of a slight turn; elsewhere each ends square to its own segment. Cubics keep
    within `tolerance` mm; the parallel of a line is a line. A segment whose parallel turns
    back has several strips, or none.
    """
    source = _Segments(path, np.asarray(widths, dtype=np.float64))
    ends = source.ends(through)
    ranges = source.forward_ranges()
    fitted = source.fitted(ranges, tolerance)
    out: list[list[Strip]] = [[] for _ in range(len(path))]
    straight = bezier.line_controls(ends[:, 0], ends[:, 1])[:, None]
    for i in np.flatnonzero(path.lines).tolist():
        out[i].append(Strip(i, 0.0, 1.0, straight[i], True))
    if not ranges:
        return out
    number, low, high = (np.array(column) for column in zip(*ranges, strict=True))
    last = np.cumsum([len(cubics) for cubics in fitted])
    first = np.concatenate([[0], last[:-1]])
    controls = np.concatenate(fitted)
    whole = low == 0.0
    controls[first[whole]] = begun_at(controls[first[whole]], ends[number[whole], 0])
    whole = high == 1.0
    back = controls[last[whole] - 1, ::-1]
    controls[last[whole] - 1] = begun_at(back, ends[number[whole], 1])[:, ::-1]
    for (i, u0, u1), a, b in zip(ranges, first.tolist(), last.tolist(), strict=True):
        out[i].append(Strip(i, u0, u1, controls[a:b], False))
    return out


def strip_samples(
    path: Path, widths: Floats, segments: Ints, u: Floats
) -> tuple[Floats, Floats, Floats]:
    """Points (m, 2) at parameters `u` (m,) of `segments` (m,), unit normals (m, 2) to the
    right, and the widths (m,) there."""
    source = _Segments(path, np.asarray(widths, dtype=np.float64))
    each = u[:, None]
    points = bezier.evaluate(path.controls[segments], u)
    return points, source.normals(segments, each)[:, 0], source.widths_at(segments, each)[0][:, 0]


def fine_parameters(path: Path, segments: Ints, most_turns: Floats) -> list[Floats]:
    """Parameters of each of `segments` (k,), ends included, between which it turns by at most
    so many radians (k,)."""
    even = np.linspace(0.0, 1.0, _CHECKS)
    out = [even] * len(segments)
    for some in _blocks(len(segments)):
        tangents = unit_tangents(path.controls[segments[some]][:, None], even)
        steep = (np.abs(_turns(tangents)) > most_turns[some, None]).any(axis=1)
        for k in (np.flatnonzero(steep) + some.start).tolist():
            out[k] = _finer(path.controls[segments[k]], even, float(most_turns[k]))
    return out


def _finer(cubic: Floats, u: Floats, most_turn: float) -> Floats:
    for _ in range(_DEEPEST):
        steep = (np.abs(_turns(unit_tangents(cubic, u))) > most_turn) & (np.diff(u) > 1e-9)
        if not steep.any():
            break
        u = np.sort(np.concatenate([u, (u[:-1] + u[1:])[steep] / 2]))
    return u


def _blocks(count: int) -> Iterator[slice]:
    """Numbers below `count` in runs whose samples are quick to fetch."""
    for low in range(0, count, _AT_ONCE):
        yield slice(low, low + _AT_ONCE)


def _turns(ways: Floats) -> Floats:
    """Turns from each of unit vectors (..., m, 2) to the next, radians, left positive."""
    a, b = ways[..., :-1, :], ways[..., 1:, :]
    turns: Floats = np.arctan2(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0], (a * b).sum(axis=-1))
    return turns


class _Segments:
    """A path with widths: samples of its parallel, and where that runs forward."""

    def __init__(self, path: Path, widths: Floats) -> None:
        self.path = path
        self.widths = widths

    def normals(self, i: Ints, u: Floats) -> Floats:
        t = unit_tangents(self.path.controls[i][:, None], u)
        return np.stack([t[..., 1], -t[..., 0]], axis=-1)

    def widths_at(self, i: Ints, u: Floats) -> tuple[Floats, Floats]:
        """Widths, and their change by arc length, at parameters `u` (k, m) of segments `i`."""
        w0, w1 = self.widths[i, 0], self.widths[i, 1]
        length = self.path.segment_lengths[i]
        slope = np.divide(w1 - w0, length, out=np.zeros_like(length), where=length > 0)
        share = u.copy()
        changing = np.flatnonzero((w0 != w1) & ~self.path.lines[i])
        if len(changing):
            number = np.repeat(i[changing], u.shape[1])
            part = lengths.partials(
                self.path.controls[number], self.path.lines[number], u[changing].reshape(-1)
            )
            share[changing] = part.reshape(len(changing), -1) / length[changing][:, None]
        width = w0[:, None] + (w1 - w0)[:, None] * share
        return width, np.broadcast_to(slope[:, None], u.shape)

    def sample(self, i: Ints, u: Floats) -> tuple[Floats, Floats]:
        """Points and directions (k, m, 2) of the parallel."""
        width, slope = self.widths_at(i, u)
        n = self.normals(i, u)
        directions = np.stack([-n[..., 1], n[..., 0]], axis=-1)
        changing = np.flatnonzero(slope[:, 0])
        if len(changing):
            cube, forward = self._speeds(i[changing], u[changing], width[changing])
            ratio = np.divide(forward, cube, out=np.ones_like(cube), where=cube > 0)
            directions[changing] *= ratio[..., None]
            directions[changing] += slope[changing, :, None] * n[changing]
        points = bezier.evaluate(self.path.controls[i][:, None], u) + width[..., None] * n
        return points, directions

    def forward(self, i: Ints, u: Floats) -> Floats:
        """The parallel's speed times the cube of the parametric one, which stays finite; (k, m)."""
        return self._speeds(i, u, self.widths_at(i, u)[0])[1]

    def _speeds(self, i: Ints, u: Floats, width: Floats) -> tuple[Floats, Floats]:
        controls = self.path.controls[i][:, None]
        first, second = bezier.derivative(controls, u), bezier.second_derivative(controls, u)
        cube = np.hypot(first[..., 0], first[..., 1]) ** 3
        cross = first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0]
        return cube, cube + width * cross

    def ends(self, through: Bools) -> Floats:
        """The parallel's point at the start and end of each segment, (n, 2, 2)."""
        path = self.path
        into, out = path.tangents_in, path.tangents_out
        before = np.roll(into, 1, axis=0)
        # (a + b) / (1 + a.b) is the bisector times 1 / cos(half the turn).
        with np.errstate(divide="ignore", invalid="ignore"):
            bisector = (before + out) / (1.0 + (before * out).sum(axis=1))[:, None]
        begin = np.where(through[:, None], bisector, out)
        after = np.roll(through, -1)
        end = np.where(after[:, None], np.roll(bisector, -1, axis=0), into)
        way = np.stack([begin, end], axis=1)
        normal = np.stack([way[..., 1], -way[..., 0]], axis=-1)
        places = np.stack([path.controls[:, 0], path.controls[:, 3]], axis=1)
        found: Floats = places + self.widths[..., None] * normal
        return found

    def forward_ranges(self) -> list[tuple[int, float, float]]:
        """Stretches of the curved segments along which the parallel runs forward."""
        curved = np.flatnonzero(~self.path.lines)
        whole = np.zeros(len(curved), dtype=bool)
        for some in _blocks(len(curved)):
            grid = np.tile(np.linspace(0.0, 1.0, _CHECKS), (len(curved[some]), 1))
            steep = np.abs(_turns(self.normals(curved[some], grid))) > _STEEP
            forward = self.forward(curved[some], grid)[:, 1:-1] > 0
            whole[some] = forward.all(axis=1) & ~steep.any(axis=1)
        bent = curved[~whole]
        fine = dict(
            zip(
                bent.tolist(),
                fine_parameters(self.path, bent, np.full(len(bent), _STEEP)),
                strict=True,
            )
        )
        # The last places ahead and the first back of each end, one place where it is the segment's.
        number: list[int] = []
        ahead: list[tuple[float, float]] = []
        back: list[tuple[float, float]] = []
        for i in curved.tolist():
            if i not in fine:
                number.append(i)
                ahead.append((0.0, 1.0))
                back.append((0.0, 1.0))
                continue
            u = fine[i]
            row = self.forward(np.array([i]), u[None])[0] > 0
            # An end of a cubic without a handle has no speed: its neighbour tells.
            row[0], row[-1] = row[0] | row[1], row[-1] | row[-2]
            edges = np.flatnonzero(np.diff(np.concatenate([[False], row, [False]]).astype(int)))
            for a, b in zip(edges[::2].tolist(), (edges[1::2] - 1).tolist(), strict=True):
                number.append(i)
                ahead.append((u[a], u[b]))
                back.append((u[max(a - 1, 0)], u[min(b + 1, len(u) - 1)]))
        ends = self._turning(np.array(number, dtype=np.intp), np.array(ahead), np.array(back))
        return [(i, u0, u1) for i, (u0, u1) in zip(number, ends, strict=True) if u1 - u0 > 1e-6]

    def _turning(self, number: Ints, ahead: Floats, back: Floats) -> list[list[float]]:
        """The last parameters from `ahead` (k, 2) towards `back` where it runs forward."""
        ahead, back = ahead.reshape(-1, 2), back.reshape(-1, 2)
        which, end = np.nonzero(ahead != back)
        low, high = ahead[which, end], back[which, end]
        for _ in range(40 if len(which) else 0):
            middle = (low + high) / 2
            on = self.forward(number[which], middle[:, None])[:, 0] > 0
            low, high = np.where(on, middle, low), np.where(on, high, middle)
        ahead[which, end] = low
        found: list[list[float]] = ahead.tolist()
        return found

    def fitted(self, ranges: list[tuple[int, float, float]], tolerance: float) -> list[Floats]:
        """Cubics (k, 4, 2) along the parallel of each range, all in one batch."""
        if not ranges:
            return []
        number = np.array([i for i, _, _ in ranges], dtype=np.intp)
        spans = np.array([(u0, u1) for _, u0, u1 in ranges])
        blocks = [
            self._by_derivatives(number[some], spans[some], tolerance)
            for some in _blocks(len(ranges))
        ]
        quick, close = (np.concatenate(column) for column in zip(*blocks, strict=True))
        out: list[Floats] = list(quick[:, None])
        rest = np.flatnonzero(~close)
        if len(rest):

            def sample(which: Ints, u: Floats) -> tuple[Floats, Floats]:
                return self.sample(number[rest[which]], u)

            for k, cubics in zip(rest, fit_curves(sample, spans[rest], tolerance), strict=True):
                out[k] = cubics
        return out

    def _by_derivatives(
        self, number: Ints, spans: Floats, tolerance: float
    ) -> tuple[Floats, Bools]:
        """One cubic for each range with the parallel's own derivatives at its ends, and
        whether it keeps within the tolerance."""
        low, high = spans[:, :1], spans[:, 1:]
        points, directions = self.sample(number, spans)
        forward = self.forward(number, spans)
        first = bezier.derivative(self.path.controls[number][:, None], spans)
        speed = np.hypot(first[..., 0], first[..., 1])
        # The directions of changing widths bear the speed over the source's already.
        changing = self.widths[number, 0] != self.widths[number, 1]
        ratio = np.divide(forward, speed**3, out=np.zeros_like(speed), where=speed > 0)
        ratio[changing] = 1.0
        handles = directions * (speed * ratio * (high - low) / 3)[..., None]
        cubics = np.stack(
            [
                points[:, 0],
                points[:, 0] + handles[:, 0],
                points[:, 1] - handles[:, 1],
                points[:, 1],
            ],
            axis=1,
        )
        u = low + (high - low) * np.linspace(0.0, 1.0, _QUICK)
        true, ways = self.sample(number, u)
        ways = ways / np.maximum(np.hypot(ways[..., 0], ways[..., 1]), 1e-300)[..., None]
        off = bezier.evaluate(cubics[:, None], np.linspace(0.0, 1.0, _QUICK)) - true
        across = np.abs(off[..., 0] * ways[..., 1] - off[..., 1] * ways[..., 0])
        along = np.abs((off * ways).sum(axis=-1))
        chord = np.hypot(*(points[:, 1] - points[:, 0]).T)
        close = (across.max(axis=1) <= _QUICK_SHARE * tolerance) & (
            along.max(axis=1) <= 0.02 * chord
        )
        close &= (speed * ratio > 0).all(axis=1)
        return cubics, close
