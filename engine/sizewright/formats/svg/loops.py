"""Closed loops out of drawn paths: ends that meet, chains, loops within loops."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...geometry.regions import contains
from .to_paths import closed_within

#: Ends this close, in mm, meet.
MEET = 0.05
#: More loops than this in one path are writing or ornament, no piece.
MOST_LOOPS = 60
#: Beyond this number of open lines no chains are sought.
_MOST_OPEN = 400


@dataclass(frozen=True, slots=True)
class Loops:
    """Closed paths, and lines that stay open (the longest chain first)."""

    closed: tuple[Path, ...]
    open: tuple[Path, ...]


def loops_of(paths: list[Path]) -> Loops:
    """Closed paths out of `paths`; open ones are joined where their ends meet."""
    settled = [closed_within(p, MEET) for p in paths]
    closed = [p for p in settled if p.closed]
    left = [p for p in settled if not p.closed]
    if 1 < len(left) <= _MOST_OPEN:
        chained = [closed_within(p, MEET) for p in _chains(left)]
        closed += [p for p in chained if p.closed]
        left = [p for p in chained if not p.closed]
    return Loops(tuple(closed), tuple(sorted(left, key=lambda p: -p.length)))


def _chains(paths: list[Path]) -> list[Path]:
    """Open paths joined end to end, each at the nearest end that meets."""
    left = list(paths)
    done: list[Path] = []
    while left:
        chain = [left.pop(0)]
        while left:
            following = _next(chain[-1].end, left)
            if following is not None:
                chain.append(following)
                continue
            before = _next(chain[0].start, left)
            if before is None:
                break
            chain.insert(0, before.reversed())
        done.append(Path.join(chain) if len(chain) > 1 else chain[0])
    return done


def _next(place: np.ndarray, left: list[Path]) -> Path | None:
    """The path with an end nearest to `place` and within reach, begun there and taken out."""
    ends = np.array([[p.start, p.end] for p in left])
    away = np.hypot(ends[..., 0] - place[0], ends[..., 1] - place[1])
    k, end = np.unravel_index(int(away.argmin()), away.shape)
    if away[k, end] > MEET:
        return None
    path = left.pop(int(k))
    return path if end == 0 else path.reversed()


def gap_of(path: Path) -> float:
    """Distance between the ends of an open path, mm."""
    return float(np.hypot(*(path.end - path.start)))


@dataclass(frozen=True, slots=True)
class Region:
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
