"""Dashes that were drawn as single strokes, put together to the lines that they stand for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, zip_longest

import numpy as np

from ...budget import spend
from ...geometry.flatten import flatten
from ...geometry.near import pairs_within
from ...geometry.path import Path
from ...geometry.types import Floats
from .items import Item

#: A dash is no longer than this, mm; so many of one kind are the least.
_LONGEST, _FEWEST = 20.0, 8
#: A dash has so many segments at most, and is so many times as long as from end to end.
_PARTS, _BOWED = 60, 1.5
#: This share of them follow one another at about one gap, and go about straight on.
_MOST = 0.7
#: Gaps are alike within this share; one is no longer than so many dashes.
_ALIKE, _WIDEST = 0.5, 3.0
#: Dashes go on within this turn, degrees, where others could follow too.
_TURN, _DOUBT = 40.0, 25.0
#: So many ends near one are looked at for that which goes on.
_NEAREST = 7
#: Dashes of one pattern are alike in length within this, as a share, and so are gaps; what fewer
#: than this share of them are is no part of it, and all but that share must be.
_SAME, _RARE, _REGULAR = 0.25, 0.1, 0.8
#: No gap of a pattern is longer, mm.
_FAR = 8.0
#: So many filled bars, so evenly wide (a share), are the dashes of a line.
_BARS, _EVEN = 3, 0.1
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
        if len(dashes) < _FEWEST:
            continue
        spend(200 * len(dashes), "its dashes")
        for of_one, pattern, runs in _patterns(dashes):
            runs, undecided = _by_place(runs, max(pattern[1::2]))
            open_ends += undecided
            lines += [_line(run, pattern) for run in runs if len(run.dashes) > 1]
            alone = {id(run.item) for run in runs if len(run.dashes) == 1}
            used |= {id(dash) for dash in of_one} - alone
    left = []
    for item in items:
        own = parts[id(item)]
        rest = [part for part in own if id(part) not in used]
        left += [item] if len(rest) == len(own) else rest
    return left + [_led_on(line, [*left, *lines]) for line in lines], open_ends


def _led_on(line: Item, items: Sequence[Item]) -> Item:
    """A chained line, led over the last gap at either end to what it ends on there."""
    import shapely

    controls, _, closed = line.chains[0]
    if closed:
        return line
    reach = 1.05 * max(line.dashes[1::2])
    points = np.vstack([controls[:, 0], controls[-1:, 3]])
    for turn in (-1, 1):
        points = points[::turn]
        way = points[0] - points[1]
        if not way.any():
            continue
        ahead = shapely.LineString([points[0], points[0] + reach * way / np.hypot(*way)])
        x0, y0, x1, y1 = ahead.bounds
        met = []
        for other in items:
            u0, v0, u1, v1 = other.box
            if other is line or not other.chains or u0 > x1 or u1 < x0 or v0 > y1 or v1 < y0:
                continue
            for path in other.paths():
                met.append(shapely.intersection(ahead, shapely.LineString(flatten(path, 0.01))))
        hits = shapely.get_coordinates(met)
        if len(hits):
            off = np.hypot(*(hits - points[0]).T)
            points = np.vstack([hits[off.argmin()], points])
    path = Path.polyline(points[::turn])
    chains = [(path.controls, path.lines, False)]
    return replace(line, points=path.controls.reshape(-1, 2), chains=chains)


def _parts(item: Item) -> list[Item]:
    """What was drawn as one path of many open strokes, or of bars, stroke by stroke."""
    if item.fill and not item.colour and len(item.chains) >= _BARS:
        return _bars(item) or [item]
    if len(item.chains) < _FEWEST or any(closed for _, _, closed in item.chains):
        return [item]
    return [
        replace(item, points=controls.reshape(-1, 2), chains=[(controls, lines, False)])
        for controls, lines, _ in item.chains
    ]


def _bars(item: Item) -> list[Item]:
    """The middle lines of filled bars, which some programs draw dashes as; none where other
    shapes are among them."""
    sides = [np.hypot(*(controls[:, 3] - controls[:, 0]).T) for controls, _, _ in item.chains]
    ends = np.array([np.sort(size)[:2] for size in sides if len(size) == 4]).reshape(-1, 2)
    width = float(np.median(ends)) if len(ends) else 0.0
    even = (np.abs(ends - width) <= _EVEN * width).all(axis=1)
    if 2 * even.sum() < len(sides):
        return []
    middles: list[Floats] = []
    for (controls, lines, _), size in zip(item.chains, sides, strict=True):
        caps = np.flatnonzero(lines & (np.abs(size - width) <= _EVEN * width))
        at = (controls[:, 0] + controls[:, 3]) / 2
        if np.ptp(controls[:, 0], axis=0).max() <= 1.5 * width:
            continue  # what is left of a dash at a line's end
        if not len(caps):
            return []
        if len(caps) == 1:
            # It ends just round a corner, which is found where it is led on straight.
            k = int(caps[0])
            side = min(controls[[k - 1, (k + 1) % len(controls)]], key=_chord)
            way = side[3] - side[0] if (side[0] == controls[k, 3]).all() else side[0] - side[3]
            middles.append(np.array([at[k], at[k] + way]))
            continue
        far = np.hypot(*(at[caps][:, None] - at[caps]).transpose(2, 0, 1))
        a, b = sorted(int(caps[k]) for k in np.unravel_index(far.argmax(), far.shape))
        one, other = controls[a + 1 : b], np.concatenate([controls[b + 1 :], controls[:a]])
        if not len(one) or not len(other):
            return []
        middles.append(_straightened(_middle(one, other)))
    if len(middles) < _BARS:
        return []
    # A bar has no direction: each begins where the one before it ends.
    for k, after in enumerate([*middles[1:], middles[-2][::-1]]):
        near = middles[k - 1][-1] if k else after.mean(axis=0)
        away = np.hypot(*(middles[k][[0, -1]] - near).T)
        if (away[0] > away[1]) == (k > 0):
            middles[k] = middles[k][::-1]
    made = []
    for middle in middles:
        path = Path.polyline(middle)
        chains = [(path.controls, path.lines, False)]
        one_bar = replace(item, points=path.controls.reshape(-1, 2), chains=chains, fill="")
        made.append(replace(one_bar, colour=item.fill, width=round(width, 2)))
    return made


def _chord(segment: Floats) -> float:
    return float(np.hypot(*(segment[3] - segment[0])))


def _middle(one: Floats, other: Floats) -> Floats:
    """Places (n, 2) midway between the two sides of a bar, which run against each other, mm."""
    if len(one) == len(other):
        both = (one + other[::-1, ::-1]) / 2
        return flatten(Path(both, np.zeros(len(both), dtype=bool), False), _STRAIGHT)
    sides = []
    for side in (one, other[::-1, ::-1]):
        path = Path(side, np.zeros(len(side), dtype=bool), False)
        sides.append(path.at(np.linspace(0.0, path.length, 13)))
    middle: Floats = (sides[0] + sides[1]) / 2
    return middle


def _patterns(
    dashes: Sequence[Item],
) -> Iterator[tuple[Sequence[Item], tuple[float, ...], list[_Run]]]:
    """Dashes by the pattern that they are drawn in: lengths of dashes and gaps, mm, and runs.

    Told by those that follow one another as they were drawn; where that shows a single pattern or
    none, all of them are one.
    """
    ends = np.array([_ends(d) for d in dashes])
    way = ends[:, 1] - ends[:, 0]
    size = np.hypot(*way.T)
    way = way / size[:, None]
    step = ends[1:, 0] - ends[:-1, 1]
    gaps = np.hypot(*step.T)
    step = step / np.maximum(gaps, 1e-9)[:, None]
    straight = np.minimum((way[:-1] * step).sum(axis=1), (way[1:] * step).sum(axis=1))
    most = np.minimum(_WIDEST * np.maximum(size[:-1], size[1:]), _FAR)
    follow = (gaps > 0.05) & (gaps <= most) & (straight >= np.cos(np.radians(_TURN)))
    rows = np.split(np.arange(len(dashes)), np.flatnonzero(~follow) + 1)
    known: list[tuple[float, ...]] = []
    of_row: list[int | None] = []
    for row in rows:
        pattern = _pattern(size[row], gaps[row[:-1]]) if len(row) >= _FEWEST else None
        of_row.append(None if pattern is None else _numbered(pattern, known))
    gap = None if len(known) > 1 else _gap(dashes)
    if gap is not None:
        yield dashes, (float(np.median(size)), gap), _in_order(dashes, gap)
        return
    # Over a corner a line goes on in what is drawn next.
    runs: list[tuple[int | None, list[int]]] = []
    for number, row in zip(of_row, rows, strict=True):
        last, so_far = runs[-1] if runs else (None, [])
        either = last if number is None else number
        if so_far and either is not None and last in (None, either) and number in (None, either):
            pattern = known[either]
            near = gaps[so_far[-1]] <= (1 + _ALIKE) * max(pattern[1::2])
            short = size[[*so_far, *row]].max() <= (1 + _SAME) * max(pattern[::2])
            if near and short:
                runs[-1] = (either, [*so_far, *row])
                continue
        runs.append((number, list(row)))
    for k, (number, some) in enumerate(runs):
        fitting = [n for n, p in enumerate(known) if _fits(size[some], gaps[some[:-1]], p)]
        if number is None and len(some) > 1 and len(fitting) == 1:
            runs[k] = (fitting[0], some)
    for number, pattern in enumerate(known):
        own = [some for n, some in runs if n == number]
        made = [_Run(dashes[some[0]], [_points(dashes[k]) for k in some]) for some in own]
        yield [dashes[k] for some in own for k in some], pattern, made


def _pattern(size: Floats, gaps: Floats) -> tuple[float, ...] | None:
    """The lengths of dashes and gaps that repeat, mm; None where nothing does."""
    lengths, between = _clusters(size[1:-1]), _clusters(gaps)
    if not lengths or not between:
        return None
    gap = float(np.median(gaps))
    (most, count), *others = sorted(lengths, reverse=True)
    pattern = [most, gap]
    for length, often in others:
        pattern += [length, gap] * max(round(often / count), 1)
    return tuple(pattern)


def _fits(size: Floats, gaps: Floats, pattern: tuple[float, ...]) -> bool:
    """Whether a few dashes may be of a pattern; the first and the last may be cut short."""

    def near(values: Floats, some: tuple[float, ...]) -> bool:
        return bool((np.abs(values[:, None] / np.array(some) - 1).min(axis=1) <= _SAME).all())

    inner = size[1:-1] if len(size) > 2 else size[:1]
    return near(inner, pattern[::2]) and near(gaps, pattern[1::2])


def _clusters(values: Floats) -> list[tuple[float, int]]:
    """The lengths that there are, each with how often; none where they are of all kinds."""
    values = np.sort(values)
    parts = np.split(values, np.flatnonzero(values[1:] > (1 + _SAME) * values[:-1]) + 1)
    parts = [part for part in parts if len(part) >= _RARE * len(values)]
    alike = sum(int((np.abs(part / np.median(part) - 1) <= _SAME).sum()) for part in parts)
    if len(parts) > 3 or alike < _REGULAR * len(values):
        return []
    return [(float(np.median(part)), len(part)) for part in parts]


def _numbered(pattern: tuple[float, ...], known: list[tuple[float, ...]]) -> int:
    """The number of a pattern among those that are known, to which a new one is added."""
    for k, other in enumerate(known):
        if len(other) == len(pattern) and all(
            abs(a / b - 1) <= _SAME / 2 for a, b in zip(pattern, other, strict=True)
        ):
            return k
    known.append(pattern)
    return len(known) - 1


def _is_dash(item: Item) -> bool:
    if len(item.chains) != 1 or item.cut == "whole" or not item.colour or item.dashes:
        return False
    controls, _, closed = item.chains[0]
    if closed or len(controls) > _PARTS or not 0 < _length(item) <= _LONGEST:
        return False
    # A dash follows a curve or goes round a corner, and nothing else.
    way = np.hypot(*np.diff(controls, axis=1).reshape(-1, 2).T).sum()
    return len(controls) <= 3 or bool(way <= _BOWED * _length(item))


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


def _line(run: _Run, dashes: tuple[float, ...]) -> Item:
    """One line through all dashes, with a corner where one lies in a gap."""
    points: list[Floats] = []
    follow = [*run.dashes[1:], run.dashes[0]] if run.closed else run.dashes[1:]
    for one, other in zip_longest(run.dashes, follow):
        points += list(one)
        if other is not None and (corner := _corner(one, other)) is not None:
            points.append(corner)
    if run.closed:
        points.append(points[0])
    points = [points[0], *(b for a, b in pairwise(points) if (a != b).any())]
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
