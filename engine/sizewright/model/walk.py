"""Walking a run or a chain as it is sewn: dart and pleat mouths closed, in mm from its start."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from ..errors import GeometryError, SizewrightError
from .counting import counts_backward
from .outline import Run
from .pattern import Pattern
from .piece import Piece
from .seams import ChainPart


class Walk(NamedTuple):
    """A run of one piece walked along its sewn line, the way that it counts.

    `stretches` holds (from, to) arc lengths on the outline, unwrapped (they may pass the
    outline's whole length), in the order of the walk, mouths left out. A walk that goes
    `backward` (clockwise) comes from the greater to the smaller.
    """

    piece: Piece
    stretches: tuple[tuple[float, float], ...]
    backward: bool = False

    @property
    def length(self) -> float:
        """Sewn length, mm."""
        return sum(abs(b - a) for a, b in self.stretches)

    def arc_length(self, distance: float) -> float:
        """Arc length on the outline, from its vertex 0, at a sewn distance from the start.

        Raises GeometryError when the run is shorter than that. On a closed mouth the
        side first come to is taken.
        """
        left = distance
        for a, b in self.stretches:
            long = abs(b - a)
            if left <= long + 1e-9:
                step = min(left, long)
                return (a - step if self.backward else a + step) % self.piece.outline.path.length
            left -= long
        raise GeometryError(
            f"{distance:.1f} mm is beyond the end of a run of {self.length:.1f} mm",
            where=self.piece.title,
        )

    def distance(self, s: float) -> float | None:
        """Sewn distance from the start of arc length `s`; None where it is not on the run.

        Within a mouth, the distance of the mouth itself.
        """
        total = self.piece.outline.path.length
        sign = -1.0 if self.backward else 1.0
        start = self.stretches[0][0]
        # How far the walk has come, mouths as drawn, when it is at `s`.
        along = sign * (s - start) % total
        if total - along < 1e-7:
            along = 0.0
        done = 0.0
        for a, b in self.stretches:
            begin, end = sign * (a - start), sign * (b - start)
            if along < begin:
                return done
            if along <= end + 1e-7:
                return done + min(along, end) - begin
            done += end - begin
        return None


def walk(piece: Piece, run: Run) -> Walk:
    """A run as a walk the way that it counts, its dart and pleat mouths closed.

    >>> from sizewright.geometry import Path
    >>> from sizewright.model import Outline
    >>> path = Path.polyline([(0, 0), (80, 0), (80, 60), (0, 60)], closed=True)
    >>> pocket = Piece("pocket", Outline.of(path))
    >>> way = walk(pocket, pocket.run("#4"))  # the left side, which counts from its lower end
    >>> way.length, way.backward, pocket.outline.path.at(way.arc_length(20)).tolist()
    (60.0, True, [0.0, 20.0])
    """
    outline = piece.outline
    c = outline.path.cumulative
    begin = float(c[run.start])
    end = begin + outline.run_length(run)
    stretches: list[tuple[float, float]] = []
    at = begin
    for mouth in piece.mouths(run):
        a = begin + (float(c[mouth.start]) - begin) % outline.path.length
        stretches.append((at, a))
        at = a + outline.run_length(mouth)
    stretches.append((at, end))
    kept = tuple(s for s in stretches if s[1] - s[0] > 1e-9) or ((begin, end),)
    if counts_backward(piece, run):
        return Walk(piece, tuple((b, a) for a, b in kept[::-1]), True)
    return Walk(piece, kept)


def run_ends(piece: Piece, run: Run) -> tuple[int, int]:
    """The vertices of a run's start and end, the way that it counts.

    >>> from sizewright.geometry import Path
    >>> from sizewright.model import Outline
    >>> path = Path.polyline([(0, 0), (80, 0), (80, 60), (0, 60)], closed=True)
    >>> pocket = Piece("pocket", Outline.of(path))
    >>> pocket.run("#4"), run_ends(pocket, pocket.run("#4"))
    (Run(start=3, end=0, name=None), (0, 3))
    """
    return (run.end, run.start) if counts_backward(piece, run) else (run.start, run.end)


class ChainStep(NamedTuple):
    """One run of a chain as it is walked: sewn length once, and how often it counts."""

    part: ChainPart
    walk: Walk

    @property
    def length(self) -> float:
        """Sewn length, all counts together, mm."""
        return self.walk.length * self.part.count


class ChainWalk(NamedTuple):
    """A chain of runs in one size, walked from its start."""

    steps: tuple[ChainStep, ...]

    @property
    def length(self) -> float:
        """Sewn length of the chain, mm."""
        return sum(step.length for step in self.steps)

    def place(self, distance: float) -> tuple[Piece, float]:
        """The piece and the arc length on its outline at a sewn distance from the start.

        A run that counts twice is walked there and back, as a half on the fold is.
        """
        left = distance
        for step in self.steps:
            if left <= step.length + 1e-9 or step is self.steps[-1]:
                once = step.walk.length
                turn, along = divmod(min(left, step.length), once)
                if along == 0 and turn > 0:
                    turn, along = turn - 1, once
                back = (int(turn) % 2 == 1) != step.part.reverse
                return step.walk.piece, step.walk.arc_length(once - along if back else along)
            left -= step.length
        raise GeometryError("an empty chain has no places")

    def distances(self, piece: str, s: float) -> Iterator[float]:
        """The sewn distances from the start at which a place on a piece lies, by its arc length
        on the outline: none where no run of the chain has it, two where its run counts twice."""
        done = 0.0
        for step in self.steps:
            once = step.walk.length
            along = step.walk.distance(s) if step.walk.piece.name == piece else None
            if along is not None:
                for turn in range(step.part.count):
                    back = (turn % 2 == 1) != step.part.reverse
                    yield done + turn * once + (once - along if back else along)
            done += step.length


def walk_chain(pattern: Pattern, chain: Sequence[ChainPart], size: str | None = None) -> ChainWalk:
    """A chain in one size. Raises LookupFailed for a piece or run that is not there."""
    steps = []
    for part in chain:
        piece = pattern.piece(part.piece, size)
        try:
            steps.append(ChainStep(part, walk(piece, piece.run(part.run))))
        except SizewrightError as error:
            raise error.at(piece.title) from None
    return ChainWalk(tuple(steps))
