"""Flattened curves come back as curves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from ..errors import GeometryError
from .bezier import line_controls
from .chords import Chain
from .fit import Stretch, fit_chains
from .path import Path, unit_tangents
from .types import Bools, Floats, Ints

#: A line shorter than this, mm, is a chord among others and lends no direction.
_SIDE = 5.0
#: The share of the tolerance that a fit may use: what chords leave out of it takes the rest.
_FIT = 0.75


class Refit(NamedTuple):
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
    return refit_all([path], tolerance, corner_degrees, noise=noise)[0]


def refit_all(
    paths: Sequence[Path],
    tolerance: float = 0.05,
    corner_degrees: float = 30.0,
    *,
    noise: float | None = None,
) -> list[Refit]:
    """As `refit` for each of many paths, much sooner than one after another."""
    if not (tolerance > 0 and 0 < corner_degrees < 180):
        raise GeometryError(
            f"refitting needs a tolerance above zero and a corner between 0 and 180 degrees, "
            f"not {tolerance} mm and {corner_degrees}"
        )
    noise, limit = tolerance / 3 if noise is None else noise, math.radians(corner_degrees)
    every = [_Rebuilt(path, noise, limit) for path in paths]
    fits = iter(_fitted([run for new in every for run in new.runs], _FIT * tolerance))
    return [new.with_curves([next(fits) for _ in new.runs]) for new in every]


#: Old vertices at the joins of new segments, the segments (n, 4, 2), and whether they are lines.
_New = tuple[Ints, Floats, bool]


class _Run(NamedTuple):
    """A flattened curve of a path: what is to be fitted, and its points' vertices (m,)."""

    path: Path
    stretch: Stretch
    vertices: Ints

    def smoother(self, controls: Floats) -> Stretch | None:
        """The stretch with the directions of what goes on at either side almost as `controls`
        (n, 4, 2) do; None where neither goes on so."""
        start, end = self.stretch.start, self.stretch.end
        if self.stretch.closed:
            return None
        if start is None:
            way = controls[0, 1] - controls[0, 0]
            start = _going_on(self.path, int(self.vertices[0]) - 1, 1.0, way)
        if end is None:
            way = controls[-1, 3] - controls[-1, 2]
            end = _going_on(self.path, int(self.vertices[-1]), 0.0, way)
        if start is self.stretch.start and end is self.stretch.end:
            return None
        return self.stretch._replace(start=start, end=end)


def _fitted(runs: list[_Run], tolerance: float) -> list[tuple[Floats, Ints] | None]:
    """Cubics for each run, and which of its points are at their joins; None where they are hardly
    fewer than its chords, since nothing smooth lies behind them."""
    fits = fit_chains([run.stretch for run in runs], tolerance)
    smoother = {k: run.smoother(fits[k][0]) for k, run in enumerate(runs)}
    again = {k: stretch for k, stretch in smoother.items() if stretch is not None}
    for k, fit in zip(again, fit_chains(list(again.values()), tolerance), strict=True):
        if len(fit[0]) <= len(fits[k][0]):
            fits[k] = fit
    return [
        fit if 2 * len(fit[0]) < len(run.vertices) else None
        for run, fit in zip(runs, fits, strict=True)
    ]


