"""Lines that were cut at the edges of pages, cut to one copy of each and joined again."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from ...budget import spend
from ...geometry.near import pairs_within
from ...geometry.path import Path
from ...geometry.types import Floats
from ..drawing.chains import met
from ..drawing.shapes import Box
from .gaps import bridge, over_gap, way_out
from .items import Item, common

#: An end lies on an edge within this, mm; pages lie over one another by more than the other.
_EDGE, _LAP = 0.06, 0.005
#: Lines go on where their ends are this near, mm, and their directions, degrees.
_NEAR, _TURN = 0.6, 8.0
#: With a corner at the joint they are this near, mm.
_CORNER = 0.1
#: A straight line cut at a joint is one again where it leaves the chord by no more than this, mm.
_STRAIGHT = 0.02


@dataclass(frozen=True, slots=True)
class Step:
    """How far apart, mm, the ends of a line were at the joint of two pages, and where."""

    off: float
    first: int
    second: int
    at: tuple[float, float]


@dataclass(slots=True)
class _Part:
    """A line on the sheet, and which of its ends lie at a joint, as places and ways out."""

    item: Item
    path: Path
    cut: tuple[bool, bool]


@dataclass(slots=True)
class Cells:
    """What came of lines that were cut: items, steps at the joints, places of loose ends.

    `loose` are ends at a joint that go on nowhere, as pages (from 0) and places; `over` is how
    many lines were led on over strips that no page shows.
    """

    items: list[Item]
    steps: list[Step]
    loose: list[tuple[int, tuple[float, float]]]
    over: int = 0


def put_in_cells(
    items: Sequence[Item],
    boxes: dict[int, Box],
    gaps: tuple[float, float] = (0.0, 0.0),
    guessed: Sequence[int] = (),
) -> Cells:
    """Items on a sheet (mm) with each line once: what an earlier page shows, a later one leaves.

    `boxes` tells what of the sheet each page shows, `gaps` how wide a strip none shows between
    pages beside and above each other. Pages of which nothing but their order tells where they lie
    (`guessed`) hide nothing of others.
    """
    before: dict[int, list[Box]] = {}
    for page, box in boxes.items():
        sure = {other: b for other, b in boxes.items() if other < page and other not in guessed}
        before[page] = [b for b in sure.values() if _over(box, b)]
    rest: list[Item] = []
    parts: list[_Part] = []
    for item in items:
        if not item.chains:
            x, y = item.points[0]
            if not any(_holds(b, x, y) for b in before[item.page]):
                rest.append(item)
            continue
        whole = []
        for path in item.paths():
            found = list(_parts(path, boxes[item.page], before[item.page]))
            if len(found) == 1 and found[0] is path and path.closed:
                whole.append(path)
            else:
                edges = [boxes[item.page], *before[item.page]]
                parts += [
                    _Part(item, p, (_at_edge(p.start, edges), _at_edge(p.end, edges)))
                    for p in found
                ]
        if whole:
            rest.append(_with(item, whole))
    done = _linked(parts, boxes, gaps)
    done.items = rest + done.items
    return done


def _with(item: Item, paths: Iterable[Path]) -> Item:
    chains = [(p.controls, p.lines, p.closed) for p in paths]
    points = np.concatenate([c.reshape(-1, 2) for c, _, _ in chains])
    return replace(item, points=points, chains=chains)


def _over(a: Box, b: Box) -> bool:
    x0, y0, x1, y1 = common(a, b)
    return x1 - x0 > _LAP and y1 - y0 > _LAP


def _holds(box: Box, x: float, y: float) -> bool:
    return box[0] < x < box[2] and box[1] < y < box[3]


def _at_edge(point: Floats, boxes: Sequence[Box]) -> bool:
    x, y = (float(v) for v in point)
    for x0, y0, x1, y1 in boxes:
        inside = x0 - _EDGE <= x <= x1 + _EDGE and y0 - _EDGE <= y <= y1 + _EDGE
        if inside and min(abs(x - x0), abs(x - x1), abs(y - y0), abs(y - y1)) <= _EDGE:
            return True
    return False


def _parts(path: Path, own: Box, before: Sequence[Box]) -> Iterable[Path]:
    """What a page adds of a line to what earlier ones show, without edges drawn by a clip."""
    opened = _without_edges(path, own) if path.closed else [path]
    for one in opened:
        meets = [b for b in before if _over(one.bounds, b) or _flat_over(one.bounds, b)]
        yield from _outside(one, meets) if meets else [one]


def _flat_over(box: Box, other: Box) -> bool:
    x0, y0, x1, y1 = common(box, other)
    return x1 >= x0 and y1 >= y0


def _without_edges(path: Path, box: Box) -> list[Path]:
    """A closed line that a clip has closed along the page's edge, opened there."""
    a, b = path.controls[:, 0], path.controls[:, 3]
    low, high = np.array(box[:2]), np.array(box[2:])
    along = np.zeros(len(path), dtype=bool)
    for side in (low, high):
        along |= ((np.abs(a - side) <= _EDGE) & (np.abs(b - side) <= _EDGE)).any(axis=1)
    along &= path.lines
    if not along.any() or along.all():
        return [path]
    starts = [k for k in range(len(path)) if along[k - 1] and not along[k]]
    runs = []
    for first in starts:
        last = first
        while not along[last % len(path)]:
            last += 1
        runs.append(path.segments(first, last % len(path)))
    return runs


