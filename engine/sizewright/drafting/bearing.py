"""What a new piece bears: names, runs, darts, notches, marks, carried from the old ones.

Names and stretches of outline come with the spans that they lie on; what lies inside a piece
comes with the zone that it lies in (see `lying`). Each kind of feature says in its `CARRY` (see
`model.carrying`) which of these it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import permutations
from typing import Any

import numpy as np

from ..findings import Finding, Level
from ..geometry.path import Path
from ..model.carrying import renumbered
from ..model.counting import counts_backward
from ..model.features import (
    MIRRORED,
    OTHER_END,
    Dart,
    Fold,
    Hold,
    Notch,
    Pleat,
    Quantity,
)
from ..model.mixture import turned_over
from ..model.outline import Outline, Point, Run
from ..model.piece import Piece
from ..model.walk import walk
from .lying import inside_zone, lying_free, moved_with, on_side, with_ending
from .ring import Drawn, Placed, Settled, Zone

_SAME = 1e-6


@dataclass(frozen=True, slots=True)
class Stretch:
    """What an old stretch became on one new piece: from vertex to vertex, counter-clockwise.

    `whole`: in each zone that it lies in it is there from end to end. `twin`: all of it came
    with a mirrored zone; `crosses`: it runs from one half on into its mirror image.
    `mirrored`: its old way round is now clockwise. `order` sorts the parts of one old stretch.
    """

    start: int
    end: int
    whole: bool
    twin: bool
    crosses: bool
    mirrored: bool
    order: int
    ending: str


def stretches(drawn: Drawn, piece: Piece, start: int, end: int, name: str = "") -> list[Stretch]:
    """What became of an old stretch of `piece`: parts that adjoin are one again."""
    n = len(drawn.path)
    found: list[tuple[int, int, int, bool, Zone | None]] = []
    for one in drawn.placed:
        if one.zone.piece is piece:
            found += [(a, b, k, whole, one.zone) for a, b, k, whole in one.stretches(start, end)]
    if not found:
        return []
    found += [(a, b, 0, True, None) for line, a, b in drawn.lines if name in line.goes_on]
    found.sort(key=lambda part: part[0])
    groups: list[list[tuple[int, int, int, bool, Zone | None]]] = []
    for part in found:
        if groups and groups[-1][-1][1] == part[0]:
            groups[-1].append(part)
        else:
            groups.append([part])
    if len(groups) > 1 and groups[-1][-1][1] - n == groups[0][0][0]:
        groups[0] = groups.pop() + groups[0]
    out = []
    for group in groups:
        old = [(k, whole, zone) for _, _, k, whole, zone in group if zone is not None]
        if not old:
            continue
        plain = [zone for _, _, zone in old if not zone.ending]
        zone = plain[0] if plain else old[0][2]
        out.append(
            Stretch(
                group[0][0] % n,
                group[-1][1] % n,
                all(whole for _, whole, _ in old),
                not plain,
                bool(plain) and len(plain) < len(old),
                zone.mirrored,
                min(k for k, _, z in old if z is zone),
                "" if plain else zone.ending,
            )
        )
    return out


class Names:
    """Names of one kind on a new piece; each is given once."""

    def __init__(self) -> None:
        self.given: set[str] = set()

    def give(self, name: str, ending: str = "", source: str = "") -> str:
        """`name` with its ending; one that is taken gets the name of its source piece before it
        (where there are several), or a number after it."""
        name = name + ending
        if name in self.given and source:
            name = f"{source}-{name}"
        plain, number = name, 2
        while name in self.given:
            name, number = f"{plain}-{number}", number + 1
        self.given.add(name)
        return name


def _source(drawn: Drawn, piece: Piece) -> str:
    """The name of a source piece, where a new piece is made of several; else empty."""
    return piece.name if len({id(z.piece) for z in drawn.ring.zones}) > 1 else ""


def points(drawn: Drawn) -> tuple[Point, ...]:
    """Names and rules of the outline's vertices. On a joint the first span's name stays."""
    names = Names()
    found: dict[int, Point] = {}
    named: set[tuple[int, str]] = set()
    stays = drawn.ring.staying
    for one in sorted(_plain_first(drawn.placed), key=lambda one: one.zone is not stays):
        for point in one.zone.piece.outline.points:
            vertex = one.vertex(point.vertex)
            if vertex is None or vertex in found:
                continue
            # Where a cut through a point opens, the name stays with what stays.
            key = (id(point), one.zone.ending)
            words = None
            if point.name and key not in named:
                named.add(key)
                source = _source(drawn, one.zone.piece)
                words = names.give(point.name, one.zone.ending, source)
            rule = turned_over(point.rule) if one.zone.mirrored else point.rule
            found[vertex] = Point(vertex, words, rule)
    for line, first, _ in drawn.lines:
        for k in sorted({*line.points, *line.rules}):
            vertex = (first + k) % len(drawn.path)
            old = found.get(vertex, Point(vertex))
            words = old.name
            if words is None and k in line.points:
                words = names.give(line.points[k])
            found[vertex] = replace(old, name=words, rule=old.rule or line.rules.get(k))
    # Other ends of a new line are called by it and by the run that each lies on.
    for line, first, last in drawn.lines:
        for vertex in (first, last):
            vertex %= len(drawn.path)
            if line.name and (vertex not in found or found[vertex].name is None):
                run = _run_at(drawn, vertex)
                old = found.get(vertex, Point(vertex))
                found[vertex] = replace(old, name=names.give(f"{line.name}-{run or 'end'}"))
    return tuple(found[v] for v in sorted(found))


def _run_at(drawn: Drawn, vertex: int) -> str | None:
    """The shortest named run of an old outline that a joint lies on, at an end last of all."""
    best: tuple[bool, float, str] | None = None
    for one in drawn.placed:
        outline = one.zone.piece.outline
        n = one.old
        for k in (0, one.count):
            if one.vertex((one.start + k) % n) != vertex:
                continue
            fold = one.zone.piece.fold
            folds = () if fold is None else (Run(fold.start, fold.end, "fold"),)
            for run in (*outline.runs, *folds):
                along, long = (one.start + k - run.start) % n, outline.count(run)
                if run.name and along <= long:
                    key = (along in (0, long), outline.run_length(run), run.name)
                    best = key if best is None else min(best, key)
    return best[2] if best else None


def _plain_first(placed: Iterable[Placed]) -> list[Placed]:
    return sorted(placed, key=lambda one: bool(one.zone.ending))


@dataclass(frozen=True, slots=True)
class Part:
    """A run of a new piece that an old run became; `backward` where it now counts the other way.

    `twin` and `crosses` as in `Stretch`.
    """

    piece: str
    run: str
    twin: bool
    crosses: bool
    backward: bool


def named_runs(
    all_drawn: Mapping[str, Drawn],
) -> tuple[dict[str, tuple[Run, ...]], dict[tuple[str, str], list[tuple[str, str, Stretch]]]]:
    """The runs of each new piece, and for each old run (piece, name) its parts in its order.

    A run that was cut keeps its name where it is one stretch still; else its parts are
    numbered in the order in which the run counts, over all the new pieces.
    """
    names = {name: Names() for name in all_drawn}
    runs: dict[str, list[Run]] = {name: [] for name in all_drawn}
    became: dict[tuple[str, str], list[tuple[str, str, Stretch]]] = {}
    sources = {
        id(one.zone.piece): one.zone.piece for drawn in all_drawn.values() for one in drawn.placed
    }
    for drawn_name, drawn in all_drawn.items():
        for line, first, last in drawn.lines:
            if line.name:
                n = len(drawn.path)
                given = names[drawn_name].give(line.name)
                runs[drawn_name].append(Run(first % n, last % n, given))
                part = Stretch(first % n, last % n, True, False, False, False, 0, "")
                for old in line.stands_for:
                    key = drawn.ring.staying.piece.name, old
                    became.setdefault(key, []).append((drawn_name, given, part))
    for source in sources.values():
        for run in source.outline.runs:
            if not run.name or (source.name, run.name) in became:
                continue
            parts = [
                (name, part)
                for name, drawn in all_drawn.items()
                for part in stretches(drawn, source, run.start, run.end, run.name)
            ]
            back = counts_backward(source, run)
            parts.sort(key=lambda p: -p[1].order if back else p[1].order)
            for twins in (False, True):
                mine = [p for p in parts if p[1].twin == twins]
                for k, (name, part) in enumerate(mine, 1):
                    words = run.name if len(mine) == 1 else f"{run.name}-{k}"
                    given = names[name].give(words, part.ending, _source(all_drawn[name], source))
                    runs[name].append(Run(part.start, part.end, given))
                    became.setdefault((source.name, run.name), []).append((name, given, part))
    return {name: tuple(found) for name, found in runs.items()}, became


# --- features -----------------------------------------------------------------------------


def features(
    name: str, drawn: Drawn, outline: Outline, settled: Settled
) -> tuple[dict[str, Any], set[int]]:
    """The features of the new piece `name` by field, and the ids of the old ones that came
    along. Which part what lies at one place goes with is settled on the base."""
    pieces = list({id(z.piece): z.piece for z in drawn.ring.zones}.values())
    carried: dict[str, list[tuple[Any, Any]]] = {
        "notches": list(_notches(drawn, outline, pieces)),
        "darts": list(_darts(drawn, pieces)),
        "pleats": list(_pleats(drawn, pieces)),
    }
    for kind in ("drills", "marks", "cutouts", "labels", "adjusts"):
        carried[kind] = list(lying_free(name, drawn, kind, settled))
    new: dict[str, Any] = {kind: tuple(b for _, b in both) for kind, both in carried.items()}
    new["fold"] = _fold(drawn, pieces)
    new["holds"] = tuple(h for piece in pieces for h in _holds(drawn, piece))
    new["marks"] = (*new["marks"], *drawn.ring.marks)
    new["drills"] = (*(d for d in new["drills"] if d not in drawn.ring.taken), *drawn.ring.drills)
    for line, first, _ in drawn.lines:
        if line.mouth is not None:
            mouth = renumbered(line.mouth, partial(_from, first, len(drawn.path)))
            kind = "darts" if isinstance(mouth, Dart) else "pleats"
            new[kind] = (*new[kind], mouth)
    return new, {id(a) for both in carried.values() for a, _ in both}


def _from(first: int, n: int, vertex: int) -> int:
    """The number of a vertex that counts from another one."""
    return (first + vertex) % n


#: What is said of a feature that lies on none of the new pieces.
_GONE = {
    "notches": "its edge is gone",
    "darts": "it was cut, or its edge is gone",
    "pleats": "it was cut, or its edge is gone",
}


def left_behind(
    all_drawn: Mapping[str, Drawn], outlines: Mapping[str, Outline], kept: set[int]
) -> Iterator[Finding]:
    """A finding for every feature, and every named point, that no new piece bears.

    `outlines`: those drawn, by the names of their pieces.
    """
    placed = [one for drawn in all_drawn.values() for one in drawn.placed]
    kept = kept | {id(one) for drawn in all_drawn.values() for one in drawn.ring.taken}
    named = {
        name
        for drawn in all_drawn.values()
        for line, *_ in drawn.lines
        for name in line.points.values()
    }
    for source in {id(one.zone.piece): one.zone.piece for one in placed}.values():
        for kind, words in _ONE.items():
            for one in getattr(source, kind):
                if id(one) in kept:
                    continue
                name = getattr(one, "name", None) or getattr(one, "text", None)
                what = f"{words} {name}" if name else f"a {words}"
                why = _GONE.get(kind, "no part that stays holds it")
                level: Level = "warn" if kind in ("darts", "pleats") else "note"
                text = f"{what} is left behind: {why}"
                yield source.finding("left-behind", level, text)
        for point in _lost_points(source, [one for one in placed if one.zone.piece is source]):
            if point.name in named:
                continue
            text = f"the point {point.name or point.rule} is gone: no edge passes it now"
            yield source.finding("point-gone", "note", text)
        for name, other in _met(source, all_drawn, outlines):
            text = f"the point {name} is one with {other} now, where both came together"
            yield source.finding("point-met", "note", text)


_ONE = {
    "notches": "notch",
    "darts": "dart",
    "pleats": "pleat",
    "drills": "drill hole",
    "marks": "mark",
    "cutouts": "cut-out",
    "adjusts": "adjust line",
    "labels": "label",
}


def _lost_points(source: Piece, placed: Sequence[Placed]) -> Iterator[Point]:
    """Named or ruled points that lie on no new outline, but for those whose twin does."""
    known = [p for p in source.outline.points if p.name or p.rule]
    gone = [p for p in known if all(one.vertex(p.vertex) is None for one in placed)]
    there = {p.name or p.rule for p in known if p not in gone}
    for point in gone:
        if (point.name or point.rule or "").removesuffix(MIRRORED) not in there:
            yield point


def _met(
    source: Piece, all_drawn: Mapping[str, Drawn], outlines: Mapping[str, Outline]
) -> Iterator[tuple[str, str]]:
    """Named points that are there by another's name only, and that name."""
    for point in source.outline.points:
        if point.name is None:
            continue
        here = [
            str(outlines[name].point(vertex).name)
            for name, drawn in all_drawn.items()
            for one in drawn.placed
            if one.zone.piece is source and (vertex := one.vertex(point.vertex)) is not None
        ]
        if here and not any(point.name in words for words in here):
            yield point.name, here[0]


