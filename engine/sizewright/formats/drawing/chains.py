"""Loose lines joined end to end, in whatever order and direction they were drawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from ...errors import InputError
from ...geometry import bezier
from ...geometry.near import connected, pairs_within
from ...geometry.path import Path
from ...geometry.types import Floats, Ints
from .overshoots import MET, Gap, without_overshoots

#: Ends are sought ever farther off, so that short segments are not swallowed: mm.
_REACHES = (1e-6, MET)
#: Direction of a line where it leaves a branching is taken so far along it, mm at most.
_AHEAD = 0.5
#: Lines that go straight on in one another turn by no more than this, radians; where more ends
#: than this meet nothing crosses.
_STRAIGHT, _MOST_CROSSING = 0.35, 12
#: More loose lines than this are no pattern; nor are more pairs of ends within reach.
MOST_LINES, _MOST_PAIRS = 20_000, 3_000_000


class Chain(NamedTuple):
    """Lines that go on in one another, and the numbers of the given ones that it is made of.

    `gaps` and `trims` are those of `Joined` that lie on it.
    """

    path: Path
    members: tuple[int, ...]
    gaps: tuple[Gap, ...] = ()
    trims: tuple[Gap, ...] = ()


@dataclass
class Joined:
    """What came of joining.

    `gaps` are ends that were apart by more than 0.001 mm, as (mm, x, y), `trims` what was cut
    off lines that stuck out beyond where they cross. `branches` are places
    where more than two ends meet at a closed line, `copies` the numbers of lines that were
    there twice.
    """

    closed: list[Chain] = field(default_factory=list)
    open: list[Chain] = field(default_factory=list)
    gaps: list[Gap] = field(default_factory=list)
    trims: list[Gap] = field(default_factory=list)
    branches: list[tuple[float, float]] = field(default_factory=list)
    copies: list[int] = field(default_factory=list)


def join_ends(paths: Sequence[Path], tolerance: float, *, straight_on: bool = False) -> Joined:
    """Chains of `paths` (mm) whose ends are within `tolerance`, closed wherever they can be.

    Closed paths stay as they are. Lines that cross within `tolerance` of an end of each are cut
    off there. Where more than two ends meet, the outermost line round
    everything that hangs together there is closed, and what lies within stays open. A line
    drawn twice counts once. With `straight_on` lines rather go on there in whichever goes on
    straightest, as they do where they cross. Raises InputError where there are too many.
    """
    out = Joined()
    loose = sum(not path.closed for path in paths)
    if loose > MOST_LINES:
        raise InputError(
            f"the drawing has {loose} loose lines, more than {MOST_LINES}",
            cure="Take out hatching and all that is no line of a piece.",
        )
    chains: list[Chain] = []
    for i, path in enumerate(paths):
        if path.closed:
            out.closed.append(Chain(path, (i,)))
        else:
            chains.append(Chain(path, (i,)))
    chains = _without_copies(chains, out)
    paths, trims = without_overshoots([c.path for c in chains], tolerance)
    chains = [
        Chain(path, chain.members, trims=trim)
        for chain, path, trim in zip(chains, paths, trims, strict=True)
    ]
    for reach in (*(r for r in _REACHES if r < tolerance), tolerance):
        chains = _pairs(chains, reach, out)
    if straight_on:
        out.open = _pairs(chains, tolerance, out, straight_on=True)
    else:
        _branches(chains, tolerance, out)
    for chain in (*out.closed, *out.open):
        out.gaps += chain.gaps
        out.trims += chain.trims
    return out


def _without_copies(chains: list[Chain], out: Joined) -> list[Chain]:
    kept: dict[tuple[int, ...], Chain] = {}
    for chain in chains:
        p = chain.path
        ends = sorted((tuple(np.round(p.start, 4)), tuple(np.round(p.end, 4))))
        straight = len(p) == 1 and bool(p.lines[0])
        middle = np.round((p.start + p.end) / 2 if straight else p.at(p.length / 2), 3)
        key = (*ends[0], *ends[1], *middle, round(p.length, 3))
        if key in kept:
            out.copies += chain.members
        else:
            kept[key] = chain
    return list(kept.values())


def _nodes(chains: list[Chain], reach: float) -> Ints:
    """Node number of each end: entries 2 i and 2 i + 1 are start and end of chain i."""
    every = np.array([[c.path.start, c.path.end] for c in chains]).reshape(-1, 2)
    ends, place = np.unique(np.round(every, 9), axis=0, return_inverse=True)
    pairs = pairs_within(ends, reach, most=_MOST_PAIRS)
    if pairs is None:
        raise InputError(
            "too many loose lines end in nearly one place to be joined",
            cure="Take out hatching and the like, or join ends that are less far apart.",
        )
    return connected(pairs, len(ends))[place.ravel()]


def _pairs(
    chains: list[Chain], reach: float, out: Joined, *, straight_on: bool = False
) -> list[Chain]:
    """Chains joined wherever just two ends meet; closed ones go to `out`.

    With `straight_on`, where more ends meet, those two that go on straightest in one another.
    """
    if not chains:
        return []
    node = _nodes(chains, reach)
    at: dict[int, list[int]] = {}
    for end, n in enumerate(node):
        at.setdefault(int(n), []).append(end)
    mate: dict[int, int] = {}
    for ends in at.values():
        if len(ends) == 2 and not _stub(chains, ends, reach):
            mate[ends[0]], mate[ends[1]] = ends[1], ends[0]
        elif straight_on and 2 < len(ends) <= _MOST_CROSSING:
            for a, b in _straightest(chains, ends):
                mate[a], mate[b] = b, a
    left: list[Chain] = []
    used = [False] * len(chains)
    # First from ends that lead nowhere, then what is left goes round.
    begins = [e for e in range(2 * len(chains)) if e not in mate]
    for first in (*begins, *range(0, 2 * len(chains), 2)):
        if used[first // 2]:
            continue
        links, end = [], first
        while not used[end // 2]:
            used[end // 2] = True
            links.append(end)
            onward = mate.get(end ^ 1)
            if onward is None:
                break
            end = onward
        closed = mate.get(links[-1] ^ 1) == links[0]
        if len(links) == 1 and not closed:
            left.append(chains[first // 2])
            continue
        made = _linked(chains, links, closed)
        (out.closed if closed else left).append(made)
    return left


def _straightest(chains: list[Chain], ends: list[int]) -> Iterator[tuple[int, int]]:
    """Pairs of ends that go on in one another with no turn to speak of, the straightest first."""
    out = {e: _direction(chains[e // 2].path, e % 2 == 1) for e in ends}
    turns = sorted(
        (abs((out[a] - out[b]) % (2 * np.pi) - np.pi), a, b)
        for k, a in enumerate(ends)
        for b in ends[k + 1 :]
    )
    left = set(ends)
    for turn, a, b in turns:
        if turn <= _STRAIGHT and {a, b} <= left:
            left -= {a, b}
            yield a, b


def _stub(chains: list[Chain], ends: list[int], reach: float) -> bool:
    """Both ends of one line so short that it does not go round anything."""
    if ends[0] // 2 != ends[1] // 2:
        return False
    path = chains[ends[0] // 2].path
    return path.length <= 4 * reach or (len(path) == 1 and bool(path.lines[0]))


def _linked(chains: list[Chain], links: Sequence[int], closed: bool) -> Chain:
    """Chains one after another; each link is the end that its chain begins at."""
    parts = [chains[e // 2].path if e % 2 == 0 else chains[e // 2].path.reversed() for e in links]
    used = [chains[e // 2] for e in links]
    ends = np.array([p.end for p in parts])
    starts = np.roll(np.array([p.start for p in parts]), -1, axis=0)
    gaps = np.hypot(*(starts - ends).T)
    gaps = gaps if closed else gaps[:-1]
    wide = gaps > MET
    places = ends[: len(gaps)][wide]
    new = [(float(g), float(x), float(y)) for g, (x, y) in zip(gaps[wide], places, strict=True)]
    return Chain(
        met(parts, closed),
        tuple(m for c in used for m in c.members),
        (*(g for c in used for g in c.gaps), *new),
        tuple(t for c in used for t in c.trims),
    )


def met(parts: list[Path], closed: bool) -> Path:
    """Parts end to end; each start is moved onto the end before it, its handle with it."""
    moved = []
    for i, path in enumerate(parts):
        if i == 0 and not closed:
            moved.append(path)
            continue
        step = parts[i - 1].end - path.start
        if not step.any() or path.lines[0]:
            moved.append(path)
            continue
        controls = path.controls.copy()
        controls[0, :2] += step
        moved.append(path.with_controls(controls))
    return Path.join(moved, closed=closed)


# --- where more than two ends meet -----------------------------------------------------


def _branches(chains: list[Chain], reach: float, out: Joined) -> None:
    """Outer lines of what hangs together by branchings; all else stays open."""
    if not chains:
        return
    node = _nodes(chains, reach)
    degree = np.bincount(node)
    told: set[int] = set()
    alive = _without_loose_ends(node, len(chains))
    taken: set[int] = set()
    if alive.any():
        for links in _outer_lines(chains, node, alive):
            made = _linked(chains, links, True)
            if abs(made.path.area) > 0:
                out.closed.append(made)
                taken |= {e // 2 for e in links}
                for end in links:
                    if degree[node[end]] > 2 and int(node[end]) not in told:
                        told.add(int(node[end]))
                        path = chains[end // 2].path
                        x, y = path.start if end % 2 == 0 else path.end
                        out.branches.append((float(x), float(y)))
    out.open += [c for i, c in enumerate(chains) if i not in taken]


def _without_loose_ends(node: Ints, count: int) -> np.ndarray:
    """Which chains are left once all that lead nowhere are taken out, again and again."""
    alive = np.ones(count, dtype=bool)
    while True:
        ends = np.repeat(alive, 2)
        degree = np.bincount(node[ends], minlength=int(node.max()) + 1)
        loose = (degree[node[0::2]] == 1) | (degree[node[1::2]] == 1)
        if not (alive & loose).any():
            return alive
        alive &= ~loose


def _outer_lines(chains: list[Chain], node: Ints, alive: np.ndarray) -> Iterator[list[int]]:
    """Loops of ends to begin at, round the outside of each connected part.

    Half edges are followed so that what they go round lies on their left; the walk round the
    outside is the one that goes clockwise.
    """
    out_of: dict[int, list[int]] = {}
    angle: dict[int, float] = {}
    for i in np.flatnonzero(alive):
        for end in (2 * int(i), 2 * int(i) + 1):
            out_of.setdefault(int(node[end]), []).append(end)
            angle[end] = _direction(chains[int(i)].path, end % 2 == 1)
    turn: dict[int, int] = {}
    for ends in out_of.values():
        ends.sort(key=lambda e: angle[e])
        for k, end in enumerate(ends):
            turn[end] = ends[k - 1]
    seen: set[int] = set()
    for first in sorted(angle):
        walk: list[int] = []
        end = first
        while end not in seen:
            seen.add(end)
            walk.append(end)
            end = turn[end ^ 1]
        if walk and sum(_term(chains[e // 2].path, e % 2 == 1) for e in walk) < 0:
            yield from _simple(walk, node)


def _simple(walk: list[int], node: Ints) -> Iterator[list[int]]:
    """A walk cut where it comes to a node again; there and back on one line is none."""
    stack: list[int] = []
    places: dict[int, int] = {}
    for end in walk:
        n = int(node[end])
        if n in places:
            k = places[n]
            loop = stack[k:]
            for gone in loop:
                places.pop(int(node[gone]), None)
            del stack[k:]
            if len({e // 2 for e in loop}) == len(loop):
                yield loop
        places[n] = len(stack)
        stack.append(end)
    if stack and len({e // 2 for e in stack}) == len(stack):
        yield stack


def _direction(path: Path, backwards: bool) -> float:
    """Angle in which a path leaves its start, or its end where it is walked backwards."""
    ahead = min(_AHEAD, path.length / 4)
    place = path.at(path.length - ahead if backwards else ahead)
    step: Floats = place - (path.end if backwards else path.start)
    return float(np.arctan2(step[1], step[0]))


def _term(path: Path, backwards: bool) -> float:
    """A path's term of the area that it helps to go round, mm2."""
    term = float(bezier.areas(path.controls).sum())
    return -term if backwards else term
