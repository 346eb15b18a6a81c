"""Dashes that were drawn as single strokes, put together to the lines that they stand for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest

import numpy as np

from ...budget import spend
from ...geometry.flatten import flatten
from ...geometry.near import pairs_within
from ...geometry.path import Path
from ...geometry.types import Floats
from .items import Item

#: A dash is no longer than this, mm; so many of one kind are the least.
_LONGEST, _FEWEST = 20.0, 8
#: This share of them follow one another at about one gap, and go about straight on.
_MOST = 0.7
#: Gaps are alike within this share; one is no longer than so many dashes.
_ALIKE, _WIDEST = 0.5, 3.0
#: Dashes go on within this turn, degrees, where others could follow too.
_TURN, _DOUBT = 40.0, 25.0
#: So many ends near one are looked at for that which goes on.
_NEAREST = 7
#: Over a gap with a corner a line turns more, degrees.
_BENT = 20.0
#: A straight line keeps within this of its dashes, mm.
_STRAIGHT = 0.01


@dataclass(slots=True)
class _Run:
    """Dashes that follow one another, each as points (n, 2); the first one's item speaks."""

    item: Item
    dashes: list[Floats]
    closed: bool = False


def chained(items: Sequence[Item]) -> tuple[list[Item], int]:
    """Items with their dashes chained to lines, and how many ends of dashes are undecided.

    Dashes follow one another as they were drawn; what is left over is joined by where it lies,
    where only one way to go on is near.
    """
    kinds: dict[object, list[Item]] = {}
    parts = {id(item): _parts(item) for item in items}
    for item in items:
        for part in parts[id(item)]:
            if _is_dash(part):
                kinds.setdefault(part.style, []).append(part)
    used: set[int] = set()
    lines: list[Item] = []
    open_ends = 0
    for dashes in kinds.values():
        gap = _gap(dashes) if len(dashes) >= _FEWEST else None
        if gap is None:
            continue
        spend(200 * len(dashes), "its dashes")
        runs = _in_order(dashes, gap)
        runs, undecided = _by_place(runs, gap)
        open_ends += undecided
        size = float(np.median([_length(d) for d in dashes]))
        for run in runs:
            if len(run.dashes) > 1:
                lines.append(_line(run, (size, gap)))
        alone = {id(run.item) for run in runs if len(run.dashes) == 1}
        used |= {id(dash) for dash in dashes} - alone
    left = []
    for item in items:
        own = parts[id(item)]
        rest = [part for part in own if id(part) not in used]
        left += [item] if len(rest) == len(own) else rest
    return left + lines, open_ends


def _parts(item: Item) -> list[Item]:
    """What was drawn as one path of many open strokes, stroke by stroke."""
    if len(item.chains) < _FEWEST or any(closed for _, _, closed in item.chains):
        return [item]
    return [
        replace(item, points=controls.reshape(-1, 2), chains=[(controls, lines, False)])
        for controls, lines, _ in item.chains
    ]


def _is_dash(item: Item) -> bool:
    if len(item.chains) != 1 or item.cut == "whole" or not item.colour or item.dashes:
        return False
    controls, _, closed = item.chains[0]
    # A dash follows a curve, and nothing else.
    return not closed and len(controls) <= 3 and 0 < _length(item) <= _LONGEST


def _ends(item: Item) -> tuple[Floats, Floats]:
    controls = item.chains[0][0]
    return controls[0, 0], controls[-1, 3]


def _length(item: Item) -> float:
    a, b = _ends(item)
    return float(np.hypot(*(b - a)))


