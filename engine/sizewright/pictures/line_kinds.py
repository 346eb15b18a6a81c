"""A drawing as it was read, with the number of each kind of line beside it, and a key."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..geometry import affine
from ..geometry.near import nearest_of
from ..geometry.path import Path
from ..geometry.types import Floats
from ..palette import INK, PAPER, Line
from .fans import stations, tie_names
from .room import Box, Room
from .sketch import Sketch, Words
from .text import width

#: So many times as large as the pieces is the drawing with the numbers.
LARGER = 2.0
#: Numbers stand at so many places of each kind of line; a key has so many rows.
_PLACES, _ROWS = 2, 40
#: Widths of lines, and the longest dash of a kind, as the palette has them, mm.
_LINE, _KEY_LINE, _RING, _TIE = 0.3, 0.5, 0.4, 0.2
_DASH, _DOT = 3.6, 0.4
#: Outlines are of one piece where their boxes differ by less than this share of its span.
_ALIKE = 0.25


@dataclass(frozen=True, slots=True)
class NumberedLine:
    """A kind of line: its number, what it is in words, its lines in mm, colour and dashes.

    `outlines` are what goes round pieces in it.
    """

    number: int
    text: str
    paths: tuple[Path, ...]
    colour: str
    dashes: tuple[float, ...] = ()
    outlines: tuple[Path, ...] = ()


def line_kinds(lines: Sequence[NumberedLine], size: float) -> Sketch:
    """The lines as they lie, each kind's number tied to it, and the key at their right.

    Letters are `size` mm high.
    """
    sketch = Sketch()
    lines = [_larger(one) for one in lines]
    boxes = np.array([path.bounds for one in lines for path in one.paths])
    room = Room(0.5 * size)
    for one in lines:
        for path in one.paths:
            sketch.stroke(path, _drawn(one, _LINE))
            room.add_path(path)
    told: set[int] = set()
    for group in _nests(lines):
        outlines = [path for _, path in group]
        places = stations(max(outlines, key=lambda path: abs(path.area)), outlines)
        names = [str(one.number) for one, _ in group]
        tie_names(sketch, room, places, names, [Line(one.colour, _TIE) for one, _ in group], size)
        told |= {one.number for one, _ in group}
    samples = [_samples(one.outlines or one.paths, size) for one in lines]
    taken: list[Floats] = []
    for k, one in enumerate(lines):
        others = [s for j, s in enumerate(samples) if j != k and len(s)]
        for at in _free(samples[k], others, taken, size) if one.number not in told else ():
            taken.append(at)
            _ring(sketch, at, one, size)
    left, top = float(boxes[:, 2].max()) + 4 * size, float(boxes[:, 3].max())
    for row, one in enumerate(lines[:_ROWS]):
        level = top - (row + 0.7) * 1.9 * size
        sketch.polyline([(left, level), (left + 5 * size, level)], _drawn(one, _KEY_LINE))
        wide = width(one.text, size)
        box = Box(left + 5.8 * size + wide / 2, level, wide, 1.2 * size)
        sketch.words(Words(one.text, box, size))
    return sketch


def _larger(one: NumberedLine) -> NumberedLine:
    by = affine.scaling(LARGER)
    paths, outlines = (
        tuple(path.transformed(by) for path in found) for found in (one.paths, one.outlines)
    )
    return replace(one, paths=paths, outlines=outlines)


def _nests(lines: Sequence[NumberedLine]) -> list[list[tuple[NumberedLine, Path]]]:
    """The largest pieces that several kinds go round, each with the outlines of these."""
    every = [(one, path) for one in lines for path in one.outlines]
    every.sort(key=lambda item: -abs(item[1].area))
    found: list[list[tuple[NumberedLine, Path]]] = []
    used: set[int] = set()
    for _, outer in every:
        if id(outer) in used:
            continue
        box = np.array(outer.bounds)
        least = _ALIKE * float(np.hypot(*(box[2:] - box[:2])))
        group = [
            (one, path)
            for one, path in every
            if id(path) not in used and float(np.abs(path.bounds - box).max()) <= least
        ]
        used |= {id(path) for _, path in group}
        group = list({one.number: (one, path) for one, path in reversed(group)}.values())
        if len(group) > 1:
            found.append(sorted(group, key=lambda item: abs(item[1].area)))
    most = max(map(len, found), default=0)
    return [group for group in found if len(group) == most][:_PLACES]


def _drawn(one: NumberedLine, weight: float) -> Line:
    scale = min(1.0, _DASH / max(one.dashes, default=1.0))
    return Line(one.colour, weight, tuple(max(_DOT, d * scale) for d in one.dashes))


def _samples(paths: Sequence[Path], size: float) -> Floats:
    """Places along all lines of a kind, about a letter apart, off their ends."""
    found = [
        path.at(np.linspace(0.04, 0.96, max(3, min(400, int(path.length / size)))) * path.length)
        for path in paths
    ]
    return np.concatenate(found) if found else np.zeros((0, 2))


def _free(own: Floats, others: Sequence[Floats], taken: list[Floats], size: float) -> list[Floats]:
    """Places of a kind that lie farthest from other kinds and from numbers."""
    if not len(own):
        return []
    away = np.full(len(own), np.inf)
    if others:
        away = nearest_of(np.concatenate(others), own)[1]
    # Beyond some letters it is free enough; then the spread over the sheet counts.
    score = np.minimum(away, 3 * size)
    chosen: list[Floats] = []
    for _ in range(_PLACES):
        near = [*taken, *chosen]
        apart = nearest_of(np.array(near), own)[1] if near else np.full(len(own), 40 * size)
        mine = nearest_of(np.array(chosen), own)[1] if chosen else np.full(len(own), 40 * size)
        worth = score + np.minimum(apart, 3 * size) + 0.05 * np.minimum(mine, 40 * size)
        best = int(worth.argmax())
        if chosen and min(apart[best], mine[best]) < 6 * size:
            break
        chosen.append(own[best])
    return chosen


def _ring(sketch: Sketch, at: Floats, one: NumberedLine, size: float) -> None:
    sketch.dot(at, 0.85 * size, Line(one.colour, _RING), fill=PAPER)
    text = str(one.number)
    box = Box(float(at[0]), float(at[1]), width(text, 0.9 * size), size)
    sketch.words(Words(text, box, 0.9 * size, bold=True, colour=INK))
