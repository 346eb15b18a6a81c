"""Closed loops out of drawn paths: ends that meet, chains, loops within loops."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from ...geometry import bezier
from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...geometry.regions import contains
from ...geometry.types import Floats
from ...model import Vec
from .chains import Chain, Joined, join_ends
from .overshoots import Gap

#: A segment that stays within this of its start, in mm, is none: below what a round trip
#: may lose (1e-6 mm), above what rounding to 7 decimals leaves.
NO_LENGTH = 5e-7
#: The closing line that `Z` draws is left out up to this length, in mm: relative
#: coordinates of editors miss their start by so much.
CLOSING = 1e-3
#: A sewing line lies between these from the cutting line, in mm.
_ALLOWANCE = (0.9, 80.0)
#: Lines that are this near, mm, are one.
_MET = 0.6
#: More loops than this in one path are writing or ornament, no piece.
MOST_LOOPS = 60
#: How far apart ends may be that were likely to meet, mm; with more lines it is not looked for.
_WIDER = (0.2, 0.5, 1.0, 2.0, 5.0)
_MOST_OPEN = 500


def cleaned(controls: Floats, lines: np.ndarray, closed: bool) -> Path | None:
    """A path of segments end to end, those of no length dropped, closed with a line if need be."""
    keep = np.abs(controls - controls[:, :1]).max(axis=(1, 2)) > NO_LENGTH
    if not keep.any():
        return None
    start = controls[0, 0].copy()
    controls, lines = controls[keep], lines[keep]
    controls[0, 0] = start
    if closed:
        gap = float(np.hypot(*(controls[-1, 3] - start)))
        if gap > CLOSING:
            controls = np.concatenate(
                [controls, bezier.line_controls(controls[-1, 3], start)[None]]
            )
            lines = np.append(lines, True)
        elif gap > 0:
            _meet(controls, lines, start)
    return Path(controls, lines, closed)


def _meet(controls: Floats, lines: np.ndarray, start: Floats) -> None:
    """Move the last end, with its handle, onto the start."""
    if not lines[-1]:
        controls[-1, 2] += start - controls[-1, 3]
    controls[-1, 3] = start


def closed_within(path: Path, reach: float, gaps: list[Gap] | None = None) -> Path:
    """An open path as a closed one where its ends are at most `reach` mm apart, else itself.

    Ends more than 0.001 mm apart are noted in `gaps`.
    """
    if path.closed or (len(path) == 1 and path.lines[0]):
        return path
    gap = gap_of(path)
    if gap > reach or path.length <= 4 * reach:
        return path
    controls = path.controls.copy()
    _meet(controls, path.lines, path.start)
    done = cleaned(controls, path.lines.copy(), True)
    if done is None:
        return path
    if gaps is not None and gap > CLOSING:
        gaps.append((gap, float(path.end[0]), float(path.end[1])))
    return done


class Loops(NamedTuple):
    """Closed paths, lines that stay open (the longest chain first), and how they were joined."""

    closed: tuple[Path, ...]
    open: tuple[Path, ...]
    joined: Joined


def loops_of(paths: list[Path], tolerance: float) -> Loops:
    """Closed paths out of `paths`; open ones are joined where ends are within `tolerance` mm."""
    gaps: list[Gap] = []
    settled = [closed_within(p, tolerance, gaps) for p in paths]
    joined = join_ends([p for p in settled if not p.closed], tolerance)
    joined.gaps += gaps
    closed = [p for p in settled if p.closed] + [c.path for c in joined.closed]
    left = sorted((c.path for c in joined.open), key=lambda p: -p.length)
    return Loops(tuple(closed), tuple(left), joined)


def would_close(paths: Sequence[Path], tolerance: float) -> Iterator[tuple[float, Chain]]:
    """Loops that open `paths` would make if ends further apart were joined; and how far, mm."""
    left = list(range(len(paths)))
    for reach in _WIDER if len(paths) <= _MOST_OPEN else ():
        if reach <= tolerance or not left:
            continue
        joined = join_ends([paths[i] for i in left], reach)
        made = [c._replace(members=tuple(left[m] for m in c.members)) for c in joined.closed]
        yield from ((reach, chain) for chain in made)
        gone = {m for chain in made for m in chain.members}
        left = [i for i in left if i not in gone]


def sides(path: Path) -> tuple[float, float]:
    """Shorter and longer side of a path's box, mm."""
    x0, y0, x1, y1 = path.bounds
    a, b = sorted((x1 - x0, y1 - y0))
    return a, b