def _fold(drawn: Drawn, pieces: Sequence[Piece]) -> Fold | None:
    n = len(drawn.path)
    for line, first, last in drawn.lines:
        if line.fold:
            return Fold(first % n, last % n)
    parts = [
        (part.start, part.end)
        for piece in pieces
        if piece.fold is not None
        for part in stretches(drawn, piece, piece.fold.start, piece.fold.end, "fold")
    ]
    # Folds of two pieces that were joined are one where they adjoin.
    for a, b in permutations(parts, 2):
        if a[1] == b[0]:
            parts.append((a[0], b[1]))
    longest = max(parts, key=lambda part: (part[1] - part[0]) % n, default=None)
    return None if longest is None else Fold(*longest)


def _notches(
    drawn: Drawn, outline: Outline, pieces: Sequence[Piece]
) -> Iterator[tuple[Notch, Notch]]:
    placed = _plain_first(drawn.placed)
    for piece in pieces:
        for notch in piece.notches:
            s = piece.outline.arc_length_of(notch.at)
            taken: list[float] = []
            opened = _opened_at(drawn, piece, s)
            for one in placed:
                if one.zone.piece is not piece:
                    continue
                at = one.arc_length(s, outline.path)
                at = opened if at is not None and opened is not None else at
                if at is None or any(_apart(at, t, outline.path) < _SAME for t in taken):
                    continue
                taken.append(at)
                if on_side(notch, one.zone):
                    keep = OTHER_END[notch.keep] if one.zone.mirrored else notch.keep
                    new = replace(notch, at=outline.spot(at), keep=keep)
                    yield notch, with_ending(new, one.zone)
            if not taken and piece is drawn.ring.staying.piece:
                for at in on_new_line(drawn, s):
                    yield notch, replace(notch, at=outline.spot(at))