def _outside(path: Path, boxes: Sequence[Box]) -> Iterable[Path]:
    """The stretches of a line outside all of some boxes."""
    places = {0.0, path.length}
    for x0, y0, x1, y1 in boxes:
        for axis, c in ((0, x0), (0, x1), (1, y0), (1, y1)):
            places.update(_crossings(path, axis, c))
    spend(50 * len(places), "lines over the edges of pages")
    stops = sorted(places)
    kept: list[list[float]] = []
    for s0, s1 in pairwise(stops):
        if s1 - s0 < 1e-4:
            continue
        x, y = (float(v) for v in path.at((s0 + s1) / 2))
        if any(_holds(b, x, y) for b in boxes):
            continue
        if kept and kept[-1][1] >= s0 - 1e-4:
            kept[-1][1] = s1
        else:
            kept.append([s0, s1])
    if len(kept) == 1 and kept[0][1] - kept[0][0] > path.length - 1e-3:
        return [path]
    if path.closed and len(kept) > 1 and kept[0][0] < 1e-4 and kept[-1][1] > path.length - 1e-4:
        kept[-1][1] = kept.pop(0)[1]
    return [path.part(s0, s1) for s0, s1 in kept]


def _crossings(path: Path, axis: int, c: float) -> Iterable[float]:
    """Arc lengths at which a line crosses x = c (axis 0) or y = c (1)."""
    values = path.controls[:, :, axis] - c
    for k in np.flatnonzero((values.min(axis=1) < 0) & (values.max(axis=1) > 0)).tolist():
        p0, p1, p2, p3 = values[k].tolist()
        if path.lines[k]:
            found = [p0 / (p0 - p3)]
        else:
            roots = np.roots([p3 - 3 * p2 + 3 * p1 - p0, 3 * (p0 - 2 * p1 + p2), 3 * (p1 - p0), p0])
            found = roots.real[(np.abs(roots.imag) < 1e-9)].tolist()
        for t in found:
            if 0 < t < 1:
                yield path.arc_length_at(k, t)


# --- joined again ---------------------------------------------------------------------------


_End = tuple[int, bool]  # number of a part, and whether it is its end


