"""Flattened curves come back as curves."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from .bezier import line_controls
from .chords import Chain, Run
from .fit import fit_chain
from .path import Path, unit_tangents
from .types import Bools, Floats, Ints

#: A line shorter than this, mm, is a chord among others and lends no direction.
_SIDE = 5.0
#: The share of the tolerance that a fit may use: what chords leave out of it takes the rest.
_FIT = 0.75


@dataclass(frozen=True)
class Refit:
    """A path with its flattened curves replaced.

    `runs` counts them. `vertex_map` gives each old vertex's number in the new path,
    or -1 where it went into a curve.
    """

    path: Path
    runs: int
    vertex_map: Ints


def refit(
    path: Path,
    tolerance: float = 0.05,
    corner_degrees: float = 30.0,
    *,
    noise: float | None = None,
) -> Refit:
    """Replace runs of short, gently turning chords by few fair cubics.

    Each old vertex stays within 0.75 `tolerance` (mm) of the new line, so that a curve that
    lay within 0.25 of it of its chords comes back within the whole. A vertex that turns by
    `corner_degrees` or more is always a corner; a smaller turn is one where the chords
    beside it do not account for it. Corners, straight sides and genuine cubics come back
    to the bit, and the whole path does where it holds no such run. A run that meets a
    straight side without a corner is tangent to it. Noise is looked through, points that are
    off by up to about half of `noise` (mm; a third of the tolerance where it is not said); a
    straight side in crumbs or cut up by noise becomes one line, and counts. Raises
    GeometryError for a tolerance that is not above zero.
    """
    if not (tolerance > 0 and 0 < corner_degrees < 180):
        raise GeometryError(
            f"refitting needs a tolerance above zero and a corner between 0 and 180 degrees, "
            f"not {tolerance} mm and {corner_degrees}"
        )
    noise, limit = tolerance / 3 if noise is None else noise, math.radians(corner_degrees)
    n = len(path)
    if path.closed and path.lines.all():
        begin = _ring_start(path, noise, limit)
        if begin is None:
            return _whole_ring(path, tolerance)
    elif path.closed:
        # Begin right after a cubic, so that no chain of lines wraps round.
        begin = (int(np.flatnonzero(~path.lines)[-1]) + 1) % n
    else:
        begin = 0
    rolled = path.rolled(begin) if path.closed else path
    out = _Rebuilt(rolled)
    for first, last in _line_chains(rolled.lines):
        points = np.vstack([rolled.controls[first:last, 0], rolled.controls[last - 1, 3]])
        out.keep_to(first)
        _refit_chain(out, points, first, tolerance, noise, limit)
    out.keep_to(n)
    if not out.runs:
        return Refit(path, 0, np.arange(len(path.vertices)))
    return _finished(path, out, begin)


def _finished(path: Path, out: _Rebuilt, begin: int) -> Refit:
    n = len(path)
    controls, lines = np.array(out.controls), np.array(out.lines)
    if not path.closed:
        return Refit(Path(controls, lines, False), out.runs, out.vertex_map)
    found = np.roll(out.vertex_map[:n], begin)
    found = np.where(found == len(lines), 0, found)
    # Keep the first vertex first, or else begin with the next that is left.
    left = np.flatnonzero(found >= 0)
    first = int(found[left[0]])
    new = Path(controls, lines, True).rolled(first)
    return Refit(new, out.runs, np.where(found >= 0, (found - first) % len(lines), -1))


class _Rebuilt:
    """The new segments so far, and where the old vertices went."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.controls: list[Floats] = []
        self.lines: list[bool] = []
        self.runs = 0
        self.done = 0
        self.vertex_map: Ints = np.full(len(path) + 1, -1, dtype=np.intp)
        self.vertex_map[0] = 0

    def keep_to(self, vertex: int) -> None:
        """The old segments up to a vertex, as they are."""
        for i in range(self.done, vertex):
            self.controls.append(self.path.controls[i])
            self.lines.append(bool(self.path.lines[i]))
            self.vertex_map[i + 1] = len(self.lines)
        self.done = vertex

    def add(self, controls: Floats, joins: Ints, line: bool) -> None:
        """Cubics, or lines, instead of old segments, and the old vertices at their joins."""
        for cubic, join in zip(controls, joins[1:], strict=True):
            self.controls.append(cubic)
            self.lines.append(line)
            self.vertex_map[join] = len(self.lines)
        self.done = int(joins[-1])
        self.runs += 1


