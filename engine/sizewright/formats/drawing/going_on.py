"""Lines that end on other lines, followed along those until a line of their own begins again."""

from __future__ import annotations

import heapq
import math
from bisect import insort
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import accumulate, combinations, islice, pairwise

import numpy as np
from shapely.geometry import Polygon

from ...budget import spend
from ...geometry import bezier
from ...geometry.crossings import is_simple
from ...geometry.flatten import flatten
from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import Vec
from .chains import met

#: More lines than this are no nest.
MOST_LINES = 3000
#: A turn from one line into another costs as much as so many mm of way, and so many a degree;
#: sharper ones, in degrees, are none.
_HOP, _TURN, _SHARPEST = 10.0, 0.3, 177.0
#: An end this near to a line lies on it, mm.
_EXACT = 0.02
#: Parts of one segment make it up again so nearly, mm.
_SAME = 0.005
#: No way along other lines is longer, mm.
_LONGEST = 6000.0
#: What a loop runs along twice for longer than this, mm, it surely overlaps.
_TWICE = 1.0
#: A loop with less than this share of the largest area is a sliver between two sizes.
_SLIVER = 0.4
#: Ways that are tried: for one pair of ends, for all ends that hang together, pairings, and
#: the best of these.
_WAYS, _MOST_ENDS, _TRIED, _LOOKED_AT = 4, 10, 4000, 24
#: Of so many small strands each may be left out by itself, of more only all.
_MOST_SMALL = 3
_ON = "lines of sizes that run together"

