"""Where a piece is slashed from one run to another, and how far each cut opens."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from sizewright.drafting import Settled, Span, Zone, staying, with_vertices
from sizewright.errors import GeometryError, InputError
from sizewright.geometry import Floats, Path, affine, contains, crossings, nearest, unit_tangents
from sizewright.model import CENTRES, Dart, Mark, Piece, Run, walk
from sizewright.units import format_length

#: By default no cut turns what lies beyond it by more than this, degrees, ...
TURN = 3.0
#: ... and where both ends open none opens by more than this, mm.
_OPENS = 50.0
#: Between two cuts a curved run turns by no more than this, degrees.
_CURVED = 20.0
#: More cuts than this are a mistake.
MOST = 300
#: A middle or a centre that lies this near to a cut lies on it, mm.
_ON = 0.05


def places(piece: Piece, run: Run, count: int) -> list[float]:
    """Arc lengths of the outline at i/(n+1) along a sewn run, counter-clockwise."""
    way = walk(piece, run)
    found = [way.arc_length(way.length * k / (count + 1)) for k in range(1, count + 1)]
    return found[::-1] if way.backward else found


def fewest(piece: Piece, first: Run, second: Run, opened: float, opened_to: float) -> int:
    """The least number of cuts of which none turns by more than 3 degrees.

    `opened` and `opened_to`: all of them together at the first run and at the second, mm.
    Where both open, none opens by more than 5 cm. Runs that are curved and open turn by no more
    than 20 degrees between two cuts.
    """
    least = [1.0, min(opened, opened_to) / _OPENS]
    for run, wide in ((first, opened), (second, opened_to)):
        if wide > 0:
            least.append(_turning(piece, run) / _CURVED - 1)
    for count in range(math.ceil(max(least) - 1e-9), MOST + 1):
        ends = places(piece, first, count), places(piece, second, count)[::-1]
        p, q = (piece.outline.path.at(np.array(s)) for s in ends)
        long = np.hypot(*(q - p).T)
        half = abs(opened - opened_to) / count / 2 / np.maximum(long, 1e-9)
        if (half <= math.sin(math.radians(TURN / 2)) + 1e-12).all():
            return count
    raise GeometryError(
        f"no {MOST} cuts are enough to open it by {format_length(max(opened, opened_to))} "
        f"without one that turns by more than {TURN:g} degrees",
        where=piece.title,
        cure="Take a smaller amount, or say how many cuts.",
    )


def _turning(piece: Piece, run: Run) -> float:
    """By how much a run turns along its curves, both ways counted, degrees."""
    path = piece.outline.run_path(run)
    curved = path.controls[~path.lines]
    steps = np.linspace(0.0, 1.0, 17)
    total = 0.0
    for cubic in curved:
        ways = unit_tangents(np.broadcast_to(cubic, (len(steps), 4, 2)), steps)
        angles = np.unwrap(np.arctan2(ways[:, 1], ways[:, 0]))
        total += float(np.abs(np.diff(angles)).sum())
    return math.degrees(total)


@dataclass(frozen=True, eq=False)
class Cut:
    """One cut: its line from the first run to the second, the vertices that it joins, how far
    it opens at each, mm, and the move of what lies beyond it against what lies before it.

    Before is where the outline comes from at the first run, counter-clockwise.
    """

    line: Path
    start: int
    end: int
    opens: float
    opens_to: float
    move: Floats

    @property
    def turn(self) -> float:
        """By how much it turns, degrees."""
        return math.degrees(math.atan2(self.move[1, 0], self.move[0, 0]))

    def half(self, share: float) -> Floats:
        """The move done by a share, as a turn about the same point or a shift."""
        turn = math.radians(self.turn)
        if abs(turn) < 1e-12:
            return affine.translation(*(float(x) * share for x in self.move[:, 2]))
        # The point that the move leaves where it is.
        centre = np.linalg.solve(np.eye(2) - self.move[:, :2], self.move[:, 2])
        return affine.rotation(math.degrees(turn * share), (float(centre[0]), float(centre[1])))


def opening(start: Floats, end: Floats, opens: float, opens_to: float) -> Floats:
    """The move of what lies beyond a cut from `start` to `end` that opens by the chords `opens`
    and `opens_to`, mm: the gap is a trapezoid with equal legs.

    >>> beyond = opening(np.array([0, 0]), np.array([0, 80]), 60, 0)
    >>> affine.apply(beyond, np.array([[0, 80], [0, 0]])).round(3).tolist()
    [[0.0, 80.0], [55.621, 22.5]]
    """
    step = end - start
    long = float(np.hypot(*step))
    along = step / long
    cos = (opens - opens_to) / (2 * long)
    if abs(cos) >= 1:
        raise GeometryError(
            f"a cut of {format_length(long)} near ({start[0]:.0f}, {start[1]:.0f}) cannot open "
            f"by {format_length(max(opens, opens_to))}: the piece would fold over",
            cure="Take a smaller amount or more cuts.",
        )
    sin = math.sqrt(1 - cos * cos)
    # Counter-clockwise along the first run: the cut lies to the left of it.
    way = np.array([along[0] * cos + along[1] * sin, along[1] * cos - along[0] * sin])
    new = along - way * (opens - opens_to) / long
    c, s = float(along @ new), float(along[0] * new[1] - along[1] * new[0])
    turn = np.array([[c, -s], [s, c]])
    shift = start + way * opens - turn @ start
    return np.column_stack([turn, shift])


@dataclass(frozen=True, eq=False)
class Slashed:
    """A piece with vertices where its cuts end, and the line of each cut, from vertex to vertex."""

    piece: Piece
    cuts: tuple[tuple[Path, int, int], ...]

    @classmethod
    def of(cls, piece: Piece, first: Run, second: Run, count: int) -> Slashed:
        """The cuts counter-clockwise along `first`.

        Raises GeometryError where one leaves the piece, crosses another or a dart, or ends on
        the fold.
        """
        at = places(piece, first, count), places(piece, second, count)[::-1]
        piece, numbers, _ = with_vertices(piece, [*at[0], *at[1]])
        cuts = []
        for k in range(count):
            a, b = numbers[k], numbers[count + k]
            _check_fold(piece, a, k + 1)
            _check_fold(piece, b, k + 1)
            start, end = piece.outline.vertex_at(a), piece.outline.vertex_at(b)
            if float(np.hypot(*(end - start))) < 1.0:
                raise GeometryError(
                    f"cut {k + 1} begins and ends near ({start[0]:.0f}, {start[1]:.0f})",
                    where=piece.title,
                    cure="Take runs that lie opposite each other.",
                )
            cuts.append((_line(piece, a, b, k + 1), a, b))
        for k, ((one, *_), (other, *_)) in enumerate(pairwise(cuts), 1):
            met = crossings(one, other)
            if met:
                x, y = met[0].point
                raise GeometryError(
                    f"cuts {k} and {k + 1} meet near ({x:.0f}, {y:.0f})",
                    where=piece.title,
                    cure="Take runs that lie opposite each other, or fewer cuts.",
                )
        return cls(piece, tuple(cuts))

    def opened(self, by: float, by_to: float) -> tuple[Cut, ...]:
        """The cuts, all together opened by so much at both runs, mm.

        Raises GeometryError where one would fold over.
        """
        opens, opens_to = by / len(self.cuts), by_to / len(self.cuts)
        made = []
        for line, a, b in self.cuts:
            try:
                move = opening(line.start, line.end, opens, opens_to)
            except GeometryError as error:
                raise error.at(self.piece.title) from None
            made.append(Cut(line, a, b, opens, opens_to, move))
        return tuple(made)


def check_apart(piece: Piece, first: Run, second: Run) -> None:
    """Raises InputError where two runs lie over each other."""
    n = len(piece.outline.path)

    def segments(run: Run) -> set[int]:
        return {(run.start + k) % n for k in range((run.end - run.start) % n or n)}

    if segments(first) & segments(second):
        raise InputError(
            "the runs of from and to lie over each other",
            where=piece.title,
            cure="Take runs that lie opposite each other, as hem and waist.",
        )


def _check_fold(piece: Piece, vertex: int, number: int) -> None:
    fold, n = piece.fold, len(piece.outline.path)
    if fold is not None and 0 < (vertex - fold.start) % n < (fold.end - fold.start) % n:
        raise GeometryError(
            f"cut {number} would open the fold, which has to stay straight",
            where=piece.title,
            cure="Take runs beside the fold, open the piece out first (fold-marks), or use "
            "lengthen.",
        )


def _line(piece: Piece, start: int, end: int, number: int) -> Path:
    """The line of a cut: straight, but round the tip of a dart on a run where it begins or ends."""
    path = piece.outline.path
    p, q = path.vertices[start], path.vertices[end]
    line = Path.polyline([p, q])
    for dart in piece.darts:
        if not _crosses(piece, dart, line):
            continue
        line = Path.polyline([p, np.array(dart.apex), q])
        beside = any(_beside(piece, dart, v) for v in (start, end))
        if not beside or _crosses(piece, dart, line):
            x, y = dart.apex
            raise GeometryError(
                f'cut {number} runs through the dart "{dart.name}" near ({x:.0f}, {y:.0f})',
                where=piece.title,
                cure="Take another number of cuts, or move the dart first (move-dart).",
            )
        return line
    for cross in crossings(line, path):
        if _ON < cross.s0 < line.length - _ON:
            x, y = cross.point
            raise GeometryError(
                f"cut {number} leaves the piece near ({x:.0f}, {y:.0f})",
                where=piece.title,
                cure="Take runs that lie opposite each other, or another number of cuts.",
            )
    if not contains(path, line.at(line.length / 2)[None])[0]:
        x, y = line.at(line.length / 2)
        raise GeometryError(
            f"cut {number} lies outside the piece near ({x:.0f}, {y:.0f})",
            where=piece.title,
            cure="Take runs that lie opposite each other.",
        )
    return line


def _crosses(piece: Piece, dart: Dart, line: Path) -> bool:
    """Whether a line crosses a leg of a dart, its ends and the dart's tip left out."""
    tip = np.array(dart.apex)
    for vertex in (dart.a, dart.b):
        leg = Path.polyline([piece.outline.vertex_at(vertex), tip])
        for cross in crossings(line, leg):
            at_end = min(cross.s0, line.length - cross.s0) < _ON
            if not at_end and cross.s1 < leg.length - _ON:
                return True
    return False


