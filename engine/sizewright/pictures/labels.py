"""Where labels can stand, best place first, and the choice among the places that are free."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..geometry.path import Path
from ..geometry.types import Floats
from ..palette import HAIR, INK
from .room import Box, Room, cos_sin
from .sketch import Sketch, Words
from .symbols import left_of, unit
from .text import width

#: Height of one line of text in letter heights.
LEADING = 1.22
# A label whose anchor is further off than this, in letter heights, gets a leader line.
_NEAR = 1.6
# What it costs to lie over other words, and how far a label is moved off them, in its heights.
_ON_WORDS, _FURTHEST = 1000.0, 40.0


@dataclass(frozen=True, slots=True)
class Style:
    """How the lines of a label look."""

    size: float
    bold: bool = False
    italic: bool = False
    colour: str = INK


@dataclass(frozen=True)
class Text:
    """Lines of a label, each with its style, laid one under the other; or, without lines, the
    room for a sign `wide` and `tall` mm."""

    lines: tuple[tuple[str, Style], ...]
    wide: float = 0.0
    tall: float = 0.0

    @cached_property
    def width(self) -> float:
        """Width of the widest line."""
        return max([self.wide, *(width(text, s.size, bold=s.bold) for text, s in self.lines)])

    @cached_property
    def height(self) -> float:
        """Height of all lines together."""
        return max(self.tall, sum(s.size * LEADING for _, s in self.lines))


@dataclass(frozen=True, slots=True)
class Candidate:
    """A place for a label; `leader` is the line from what it names to it, if it needs one."""

    text: Text
    box: Box
    cost: float
    tie: tuple[Floats, Floats] | None = None
    leader: bool = False


def upright(angle: float) -> float:
    """An angle in degrees, turned over where text along it would stand on its head."""
    angle = (angle + 180.0) % 360.0 - 180.0
    if angle > 90.0 + 1e-6:
        return angle - 180.0
    return angle + 180.0 if angle <= -90.0 + 1e-6 else angle


def along_edge(path: Path, texts: Sequence[Text], gap: float) -> Iterator[Candidate]:
    """Places outside an edge, turned with it, for the text that is laid out widest first."""
    size = texts[0].lines[0][1].size
    for rank, text in enumerate(texts):
        if text.width > 0.94 * path.length:
            continue
        for share in (0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74):
            room_left = min(share, 1 - share) * path.length
            if text.width / 2 > room_left:
                continue
            s = np.array([share * path.length])
            at = path.at(s)[0]
            # With the chord under the text, a curve and its label part evenly.
            reach = text.width / 2
            ends = path.at(np.array([s[0] - reach, s[0] + reach]))
            apart = np.any(ends[0] != ends[1])
            tangent = unit(ends[1] - ends[0]) if apart else path.tangents(s)[0]
            out = -left_of(tangent)
            turn = upright(float(np.degrees(np.arctan2(tangent[1], tangent[0]))))
            for k in (0.0, 0.5, 1.1, 1.8, 2.6):
                middle = at + out * (gap + k * size + text.height / 2)
                box = Box(float(middle[0]), float(middle[1]), text.width, text.height, turn)
                cost = abs(share - 0.5) * 2 + k * 0.7 + rank * 0.6
                start = at + out * gap * 0.6
                yield Candidate(text, box, cost, (start, box.nearest(start)))


def with_leader(
    at: Floats, out: Floats, text: Text, size: float, *, cost: float = 4.0
) -> Iterator[Candidate]:
    """Level places round about, on the side of `out`, tied by a leader line."""
    for reach in (2.0, 3.2, 4.6, 6.2, 8.5, 11.0, 14.0):
        for turn in (0, 22, -22, 45, -45, 70, -70):
            direction = rotated(out, turn)
            box = beside(at, direction, reach * size, text)
            start = at + direction * 0.35 * size
            yield Candidate(
                text, box, cost + reach * 0.45 + abs(turn) / 60, (start, box.nearest(at)), True
            )


def beside_point(
    at: Floats, ways: Iterable[tuple[Floats, float, float]], text: Text, size: float
) -> Iterator[Candidate]:
    """Level places near a point.

    Each of `ways` is a direction, how far the place may turn from it (degrees), and its cost.
    """
    for direction, half, cost in ways:
        for share in (0.0, 0.3, -0.3, 0.6, -0.6, 0.9, -0.9):
            way = rotated(direction, share * half)
            for reach in (0.55, 1.0, 1.6, 2.4, 3.4, 4.8, 6.5):
                box = beside(at, way, reach * size, text)
                far = reach > _NEAR
                price = cost + reach * 0.5 + abs(share * half) / 90 + (0.8 if far else 0.0)
                start = at + way * 0.3 * size
                yield Candidate(text, box, price, (start, box.nearest(at)), far)


def beside(at: Floats, direction: Floats, reach: float, text: Text) -> Box:
    """The level box of a text that lies in a direction, its near side `reach` away."""
    # On a slant the box's corner faces the point, straight on the middle of its side.
    dx, dy = direction.tolist()
    most = max(abs(dx), abs(dy))
    wide, tall = text.width, text.height
    x = float(at[0]) + dx * reach + dx / most * (wide / 2)
    y = float(at[1]) + dy * reach + dy / most * (tall / 2)
    return Box(x, y, wide, tall)


def rotated(direction: Floats, degrees: float) -> Floats:
    """A direction (2,) turned counter-clockwise."""
    (c, s), (x, y) = cos_sin(degrees), direction.tolist()
    return np.array([c * x - s * y, s * x + c * y])


def cheapest_first(stage: Iterable[Candidate]) -> list[Candidate]:
    """The candidates of a stage in the order in which `choose` looks at them."""
    return sorted(stage, key=lambda c: c.cost)


def choose(room: Room, *stages: Iterable[Candidate], margin: float) -> Candidate | None:
    """The cheapest candidate that is free; where none is, the one that covers least, and never
    other words: rather it is moved away from its place.

    Each stage has its cheapest candidates first (`cheapest_first`). A later one is looked at
    only when nothing in those before it is free. None when there is no candidate at all.
    """
    best: tuple[float, Candidate] | None = None
    for stage in stages:
        for candidate in stage:
            # One that is dearer than the best already is not weighed to its end.
            most = math.inf if best is None else best[0]
            blocked = 5.0 * room.clashes(candidate.box, margin)
            if blocked and candidate.cost + blocked >= most:
                continue
            if candidate.tie is not None:
                blocked += 3.0 * room.crossed(*candidate.tie)
            if blocked == 0:
                return candidate
            if candidate.cost + blocked >= most:
                continue
            price = candidate.cost + blocked + _ON_WORDS * room.on_words(candidate.box)
            if price < most:
                best = (price, candidate)
    return None if best is None else off_words(room, best[1])


def off_words(room: Room, one: Candidate) -> Candidate:
    """A candidate moved until it lies over no words: no further than it must be."""
    step = one.box.height / 2
    for reach in np.arange(0.0, _FURTHEST * one.box.height, step):
        for turn in np.linspace(90.0, 450.0, 16, endpoint=False) if reach else (0.0,):
            dx, dy = rotated(np.array([reach, 0.0]), float(turn))
            box = replace(one.box, x=one.box.x + float(dx), y=one.box.y + float(dy))
            if not room.on_words(box):
                if not reach:
                    return one
                tie = one.tie and (one.tie[0], box.nearest(one.tie[0]))
                return replace(one, box=box, tie=tie, leader=one.tie is not None)
    return one


def write(sketch: Sketch, room: Room, chosen: Candidate) -> None:
    """Put a chosen label down: leader, lines of text, and the room that they take."""
    box = chosen.box
    if chosen.leader and chosen.tie is not None:
        sketch.polyline(list(chosen.tie), HAIR)
        room.add_line(*chosen.tie)
    _, up = box.axes
    top = np.array([box.x, box.y]) + up * box.height / 2
    for text, style in chosen.text.lines:
        middle = top - up * style.size * LEADING / 2
        top = top - up * style.size * LEADING
        wide = width(text, style.size, bold=style.bold)
        line = Box(float(middle[0]), float(middle[1]), wide, style.size * LEADING, box.angle)
        sketch.words(Words(text, line, style.size, style.bold, style.italic, style.colour))
        room.add_words(line)
    room.add_box(box)