def on_new_line(drawn: Drawn, s: float) -> Iterator[float]:
    """Where arc length `s` of the piece that stays lies on a new line that stands for its run:
    at the same share of the sewn run. Arc lengths of the new outline."""
    piece = drawn.ring.staying.piece
    for line, first, last in drawn.lines:
        for name in line.stands_for:
            way = walk(piece, piece.run(name))
            along = way.distance(s)
            if along is not None:
                share = along / way.length
                begin = float(drawn.path.cumulative[first])
                long = float(drawn.path.cumulative[last]) - begin
                yield (begin + (1 - share if way.backward else share) * long) % drawn.path.length


def _opened_at(drawn: Drawn, piece: Piece, s: float) -> float | None:
    """The middle of what opened at an old place, as arc length of the new outline; None where
    nothing opened there. At the mouth of a pleat or dart its first end."""
    c, old = drawn.path.cumulative, piece.outline.path
    for line, first, last in drawn.lines:
        if not line.goes_on or drawn.ring.stays is None:
            continue
        before = next(
            (one for one in drawn.placed if (one.at + one.count) % one.around == first), None
        )
        after = next((one for one in drawn.placed if one.at == last % one.around), None)
        if before is None or after is None or before.zone.piece is not piece:
            continue
        ends = (before.start + before.count) % before.old, after.start % after.old
        if ends[0] == ends[1] and abs(float(old.cumulative[ends[0]]) - s) < _SAME:
            share = 0.0 if line.mouth is not None else 0.5
            return float(c[first] + share * (c[last] - c[first]))
    return None


