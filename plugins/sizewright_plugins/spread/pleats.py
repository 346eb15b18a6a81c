"""Pleats in what a cut opened: how deep, where they are folded, and their mouths."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sizewright.drafting import Line, Settled, Zone, folded_cap, runs_over
from sizewright.errors import InputError
from sizewright.geometry import Floats, Path, affine, curve_through
from sizewright.model import Mark, Piece, Pleat, Run, axis_frame, counts_backward
from sizewright.units import format_length

from .cuts import Cut

Kind = Literal["knife", "box", "inverted"]
#: How much cloth a pleat takes, in depths.
TAKES: dict[Kind, int] = {"knife": 2, "box": 4, "inverted": 4}
#: A cap no longer than its chord by this is straight, mm.
_STRAIGHT = 1e-6
#: The arrow of a pleat stands at this share of its length from the edge; its barbs, mm.
_ARROW, _BARB = 0.15, 4.0


def opened(
    kind: Kind, count: int | None, by: float | None, depth: float | None
) -> tuple[int, float]:
    """How many pleats, and how much they take together, mm, from two of count, `by` and depth.

    A single pleat where only one of `by` and `depth` is said. Raises InputError where they
    contradict each other.
    """
    takes = TAKES[kind]
    if by is None:
        if depth is None:
            raise InputError(
                "nothing says how much the pleats take",
                cure='Say depth = "3 cm" (each), or by = "24 cm" (all together).',
            )
        return count or 1, takes * depth * (count or 1)
    if depth is None:
        return count or 1, by
    number = by / (takes * depth)
    if count is None and abs(number - round(number)) < 1e-6 and round(number) > 0:
        return round(number), by
    if count is None or abs(count - number) > 1e-6:
        raise InputError(
            f"{format_length(by)} make {number:.2f} {kind} pleats of {format_length(depth)}, "
            f"which take {format_length(takes * depth)} each",
            cure="Leave by, depth or cuts out, or let them agree.",
        )
    return count, by


@dataclass(frozen=True, eq=False)
class Gap:
    """What one cut opened, where it lies on the new piece: its two edges (2, 2), from the first
    run to the second, and the outline beside each, walked away from it."""

    before: Floats
    after: Floats
    beside: tuple[Path, Path]

    @classmethod
    def of(cls, piece: Piece, cut: Cut, before: Zone, after: Zone, run: Run) -> Gap:
        """At the first run of a cut between two zones."""
        path = piece.outline.path
        ends = np.array([path.vertices[cut.start], path.vertices[cut.end]])
        back = path.segments(run.start, cut.start).reversed().transformed(before.move)
        onward = path.segments(cut.start, run.end).transformed(after.move)
        return cls(affine.apply(before.move, ends), affine.apply(after.move, ends), (back, onward))

    def at(self, share: float) -> Floats:
        """The line (2, 2) at a share of the way across."""
        line: Floats = self.before + (self.after - self.before) * share
        return line

    def reversed(self) -> Gap:
        """The same from its other side."""
        return Gap(self.after, self.before, self.beside[::-1])


def _cap(side: Path, leg: Floats, fold: Floats) -> Path:
    """A mouth's cap with one curve to each side of its fold, so that all sizes are alike."""
    whole = folded_cap(side, leg, fold)
    halves = []
    for a, b in ((0, len(whole) // 2), (len(whole) // 2, len(whole))):
        half = whole.segments(a, b)
        points = half.vertices[[0, -1]]
        straight = Path.polyline(points)
        if half.length - straight.length < _STRAIGHT:
            halves.append(straight)
        else:
            halves.append(curve_through(points, half.tangents_out[0], half.tangents_in[-1]))
    return Path.join(halves)


@dataclass(frozen=True, eq=False)
class Folds:
    """How a pleat is laid: each fold with the line that it is laid on, and the mouth's path."""

    laid: tuple[tuple[Floats, Floats], ...]
    mouth: Path


def folds(gap: Gap, kind: Kind, forward: bool) -> Folds:
    """The folds of a pleat in a gap; a knife pleat is pressed on to the outline's way round
    where `forward`, else back."""
    if kind == "knife":
        way = gap if forward else gap.reversed()
        # The fold is the edge that lies behind, laid on the one ahead.
        mouth = _cap(way.beside[0], way.before, way.at(0.5))
        return Folds(((way.before, way.after),), mouth if forward else mouth.reversed())
    first = _cap(gap.beside[0], gap.before, gap.at(0.25))
    second = _cap(gap.beside[1], gap.after, gap.at(0.75)).reversed()
    mouth = Path.join([first, second])
    if kind == "inverted":
        middle = gap.at(0.5)
        return Folds(((gap.before, middle), (gap.after, middle)), mouth)
    laid = []
    for way in (gap, gap.reversed()):
        fold = way.at(0.25)
        laid.append((fold, affine.apply(affine.mirror(*way.before), fold)))
    return Folds(tuple(laid), mouth)


def marks(name: str, laid: Folds) -> Iterator[Mark]:
    """Fold and placement lines of a pleat, and an arrow from each fold to where it is laid."""
    drawn: list[Floats] = []
    for number, (fold, onto) in enumerate(laid.laid, 1):
        ending = f"-{number}" if len(laid.laid) > 1 else ""
        yield Mark(Path.polyline(fold), "pleat-fold", f"{name}-fold{ending}")
        if not any(np.allclose(onto, line) for line in drawn):
            drawn.append(onto)
            yield Mark(Path.polyline(onto), "pleat-placement", f"{name}-placement{ending}")
        tail, tip = ((1 - _ARROW) * line[0] + _ARROW * line[1] for line in (fold, onto))
        yield Mark(_arrow(tail, tip), "pleat-direction", f"{name}-direction{ending}")


def _arrow(tail: Floats, tip: Floats) -> Path:
    way = (tip - tail) / np.hypot(*(tip - tail))
    barb = min(_BARB, float(np.hypot(*(tip - tail))) / 3)
    side = np.array([-way[1], way[0]])
    back = tip - way * barb
    return Path.polyline([tail, tip, back + side * barb / 2, tip, back - side * barb / 2])


def leads_inwards(piece: Piece, run: Run, s: float, settled: Settled, number: int) -> bool:
    """Whether the outline, counter-clockwise at arc length `s` of a run, leads to the centre.

    Without a centre: to the end of the run from which it counts.
    """

    def decide() -> bool:
        frame, _ = axis_frame(piece)
        if frame.centre is not None:
            point = piece.outline.path.at(s)[None]
            across = float(piece.outline.path.tangents(s) @ frame.out)
            side = float(frame.signs(point)[0])
            if side != 0.0 and abs(across) > 0.1:
                return across * side < 0
        return counts_backward(piece, run)

    return settled.once(f"{piece.name}: pleat {number} inwards", decide)


def mouth_line(piece: Piece, vertex: int, path: Path, name: str) -> Line:
    """The new line of a pleat's mouth over which the runs of the outline go on."""
    mouth = Pleat(name, 0, len(path))
    return Line(path, goes_on=runs_over(piece, vertex), mouth=mouth)