class _Rebuilt:
    """A path begun where no run passes, its runs, and the straight sides to be put right."""

    def __init__(self, path: Path, noise: float, limit: float) -> None:
        self.old, self.begin = path, 0
        self.runs: list[_Run] = []
        self.sides: list[_New] = []
        whole = None
        if path.closed and path.lines.all():
            self.begin, whole = _ring_start(path, noise, limit)
        elif path.closed:
            # Begin right after a cubic, so that no chain of lines wraps round.
            self.begin = (int(np.flatnonzero(~path.lines)[-1]) + 1) % len(path)
        self.path = path.rolled(self.begin) if self.begin else path
        if whole is not None:
            stretch = Stretch(self.path.vertices[whole % len(path)], closed=True)
            self.runs.append(_Run(self.path, stretch, whole))
            return
        edge = np.flatnonzero(np.diff(self.path.lines, prepend=False, append=False))
        for first, last in edge.reshape(-1, 2).tolist():
            self._take_chain(first, last, noise, limit)

    def _take_chain(self, first: int, last: int, noise: float, limit: float) -> None:
        """Find the runs and rough sides between two vertices with lines between them."""
        controls = self.path.controls
        points = np.vstack([controls[first:last, 0], controls[last - 1, 3]])
        # Repeated points are no chords: look past them.
        true = np.concatenate([[True], (points[1:] != points[:-1]).any(axis=1)])
        points, vertices = points[true], first + np.flatnonzero(true)
        if len(points) < 4:
            return
        chain = Chain.of(points, noise, limit)
        runs = list(chain.runs())
        for run in runs:
            part = slice(run.first, run.last + 1)
            stretch = Stretch(points[part], run.start, run.end)
            self.runs.append(_Run(self.path, stretch, vertices[part]))
        for a, b in chain.rough_sides(runs):
            self.sides.append((vertices[[a, b]], line_controls(points[a], points[b])[None], True))

    def with_curves(self, fits: list[tuple[Floats, Ints] | None]) -> Refit:
        """The path with cubics instead of the runs that have any."""
        news = list(self.sides)
        for run, fit in zip(self.runs, fits, strict=True):
            if fit is not None:
                news.append((run.vertices[fit[1]], fit[0], False))
        old, n = self.path, len(self.path)
        if not news:
            return Refit(self.old, 0, np.arange(len(old.vertices)))
        controls: list[Floats] = []
        lines: list[Bools] = []
        vertex_map = np.full(n + 1, -1, dtype=np.intp)
        done = count = 0
        end = np.array([n]), old.controls[:0], False
        for joins, segments, line in [*sorted(news, key=lambda new: int(new[0][0])), end]:
            first = int(joins[0])
            controls += [old.controls[done:first], segments]
            lines += [old.lines[done:first], np.full(len(segments), line)]
            vertex_map[done : first + 1] = np.arange(count, count + first - done + 1)
            count += first - done
            vertex_map[joins] = np.arange(count, count + len(joins))
            count += len(segments)
            done = int(joins[-1])
        new = Path(np.concatenate(controls), np.concatenate(lines), old.closed)
        if not old.closed:
            return Refit(new, len(news), vertex_map)
        found = np.roll(vertex_map[:n], self.begin)
        found = np.where(found == count, 0, found)
        # Keep the first vertex first, or else begin with the next that is left.
        first = int(found[found >= 0][0])
        return Refit(
            new.rolled(first), len(news), np.where(found >= 0, (found - first) % count, -1)
        )


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


def _ring_start(path: Path, noise: float, limit: float) -> tuple[int, Ints | None]:
    """A vertex of an all-line loop where a run surely ends. Where all of it is one curve, those
    of its points, counted from there and the first repeated."""
    n = len(path)
    ring = path.controls[:, 0]
    ring_numbers = np.flatnonzero((ring != np.roll(ring, 1, axis=0)).any(axis=1))
    if len(ring_numbers) < 4:
        return 0, None
    pts = ring[ring_numbers]
    m = len(pts)
    chain = Chain.of(np.vstack([pts, pts, pts, pts[:1]]), noise, limit)
    kept = chain.kept
    for k in np.flatnonzero(chain.corner) + 1:
        if m <= kept[k] < 2 * m:
            return int(ring_numbers[kept[k] % m]) % n, None
    for j in chain.straight(0, len(kept) - 1):
        if m <= kept[j] < 2 * m:
            return int(ring_numbers[kept[j] % m]) % n, None
    middle = int(((kept >= m) & (kept < 2 * m)).sum())
    first = ring_numbers[0]
    return (int(first), np.append(ring_numbers - first, n)) if middle >= 7 else (0, None)