def _apart(a: float, b: float, path: Path) -> float:
    off = abs(a - b) % path.length
    return min(off, path.length - off)


def _darts(drawn: Drawn, pieces: Sequence[Piece]) -> Iterator[tuple[Dart, Dart]]:
    for piece in pieces:
        for dart in piece.darts:
            for start, end, ending in _whole(drawn, piece, dart):
                mine = [one for one in drawn.placed if one.zone.ending == ending]
                mine = [one for one in mine if one.zone.piece is piece]
                new = replace(dart, name=dart.name + ending, a=start, b=end)
                if dart.tip is not None:
                    tip = next(v for one in mine if (v := one.vertex(dart.tip)) is not None)
                    x, y = map(float, drawn.path.vertices[tip])
                    yield dart, replace(new, tip=tip, apex=(x, y))
                    continue
                zones = [one.zone for one in mine if one.vertex(dart.a) is not None]
                zones += [one.zone for one in mine]
                holds = (z for z in zones if z.region and inside_zone(z, np.array(dart.apex)))
                yield dart, moved_with(new, next(holds, zones[0]))


def _whole(drawn: Drawn, piece: Piece, dart: Dart) -> Iterator[tuple[int, int, str]]:
    """Where a dart's mouth is there still, its legs perhaps longer or shorter: its new ends, and
    the ending of its zone."""
    n, old = len(drawn.path), len(piece.outline.path)
    bridges = {a % n: b % n for _, a, b in drawn.lines}
    mine = [one for one in drawn.placed if one.zone.piece is piece]
    long = (dart.b - dart.a) % old
    for ending in dict.fromkeys(one.zone.ending for one in mine):
        parts = {
            a % n: (b - a, k, one.zone.mirrored)
            for one in mine
            if one.zone.ending == ending
            for a, b, k, _ in one.stretches(dart.a, dart.b)
        }
        tips = [one.vertex(dart.tip) for one in mine if dart.tip is not None]
        if dart.tip is None and sum(count for count, _, _ in parts.values()) != long:
            continue
        if dart.tip is not None and all(tip is None for tip in tips):
            continue
        # The part that comes first on the new outline.
        begins = [a for a, (c, k, back) in parts.items() if (k + c == long if back else k == 0)]
        ends = [a for a, (c, k, back) in parts.items() if (k == 0 if back else k + c == long)]
        if not begins or not ends:
            continue
        at = begins[0]
        while at in parts or (at in bridges and parts):
            at = (at + parts.pop(at)[0]) % n if at in parts else bridges[at]
            if not parts:
                yield begins[0], at, ending


