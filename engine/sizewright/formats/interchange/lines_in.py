"""Drawn lines with turn and curve points as paths: curves refitted, corners kept."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ...geometry.near import nearest_of
from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...geometry.refit import Refit, refit_all
from ...geometry.splines import spline_through
from ...geometry.types import Bools, Floats, Ints
from ...model import CORNER_ANGLE, Vec

#: A turn or curve point this near to a vertex of a line, in mm, is that vertex.
AT_VERTEX = 0.05
#: Farther off a line than this, in mm, it does not belong to it.
ON_LINE = 0.3
#: A vertex that turns by more than this is a corner though nothing says so, degrees.
_SHARP = 30.0
#: Curves come back within this of what was cut into chords, mm.
REFIT = 0.05
#: Its coordinates are off by less than this, mm, so that short sides are told from chords.
_NOISE = 0.01


class Points(NamedTuple):
    """Turn and curve points of one block, (m, 2) and (k, 2), in mm."""

    turn: Floats
    curve: Floats

    @classmethod
    def of(cls, turn: Sequence[Vec], curve: Sequence[Vec]) -> Points:
        """From places."""
        return cls(np.array(turn).reshape(-1, 2), np.array(curve).reshape(-1, 2))

    def without(self, places: Floats) -> Points:
        """Only the points that are at none of `places` (m, 2)."""
        return Points(_apart(self.turn, places), _apart(self.curve, places))


class Line(NamedTuple):
    """A settled line. `corners` are its corner vertices in order, `runs` how many stretches
    of chords were refitted, `unmarked` corners that no turn point marks, `strung` curves that
    were laid through curve points far apart."""

    path: Path
    corners: tuple[int, ...]
    runs: int = 0
    unmarked: int = 0
    strung: int = 0


class DrawnLine:
    """A line as drawn, open or closed, in parts between its corners.

    Turn points are corners, whatever their turn; between corners chords become curves, smooth
    at curve points. Where no turn point lies on the line its own turns tell the corners.
    `keep` (k, 2) are further places that stay vertices, as corners.
    """

    def __init__(self, path: Path, points: Points, keep: Floats | None = None) -> None:
        turns = points.turn if keep is None else np.vstack([points.turn, keep])
        self.points, self.keep = points, keep
        self.path = path = _with_vertices(path, np.vstack([turns, points.curve]))
        marked, curved = _vertices_at(path, turns), _vertices_at(path, points.curve)
        self.refits: list[Refit | None] = []
        self.unmarked = 0
        self.told = len(marked) > 0
        if not self.told:
            self.parts = [path]
            return
        n = len(path)
        turn = np.abs(path.turns)
        corner = np.zeros(len(path.vertices), dtype=bool)
        corner[marked] = True
        sharp = (turn > _SHARP) & ~corner
        sharp[curved] &= turn[curved] > 2 * _SHARP
        self.unmarked = int(sharp.sum())
        corner |= sharp
        if not path.closed:
            corner[[0, n]] = True
        at = np.flatnonzero(corner)
        ends = [*at, at[0] + n] if path.closed else list(at)
        self.ends = list(pairwise(int(v) for v in ends))
        self.marks = np.zeros(len(path.vertices), dtype=bool)
        self.marks[curved] = True
        self.parts = [path.segments(a % n, b % n if path.closed else b) for a, b in self.ends]

    def is_flattened(self, part: Path) -> bool:
        """Whether a part may have chords that were curves."""
        return bool(len(part) > 2 and part.lines.any() if self.told else part.lines.sum() > 3)

    def settled(self) -> Line:
        """The line with the curves that came back, after `refit_lines`."""
        if not self.told:
            return self._plain()
        parts: list[Path] = []
        corners: list[int] = []
        unmarked, runs, strung, count = self.unmarked, 0, 0, 0
        for (a, b), part, refit in zip(self.ends, self.parts, self.refits, strict=True):
            marks = self.marks[np.arange(a, b + 1) % len(self.marks)]
            done, fitted, through = _section(part, refit, marks)
            # Corners that no turn point marks, found by the refit inside the section.
            found = _kinks(done)
            corners += [count, *(count + k for k in found)]
            unmarked += len(found)
            parts.append(done)
            count += len(done)
            runs, strung = runs + fitted, strung + through
        whole = Path.join(parts, closed=self.path.closed)
        if not whole.closed:
            corners.append(count)
        return Line(whole, tuple(corners), runs, unmarked, strung)

    def _plain(self) -> Line:
        """A line without turn points: corners as its turns tell them."""
        (refit,) = self.refits
        path = self.path if refit is None else refit.path
        corners = np.flatnonzero(np.abs(path.turns) > CORNER_ANGLE)
        return Line(path, tuple(int(v) for v in corners), refit.runs if refit is not None else 0)


def refit_lines(lines: Sequence[DrawnLine]) -> None:
    """Make curves of the chords of many lines, all in one go."""
    wanted = [part for line in lines for part in line.parts if line.is_flattened(part)]
    refits = iter(refit_all(wanted, REFIT, noise=_NOISE))
    for line in lines:
        line.refits = [next(refits) if line.is_flattened(part) else None for part in line.parts]


def _section(part: Path, done: Refit | None, marks: Bools) -> tuple[Path, int, int]:
    """One stretch between corners; how many runs were refitted, and strung through points."""
    if len(part) < 2 or not part.lines.any():
        return part, 0, 0
    made = part if done is None else done.path
    # Points far apart that the format calls smooth: a smooth curve goes through them.
    if _kinks(made) and part.lines.all():
        turn = np.abs(part.turns)
        keep = marks | (turn > CORNER_ANGLE)
        keep[[0, -1]] = True
        if marks[1:-1][keep[1:-1]].all():
            return spline_through(part.vertices[keep]), 0, 1
    return made, done.runs if done is not None else 0, 0


def _kinks(part: Path) -> list[int]:
    """The inner vertices that are corners."""
    if len(part) < 2:
        return []
    return [int(k) for k in np.flatnonzero(np.abs(part.turns[1:-1]) > CORNER_ANGLE) + 1]


def _with_vertices(path: Path, places: Floats) -> Path:
    """The path with a vertex wherever one of `places` lies on it and none is near."""
    if not len(places):
        return path
    off = _distance(places, path.vertices) > ON_LINE
    if not off.any():
        return path
    near = nearest(path, places[off])
    for s in near.s[near.distance <= ON_LINE]:
        # A vertex more leaves the line, and so all arc lengths, as they were.
        path, _ = path.with_vertex(float(s))
    return path


def _vertices_at(path: Path, places: Floats) -> Ints:
    """Numbers of the vertices that `places` mean, each once."""
    if not len(places):
        return np.zeros(0, dtype=np.intp)
    number, away = nearest_of(path.vertices, places)
    return np.unique(number[away <= ON_LINE])


def _distance(places: Floats, from_points: Floats) -> Floats:
    """How far each place is from the nearest of some points, mm."""
    return nearest_of(from_points, places)[1]


def _apart(points: Floats, places: Floats) -> Floats:
    if not len(points) or not len(places):
        return points
    left: Floats = points[_distance(points, places) > AT_VERTEX]
    return left


def on_vertices(points: Floats, path: Path) -> Floats:
    """Those of `points` (m, 2) that are vertices of a path."""
    return on_points(points, path.vertices)


def on_points(points: Floats, places: Floats) -> Floats:
    """Those of `points` (m, 2) that are at one of `places` (k, 2)."""
    if not len(points) or not len(places):
        return points[:0]
    found: Floats = points[_distance(points, places) <= AT_VERTEX]
    return found
