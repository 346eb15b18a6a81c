"""What is put right in each size after the map, since no fixed matrix can do it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ..errors import InputError
from ..findings import Finding, Level
from ..geometry.path import Path
from ..geometry.types import Floats
from ..model.features import Dart
from ..model.frame import Frame
from ..model.outline import vertices_between
from ..model.piece import Piece
from ..model.references import split_reference

#: Amounts below this, in mm or degrees, are put right without a word.
_SILENT = 0.01
#: Legs that differ by more in the base are drawn so and are left, mm.
_LEGS = 1.0
#: A fold that bends by more in the base is not straight, mm.
_FOLD = 0.1
#: A corner farther from square than this is left, degrees.
_FARTHEST = 20.0


class Truing(NamedTuple):
    """What to true: `square` holds corners as `piece:point` (or `piece:#3`) that are to meet
    at a right angle; `darts` evens the legs of darts, `fold` keeps a straight fold straight.
    """

    square: tuple[str, ...] = ()
    darts: bool = True
    fold: bool = True

    def square_on(self, piece: Piece) -> tuple[int, ...]:
        """Vertices of the corners of one piece that are to be square.

        Raises LookupFailed for a point that is not there, InputError for one on a curve.
        """
        found = []
        for reference in self.square:
            name, point = split_reference(reference)
            if name != piece.name:
                continue
            vertex = piece.outline.vertex(point)
            if vertex not in piece.outline.corners:
                raise InputError(
                    "only a corner can be square, and this point lies on a curve",
                    where=reference,
                    cure="Name a corner.",
                )
            found.append(vertex)
        return tuple(found)


def trued(
    base: Piece, piece: Piece, frame: Frame, truing: Truing
) -> tuple[Piece, tuple[Finding, ...]]:
    """A graded piece put right, with a finding for each amount that a maker can see.

    `base` is what it was graded from. Names, corners and notches are untouched.
    """
    work = _Work(base, piece, frame)
    if truing.fold:
        work.straighten_fold()
    if truing.darts:
        for dart in piece.darts:
            work.even_legs(dart)
    for vertex in truing.square_on(base):
        work.square(vertex)
    return work.done()


class _Work:
    def __init__(self, base: Piece, piece: Piece, frame: Frame) -> None:
        self.base, self.piece, self.frame = base, piece, frame
        self.controls = piece.outline.path.controls.copy()
        self.lines = piece.outline.path.lines.copy()
        self.findings: list[Finding] = []
        self.n = len(self.controls)

    def done(self) -> tuple[Piece, tuple[Finding, ...]]:
        same = np.array_equal(self.controls, self.piece.outline.path.controls)
        if same and np.array_equal(self.lines, self.piece.outline.path.lines):
            return self.piece, tuple(self.findings)
        path = Path(self.controls, self.lines, True)
        outline = self.piece.outline.with_path(path)
        return replace(self.piece, outline=outline), tuple(self.findings)

    def found(
        self, code: str, text: str, place: str, level: Level = "note", cure: str = ""
    ) -> None:
        self.findings.append(self.piece.finding(code, level, text, place, cure))

    def move(self, vertex: int, by: Floats) -> None:
        """Shift a vertex with both its handles."""
        before = vertex - 1
        self.controls[vertex, :2] += by
        self.controls[before, 2:] += by
        self.controls[before, 3] = self.controls[vertex, 0]

    # --- fold ---------------------------------------------------------------------

    def straighten_fold(self) -> None:
        fold = self.piece.fold
        if fold is None:
            return
        chain = vertices_between(fold.start, fold.end, self.n)
        segments = chain[:-1]
        old = self.base.outline.path.controls[segments]
        if not segments or _off_line(old.reshape(-1, 2), old[0, 0], old[-1, 3]) > _FOLD:
            return
        start, end = self.controls[chain[0], 0].copy(), self.controls[chain[-1], 0].copy()
        points = self.controls[segments].reshape(-1, 2)
        off = _off_line(points, start, end)
        step = end - start
        square = float(step @ step)
        if square == 0.0:
            return
        # Only what lies off the line is touched, so that a straight fold keeps its bits.
        along = ((points - start) @ step / square)[:, None]
        on_line = start + along * step
        # A line along an axis of the page keeps that coordinate to the bit.
        on_line[:, start == end] = start[start == end]
        fresh = on_line.reshape(-1, 4, 2)
        fresh[0, 0], fresh[-1, 3] = start, end
        for k, segment in enumerate(segments):
            self.controls[segment] = fresh[k]
            if k:
                self.controls[segment, 0] = self.controls[segments[k - 1], 3]
        if off > _SILENT:
            self.found("fold-straightened", f"the fold was off its line by {off:.2f} mm", "fold")
        turn = _angle(old[-1, 3] - old[0, 0], step)
        if abs(turn) > _SILENT:
            self.found(
                "fold-turned",
                f"the fold turned by {abs(turn):.2f} degrees, since its ends gain unequally",
                "fold",
                "warn",
                "Give both ends of the fold the same width.",
            )

    # --- darts --------------------------------------------------------------------

    def even_legs(self, dart: Dart) -> None:
        """Both legs made equally long: each mouth point goes half the way along its leg."""
        if dart.tip is None:
            return
        drawn = abs(_leg_difference(self.base.outline.path, dart))
        if drawn > _LEGS:
            self.found(
                "dart-uneven",
                f"the legs of the dart differ by {drawn:.1f} mm as it was drawn and were left so",
                dart.name,
                "warn",
                f"Draw them equally long: within {_LEGS:g} mm grading evens them.",
            )
            return
        tip = self.controls[dart.tip, 0]
        a = _unit(self.controls[dart.a, 0] - tip)
        b = _unit(self.controls[dart.b, 0] - tip)
        shift, last = 0.0, math.inf
        for _ in range(12):
            difference = _leg_difference(Path(self.controls, self.lines, True), dart)
            if abs(difference) <= 1e-9 or abs(difference) >= abs(last):
                break
            last = difference
            self.move(dart.a, -difference / 2 * a)
            self.move(dart.b, difference / 2 * b)
            shift += difference / 2
        if abs(shift) > _SILENT:
            self.found(
                "dart-evened",
                f"the legs of the dart differed by {abs(2 * shift):.2f} mm and were evened",
                dart.name,
            )

    # --- corners --------------------------------------------------------------------

    def square(self, vertex: int) -> None:
        path = Path(self.controls, self.lines, True)
        before = (vertex - 1) % self.n
        back, ahead = -path.tangents_in[before], path.tangents_out[vertex]
        off = 90.0 - abs(_angle(ahead, back))
        if abs(off) <= 1e-9:
            return
        point = self.piece.outline.point(vertex)
        place = point.name or f"#{self.piece.outline.corner_number(vertex)}"
        if abs(off) > _FARTHEST:
            self.found(
                "not-squared",
                f"the corner is {abs(off):.1f} degrees off square, too far to be trued",
                place,
                "warn",
                "Look at the rules of the points about it.",
            )
            return
        end = self._bends_before(vertex, before, back, ahead)
        segment = before if end else vertex
        stay, bend = (ahead, back) if end else (back, ahead)
        side = 1.0 if stay[0] * bend[1] - stay[1] * bend[0] > 0 else -1.0
        across = side * np.array([-stay[1], stay[0]])
        own = self.controls[segment]
        handle = own[2] - own[3] if end else own[1] - own[0]
        reach = float(np.hypot(*handle)) or float(np.hypot(*(own[3] - own[0]))) / 3
        self.lines[segment] = False
        own[2 if end else 1] = self.controls[vertex, 0] + reach * across
        if abs(off) > _SILENT:
            moved = 2 * reach * math.sin(math.radians(abs(off)) / 2)
            text = (
                f"the corner was {abs(off):.2f} degrees off square; its curve moved {moved:.2f} mm"
            )
            self.found("corner-squared", text, place)

    def _bends_before(self, vertex: int, before: int, back: Floats, ahead: Floats) -> bool:
        """Whether the line before the corner is the one to bend: never the fold, a curve
        rather than a straight line, else the one that lies more across the piece."""
        if self.piece.on_fold(before) or self.piece.on_fold(vertex):
            return self.piece.on_fold(vertex)
        if self.lines[before] != self.lines[vertex]:
            return bool(self.lines[vertex])
        return abs(float(back @ self.frame.up)) < abs(float(ahead @ self.frame.up))


def _off_line(points: Floats, start: Floats, end: Floats) -> float:
    """Greatest distance of points from the line through two others, mm."""
    unit = _unit(end - start)
    off = (points - start) @ np.array([-unit[1], unit[0]])
    return float(np.abs(off).max())


def _unit(step: Floats) -> Floats:
    size = float(np.hypot(*step))
    unit: Floats = step / size if size > 0 else step
    return unit


def _angle(a: Floats, b: Floats) -> float:
    """Signed angle from one vector to another, degrees."""
    return math.degrees(math.atan2(float(a[0] * b[1] - a[1] * b[0]), float(a @ b)))


def _leg_difference(path: Path, dart: Dart) -> float:
    """Length of the leg from the mouth's first vertex less that of the other, mm."""
    tip = dart.tip if dart.tip is not None else dart.a
    return path.segments(dart.a, tip).length - path.segments(tip, dart.b).length