#: Line, node on it, and direction (1 or -1).
_State = tuple[int, int, int]
#: A strand's number, and 0 for its start or 1 for its end.
_End = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of a line, from `s0` to `s1` mm along it; against it where s1 < s0.

    `step` is 1 or -1: on a closed line both ways lead there.
    """

    line: int
    s0: float
    s1: float
    step: int


@dataclass(frozen=True, slots=True)
class Closed:
    """A loop: the path, the strands that it is about, and what it goes along besides.

    `own` is the share of its length that these strands are.
    """

    path: Path
    strands: tuple[int, ...]
    along: tuple[tuple[int, Path], ...]
    own: float


@dataclass(frozen=True, slots=True)
class _Way:
    cost: float
    stretches: tuple[Stretch, ...]

    def reversed(self) -> _Way:
        turned = (Stretch(s.line, s.s1, s.s0, -s.step) for s in reversed(self.stretches))
        return _Way(self.cost, tuple(turned))


@dataclass(frozen=True, slots=True)
class _Moves:
    """Where one can go from a state: `on` along its line, or over to the `other` line that
    touches it there, `into` its own `end` or by one of the `turns`; each with what it costs."""

    length: float
    on: _State | None
    other: int
    end: _End | None
    into: float | None
    turns: list[tuple[float, _State]]


#: Strands one after another, whether each is walked backwards, and the way on from it.
_Walk = list[tuple[int, bool, _Way]]


@dataclass
class _Nodes:
    """Places of one line at which others touch it, in order: (s, other line, s there)."""

    at: list[tuple[float, int, float]] = field(default_factory=list)


class Web:
    """All lines of a drawing, with the places where the ends of some touch others."""

    def __init__(self, lines: Sequence[Path], reach: float) -> None:
        self.lines, self.reach = lines, reach
        self.nodes = [_Nodes() for _ in lines]
        self._known: dict[Stretch, float] = {}
        self._ways_on: dict[tuple[int, float, int], Vec] = {}
        self._moves: dict[_State, _Moves] = {}
        self._numbers: dict[tuple[int, float, int], int] = {}
        if not 1 < len(lines) <= MOST_LINES:
            return
        open_ones = [i for i, path in enumerate(lines) if not path.closed]
        ends = np.array([[lines[i].start, lines[i].end] for i in open_ones]).reshape(-1, 2)
        touches: list[list[tuple[float, int, float]]] = [[] for _ in ends]
        for i, path in enumerate(lines):
            x0, y0, x1, y1 = path.bounds
            near = (ends >= (x0 - reach, y0 - reach)) & (ends <= (x1 + reach, y1 + reach))
            which = [int(w) for w in np.flatnonzero(near.all(axis=1)) if open_ones[w // 2] != i]
            if not which:
                continue
            spend(20 * len(which) * max(1, len(path) // 8), _ON)
            found = nearest(path, ends[which])
            for w, s, off in zip(which, found.s, found.distance, strict=True):
                touches[w].append((float(off), i, float(s)))
        for w, touched in enumerate(touches):
            # Where it lies on one line it is not meant to lie near others.
            least = min((off for off, _, _ in touched), default=reach)
            for off, i, s in touched:
                if off <= min(reach, max(_EXACT, 2 * least)):
                    other = open_ones[w // 2]
                    there = 0.0 if w % 2 == 0 else lines[other].length
                    insort(self.nodes[i].at, (s, other, there))
                    insort(self.nodes[other].at, (there, i, s))

    def touched(self, line: int, end: int) -> list[tuple[int, float]]:
        """Lines that an end of a line touches, each with the place on it."""
        s = 0.0 if end == 0 else self.lines[line].length
        return [(other, there) for at, other, there in self.nodes[line].at if at == s]

    def closings(self, own: Sequence[int]) -> list[Closed]:
        """Loops of the open lines `own`, each going on along others from where it ends.

        Strands that come back to nothing of their own are in none.
        """
        ends = [(k, e) for k in own for e in (0, 1)]
        ways: dict[tuple[_End, _End], list[_Way]] = {}
        for a in ends:
            for b, way in self._from(a, set(own)):
                key, way = ((a, b), way) if a < b else ((b, a), way.reversed())
                known = ways.setdefault(key, [])
                if not any(abs(w.cost - way.cost) < 1e-3 for w in known):
                    known.append(way)
        for known in ways.values():
            known.sort(key=lambda w: w.cost)
            del known[_WAYS:]
        found: list[Closed] = []
        for members in _together(own, ways):
            found += self._matched(members, ways)
        used = {line for one in found for line, _ in one.along}
        return [one for one in found if not used & set(one.strands)]

    # --- ways from one end -----------------------------------------------------------------

    def _tangent(self, line: int, s: float, step: int) -> Vec:
        """Direction in which a line goes on from `s`, or comes to it where s is its end."""
        key = (line, s, step)
        if key not in self._ways_on:
            self._ways_on[key] = self._direction(*key)
        return self._ways_on[key]

    def _direction(self, line: int, s: float, step: int) -> Vec:
        path = self.lines[line]
        ahead = min(0.5, path.length / 4)
        a, b = (s, s + ahead) if step > 0 else (s, s - ahead)
        if not path.closed:
            a, b = (np.clip((a, b), 0.0, path.length)).tolist()
            if a == b:
                a, b = a - step * ahead, b
        x, y = path.at(b % path.length if path.closed else b) - path.at(a)
        length = max(math.hypot(x, y), 1e-12)
        return float(x / length), float(y / length)

    def _incoming(self, line: int, s: float, step: int) -> Vec:
        """Direction in which one comes to `s` along a line."""
        x, y = self._tangent(line, s, -step)
        return -x, -y

    def _leaves(self, line: int, s: float, step: int) -> bool:
        """Whether a line goes on from `s` at all."""
        path = self.lines[line]
        left = path.length - s if step > 0 else s
        return path.closed or left > self.reach

    def _from(self, start: _End, own: set[int]) -> Iterator[tuple[_End, _Way]]:
        """The best ways from an end to each other end, for each line and direction to begin in."""
        strand, end = start
        s = 0.0 if end == 0 else self.lines[strand].length
        coming = self._incoming(strand, s, 1 if end else -1)
        for line, there in self.touched(strand, end):
            if line in own and self._end_of(line, there) is not None:
                other = (line, self._end_of(line, there) or 0)
                step = 1 if other[1] == 0 else -1
                cost = _cost(coming, self._tangent(line, there, step))
                if cost is not None and other != start:
                    yield other, _Way(cost, ())
                continue
            for step in (1, -1):
                if self._leaves(line, there, step):
                    cost = _cost(coming, self._tangent(line, there, step))
                    if cost is not None:
                        yield from self._ways(start, own, line, there, step, cost)

    def _end_of(self, line: int, s: float) -> int | None:
        path = self.lines[line]
        if path.closed:
            return None
        return 0 if s <= self.reach else 1 if s >= path.length - self.reach else None

    def _ways(
        self, start: _End, own: set[int], line: int, s: float, step: int, cost: float
    ) -> Iterator[tuple[_End, _Way]]:
        """Dijkstra's shortest ways from a place on a line, going on in one direction."""
        index = self._index(line, s, start[0])
        if index is None:
            return
        first: _State = (line, index, step)
        best: dict[_State, float] = {first: cost}
        before: dict[_State, _State] = {}
        reached: dict[_End, tuple[float, _State]] = {}
        queue = [(cost, first)]
        while queue:
            done, state = heapq.heappop(queue)
            if done > best[state] or done > _LONGEST:
                continue
            spend(30, _ON)
            for target, price, onward in self._onward(state, start, own):
                total = done + price
                if target is not None:
                    if total < reached.get(target, (np.inf, state))[0]:
                        reached[target] = (total, state)
                elif onward is not None and total < best.get(onward, np.inf):
                    best[onward] = total
                    before[onward] = state
                    heapq.heappush(queue, (total, onward))
        for target, (total, state) in reached.items():
            chain = [state]
            while chain[-1] in before:
                chain.append(before[chain[-1]])
            yield target, _Way(total, tuple(self._stretches(chain[::-1])))

    def _index(self, line: int, s: float, other: int) -> int | None:
        """Which node of a line is the first there that is another's."""
        if not self._numbers:
            for number, nodes in enumerate(self.nodes):
                for k, (at, strand, _) in enumerate(nodes.at):
                    self._numbers.setdefault((number, at, strand), k)
        return self._numbers.get((line, s, other))

    def _onward(
        self, state: _State, start: _End, own: set[int]
    ) -> Iterator[tuple[_End | None, float, _State | None]]:
        """What can be reached in one step: an end of an own line, or another state."""
        if state not in self._moves:
            self._moves[state] = self._moves_from(state)
        moves = self._moves[state]
        if moves.on is not None:
            yield None, moves.length, moves.on
        if moves.end == start:
            return
        if moves.other in own and moves.end is not None:
            if moves.into is not None:
                yield moves.end, moves.into, None
        elif moves.other != start[0]:
            for cost, turned in moves.turns:
                yield None, cost, turned

    def _moves_from(self, state: _State) -> _Moves:
        line, k, step = state
        nodes, path = self.nodes[line].at, self.lines[line]
        s, other, there = nodes[k]
        following = k + step
        length = 0.0
        on: _State | None = None
        if path.closed:
            following %= len(nodes)
            length = (nodes[following][0] - s) * step % path.length
            if length == 0.0 and following == k:
                length = path.length
            on = (line, following, step)
        elif 0 <= following < len(nodes):
            length = abs(nodes[following][0] - s)
            on = (line, following, step)
        coming = self._incoming(line, s, step)
        end = self._end_of(other, there)
        into = None
        if end is not None:
            into = _cost(coming, self._tangent(other, there, 1 if end == 0 else -1))
        turns = []
        index = self._index(other, there, line)
        for turn in (1, -1):
            if index is not None and self._leaves(other, there, turn):
                cost = _cost(coming, self._tangent(other, there, turn))
                if cost is not None:
                    turns.append((cost, (other, index, turn)))
        return _Moves(length, on, other, None if end is None else (other, end), into, turns)

    def _stretches(self, chain: Sequence[_State]) -> Iterator[Stretch]:
        """The parts of lines that a chain of states goes along."""
        k = 0
        while k < len(chain):
            last = k
            while last + 1 < len(chain) and chain[last + 1][0] == chain[k][0]:
                last += 1
            line, node, step = chain[k]
            s0 = self.nodes[line].at[node][0]
            s1 = self.nodes[line].at[chain[last][1]][0]
            if last > k and (s0 != s1 or self.lines[line].closed):
                yield Stretch(line, s0, s1, step)
            k = last + 1

    # --- loops -----------------------------------------------------------------------------

    def part(self, stretch: Stretch) -> Path | None:
        """The path of a stretch, as it is walked; None where nothing lies between."""
        path = self.lines[stretch.line]
        low, high = (stretch.s0, stretch.s1) if stretch.step > 0 else (stretch.s1, stretch.s0)
        if abs(high - low) < 1e-6:
            return None
        made = path.part(low, high)
        return made if stretch.step > 0 else made.reversed()

    def _matched(
        self, members: Sequence[int], ways: dict[tuple[_End, _End], list[_Way]]
    ) -> list[Closed]:
        """The best way to join the ends of strands that hang together, into simple loops.

        Small ones may be left out: a dart's ends can touch lines of other sizes.
        """
        tried: list[tuple[list[float], float, list[_Walk]]] = []
        for some in self._with_and_without(members):
            for pairs in _pairings([(k, e) for k in some for e in (0, 1)], ways):
                walks = list(_walks(some, pairs))
                areas = [abs(sum(self._terms(walk))) for walk in walks]
                tried.append((areas, sum(way.cost for _, _, way in pairs), walks))
        if not tried:
            return []
        largest = max(max(areas) for areas, _, _ in tried)

        def rank(item: tuple[list[float], float, list[_Walk]]) -> tuple[int, float]:
            return sum(area < _SLIVER * largest for area in item[0]), item[1]

        tried.sort(key=rank)
        for _, _, walks in tried[:_LOOKED_AT]:
            if any(map(self._doubles, walks)):
                continue
            loops = [self._loop(walk) for walk in walks]
            if all(is_simple(one.path, may_touch=True) for one in loops) and _apart(loops):
                return loops
        return []

    def _with_and_without(self, members: Sequence[int]) -> Iterator[Sequence[int]]:
        """All of some strands, and those that are left where small ones are taken out."""
        sizes = {k: box_area(self.lines[k].bounds) for k in members}
        small = [k for k in members if 4 * sizes[k] < max(sizes.values())]
        taken_out = [small] if len(small) > _MOST_SMALL else _subsets(small)
        for out in [[], *(some for some in taken_out if some)]:
            yield [k for k in members if k not in out]

    def _doubles(self, walk: _Walk) -> bool:
        """Whether a walk surely runs along a part of a line twice, so that it is no simple loop."""
        been: dict[int, list[tuple[float, float]]] = {}
        for strand, _, way in walk:
            been.setdefault(strand, []).append((0.0, self.lines[strand].length))
            for one in way.stretches:
                low, high = (one.s0, one.s1) if one.step > 0 else (one.s1, one.s0)
                parts = [(low, high)]
                if high < low - 1e-6:  # over the start of a closed line
                    parts = [(low, self.lines[one.line].length), (0.0, high)]
                been.setdefault(one.line, []).extend(parts)
        return any(
            after[0] < before[1] - _TWICE
            for parts in been.values()
            for before, after in pairwise(sorted(parts))
        )

    def _terms(self, walk: _Walk) -> Iterator[float]:
        """The terms of the area that a walk goes round, mm2."""
        for strand, backwards, way in walk:
            yield self._term(Stretch(strand, 0.0, self.lines[strand].length, 1)) * (
                -1 if backwards else 1
            )
            for stretch in way.stretches:
                yield self._term(stretch)

    def _term(self, stretch: Stretch) -> float:
        if stretch not in self._known:
            part = self.part(stretch)
            self._known[stretch] = 0.0 if part is None else float(bezier.areas(part.controls).sum())
        return self._known[stretch]

    def _loop(self, walk: _Walk) -> Closed:
        """A loop of strands, each with its direction and the way on from it."""
        parts: list[Path] = []
        along: list[tuple[int, Path]] = []
        own = 0.0
        for strand, backwards, way in walk:
            path = self.lines[strand]
            parts.append(path.reversed() if backwards else path)
            own += path.length
            for stretch in way.stretches:
                part = self.part(stretch)
                if part is not None:
                    parts.append(part)
                    along.append((stretch.line, part))
        joints = accumulate(len(part) for part in parts)
        path = _without_joints(met(_on_the_lines(parts, along), closed=True), joints)
        share = own / max(sum(p.length for p in parts), 1e-9)
        return Closed(path, tuple(k for k, _, _ in walk), tuple(along), share)