def _beside(piece: Piece, dart: Dart, vertex: int) -> bool:
    """Whether a dart's mouth lies on the edge at a vertex, mouths passed over."""
    n = len(piece.outline.path)
    for run in piece.outline.runs:
        long = (run.end - run.start) % n or n
        inside = [(v - run.start) % n <= long for v in (vertex, dart.a, dart.b)]
        if all(inside):
            return True
    return False


@dataclass(frozen=True, eq=False)
class Apart:
    """The zones that cuts leave, moved apart, their spans round the outline, which stays, and
    the marks on a cut that opens to both sides, which stay too."""

    zones: tuple[Zone, ...]
    spans: tuple[Span, ...]
    stays: int
    marks: tuple[Mark, ...]


def moved_apart(piece: Piece, cuts: Sequence[Cut], settled: Settled) -> Apart:
    """The zones that the cuts leave, moved apart.

    The zone stays that holds the fold, else the centre edge, the centre line, the middle of the
    grain, else the largest. Where a centre line or the grain lies on a cut, both sides of it
    move alike.
    """
    path, last = piece.outline.path, len(cuts)
    before = [None, *cuts]
    after = [*cuts, None]
    regions: list[Path] = []
    spans: list[list[tuple[int, int]]] = []
    for left, right in zip(before, after, strict=True):
        if left is None and right is not None:
            ends = [(right.end, right.start)]
            region = [path.segments(*ends[0]), right.line]
        elif right is None and left is not None:
            ends = [(left.start, left.end)]
            region = [path.segments(*ends[0]), left.line.reversed()]
        else:
            assert left is not None
            assert right is not None
            ends = [(left.start, right.start), (right.end, left.end)]
            region = [
                path.segments(*ends[0]),
                right.line,
                path.segments(*ends[1]),
                left.line.reversed(),
            ]
        spans.append(ends)
        regions.append(Path.join(region, closed=True))
    stays, half = settled.once(f"{piece.name}: what stays", lambda: _stays(piece, regions, cuts))
    moves = [affine.identity()] * (last + 1)
    marks: tuple[Mark, ...] = ()
    if half:
        line = cuts[stays].line

        def on_cut(mark: Mark) -> bool:
            off = nearest(line, mark.path.controls.reshape(-1, 2)).distance
            return float(off.max()) < _ON

        which = settled.once(
            f"{piece.name}: marks on the cut",
            lambda: [k for k, mark in enumerate(piece.marks) if on_cut(mark)],
        )
        marks = tuple(piece.marks[k] for k in which)
        others = tuple(mark for k, mark in enumerate(piece.marks) if k not in which)
        piece = replace(piece, marks=others)
        moves[stays] = cuts[stays].half(-0.5)
    for k in range(stays + 1, last + 1):
        moves[k] = affine.compose(moves[k - 1], cuts[k - 1].move)
    for k in range(stays - 1, -1, -1):
        moves[k] = affine.compose(moves[k + 1], cuts[k].half(-1.0))
    made = tuple(Zone(piece, move, region) for move, region in zip(moves, regions, strict=True))
    order = [Span(made[k], *spans[k][0]) for k in range(last + 1)]
    order += [Span(made[k], *spans[k][1]) for k in range(last - 1, 0, -1)]
    return Apart(made, tuple(order), stays, marks)


def _stays(piece: Piece, regions: Sequence[Path], cuts: Sequence[Cut]) -> tuple[int, bool]:
    """The number of the zone that stays, and whether the cut after it opens to both sides."""
    edges = [r for r in piece.outline.runs if r.name and r.name.lower() in CENTRES]
    lines = [
        mark.path
        for mark in piece.marks
        if {str(mark.name).lower(), mark.kind.lower()} & set(CENTRES)
    ]
    if piece.grain is not None:
        lines.append(Path.polyline([piece.grain.start, piece.grain.end]))
    if piece.fold is None and not edges and lines:
        middle = lines[0].at(lines[0].length / 2)[None]
        near = [float(nearest(cut.line, middle).distance[0]) for cut in cuts]
        if min(near) < _ON:
            return int(np.argmin(near)), True
    return staying(piece, regions), False
