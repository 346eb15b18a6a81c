"""Drawn lines with turn and curve points as paths: curves refitted, corners kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ...geometry.near import nearest_of
from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...geometry.refit import refit
from ...geometry.splines import spline_through
from ...geometry.types import Floats, Ints
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


@dataclass(frozen=True)
class Points:
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


@dataclass(frozen=True)
class Line:
    """A settled line. `corners` are its corner vertices in order, `runs` how many stretches
    of chords were refitted, `unmarked` corners that no turn point marks, `strung` curves that
    were laid through curve points far apart."""

    path: Path
    corners: tuple[int, ...]
    runs: int = 0
    unmarked: int = 0
    strung: int = 0


def settled(path: Path, points: Points, keep: Floats | None = None) -> Line:
    """A line as drawn (open or closed) with its curves back.

    Turn points are corners, whatever their turn; between corners chords become curves, smooth
    at curve points. Where no turn point lies on the line its own turns tell the corners.
    `keep` (k, 2) are further places that stay vertices, as corners.
    """
    turns = points.turn if keep is None else np.vstack([points.turn, keep])
    path = _with_vertices(path, np.vstack([turns, points.curve]))
    marked, curved = _vertices_at(path, turns), _vertices_at(path, points.curve)
    n = len(path)
    turn = np.abs(path.turns)
    corner = np.zeros(len(path.vertices), dtype=bool)
    corner[marked] = True
    unmarked = 0
    if len(marked):
        sharp = (turn > _SHARP) & ~corner
        sharp[curved] &= turn[curved] > 2 * _SHARP
        unmarked = int(sharp.sum())
        corner |= sharp
    if not path.closed:
        corner[[0, n]] = True
    at = np.flatnonzero(corner)
    if len(marked) == 0:
        return _plain(path)
    return _sections(path, at, curved, unmarked)


def _plain(path: Path) -> Line:
    """A line without turn points: corners as its turns tell them."""
    done = refit(path, REFIT, noise=_NOISE) if path.lines.sum() > 3 else None
    if done is not None and done.runs:
        path = done.path
    corners = np.flatnonzero(np.abs(path.turns) > CORNER_ANGLE)
    return Line(path, tuple(int(v) for v in corners), done.runs if done is not None else 0)


def _sections(path: Path, at: Ints, curved: Ints, unmarked: int) -> Line:
    parts: list[Path] = []
    corners: list[int] = []
    runs = strung = count = 0
    ends = [*at, at[0] + len(path)] if path.closed else list(at)
    n = len(path)
    marks = np.zeros(len(path.vertices), dtype=bool)
    marks[curved] = True
    for a, b in pairwise(int(v) for v in ends):
        part = path.segments(a % n, b % n if path.closed else b)
        inner = np.array([marks[(a + k) % len(marks)] for k in range(len(part) + 1)])
        done, fitted, through = _section(part, inner)
        # Corners that no turn point marks, found by the refit inside the section.
        found = np.flatnonzero(np.abs(done.turns[1:-1]) > CORNER_ANGLE) + 1
        corners += [count, *(count + int(k) for k in found)]
        unmarked += len(found)
        parts.append(done)
        count += len(done)
        runs, strung = runs + fitted, strung + through
    whole = Path.join(parts, closed=path.closed)
    if not path.closed:
        corners.append(count)
    return Line(whole, tuple(corners), runs, unmarked, strung)


def _section(part: Path, marks: np.ndarray) -> tuple[Path, int, int]:
    """One stretch between corners; how many runs were refitted, and strung through points."""
    if len(part) < 2 or not part.lines.any():
        return part, 0, 0
    done = refit(part, REFIT, noise=_NOISE) if len(part) > 2 else None
    made = done.path if done is not None and done.runs else part
    kinks = np.flatnonzero(np.abs(made.turns[1:-1]) > CORNER_ANGLE) + 1
    if not len(kinks):
        return made, done.runs if done is not None else 0, 0
    # Points far apart that the format calls smooth: a smooth curve goes through them.
    places = part.vertices
    if not part.lines.all():
        return made, done.runs if done is not None else 0, 0
    turn = np.abs(part.turns)
    keep = marks | (turn > CORNER_ANGLE)
    keep[[0, -1]] = True
    bare = keep & ~marks
    bare[[0, -1]] = False
    if bare.any():
        return made, done.runs if done is not None else 0, 0
    return spline_through(places[keep]), 0, 1


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