def box_area(bounds: tuple[float, float, float, float]) -> float:
    """Area of a box (x0, y0, x1, y1)."""
    return (bounds[2] - bounds[0]) * (bounds[3] - bounds[1])


def _subsets(members: Sequence[int]) -> list[tuple[int, ...]]:
    return [some for n in range(len(members) + 1) for some in combinations(members, n)]


def enclosed(path: Path) -> Polygon:
    """What a loop goes round, in chords; empty for one that only goes there and back."""
    points = flatten(path, 0.5)
    whole = Polygon(points) if len(points) > 2 else Polygon()
    return whole if whole.is_valid else whole.buffer(0)


def _apart(loops: Sequence[Closed]) -> bool:
    """Whether loops of one size are pieces beside one another."""
    shapes = [enclosed(one.path) for one in loops]
    return not any(
        a.intersection(b).area > 0.02 * min(a.area, b.area) for a, b in combinations(shapes, 2)
    )


def _on_the_lines(parts: list[Path], along: list[tuple[int, Path]]) -> list[Path]:
    """Parts with the ends of strands moved onto the stretches that they end on."""
    kept = {id(part) for _, part in along}
    moved = []
    for k, part in enumerate(parts):
        after = parts[(k + 1) % len(parts)]
        if id(part) not in kept and id(after) in kept:
            controls = part.controls.copy()
            step = after.start - part.end
            if not part.lines[-1]:
                controls[-1, 2] += step
            controls[-1, 3] = after.start
            part = part.with_controls(controls)
        moved.append(part)
    return moved


