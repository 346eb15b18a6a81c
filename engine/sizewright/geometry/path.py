"""Path: a chain of line and cubic segments that stays curves."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from ..errors import GeometryError
from . import affine as _affine
from . import bezier, lengths
from .types import Bools, Floats, Ints

_Array = TypeVar("_Array", Floats, Bools, Ints)

#: Arc lengths closer than this to a vertex, in mm, mean the vertex itself.
SNAP = 1e-7
#: Places are kept for a while, so few of them, on a line of so few segments: the line stays
#: in memory as long.
_FEW, _SHORT = 64, 1000


@dataclass(frozen=True, eq=False)
class Path:
    """A chain of line and cubic Bezier segments in mm, y up. Frozen, compared by value.

    `controls` (n, 4, 2) holds each segment's four control points; a straight one
    (`lines[i]`) has its inner two at the thirds. Neighbours share their end point
    to the bit; in a `closed` path the last end is the first start. Vertex i is the
    start of segment i (an open path has one more). Positions along a path are arc
    lengths in mm from its start.

    >>> square = Path.polyline([(0, 0), (80, 0), (80, 80), (0, 80)], closed=True)
    >>> square.length, square.area, square.bounds
    (320.0, 6400.0, (0.0, 0.0, 80.0, 80.0))
    >>> square.at(100).tolist(), square.tangents(100).tolist()
    ([80.0, 20.0], [0.0, 1.0])
    >>> square.part(300, 20)  # from one arc length on to another, past the start
    <Path open, 2 segments, 40.000 mm>
    >>> longer, vertex = square.with_vertex(40)
    >>> vertex, len(longer), longer.length
    (1, 5, 320.0)
    """

    controls: Floats
    lines: Bools
    closed: bool

    def __post_init__(self) -> None:
        controls = np.array(self.controls, dtype=np.float64)
        lines = np.array(self.lines, dtype=np.bool_)
        if controls.ndim != 3 or controls.shape[1:] != (4, 2) or lines.shape != controls.shape[:1]:
            raise GeometryError(f"segments of shape {controls.shape} are not cubics (n, 4, 2)")
        if len(controls) == 0:
            raise GeometryError("a path needs at least one segment")
        if not np.isfinite(controls).all():
            raise GeometryError("a coordinate is not a finite number")
        controls[1:, 0] = controls[:-1, 3]
        if self.closed:
            controls[0, 0] = controls[-1, 3]
        count = np.count_nonzero(lines)
        if count:
            straight = slice(None) if count == len(lines) else np.flatnonzero(lines)
            start, end = controls[straight, 0], controls[straight, 3]
            controls[straight, 1], controls[straight, 2] = bezier.thirds(start, end)
        controls += 0.0  # turns -0.0 into 0.0, so that equal paths have equal bytes
        object.__setattr__(self, "controls", _frozen(controls))
        object.__setattr__(self, "lines", _frozen(lines))

    # --- making ---------------------------------------------------------------

    @classmethod
    def polyline(cls, points: ArrayLike, *, closed: bool = False) -> Path:
        """Straight segments through `points` (m, 2); a repeated closing point is dropped."""
        pts = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        if closed and len(pts) > 1 and (pts[0] == pts[-1]).all():
            pts = pts[:-1]
        pts = pts + 0.0
        ends = np.concatenate([pts[1:], pts[:1]]) if closed else pts[1:]
        starts = pts if closed else pts[:-1]
        controls, lines = bezier.line_controls(starts, ends), np.ones(len(starts), dtype=bool)
        if not len(starts) or not np.isfinite(pts).all():
            return cls(controls, lines, closed)  # which refuses it
        return cls._sound(controls, lines, closed)

    @classmethod
    def _sound(cls, controls: Floats, lines: Bools, closed: bool, **known: Any) -> Path:
        """A path of segments that are its own, and as they must be: nothing need be checked."""
        path = object.__new__(cls)
        own = {"controls": _frozen(controls), "lines": _frozen(lines), "closed": closed}
        path.__dict__.update(own, **known)
        return path

    @classmethod
    def of(cls, segments: Iterable[Floats | Sequence[Sequence[float]]], *, closed: bool) -> Path:
        """From segments of 2 points (line), 3 (quadratic) or 4 (cubic), end to end."""
        controls: list[Floats] = []
        lines: list[bool] = []
        for segment in segments:
            pts = np.asarray(segment, dtype=np.float64)
            if len(pts) == 2:
                controls.append(bezier.line_controls(pts[0], pts[1]))
            elif len(pts) == 3:
                controls.append(bezier.elevate(pts))
            else:
                controls.append(pts)
            lines.append(len(pts) == 2)
        return cls(np.array(controls).reshape(-1, 4, 2), np.array(lines, dtype=bool), closed)

    @classmethod
    def join(cls, parts: Sequence[Path], *, closed: bool = False) -> Path:
        """Open paths put end to end; each start is moved onto the end before it."""
        return cls(
            np.concatenate([p.controls for p in parts]),
            np.concatenate([p.lines for p in parts]),
            closed,
        )

    @classmethod
    def ringed(cls, parts: Sequence[Path]) -> Path:
        """Open paths as one closed one, a straight line from each to the next."""
        chain = []
        for part, onward in zip(parts, [*parts[1:], parts[0]], strict=True):
            chain += [part, cls.polyline([part.end, onward.start])]
        return cls.join(chain, closed=True)

    def with_controls(self, controls: Floats) -> Path:
        """The same chain of kinds with other control points."""
        return Path(controls, self.lines, self.closed)

    def with_ends(self, start: Floats | None = None, end: Floats | None = None) -> Path:
        """The open path from other ends (2,); handles stay where they are."""
        controls = self.controls.copy()
        if start is not None:
            controls[0, 0] = start
        if end is not None:
            controls[-1, 3] = end
        return self.with_controls(controls)

    def with_moved(self, vertex: int, step: Floats) -> Path:
        """The closed path with a vertex, and the handles beside it, moved by `step` (2,)."""
        controls = self.controls.copy()
        controls[vertex, :2] += step
        controls[vertex - 1, 2:] += step
        return self.with_controls(controls)

    # --- plain facts ----------------------------------------------------------

    def __len__(self) -> int:
        return len(self.controls)

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, Path)
            and self.closed == other.closed
            and np.array_equal(self.lines, other.lines)
            and np.array_equal(self.controls, other.controls)
        )

    def __hash__(self) -> int:
        return hash((self.controls.tobytes(), self.lines.tobytes(), self.closed))

    def __repr__(self) -> str:
        kind = "closed" if self.closed else "open"
        return f"<Path {kind}, {len(self)} segments, {self.length:.3f} mm>"

    @property
    def start(self) -> Floats:
        """First point (2,)."""
        first: Floats = self.controls[0, 0]
        return first

    @property
    def end(self) -> Floats:
        """Last point (2,); the first one again where the path is closed."""
        last: Floats = self.controls[-1, 3]
        return last

    @cached_property
    def vertices(self) -> Floats:
        """Starts of all segments, and the end of an open path: (n or n + 1, 2)."""
        starts = self.controls[:, 0]
        return starts if self.closed else _frozen(np.vstack([starts, self.controls[-1:, 3]]))

    # --- measures -------------------------------------------------------------

    @cached_property
    def segment_lengths(self) -> Floats:
        """Arc length of each segment, mm."""
        return _frozen(lengths.arc_lengths(self.controls, self.lines))

    @cached_property
    def cumulative(self) -> Floats:
        """Arc length at each vertex, the end included: (n + 1,), mm."""
        return _frozen(np.concatenate([[0.0], np.cumsum(self.segment_lengths)]))

    @property
    def length(self) -> float:
        """Whole arc length, mm."""
        return float(self.cumulative[-1])

    @cached_property
    def area(self) -> float:
        """Signed area inside a closed path, mm2: positive counter-clockwise."""
        if not self.closed:
            raise GeometryError("only a closed path has an area")
        return float(bezier.areas(self.controls - self.controls[0, 0]).sum())

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """Tight box (x0, y0, x1, y1), curves taken at their true extremes."""
        from .extremes import bounds

        return bounds(self.controls)

    # --- positions along it ---------------------------------------------------

    def locate(self, s: float | Floats) -> tuple[Ints, Floats]:
        """Segment numbers and parameters at arc lengths `s`.

        A closed path wraps round; an open one is held to its ends.
        """
        s = np.asarray(s, dtype=np.float64)
        total = self.length
        if s.size == 1:
            one = s.item()
            one = one % total if self.closed and total > 0 else min(max(one, 0.0), total)
            if self.closed and total - one <= 1e-14 * total:
                one = 0.0
            i, t = lengths.locate_one(self.controls, self.lines, self.cumulative, one)
            return np.full(s.shape, i, dtype=np.intp), np.full(s.shape, t)
        if is_kept(self, s.size):
            segments, ts = _located(self, s.tobytes())
            return segments.reshape(s.shape), ts.reshape(s.shape)
        return self._locate(s)

    def _locate(self, s: Floats) -> tuple[Ints, Floats]:
        total = self.length
        s = np.mod(s, total) if self.closed and total > 0 else np.clip(s, 0.0, total)
        # Just short of the end of a closed path is its start, up to rounding.
        if self.closed:
            s = np.where(total - s <= 1e-14 * total, 0.0, s)
        return lengths.locate(self.controls, self.lines, self.cumulative, s)

    def at(self, s: float | Floats) -> Floats:
        """Points at arc lengths `s`: shape of `s` plus (2,)."""
        i, t = self.locate(s)
        return bezier.evaluate(self.controls[i], t)

    def tangents(self, s: float | Floats) -> Floats:
        """Unit tangents at arc lengths `s`; at a vertex, that of the segment that begins there."""
        i, t = self.locate(s)
        return unit_tangents(self.controls[i], t)

    def arc_length_at(self, segment: int, t: float) -> float:
        """Arc length from the start to parameter `t` of a segment, mm."""
        part = lengths.partial(self.controls[segment], bool(self.lines[segment]), t)
        return float(self.cumulative[segment]) + part

    @cached_property
    def tangents_out(self) -> Floats:
        """Unit tangent at the start of each segment (n, 2)."""
        return _frozen(unit_tangents(self.controls, np.zeros(len(self))))

    @cached_property
    def tangents_in(self) -> Floats:
        """Unit tangent at the end of each segment (n, 2)."""
        return _frozen(unit_tangents(self.controls, np.ones(len(self))))

    @cached_property
    def turns(self) -> Floats:
        """Signed turn of the tangent at each vertex, degrees, left positive; 0 at open ends.

        A segment of no length has no tangent: it takes the one before it, so the
        turn is told at its end.
        """
        arriving, after = self.tangents_in, self.tangents_out
        has = np.flatnonzero((arriving != 0).max(axis=1))
        if 0 < len(has) < len(self):
            place = np.searchsorted(has, np.arange(len(self)), side="right") - 1
            arriving = arriving[has[place]]
            after = np.where((after != 0).max(axis=1, keepdims=True), after, arriving)
        before = np.roll(arriving, 1, axis=0)
        cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        dot = (before * after).sum(axis=1)
        turn = np.degrees(np.arctan2(cross, dot))
        if not self.closed:
            turn[0] = 0.0
            turn = np.append(turn, 0.0)
        return _frozen(turn)

    # --- new paths from it ----------------------------------------------------

    def reversed(self) -> Path:
        """The same line walked the other way; a closed path keeps its first vertex."""
        return Path(self.controls[::-1, ::-1], self.lines[::-1], self.closed)

    def transformed(self, m: Floats) -> Path:
        """Moved by the affine map `m` (2, 3)."""
        return self.with_controls(_affine.apply(m, self.controls))

    def rolled(self, vertex: int) -> Path:
        """A closed path begun at another vertex."""
        if not self.closed:
            raise GeometryError("only a closed path can begin elsewhere")
        k = vertex % len(self)
        return self._of_own(np.roll(np.arange(len(self)), -k), True)

    def opened(self) -> Path:
        """A closed path as an open one with the same segments."""
        return self._of_own(slice(None), False)

    def segments(self, first: int, last: int) -> Path:
        """Whole segments from vertex `first` to vertex `last`, as an open path.

        On a closed path they wrap round the start; equal vertices mean once round.
        """
        n = len(self)
        if self.closed:
            count = (last - first) % n or n
            index = (first + np.arange(count)) % n
        else:
            index = np.arange(first, last)
        if not len(index):
            raise GeometryError("a path needs at least one segment")
        return self._of_own(index, False)

    def _of_own(self, index: Ints | slice, closed: bool) -> Path:
        """Own segments that follow each other, as a path: nothing of them need be checked anew."""
        known = {}
        if "segment_lengths" in self.__dict__:
            known["segment_lengths"] = _frozen(self.segment_lengths[index])
        return self._sound(self.controls[index], self.lines[index], closed, **known)

    def part(self, s0: float, s1: float) -> Path:
        """The line from arc length s0 to s1, as an open path.

        On a closed path both wrap, s1 <= s0 goes on past the start, and equal ones
        mean once round. An open path is held to its ends. Ends within 1e-7 mm of a
        vertex are that vertex; the same arc length gives the same end to the bit in
        every part. Raises GeometryError where nothing lies between.
        """
        total, n = self.length, len(self)
        if self.closed and total > 0:
            s0, s1 = s0 % total, s1 % total
        else:
            s0, s1 = max(s0, 0.0), min(s1, total)
        around = total if self.closed and s1 - s0 <= SNAP else 0.0
        if s1 + around - s0 <= SNAP:
            raise GeometryError(f"no line lies between {s0:.4f} mm and {s1:.4f} mm")
        two = np.concatenate([self.cumulative, self.cumulative[1:] + total])
        first = int(np.searchsorted(two, s0 + SNAP, side="right")) - 1
        last = int(np.searchsorted(two, s1 + around - SNAP, side="left")) - 1
        index = np.arange(first, last + 1) % n
        controls = self.controls[index]
        # Measured from its own segment's start, so that going round loses no bit.
        again = around if last < n else 0.0
        t0 = self._parameter(int(index[0]), s0 - float(two[first]))
        t1 = self._parameter(int(index[-1]), s1 + again - float(self.cumulative[last % n]))
        if first == last:
            controls[0] = bezier.between(controls[0], t0, t1)
        else:
            controls[0] = bezier.between(controls[0], t0, 1.0)
            controls[-1] = bezier.between(controls[-1], 0.0, t1)
        return Path(controls, self.lines[index], False)

    def with_vertex(self, s: float) -> tuple[Path, int]:
        """The same line with a vertex at arc length `s`, and that vertex's number.

        Where one stands there already (within 1e-7 mm) the path itself comes back.
        A closed path wraps round; an open one is held to its ends.
        """
        total = self.length
        s = s % total if self.closed and total > 0 else min(max(s, 0.0), total)
        near = np.abs(self.cumulative - s)
        k = int(near.argmin())
        if near[k] <= SNAP:
            return self, k % len(self) if self.closed else k
        number, parameter = self.locate(s)
        i = int(number)
        a, b = bezier.split(self.controls[i], float(parameter))
        controls = np.concatenate([self.controls[:i], [a, b], self.controls[i + 1 :]])
        lines = np.insert(self.lines, i, self.lines[i])
        return Path(controls, lines, self.closed), i + 1

    def _parameter(self, i: int, s: float) -> float:
        span = float(self.segment_lengths[i])
        if s <= SNAP:
            return 0.0
        if s >= span - SNAP:
            return 1.0
        own = slice(i, i + 1)
        ends = np.array([0.0, span])
        return lengths.locate_one(self.controls[own], self.lines[own], ends, s)[1]


def is_kept(path: Path, count: int) -> bool:
    """Whether so many places of a line are kept for a while, as they may be asked for again."""
    return count <= _FEW and len(path) <= _SHORT


@lru_cache(maxsize=256)
def _located(path: Path, s: bytes) -> tuple[Ints, Floats]:
    """`Path.locate` of few arc lengths: points and tangents are asked at the same ones."""
    i, t = path._locate(np.frombuffer(s))
    return _frozen(i), _frozen(t)


def _frozen(values: _Array) -> _Array:
    values.flags.writeable = False
    return values


def unit_tangents(controls: Floats, t: Floats) -> Floats:
    """Unit tangents of segments (..., 4, 2) at `t`, also where handles have no length.

    A handle shorter than 1e-9 of the segment's span gives no direction: the next
    control point along gives it there (the limit of the tangent).
    """
    controls = np.asarray(controls, dtype=np.float64)
    t = np.asarray(t, dtype=np.float64)
    d = bezier.derivative(controls, t)
    span = np.abs(controls - controls[..., :1, :]).max(axis=(-1, -2))
    weak = np.hypot(d[..., 0], d[..., 1]) <= 1e-9 * span
    if weak.any():
        p0, p3 = controls[..., 0, :], controls[..., 3, :]
        early = _first_long(controls[..., 1:, :] - p0[..., None, :], span)
        late = _first_long(p3[..., None, :] - controls[..., 2::-1, :], span)
        # At a cusp the line goes on along the second derivative.
        mid = bezier.second_derivative(controls, t)
        instead = np.where(
            (t < 1e-6)[..., None], early, np.where((t > 1 - 1e-6)[..., None], late, mid)
        )
        d = np.where(weak[..., None], instead, d)
    size = np.hypot(d[..., 0], d[..., 1])
    size = np.where(size == 0.0, 1.0, size)
    unit: Floats = d / size[..., None]
    return unit


def _first_long(steps: Floats, span: Floats) -> Floats:
    """The first of three steps (..., 3, 2) that has a length; the last where none has."""
    long = np.hypot(steps[..., 0], steps[..., 1]) > 1e-9 * span[..., None]
    choice = np.where(long.any(axis=-1), long.argmax(axis=-1), 2)
    picked: Floats = np.take_along_axis(steps, choice[..., None, None], axis=-2)[..., 0, :]
    return picked