def _gap(dashes: Sequence[Item]) -> float | None:
    """The gap between dashes, mm; None where these strokes are none.

    Told by those that follow one another as drawn, else by the nearest ends.
    """
    ends = np.array([_ends(d) for d in dashes])
    way = ends[:, 1] - ends[:, 0]
    size = float(np.median(np.hypot(*way.T)))
    way = way / np.hypot(*way.T)[:, None]
    gap = _common_gap(ends[1:, 0] - ends[:-1, 1], way[:-1], way[1:], size)
    if gap is not None:
        return gap
    at, out = ends.reshape(-1, 2), np.stack([-way, way], axis=1).reshape(-1, 2)
    from scipy.spatial import cKDTree

    # The nearest end that lies ahead, among a few.
    near = np.asarray(cKDTree(at).query(at, k=min(_NEAREST, len(at)))[1])
    steps = at[near] - at[:, None]
    along = (steps * out[:, None]).sum(axis=2) / np.maximum(
        np.hypot(*np.moveaxis(steps, 2, 0)), 1e-9
    )
    ahead = (along >= np.cos(np.radians(_TURN))) & (near // 2 != np.arange(len(at))[:, None] // 2)
    first = ahead.argmax(axis=1)
    mine = np.flatnonzero(ahead.any(axis=1))
    mate = near[mine, first[mine]]
    gap = _common_gap(at[mate] - at[mine], out[mine], -out[mate], size)
    return gap if 2 * len(mine) > len(at) else None


def _common_gap(steps: Floats, way: Floats, onward: Floats, size: float) -> float | None:
    """The length that most of some steps have, where lines go straight on over them, mm."""
    gaps = np.hypot(*steps.T)
    gap = float(np.median(gaps)) if len(gaps) else 0.0
    if not 0.05 < gap <= _WIDEST * size:
        return None
    step = steps / np.maximum(gaps, 1e-9)[:, None]
    straight = np.minimum((way * step).sum(axis=1), (onward * step).sum(axis=1))
    follow = (np.abs(gaps / gap - 1) <= _ALIKE) & (straight >= np.cos(np.radians(_TURN)))
    return gap if float(follow.mean()) >= _MOST else None


def _in_order(dashes: Sequence[Item], gap: float) -> list[_Run]:
    """Runs of dashes that follow one another as they were drawn."""
    runs: list[_Run] = []
    for dash in dashes:
        a, _ = _ends(dash)
        last = runs[-1].dashes[-1][-1] if runs else None
        if last is not None and abs(float(np.hypot(*(a - last))) / gap - 1) <= _ALIKE:
            runs[-1].dashes.append(_points(dash))
        else:
            runs.append(_Run(dash, [_points(dash)]))
    return runs


def _by_place(runs: list[_Run], gap: float) -> tuple[list[_Run], int]:
    """Runs joined where their ends lie so that only one goes on in the other."""
    ends = [(k, last) for k in range(len(runs)) for last in (False, True)]
    at = np.array([runs[k].dashes[-1][-1] if last else runs[k].dashes[0][0] for k, last in ends])
    before = np.array(
        [runs[k].dashes[-1][-2] if last else runs[k].dashes[0][1] for k, last in ends]
    )
    way = at - before
    way = way / np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    pairs = pairs_within(at, (1 + _ALIKE) * gap)
    assert pairs is not None
    near: dict[int, list[tuple[float, int]]] = {}
    for i, j in pairs.tolist():
        # A dash alone does not go on in itself.
        if ends[i][0] == ends[j][0] and len(runs[ends[i][0]].dashes) < 3:
            continue
        turn = _bend(at[i], at[j], way[i], way[j])
        near.setdefault(i, []).append((turn, j))
        near.setdefault(j, []).append((turn, i))
    mate: dict[int, int] = {}
    undecided = 0
    for i, found in sorted(near.items()):
        found.sort()
        turn, j = found[0]
        others = [t for t, k in found[1:] if t < turn + _DOUBT]
        back = sorted(near[j])
        sure = not others and back[0][1] == i and not [t for t, _ in back[1:] if t < turn + _DOUBT]
        if sure and (turn <= 2 * _TURN or len(found) == len(back) == 1):
            mate[i] = j
        else:
            undecided += bool(others)
    return _followed(runs, ends, mate), undecided


def _bend(a: Floats, b: Floats, way_a: Floats, way_b: Floats) -> float:
    """How far a line turns that goes out of one end and into another, degrees."""
    step = b - a
    step = step / max(float(np.hypot(*step)), 1e-9)
    first = np.degrees(np.arccos(np.clip(way_a @ step, -1, 1)))
    second = np.degrees(np.arccos(np.clip(-way_b @ step, -1, 1)))
    return float(first + second)


def _followed(runs: list[_Run], ends: list[tuple[int, bool]], mate: dict[int, int]) -> list[_Run]:
    done: list[_Run] = []
    used = [False] * len(runs)
    begins = [e for e in range(len(ends)) if e not in mate]
    for first in (*begins, *range(len(ends))):
        if used[ends[first][0]]:
            continue
        at: int | None = first
        dashes: list[Floats] = []
        while at is not None and not used[ends[at][0]]:
            k, last = ends[at]
            used[k] = True
            own = runs[k].dashes
            dashes += [d[::-1] for d in own[::-1]] if last else own
            at = mate.get(2 * k + (not last))
        closed = at == first and len(dashes) > 2
        done.append(_Run(runs[ends[first][0]].item, dashes, closed))
    return done


def _points(dash: Item) -> Floats:
    """A dash in chords."""
    (path,) = dash.paths()
    return flatten(path, _STRAIGHT)


def _line(run: _Run, dashes: tuple[float, float]) -> Item:
    """One line through all dashes, with a corner where one lies in a gap."""
    points: list[Floats] = []
    follow = [*run.dashes[1:], run.dashes[0]] if run.closed else run.dashes[1:]
    for one, other in zip_longest(run.dashes, follow):
        points += list(one)
        if other is not None and (corner := _corner(one, other)) is not None:
            points.append(corner)
    if run.closed:
        points.append(points[0])
    path = Path.polyline(_straightened(np.array(points)), closed=run.closed)
    chains = [(path.controls, path.lines, run.closed)]
    return replace(run.item, points=path.controls.reshape(-1, 2), chains=chains, dashes=dashes)


def _corner(one: Floats, other: Floats) -> Floats | None:
    """Where two dashes meet that are carried on over the gap, if they turn there."""
    a, u = one[-1], one[-1] - one[-2]
    b, v = other[0], other[0] - other[1]
    u, v = u / np.hypot(*u), v / np.hypot(*v)
    gap = float(np.hypot(*(b - a)))
    cross = float(u[0] * v[1] - u[1] * v[0])
    if abs(cross) < np.sin(np.radians(_BENT)) and float(u @ v) < 0:
        return None
    if cross == 0:
        return None
    d = b - a
    s, t = float(d[0] * v[1] - d[1] * v[0]) / cross, float(d[0] * u[1] - d[1] * u[0]) / cross
    found: Floats = a + s * u
    return found if 0 <= s <= 1.5 * gap and 0 <= t <= 1.5 * gap else None


def _straightened(points: Floats) -> Floats:
    """Without the points between which a straight line went on."""
    kept = [0]
    at = 0
    while at < len(points) - 1:
        reach = at + 1
        while reach + 1 < len(points) and _is_straight(points[at : reach + 2]):
            reach += 1
        kept.append(reach)
        at = reach
    found: Floats = points[kept]
    return found


def _is_straight(points: Floats) -> bool:
    d = points[-1] - points[0]
    long = float(np.hypot(*d))
    off = points[1:-1] - points[0]
    across = np.abs(off[:, 0] * d[1] - off[:, 1] * d[0])
    return long > 0 and bool((across <= _STRAIGHT * long).all())