def _without_joints(path: Path, joints: Iterable[int]) -> Path:
    """Without those of the vertices `joints` at which one segment was only cut in two."""
    segments = list(zip(path.controls, map(bool, path.lines), strict=True))
    # From behind, so that the numbers of those before stay.
    for k in sorted({joint % len(path) for joint in joints}, reverse=True):
        (a, line_a), (b, line_b) = segments[k - 1], segments[k]
        whole = _one_segment(a, b, line_a) if line_a == line_b and len(segments) > 3 else None
        if whole is not None:
            segments[k - 1] = (whole, line_a)
            del segments[k]
    controls, lines = zip(*segments, strict=True)
    return Path(np.array(controls), np.array(lines), True)


def _one_segment(a: Floats, b: Floats, line: bool) -> Floats | None:
    """The one line or cubic that two are the parts of; None where they are not."""
    one, two = a[3] - a[2], b[1] - b[0]
    before, after = float(np.hypot(*one)), float(np.hypot(*two))
    if before * after == 0 or one @ two <= 0:
        return None
    if line:
        across = abs(one[0] * two[1] - one[1] * two[0]) / max(before, after)
        return bezier.line_controls(a[0], b[3]) if across <= _SAME else None
    t = before / (before + after)
    whole = np.array([a[0], a[0] + (a[1] - a[0]) / t, b[3] + (b[2] - b[3]) / (1 - t), b[3]])
    off = np.abs(np.concatenate(bezier.split(whole, t)) - np.concatenate([a, b])).max()
    return whole if off <= _SAME else None