def _line_chains(lines: Bools) -> list[tuple[int, int]]:
    """First and past-the-last segment of each stretch of lines."""
    edge = np.flatnonzero(np.diff(np.concatenate([[False], lines, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in edge.reshape(-1, 2)]


def _refit_chain(
    out: _Rebuilt, points: Floats, offset: int, tolerance: float, noise: float, limit: float
) -> None:
    if len(points) < 4:
        return
    # Repeated points are no chords: look past them.
    true = np.flatnonzero(np.concatenate([[True], (np.diff(points, axis=0) != 0).any(axis=1)]))
    if len(true) < 4:
        return
    points = points[true]
    chain = Chain.of(points, noise, limit)
    runs = list(chain.runs())
    news: list[tuple[int, Floats, Ints, bool]] = []
    for run in runs:
        fitted = _fit_run(out.path, points, run, offset + true, tolerance)
        if fitted is not None:
            news.append((run.first, *fitted, False))
    for a, b in chain.rough_sides(runs):
        news.append((a, line_controls(points[a], points[b])[None], np.array([0, b - a]), True))
    for first, controls, joins, line in sorted(news, key=lambda new: new[0]):
        out.keep_to(int(offset + true[first]))
        out.add(controls, offset + true[joins + first], line)


def _fit_run(
    path: Path, points: Floats, run: Run, numbers: Ints, tolerance: float
) -> tuple[Floats, Ints] | None:
    stretch = points[run.first : run.last + 1]
    controls, joins = fit_chain(stretch, _FIT * tolerance, start=run.start, end=run.end)
    # What goes on at either side almost in the same direction goes on smoothly.
    start, end = run.start, run.end
    if start is None:
        start = _going_on(path, int(numbers[run.first]) - 1, 1.0, controls[0, 1] - controls[0, 0])
    if end is None:
        end = _going_on(path, int(numbers[run.last]), 0.0, controls[-1, 3] - controls[-1, 2])
    if start is not run.start or end is not run.end:
        smooth, smooth_joins = fit_chain(stretch, _FIT * tolerance, start=start, end=end)
        if len(smooth) <= len(controls):
            controls, joins = smooth, smooth_joins
    # Hardly fewer cubics than chords: nothing smooth lies behind them.
    return (controls, joins) if 2 * len(controls) <= run.last - run.first else None


def _going_on(path: Path, segment: int, t: float, direction: Floats) -> Floats | None:
    """The neighbour's own tangent where it is a curve or a side and within 1.5 degrees."""
    n = len(path)
    if not path.closed and not 0 <= segment < n:
        return None
    neighbour = segment % n
    if path.lines[neighbour] and path.segment_lengths[neighbour] < _SIDE:
        return None
    tangent = unit_tangents(path.controls[neighbour], np.asarray(t))
    cross = tangent[0] * direction[1] - tangent[1] * direction[0]
    near = abs(math.atan2(cross, float(tangent @ direction))) < math.radians(1.5)
    return tangent if near else None


def _ring_start(path: Path, noise: float, limit: float) -> int | None:
    """A vertex of an all-line loop where a run surely ends; None where all is smooth."""
    n = len(path)
    ring = path.controls[:, 0]
    ring_numbers = np.flatnonzero((ring != np.roll(ring, 1, axis=0)).any(axis=1))
    if len(ring_numbers) < 4:
        return 0
    pts = ring[ring_numbers]
    m = len(pts)
    chain = Chain.of(np.vstack([pts, pts, pts, pts[:1]]), noise, limit)
    kept = chain.kept
    for k in np.flatnonzero(chain.corner) + 1:
        if m <= kept[k] < 2 * m:
            return int(ring_numbers[kept[k] % m]) % n
    for j in chain.straight(0, len(kept) - 1):
        if m <= kept[j] < 2 * m:
            return int(ring_numbers[kept[j] % m]) % n
    middle = int(((kept >= m) & (kept < 2 * m)).sum())
    return None if middle >= 7 else 0


def _whole_ring(path: Path, tolerance: float) -> Refit:
    """A loop without corner or side, all of it one curve."""
    n = len(path)
    ring = path.controls[:, 0]
    true = np.flatnonzero((ring != np.roll(ring, 1, axis=0)).any(axis=1))
    points = np.vstack([ring[true], ring[true[:1]]])
    controls, joins = fit_chain(points, _FIT * tolerance, closed=True)
    if 2 * len(controls) > len(true):
        return Refit(path, 0, np.arange(n))
    vertex_map = np.full(n, -1, dtype=np.intp)
    vertex_map[true[joins[:-1]]] = np.arange(len(controls))
    return Refit(Path(controls, np.zeros(len(controls), dtype=bool), True), 1, vertex_map)