def _linked(parts: list[_Part], boxes: dict[int, Box], gaps: tuple[float, float]) -> Cells:
    ends: list[_End] = []
    points, ways = [], []
    for k, part in enumerate(parts):
        for last in (False, True):
            if part.cut[last]:
                ends.append((k, last))
                points.append(part.path.end if last else part.path.start)
                ways.append(way_out(part.path, last))
    mate: dict[_End, _End] = {}
    over: set[_End] = set()
    steps: list[Step] = []
    loose: list[tuple[int, tuple[float, float]]] = []
    if ends:
        at, out = np.array(points), np.array(ways)
        pairs = pairs_within(at, _NEAR)
        assert pairs is not None
        spend(10 * len(pairs), "lines over the edges of pages")
        off = np.hypot(*(at[pairs[:, 0]] - at[pairs[:, 1]]).T)
        order = np.lexsort((pairs[:, 1], pairs[:, 0], off)).tolist()
        # Lines that go straight on first, then those that have a corner at the joint.
        for near, turn in ((_NEAR, _TURN), (_CORNER, 150.0)):
            for n in order:
                i, j = pairs[n].tolist()
                a, b = ends[i], ends[j]
                one, two = parts[a[0]].item, parts[b[0]].item
                if a in mate or b in mate or one.page == two.page or one.style != two.style:
                    continue
                if off[n] > near or float(out[i] @ out[j]) > -np.cos(np.radians(turn)):
                    continue
                mate[a], mate[b] = b, a
                place = (float(at[i][0]), float(at[i][1]))
                first, second = sorted((one.page, two.page))
                steps.append(Step(float(off[n]), first, second, place))
        met_others = set(pairs[off <= _CORNER].ravel().tolist())
        left = [n for n, end in enumerate(ends) if end not in mate and n not in met_others]
        for axis in (0, 1):
            if gaps[axis] > 0:
                open_ends = [ends[n] for n in left]
                sides = [_side(parts[k], last, boxes, axis) for k, last in open_ends]
                paths = [(parts[k].path, last) for k, last in open_ends]
                kinds = [parts[k].item.style for k, _ in open_ends]
                for i, j in over_gap(paths, sides, kinds, gaps[axis], axis):
                    a, b = open_ends[i], open_ends[j]
                    mate[a], mate[b] = b, a
                    over |= {a, b}
                left = [n for n in left if ends[n] not in mate]
        for n in left:
            part = parts[ends[n][0]]
            if _inner(at[n], part, boxes, gaps):
                loose.append((part.item.page, (float(at[n][0]), float(at[n][1]))))
    return Cells(_chained(parts, mate, over), steps, loose, len(over) // 2)


def _side(part: _Part, last: bool, boxes: dict[int, Box], axis: int) -> tuple[int, int]:
    """The axis along which its page ends where a line does, and whether at its upper side."""
    point, box = part.path.end if last else part.path.start, boxes[part.item.page]
    low, high = (abs(float(point[axis]) - box[axis + 2 * n]) for n in (0, 1))
    return (axis if min(low, high) <= _EDGE else -1), int(high < low)


def _inner(point: Floats, part: _Part, boxes: dict[int, Box], gaps: tuple[float, float]) -> bool:
    """Whether an end lies at the joint with another page."""
    x, y = (float(v) for v in point)
    u, v = (_EDGE + gap for gap in gaps)
    return any(
        b[0] - u <= x <= b[2] + u and b[1] - v <= y <= b[3] + v
        for page, b in boxes.items()
        if page != part.item.page
    )


def _chained(parts: list[_Part], mate: dict[_End, _End], over: set[_End]) -> list[Item]:
    """Lines end to end, by which end goes on in which; at ends in `over` over a strip."""
    items: list[Item] = []
    used = [False] * len(parts)
    every = [(k, False) for k in range(len(parts))] + [(k, True) for k in range(len(parts))]
    begins = [e for e in every if e not in mate]
    for first in (*begins, *every):
        if used[first[0]]:
            continue
        run: list[Path] = []
        at: _End | None = first
        joined = 0
        while at is not None and not used[at[0]]:
            k, last = at
            used[k] = True
            joined += 1
            run.append(parts[k].path.reversed() if last else parts[k].path)
            at = mate.get((k, not last))
            if (k, not last) in over and at is not None:
                m, other = at
                then = parts[m].path.reversed() if other else parts[m].path
                run.append(bridge(run[-1], then))
        closed = at == first and (joined > 1 or first in over)
        item = parts[first[0]].item
        items.append(_with(item, [_straightened(run, closed)]))
    return items


def _straightened(run: list[Path], closed: bool) -> Path:
    """Parts joined; a straight line that was cut at a joint is one line again."""
    path = met(run, closed)
    joints = np.cumsum([len(p) for p in run])
    keep = np.ones(len(path), dtype=bool)
    controls = path.controls.copy()
    for k in joints if closed else joints[:-1]:
        a, b = int(k) - 1, int(k) % len(path)
        while not keep[a]:
            a -= 1
        if a == b or not (path.lines[a] and path.lines[b]):
            continue
        start, middle, end = controls[a, 0], controls[b, 0], controls[b, 3]
        d = end - start
        long = float(np.hypot(*d))
        across = abs(float(d[0] * (middle - start)[1] - d[1] * (middle - start)[0]))
        if long > 0 and across <= _STRAIGHT * long and float((middle - start) @ d) > 0:
            controls[b, 0] = start
            keep[a] = False
    return Path(controls[keep], path.lines[keep], closed)
