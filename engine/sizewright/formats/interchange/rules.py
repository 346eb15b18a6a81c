"""A table of grade rules as the format has it: moves of points along x and y, by size."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

from ...errors import InputError
from ...findings import Finding
from ...units import Unit

#: How a file counts: each size from the sample size, or from its neighbour nearer to that.
Deltas = Literal["sample", "neighbour"]
Move = tuple[float, float]


@dataclass(frozen=True)
class RuleFile:
    """Grade rules of one style, in mm.

    `rules[number]` has a move (x, y) for each of `sizes`, counted from the sample size
    (where it is 0, 0). x lies along the piece's grade reference line, y 90 degrees
    counter-clockwise from it. `unit` is what the file's own numbers are in.
    """

    sizes: tuple[str, ...]
    sample: str
    rules: dict[str, tuple[Move, ...]]
    unit: Unit = Unit.MM
    name: str = ""

    def __post_init__(self) -> None:
        if self.sample not in self.sizes:
            raise InputError(
                f'the sample size "{self.sample}" is not among the sizes',
                where=self.name,
                cure=f"The sizes are {', '.join(self.sizes) or 'none'}.",
            )
        for number, moves in self.rules.items():
            if len(moves) != len(self.sizes):
                raise InputError(
                    f"rule {number} has {len(moves)} moves for {len(self.sizes)} sizes",
                    where=self.name,
                    cure="Give one pair for each size.",
                )

    @property
    def base(self) -> int:
        """Place of the sample size among the sizes."""
        return self.sizes.index(self.sample)


class RuleReading(NamedTuple):
    """A rule table file as read, and what was odd in it."""

    table: RuleFile
    findings: tuple[Finding, ...] = ()


def from_neighbours(deltas: tuple[Move, ...], base: int) -> tuple[Move, ...]:
    """Moves from the sample size, of deltas that each count from the neighbour nearer to it."""
    moves = [(0.0, 0.0)] * len(deltas)
    for way in (1, -1):
        x = y = 0.0
        for k in range(base + way, len(deltas) if way > 0 else -1, way):
            x, y = x + deltas[k][0], y + deltas[k][1]
            moves[k] = (x, y)
    return tuple(moves)


def to_neighbours(moves: tuple[Move, ...], base: int) -> tuple[Move, ...]:
    """Moves from the sample size as deltas that each count from the neighbour nearer to it."""
    deltas = [(0.0, 0.0)] * len(moves)
    for way in (1, -1):
        for k in range(base + way, len(moves) if way > 0 else -1, way):
            x, y = moves[k - way]
            deltas[k] = (moves[k][0] - x, moves[k][1] - y)
    return tuple(deltas)


def doubtful(deltas: dict[str, tuple[Move, ...]], base: int, said: Deltas) -> Finding | None:
    """A finding where numbers read one way look like the other.

    On one side of the sample size a step that repeats is an even grade told between
    neighbours; one that piles up (d, 2 d, 3 d) is an even grade told from the sample size.
    """
    even = piled = 0
    for row in deltas.values():
        for axis in (0, 1):
            for side in (row[base + 1 :], row[:base][::-1]):
                steps = [pair[axis] for pair in side]
                if len(steps) < 2 or abs(steps[0]) < 1e-9:
                    continue
                slack = 0.02 * abs(steps[0])
                even += all(abs(s - steps[0]) <= slack for s in steps)
                piled += all(abs(s - (k + 1) * steps[0]) <= slack for k, s in enumerate(steps))
    looks = "neighbour" if even > piled else "sample" if piled > even else said
    if looks == said:
        return None
    if said == "sample":
        text = (
            f"{even} rows of deltas repeat one step from size to size: they look as if counted "
            "between neighbours, and were read as counted from the sample size"
        )
    else:
        text = (
            f"{piled} rows of deltas pile up from size to size: they look as if counted from "
            "the sample size, and were read as counted between neighbours"
        )
    cure = f"Try --deltas {looks}, and compare a size that you know."
    return Finding("deltas-doubtful", "warn", text, cure=cure)