def _cost(coming: Vec, going: Vec) -> float | None:
    """What a turn costs, mm; None where it doubles back."""
    along = coming[0] * going[0] + coming[1] * going[1]
    turn = math.degrees(math.acos(max(-1.0, min(1.0, along))))
    return None if turn > _SHARPEST else _HOP + _TURN * turn


def _together(own: Sequence[int], ways: dict[tuple[_End, _End], list[_Way]]) -> Iterator[list[int]]:
    """Strands that hang together by ways."""
    group = {k: k for k in own}

    def root(k: int) -> int:
        while group[k] != k:
            k = group[k]
        return k

    for (a, _), (b, _) in ways:
        group[root(a)] = root(b)
    together: dict[int, list[int]] = {}
    for k in own:
        together.setdefault(root(k), []).append(k)
    yield from (together[top] for top in own if top in together)


def _pairings(
    ends: list[_End], ways: dict[tuple[_End, _End], list[_Way]]
) -> Iterator[list[tuple[_End, _End, _Way]]]:
    """All ways to pair the ends, of many ends the cheapest pairs first."""
    if len(ends) > _MOST_ENDS:
        left, pairs = set(ends), []
        for a, b in sorted(ways, key=lambda pair: ways[pair][0].cost):
            if a in left and b in left:
                pairs.append((a, b, ways[a, b][0]))
                left -= {a, b}
        if not left:
            yield pairs
        return

    def rest(open_ends: list[_End]) -> Iterator[list[tuple[_End, _End, _Way]]]:
        if not open_ends:
            yield []
            return
        a = open_ends[0]
        for b in open_ends[1:]:
            for way in ways.get((a, b), ()):
                others = [e for e in open_ends[1:] if e != b]
                for pairs in rest(others):
                    yield [(a, b, way), *pairs]

    yield from islice(rest(sorted(ends)), _TRIED)


def _walks(members: Sequence[int], pairs: Sequence[tuple[_End, _End, _Way]]) -> Iterator[_Walk]:
    """Round trips: strands with their direction, and the way on from each."""
    on = {a: (b, way) for a, b, way in pairs} | {b: (a, way.reversed()) for a, b, way in pairs}
    left = set(members)
    for first in members:
        if first not in left:
            continue
        walk: _Walk = []
        strand, entered = first, 0
        while strand in left:
            left.remove(strand)
            (following, way) = on[strand, 1 - entered]
            walk.append((strand, entered == 1, way))
            strand, entered = following
        yield walk