def middle(path: Path) -> Vec:
    """The middle of a path's box, mm."""
    x0, y0, x1, y1 = path.bounds
    return (x0 + x1) / 2, (y0 + y1) / 2


def runs_beside(inner: Path, outer: Path) -> bool:
    """Whether one line runs round within another at about an allowance's distance.

    Told from the outer line, since darts lead an inner one far from it. Along one straight
    stretch, a fold, they may be one.
    """
    at = outer.at(np.linspace(0, 1, 129)[:-1] * outer.length)
    away = nearest(inner, at).distance
    met = away < _MET
    if met.any() and not (met.mean() < 0.5 and _on_a_line(at[met])):
        return False
    low, high = float(np.quantile(away[~met], 0.05)), float(np.quantile(away[~met], 0.95))
    return _ALLOWANCE[0] <= low and high <= _ALLOWANCE[1] and high <= 5 * low


def _on_a_line(points: Floats) -> bool:
    """Whether points lie on one straight line."""
    d = points - points.mean(axis=0)
    return float(np.linalg.svd(d, compute_uv=False)[-1]) <= _MET * math.sqrt(len(points))


def gap_of(path: Path) -> float:
    """Distance between the ends of an open path, mm."""
    return float(np.hypot(*(path.end - path.start)))


class Region(NamedTuple):
    """An outer loop with the loops directly inside it, which are cut away."""

    outer: Path
    holes: tuple[Path, ...]


def regions_of(loops: tuple[Path, ...]) -> list[Region]:
    """Loops of one shape as regions, in the order of their outer loops.

    A loop inside an odd number of others is a hole of the innermost of these.
    """
    if len(loops) == 1:
        return [Region(loops[0], ())]
    inside = np.array(
        [[i != j and lies_within(a, b) for j, b in enumerate(loops)] for i, a in enumerate(loops)]
    )
    depth = inside.sum(axis=1)
    holes: dict[int, list[Path]] = {i: [] for i in range(len(loops)) if depth[i] % 2 == 0}
    for i in np.flatnonzero(depth % 2 == 1):
        around = [j for j in np.flatnonzero(inside[i]) if depth[j] == depth[i] - 1]
        holes[int(around[0])].append(loops[i])
    return [Region(loops[i], tuple(found)) for i, found in holes.items()]


def lies_within(a: Path, b: Path) -> bool:
    """Whether loop `a` lies inside loop `b`, judged by its vertices."""
    (x0, y0, x1, y1), (u0, v0, u1, v1) = a.bounds, b.bounds
    if not (u0 <= x0 and v0 <= y0 and x1 <= u1 and y1 <= v1):
        return False
    if abs(a.area) >= abs(b.area):
        return False
    return float(contains(b, a.vertices).mean()) > 0.5


def same_line(a: Path, b: Path, tolerance: float = 0.01) -> bool:
    """Whether two loops are the same line within `tolerance` mm, whichever way they run."""
    if any(abs(x - y) > tolerance for x, y in zip(a.bounds, b.bounds, strict=True)):
        return False
    if abs(a.length - b.length) > 10 * tolerance:
        return False
    if abs(abs(a.area) - abs(b.area)) > tolerance * a.length:
        return False
    places = a.at(np.linspace(0.0, a.length, 64, endpoint=False))
    both = np.concatenate([places, a.vertices])
    return float(nearest(b, both).distance.max()) <= tolerance
