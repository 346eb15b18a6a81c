"""Which way round the runs of a seam are sewn on: by the seams that join their ends, by names."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

from ..errors import SizewrightError
from .pattern import Pattern
from .seams import ChainPart, Seam
from .walk import run_ends

#: Chains of more parts are not turned about.
_PARTS = 10

#: A place where seams end: a piece, and a vertex of its outline.
Corner = tuple[str, int]


def ways_round(pattern: Pattern, seam: Seam) -> tuple[Seam, ...]:
    """The seam with its runs turned so that most ends come together that other seams join.

    Of ways that do so alike, those that bring points of one name together (`hip` to `hip`).
    Several where they do both alike, each turning the fewest runs; the seam itself, alone, where
    nothing is better than it.
    """
    ways = _best(pattern, (*seam.first, *seam.second), len(seam.first), seam)
    k = len(seam.first)
    return tuple(replace(seam, first=way[:k], second=way[k:]) for way in ways)


def onward(pattern: Pattern, chain: Sequence[ChainPart]) -> tuple[ChainPart, ...]:
    """A chain with its runs turned so that they follow one another as seams join them.

    One that turns a run itself (`-`) stays as it is said.
    """
    chain = tuple(chain)
    if any(part.reverse for part in chain):
        return chain
    return _best(pattern, chain, len(chain), None)[0]


def closes_round(pattern: Pattern, chain: Sequence[ChainPart]) -> bool:
    """Whether both ends of a chain come together by other seams, as round a sleeve's hem."""
    chain = onward(pattern, chain)
    meet = _joined(pattern, None)
    start, end = _ends(pattern, chain[0])[0], _ends(pattern, chain[-1])[1]
    return start != end and meet.get(start, start) == meet.get(end, end)


def _best(
    pattern: Pattern, parts: tuple[ChainPart, ...], split: int, but: Seam | None
) -> list[tuple[ChainPart, ...]]:
    """The parts of one chain, or of two that begin at 0 and at `split`, turned so that most ends
    come together that seams join, but the seam `but`; as they are where nothing is better."""
    if len(parts) > _PARTS:
        return [parts]
    meet = _joined(pattern, but)
    both = [(_ends(pattern, p), _ends(pattern, replace(p, reverse=not p.reverse))) for p in parts]

    def turned(way: tuple[bool, ...]) -> tuple[ChainPart, ...]:
        pairs = zip(parts, way, strict=True)
        return tuple(replace(part, reverse=part.reverse != turn) for part, turn in pairs)

    def met(way: tuple[bool, ...]) -> tuple[int, int]:
        """With some of the runs turned: how many joins other seams know of, and how many join
        the two sides at points of one name."""
        ends = [one[turn] for one, turn in zip(both, way, strict=True)]
        first, second, alike = ends[:split], ends[split:], 0
        joins = [(a[1], b[0]) for side in (first, second) for a, b in itertools.pairwise(side)]
        if second:
            outer = [(first[0][0], second[0][0]), (first[-1][1], second[-1][1])]
            joins += outer
            alike = sum(_named(pattern, a) == _named(pattern, b) != "" for a, b in outer)
        return sum(a == b or meet.get(a, a) == meet.get(b, b) for a, b in joins), alike

    ways = sorted(itertools.product((False, True), repeat=len(parts)), key=sum)
    scores = [met(way) for way in ways]
    most = max(scores)
    if scores[0] == most:
        return [parts]
    best = [way for way, score in zip(ways, scores, strict=True) if score == most]
    return [turned(way) for way in best if sum(way) == sum(best[0])]


def _ends(pattern: Pattern, part: ChainPart) -> tuple[Corner, Corner]:
    """Where a part of a chain starts and ends; one that counts twice goes there and back."""
    piece = pattern.piece(part.piece)
    n = len(piece.outline.path)
    start, end = (v % n for v in run_ends(piece, piece.run(part.run)))
    if part.reverse:
        start, end = end, start
    return (piece.name, start), (piece.name, start if part.count % 2 == 0 else end)


def _named(pattern: Pattern, corner: Corner) -> str:
    """The name of the point at a corner; "" where it has none."""
    name, vertex = corner
    return pattern.piece(name).outline.point(vertex).name or ""


def _joined(pattern: Pattern, but: Seam | None) -> dict[Corner, Corner]:
    """Corners that come together when darts are closed and all seams but one are sewn.

    Each to one that stands for all that meet it.
    """
    meet: dict[Corner, Corner] = {}

    def join(a: Corner, b: Corner) -> None:
        old, new = meet.get(a, a), meet.get(b, b)
        for corner in {a, *(c for c, stands in meet.items() if stands == old)}:
            meet[corner] = new
        meet[b] = new

    for name in pattern.names:
        for mouth in pattern.piece(name).every_mouth:
            join((name, mouth.start), (name, mouth.end))
    for seam in pattern.seams:
        if seam is but:
            continue
        try:
            ends = [[_ends(pattern, p) for p in chain] for chain in (seam.first, seam.second)]
        except SizewrightError:
            continue
        (first, second) = ends
        join(first[0][0], second[0][0])
        join(first[-1][1], second[-1][1])
    return meet