def _pleats(drawn: Drawn, pieces: Sequence[Piece]) -> Iterator[tuple[Pleat, Pleat]]:
    for piece in pieces:
        for pleat in piece.pleats:
            for part in stretches(drawn, piece, pleat.a, pleat.b):
                if part.whole:
                    name = pleat.name + part.ending
                    yield pleat, replace(pleat, a=part.start, b=part.end, name=name)


def _holds(drawn: Drawn, piece: Piece) -> Iterator[Hold]:
    """Held vertices, those of a half and its mirror image together where they share one."""
    for hold in piece.holds:
        groups: list[tuple[set[int], list[int], Zone]] = []
        for zone in (z for z in drawn.ring.zones if z.piece is piece):
            spans = [one for one in drawn.placed if one.zone is zone]
            kept = [v for h in hold.vertices for one in spans if (v := one.vertex(h)) is not None]
            kept = list(dict.fromkeys(kept[::-1] if zone.mirrored else kept))
            if not kept:
                continue
            if groups and groups[-1][0] & set(kept):
                groups[-1][0].update(kept)
                groups[-1][1][:] = sorted(groups[-1][0])
            else:
                groups.append((set(kept), kept, zone))
        for _, kept, zone in groups:
            yield Hold(tuple(kept), hold.name and hold.name + zone.ending)


# --- the piece ----------------------------------------------------------------------------


def quantity(drawn: Drawn, fold: Fold | None) -> tuple[tuple[Quantity, ...], bool]:
    """How many to cut, and whether in pairs: a part of a half that left the fold is a pair."""
    piece = drawn.ring.staying.piece
    opened = any(z.ending for z in drawn.ring.zones)
    if piece.fold is None or fold is not None or opened:
        return piece.quantity, piece.pair
    return tuple(replace(q, count=2 * q.count) for q in piece.quantity), True
