"""Dashes that were drawn as single strokes, put together to the lines that they stand for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import TYPE_CHECKING

import numpy as np

from ...budget import spend
from ...findings import Finding
from ...geometry.flatten import flatten
from ...geometry.near import pairs_within
from ...geometry.path import Path
from ...geometry.types import Bools, Floats
from .bars import middles_of
from .lines import layer_of
from .shapes import Drawing, Shape, Style

if TYPE_CHECKING:
    import shapely

#: A dash is no longer than this, mm; so many of one kind are the least.
_LONGEST, _FEWEST = 20.0, 8
#: A dash has so many segments at most, and is so many times as long as from end to end.
_PARTS, _BOWED = 60, 1.5
#: This share of them follow one another at about one gap, and go about straight on.
_MOST = 0.7
#: Gaps are alike within this share; one is no longer than so many dashes, or dots as long, mm.
_ALIKE, _WIDEST, _DOT = 0.5, 3.0, 1.2
#: Dashes go on within this turn, degrees, where others could follow too.
_TURN, _DOUBT = 40.0, 25.0
#: A line that turns more, degrees, doubles back.
_BACK = 155.0
#: So many ends near one are looked at for that which goes on.
_NEAREST = 7
#: Dashes of one pattern are alike in length within this, as a share, and so are gaps; what fewer
#: than this share of them are is no part of it, and all but that share must be.
_SAME, _RARE, _REGULAR = 0.25, 0.1, 0.8
#: No gap of a pattern is longer, mm; strokes whose ends are this near are parts of one dash.
_FAR, _MET = 8.0, 0.01
#: Over a gap with a corner a line turns more, degrees; the way round it is so nearly a gap long.
_BENT, _ROUND = 20.0, 1.008
#: A straight line keeps within this of its dashes, mm.
_STRAIGHT = 0.01
#: Chords of a dash keep so near to it, mm, and turn no more than this, degrees, where it bends.
_FINE, _CHORD = 0.001, 12.0
#: A line that bends to a corner in a gap is off by less than this share of what it bends there;
#: more than so many mm of it is told.
_SHARE, _TOLD = 0.4, 0.05
#: Strokes that touch other lines, within this, mm, more often than this share, are marks on them;
#: one that runs on another for so long does not touch it, but lies along it.
_TOUCH, _MARKS, _ALONG = 0.1, 0.5, 0.6


@dataclass(eq=False, slots=True)
class _Dash:
    """One dash: the lines that draw it, the points (n, 2) that it runs through in chords, mm, and
    how the line that it is of is drawn."""

    parts: list[tuple[Shape, Path]]
    points: Floats
    style: Style

    @property
    def length(self) -> float:
        """From end to end, mm."""
        return float(np.hypot(*(self.points[-1] - self.points[0])))


@dataclass(slots=True)
class _Run:
    """Dashes that follow one another, each as it runs along the line; the first one speaks."""

    dashes: list[_Dash]
    points: list[Floats]
    closed: bool = False


@dataclass(slots=True)
class _Line:
    """A line that a run of dashes stands for, and how long its gaps are at most, mm.

    `doubt` is how far it may be off in a gap, mm, and where most.
    """

    run: _Run
    path: Path
    style: Style
    gap: float
    doubt: tuple[float, Floats]


def chain_dashes(drawing: Drawing) -> None:
    """Put dashes that are drawn one by one together, and tell how many, and where it is open.

    Dashes follow one another as they were drawn; what is left over is joined by where it lies,
    where only one way to go on is near. Strokes that touch other lines, as notches do, stay what
    they are.
    """
    lines: list[_Line] = []
    undecided = 0
    for dashes in _by_kind(drawing.shapes):
        for pattern, runs in _runs(dashes):
            runs, ends = _by_place(runs, max(pattern[1::2]))
            undecided += ends
            lines += [_line(run, pattern) for run in runs if len(run.dashes) > 1]
    others = _Others(drawing.shapes) if lines else None
    lines = [line for line in lines if others is not None and not others.marked_by(line)]
    if lines and others is not None:
        drawing.shapes = _replaced(drawing.shapes, _led_on(lines, others))
        drawing.findings.append(_told(lines))
    if undecided:
        drawing.findings.append(_asked(undecided))


def _told(lines: Sequence[_Line]) -> Finding:
    count, dashes = len(lines), sum(len(line.run.dashes) for line in lines)
    text = f"{dashes} dashes that were drawn one by one were put together to {count} lines"
    if count == 1:
        text = f"{dashes} dashes that were drawn one by one were put together to one line"
    doubt, (x, y) = max((line.doubt for line in lines), key=lambda one: one[0])
    if doubt > _TOLD:
        text += f"; a line that bends into a corner within a gap may be off there by {doubt:.1f} mm"
        text += f", most at ({x:.0f}, {y:.0f}) mm"
    return Finding("dashes-joined", "note", text, cure="Look at them in the picture of show.")


def _asked(count: int) -> Finding:
    text = f"{count} ends of dashes that were drawn one by one may go on in several lines, and "
    text += "were left as they are"
    cure = "Give each size a colour or a layer of its own, or draw its line in one."
    return Finding("dashes-open", "warn", text, cure=cure)


def _replaced(shapes: Sequence[Shape], lines: Iterable[_Line]) -> list[Shape]:
    """Shapes with lines in the place of their dashes."""
    gone: set[int] = set()
    made: dict[int, list[Shape]] = {}
    for line in lines:
        parts = [part for dash in line.run.dashes for part in dash.parts]
        gone |= {id(path) for _, path in parts}
        first = min((shape for shape, _ in parts), key=lambda shape: shape.position)
        one = replace(first, paths=[line.path], texts=[], style=line.style)
        made.setdefault(id(first), []).append(one)
    found: list[Shape] = []
    for shape in shapes:
        left = [path for path in shape.paths if id(path) not in gone]
        if len(left) == len(shape.paths):
            found.append(shape)
        elif left:
            found.append(replace(shape, paths=left))
        found += made.get(id(shape), ())
    return found


class _Others:
    """All lines of a drawing in chords, to see what lines of dashes meet."""

    def __init__(self, shapes: Iterable[Shape]) -> None:
        import shapely

        seen = [path for s in shapes if not s.hidden for path in s.paths]
        self.paths = [id(path) for path in seen]
        self.chords = np.array([_chords(path) for path in seen])
        self.tree = shapely.STRtree(self.chords)

    def marked_by(self, line: _Line) -> bool:
        """Whether most strokes of a line touch other lines, and lie along none."""
        import shapely

        run = line.run
        own = {id(path) for dash in run.dashes for _, path in dash.parts}
        strokes = np.array([shapely.LineString(points) for points in run.points])
        which, other = self.tree.query(strokes, "dwithin", _TOUCH)
        apart = np.array([self.paths[n] not in own for n in other.tolist()], dtype=bool)
        which, met = which[apart], self.chords[other[apart]]
        ends = shapely.points(np.array([points[[0, -1]] for points in run.points]))[which]
        on_it = (shapely.distance(met[:, None], ends) <= _TOUCH).all(axis=1)
        beside = shapely.length(shapely.intersection(shapely.buffer(strokes[which], _TOUCH), met))
        touching = which[~on_it & (beside <= _ALONG)]
        return len(np.unique(touching)) > _MARKS * len(strokes)

    def ahead(self, way: shapely.LineString, own: Sequence[shapely.LineString]) -> Floats:
        """Where a way ahead meets other lines, or the lines `own`, (n, 2) mm."""
        import shapely

        near = self.chords[self.tree.query(way, "intersects")]
        found: Floats = shapely.get_coordinates(shapely.intersection(way, [*near, *own]))
        return found


def _chords(path: Path) -> shapely.LineString:
    import shapely

    points = flatten(path, _STRAIGHT)
    return shapely.LineString(np.vstack([points, points[:1]]) if path.closed else points)


def _led_on(lines: Sequence[_Line], others: _Others) -> list[_Line]:
    """Lines, each led over the last gap at either end to what it ends on there."""
    import shapely

    chords = [_chords(line.path) for line in lines]
    tree = shapely.STRtree(chords)
    for k, line in enumerate(lines):
        if line.path.closed:
            continue
        points = line.path.vertices
        for turn in (-1, 1):
            points = points[::turn]
            way = points[0] - points[1]
            step = 1.05 * line.gap * way / np.hypot(*way)
            ahead = shapely.LineString([points[0] + 1e-6 * step, points[0] + step])
            made = [chords[n] for n in tree.query(ahead, "intersects").tolist() if n != k]
            hits = others.ahead(ahead, made)
            if len(hits):
                off = np.hypot(*(hits - points[0]).T)
                points = np.vstack([hits[off.argmin()], points])
        line.path = Path.polyline(points[::turn])
    return list(lines)


# --- which strokes may be dashes ---------------------------------------------------------------


def _by_kind(shapes: Iterable[Shape]) -> list[list[_Dash]]:
    """Strokes that may be dashes, those that are drawn alike together, in their order."""
    kinds: dict[object, list[tuple[Shape, Path]]] = {}
    found: list[list[_Dash]] = []
    filled: dict[object, list[_Dash]] = {}
    for shape in shapes:
        if shape.hidden or shape.unpainted or shape.marking is not None or not shape.paths:
            continue
        style = shape.style
        if style.colour in ("", "none") and style.fill not in ("", "none"):
            bars = _bars(shape)
            if bars:
                about = layer_of(shape.group), style.fill, round(bars[0].style.width or 0.0, 1)
                filled.setdefault(about, []).extend(bars)
        elif not style.dashes and not any(path.closed for path in shape.paths):
            width = None if style.width is None else round(style.width, 1)
            key = layer_of(shape.group), style.colour, width
            kinds.setdefault(key, []).extend((shape, path) for path in shape.paths)
    for strokes in kinds.values():
        if len(strokes) >= _FEWEST:
            found.append([dash for dash in _dashes(strokes) if _is_dash(dash)])
    return found + list(filled.values())


def _dashes(strokes: Sequence[tuple[Shape, Path]]) -> Iterator[_Dash]:
    """Strokes, those that go straight on in one another as one."""
    ends = np.array([[path.start, path.end] for _, path in strokes])
    met = np.hypot(*(ends[1:, 0] - ends[:-1, 1]).T) <= _MET
    for k in np.flatnonzero(met).tolist():
        coming, going = strokes[k][1].controls[-1], strokes[k + 1][1].controls[0]
        met[k] = _turn(coming[3] - coming[0], going[3] - going[0]) <= _BENT
    for row in np.split(np.arange(len(strokes)), np.flatnonzero(~met) + 1):
        parts = [strokes[k] for k in row.tolist()]
        # What is far too long needs no chords.
        if float(np.ptp(ends[row].reshape(-1, 2), axis=0).max()) <= _LONGEST:
            points = np.vstack([flatten(path, _FINE) for _, path in parts])
            yield _Dash(parts, _apart(points), parts[0][0].style)


def _bars(shape: Shape) -> list[_Dash]:
    """The dashes that a shape of filled bars stands for."""
    width, bars = middles_of(shape.paths)
    style = Style(shape.style.fill, round(width, 2))
    dashes: list[_Dash] = []
    rest: list[tuple[Shape, Path]] = []
    for path, middle in bars:
        if middle is None:
            rest.append((shape, path))
        else:
            dashes.append(_Dash([(shape, path)], middle.vertices, style))
    if dashes:
        dashes[0].parts += rest
    return dashes


def _is_dash(dash: _Dash) -> bool:
    segments = sum(len(path) for _, path in dash.parts)
    if segments > _PARTS or not _MET < dash.length <= _LONGEST:
        return False
    # A dash follows a curve or goes round a corner, and nothing else.
    way = np.hypot(*np.diff(dash.points, axis=0).T).sum()
    return segments <= 3 or bool(way <= _BOWED * dash.length)


def _apart(points: Floats) -> Floats:
    """Points without those that lie on the one before."""
    away = np.hypot(*np.diff(points, axis=0).T) > 1e-6
    found: Floats = points[np.concatenate([[True], away])]
    return found


def _turn(one: Floats, other: Floats) -> float:
    """By how much one way turns into another, degrees."""
    cross, dot = one[0] * other[1] - one[1] * other[0], one @ other
    return float(np.degrees(np.arctan2(abs(cross), dot)))


# --- the patterns that they are drawn in -------------------------------------------------------


def _runs(dashes: Sequence[_Dash]) -> list[tuple[tuple[float, ...], list[_Run]]]:
    """Patterns of dashes that are drawn alike, and runs of each: first those of each shape that
    draws many of them."""
    groups: dict[int, list[_Dash]] = {}
    for dash in dashes:
        groups.setdefault(id(dash.parts[0][0]), []).append(dash)
    rest = [dash for some in groups.values() if len(some) < _FEWEST for dash in some]
    known: list[tuple[float, ...]] = []
    found: dict[int, list[_Run]] = {}
    for some in [*(some for some in groups.values() if len(some) >= _FEWEST), rest]:
        if len(dashes) < _FEWEST or not some:
            continue
        spend(200 * len(some), "its dashes")
        for number, runs in _patterns(some, known):
            found.setdefault(number, []).extend(_by_place(runs, max(known[number][1::2]))[0])
    return [(known[number], runs) for number, runs in found.items()]


def _patterns(
    dashes: Sequence[_Dash], known: list[tuple[float, ...]]
) -> Iterator[tuple[int, list[_Run]]]:
    """Dashes by the number of the pattern that they are drawn in, and runs of each.

    Patterns are lengths of dashes and gaps, mm; new ones are added to those that are `known`. They
    are told by dashes that follow one another as they were drawn, or as they lie where they were
    drawn in no order; where that shows a single pattern or none, all of them are one.
    """
    size, gaps, follow = _following(dashes)
    if len(dashes) > 1 and follow.mean() < _MOST / 2:
        dashes = _as_they_lie(dashes)
        size, gaps, follow = _following(dashes)
    rows = np.split(np.arange(len(dashes)), np.flatnonzero(~follow) + 1)
    of_row: list[int | None] = []
    for row in rows:
        pattern = _pattern(size[row], gaps[row[:-1]]) if len(row) >= _FEWEST else None
        of_row.append(None if pattern is None else _numbered(pattern, known))
    told = {number for number in of_row if number is not None}
    gap = None if len(told or known) > 1 else _common_gap(dashes, float(np.median(size)))
    if gap is not None:
        one = told.pop() if told else None
        if one is None:
            pattern = _pattern(size, gaps[follow]) or (float(np.median(size)), gap)
            one = _numbered(pattern, known)
        yield one, _in_order(dashes, gap)
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
        if number is None and len(fitting) == 1:
            runs[k] = (fitting[0], some)
    for number in range(len(known)):
        own = [some for n, some in runs if n == number]
        if own:
            yield number, [_run([dashes[k] for k in some]) for some in own]


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
    few = len(inner) < len(pattern) // 2
    return (
        near(inner, pattern[::2])
        and near(gaps, pattern[1::2])
        and (few or near(np.array(pattern[::2]), tuple(inner)))
    )


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


def _ends(dashes: Sequence[_Dash]) -> tuple[Floats, Floats, Floats]:
    """Both ends of dashes (n, 2, 2), and the ways in which they begin and end, (n, 2) each."""
    ends = np.array([d.points[[0, -1]] for d in dashes])
    onto = np.array([d.points[1] - d.points[0] for d in dashes])
    out = np.array([d.points[-1] - d.points[-2] for d in dashes])
    return ends, onto / np.hypot(*onto.T)[:, None], out / np.hypot(*out.T)[:, None]


def _following(dashes: Sequence[_Dash]) -> tuple[Floats, Floats, Bools]:
    """How long dashes are, the gaps between each and the next, mm, and whether it goes on there."""
    ends, onto, out = _ends(dashes)
    # Along the dash: one that goes round a corner is as long as the others.
    size = np.array([_lengths(dash.points).sum() for dash in dashes])
    step = ends[1:, 0] - ends[:-1, 1]
    gaps = np.hypot(*step.T)
    step = step / np.maximum(gaps, 1e-9)[:, None]
    straight = np.minimum((out[:-1] * step).sum(axis=1), (onto[1:] * step).sum(axis=1))
    most = np.minimum(_WIDEST * np.maximum(np.maximum(size[:-1], size[1:]), _DOT), _FAR)
    follow = (gaps > 0.05) & (gaps <= most) & (straight >= np.cos(np.radians(_TURN)))
    return size, gaps, follow


def _as_they_lie(dashes: Sequence[_Dash]) -> list[_Dash]:
    """Dashes one after another where each has just one that it goes on in: the nearest ahead."""
    from scipy.spatial import cKDTree

    ends, onto, out = _ends(dashes)
    at, way = ends.reshape(-1, 2), np.stack([-onto, out], axis=1).reshape(-1, 2)
    found = cKDTree(at).query(at, k=min(_NEAREST, len(at)), distance_upper_bound=_FAR)
    away, near = (np.asarray(one) for one in found)
    best: dict[int, int] = {}
    for i in range(len(at)):
        ahead = [
            (float(off), turn, int(j))
            for off, j in zip(away[i], near[i], strict=True)
            if j < len(at) and j // 2 != i // 2
            if (turn := _bend(at[i], at[j], way[i], way[j])) <= 2 * _TURN
        ]
        if ahead:
            least, turn, j = ahead[0]
            others = (t for off, t, _ in ahead[1:] if off <= (1 + _ALIKE) * least)
            if all(t >= turn + _DOUBT for t in others):
                best[i] = j
    mate = {i: j for i, j in best.items() if best.get(j) == i}
    runs = _followed([_run([dash]) for dash in dashes], mate)
    return [
        replace(dash, points=points)
        for run in runs
        for dash, points in zip(run.dashes, run.points, strict=True)
    ]


def _common_gap(dashes: Sequence[_Dash], size: float) -> float | None:
    """The gap that most dashes have to the next, where lines go straight on over it, mm."""
    ends, onto, out = _ends(dashes)
    steps = ends[1:, 0] - ends[:-1, 1]
    gaps = np.hypot(*steps.T)
    gap = float(np.median(gaps)) if len(gaps) else 0.0
    if not 0.05 < gap <= _WIDEST * max(size, _DOT):
        return None
    step = steps / np.maximum(gaps, 1e-9)[:, None]
    straight = np.minimum((out[:-1] * step).sum(axis=1), (onto[1:] * step).sum(axis=1))
    follow = (np.abs(gaps / gap - 1) <= _ALIKE) & (straight >= np.cos(np.radians(_TURN)))
    return gap if float(follow.mean()) >= _MOST else None


def _in_order(dashes: Sequence[_Dash], gap: float) -> list[_Run]:
    """Runs of dashes that follow one another as they were drawn."""
    rows: list[list[_Dash]] = []
    for dash in dashes:
        off = dash.points[0] - rows[-1][-1].points[-1] if rows else None
        if off is not None and abs(float(np.hypot(*off)) / gap - 1) <= _ALIKE:
            rows[-1].append(dash)
        else:
            rows.append([dash])
    return [_run(row) for row in rows]


def _run(dashes: list[_Dash]) -> _Run:
    return _Run(dashes, [dash.points for dash in dashes])


def _by_place(runs: list[_Run], gap: float) -> tuple[list[_Run], int]:
    """Runs joined where their ends lie so that only one goes on in the other."""
    ends = [(k, last) for k in range(len(runs)) for last in (False, True)]
    at = np.array([runs[k].points[-1][-1] if last else runs[k].points[0][0] for k, last in ends])
    before = np.array(
        [runs[k].points[-1][-2] if last else runs[k].points[0][1] for k, last in ends]
    )
    way = at - before
    way = way / np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    pairs = pairs_within(at, (1 + _ALIKE) * gap)
    assert pairs is not None
    near: dict[int, list[tuple[float, int]]] = {}
    for i, j in pairs.tolist():
        one, other = runs[ends[i][0]], runs[ends[j][0]]
        # A dash alone does not go on in itself.
        if one.closed or other.closed or (one is other and len(one.dashes) < 3):
            continue
        turn = _bend(at[i], at[j], way[i], way[j])
        near.setdefault(i, []).append((turn, j))
        near.setdefault(j, []).append((turn, i))
    mate: dict[int, int] = {}
    undecided = 0
    for found in near.values():
        found.sort()
    for i, found in sorted(near.items()):
        turn, j = found[0]
        others = [t for t, k in found[1:] if t < turn + _DOUBT]
        back = near[j]
        sure = not others and back[0][1] == i and not [t for t, _ in back[1:] if t < turn + _DOUBT]
        only = len(found) == len(back) == 1 and turn <= _BACK
        if sure and (turn <= 2 * _TURN or only):
            mate[i] = j
        else:
            undecided += bool(others)
    # What goes on in nothing, though it could.
    for i, found in near.items():
        turn, j = found[0]
        undecided += i not in mate and j not in mate and turn <= 2 * _TURN
    return _followed(runs, mate), undecided


def _bend(a: Floats, b: Floats, way_a: Floats, way_b: Floats) -> float:
    """How far a line turns that goes out of one end and into another, degrees."""
    step = b - a
    if float(np.hypot(*step)) <= _MET:
        return _turn(way_a, -way_b)
    return _turn(way_a, step) + _turn(step, -way_b)


def _followed(runs: list[_Run], mate: dict[int, int]) -> list[_Run]:
    """Runs put together; ends are numbered 2 k for the start of run k, and 2 k + 1 for its end."""
    done: list[_Run] = []
    used = [False] * len(runs)
    ends = range(2 * len(runs))
    begins = [e for e in ends if e not in mate]
    for first in (*begins, *ends):
        if used[first // 2]:
            continue
        if runs[first // 2].closed:
            done.append(runs[first // 2])
            used[first // 2] = True
            continue
        at: int | None = first
        dashes: list[_Dash] = []
        points: list[Floats] = []
        while at is not None and not used[at // 2]:
            k, last = divmod(at, 2)
            used[k] = True
            turn = -1 if last else 1
            dashes += runs[k].dashes[::turn]
            points += [some[::turn] for some in runs[k].points[::turn]]
            at = mate.get(2 * k + (not last))
        done.append(_Run(dashes, points, closed=at == first and len(dashes) > 2))
    return done


def _line(run: _Run, pattern: tuple[float, ...]) -> _Line:
    """One line through all dashes, with a corner where one lies in a gap."""
    gap = max(pattern[1::2])
    points: list[Floats] = []
    doubt = 0.0, run.points[0][0]
    follow = [*run.points[1:], run.points[0]] if run.closed else run.points[1:]
    for one, other in zip_longest(run.points, follow):
        points += list(one)
        if other is not None:
            corner, curve = _corner(one, other, gap), _curve(one, other)
            if corner is not None and len(curve):
                # A tight curve is longer than the chord, but shorter than the way round a corner.
                ways = (np.vstack([one[-1:], w, other[:1]]) for w in (corner, curve))
                round_, along = (abs(float(_lengths(way).sum()) - gap) for way in ways)
                bent = round_ < 2 * along and along > (_ROUND - 1) * gap
                corner = corner if bent else None
            points += list(curve) if corner is None else list(corner)
            if corner is not None:
                doubt = max(doubt, _doubt(one, other, corner), key=lambda one: one[0])
    if run.closed:
        points.append(points[0])
    path = Path.polyline(_straightened(_apart(np.array(points))), closed=run.closed)
    dashes = " ".join(f"{length:.2f}" for length in pattern)
    return _Line(run, path, replace(run.dashes[0].style, dashes=dashes), gap, doubt)


def _onward(points: Floats) -> tuple[Floats, Floats, float]:
    """The end of a dash, the way in which it goes on there, and how it bends, 1/mm."""
    last = points[-1] - points[-2]
    long = float(np.hypot(*last))
    way = last / long
    if len(points) < 3 or _turn(points[-2] - points[-3], last) > _CHORD:
        return points[-1], way, 0.0
    before, whole = points[-2] - points[-3], points[-1] - points[-3]
    cross = float(before[0] * last[1] - before[1] * last[0])
    bend = 2 * cross / (float(np.hypot(*before)) * long * float(np.hypot(*whole)))
    c, s = np.cos(bend * long / 2), np.sin(bend * long / 2)
    return points[-1], np.array([c * way[0] - s * way[1], s * way[0] + c * way[1]]), bend


def _ahead(at: Floats, way: Floats, bend: float, s: Floats) -> Floats:
    """Points (n, 2) where a line comes to that bends on as it did, after so many mm."""
    turned = bend * s
    along = s * np.sinc(turned / np.pi)
    across = s * np.sinc(turned / 2 / np.pi) * np.sin(turned / 2)
    found: Floats = at + along[:, None] * way + across[:, None] * (-way[1], way[0])
    return found


def _corner(one: Floats, other: Floats, gap: float) -> Floats | None:
    """Points (n, 2) from dash to dash round a corner, if a line with such gaps, mm, turns there.

    It is where both meet that are carried on as they bend. Where that is farther than the gap is
    long, one of them bends more; then it lies ahead of the straighter one, where the way round it
    is a gap.
    """
    (a, u, bend), (b, v, bow) = _onward(one), _onward(other[::-1])
    away = float(np.hypot(*(b - a)))
    cross = float(u[0] * v[1] - u[1] * v[0])
    if cross == 0 or (abs(cross) < np.sin(np.radians(_BENT)) and float(u @ v) < 0):
        return None
    d = b - a
    s, t = float(d[0] * v[1] - d[1] * v[0]) / cross, float(d[0] * u[1] - d[1] * u[0]) / cross
    meets = 0 <= s <= 1.5 * away and 0 <= t <= 1.5 * away
    found: Floats = a + s * u
    if (met := _meeting((a, u, bend), (b, v, bow), s, t)) is not None:
        s, t = met
        if 0 <= s <= 1.5 * away and 0 <= t <= 1.5 * away and s + t <= _ROUND * max(gap, away):
            steps = np.linspace(0.0, 1.0, 8)[1:]
            there = _ahead(a, u, bend, s * steps)
            return np.vstack([there, _ahead(b, v, bow, t * steps[-2::-1])])
    if _MET < away < _ROUND * gap and not (meets and s + t <= _ROUND * gap):
        straight, way, bent = (a, u, b) if _bends(one) <= _bends(other) else (b, v, a)
        off = straight - bent
        ahead = (gap**2 - away**2) / (2 * (gap + float(off @ way)))
        if ahead < gap:
            found = straight + max(ahead, 0.0) * way
            meets = True
    return found[None] if meets else None


def _doubt(one: Floats, other: Floats, way: Floats) -> tuple[float, Floats]:
    """How far a corner may be off that lies in the middle of the way over a gap, mm, and where."""
    at = way[len(way) // 2]
    ends = (_onward(one), _onward(other[::-1]))
    off = max(abs(bend) * float(np.hypot(*(at - end))) ** 2 / 2 for end, _, bend in ends)
    return _SHARE * off, at


def _meeting(
    one: tuple[Floats, Floats, float], other: tuple[Floats, Floats, float], s: float, t: float
) -> tuple[float, float] | None:
    """After how many mm two lines meet that bend on as they did; `s`, `t` for straight ones."""
    for _ in range(20):
        p, q = _ahead(*one, np.array([s, s + 1e-6])), _ahead(*other, np.array([t, t + 1e-6]))
        off = q[0] - p[0]
        if float(np.hypot(*off)) < 1e-6:
            return s, t
        (x, y), (m, n) = (p[1] - p[0]) / 1e-6, (q[1] - q[0]) / 1e-6
        cross = x * n - y * m
        if abs(cross) < 1e-3:
            return None
        s += float(off[0] * n - off[1] * m) / cross
        t += float(off[0] * y - off[1] * x) / cross
    return None


def _curve(one: Floats, other: Floats) -> Floats:
    """Points (n, 2) of the curve that goes over a gap as the dashes at both ends do."""
    (a, u, _), (b, v, _) = _onward(one), _onward(other[::-1])
    third = float(np.hypot(*(b - a))) / 3
    if third <= _MET or max(_turn(u, b - a), _turn(b - a, -v)) > _TURN:
        return np.zeros((0, 2))
    controls = [a, a + third * u, b + third * v, b]
    return flatten(Path(np.array([controls]), np.zeros(1, dtype=bool), False), _STRAIGHT)[1:-1]


def _lengths(points: Floats) -> Floats:
    """The lengths of chords, mm."""
    found: Floats = np.hypot(*np.diff(points, axis=0).T)
    return found


def _bends(points: Floats) -> float:
    """By how much a dash turns from its beginning to its end, degrees."""
    return _turn(points[1] - points[0], points[-1] - points[-2])


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
