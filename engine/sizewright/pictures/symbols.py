"""The signs on a pattern: arrowheads, notches by kind, fold brackets, drill holes, pleats.

Each takes places in mm, y up, and a sign size in mm, and adds to a sketch.
"""

from __future__ import annotations

import numpy as np

from ..geometry.path import Path
from ..geometry.types import Floats
from ..model import Piece, Pleat
from ..palette import FOLD_LINE, MARK_LINE, NOTCH_LINE, PAPER, Line
from .room import Room
from .sketch import Sketch

#: The line of a drill hole.
DRILL_LINE = Line(MARK_LINE.colour, MARK_LINE.width)


def left_of(direction: Floats) -> Floats:
    """A direction (2,) turned a quarter counter-clockwise."""
    return np.array([-direction[1], direction[0]])


def unit(direction: Floats) -> Floats:
    """A direction (2,) of length 1; to the right where it has none."""
    size = float(np.hypot(*direction))
    return direction / size if size else np.array([1.0, 0.0])


def arrowhead(sketch: Sketch, tip: Floats, direction: Floats, size: float, colour: str) -> None:
    """A filled arrowhead whose point is at `tip`."""
    along = unit(direction)
    across = left_of(along) * size * 0.32
    base = tip - along * size
    sketch.polyline([tip, base + across, base - across], None, closed=True, fill=colour)


def arrow(
    sketch: Sketch, start: Floats, end: Floats, line: Line, size: float, *, both: bool
) -> None:
    """A line with a head at its end, or at both ends."""
    along = unit(end - start)
    back = along * size * 0.8
    sketch.polyline([start + back if both else start, end - back], line)
    arrowhead(sketch, end, along, size, line.colour)
    if both:
        arrowhead(sketch, start, -along, size, line.colour)


def notch(
    sketch: Sketch,
    room: Room,
    at: Floats,
    along: Floats,
    kind: str,
    depth: float,
    count: int,
    *,
    line: Line = NOTCH_LINE,
) -> None:
    """A notch on the edge, cut inward; `along` is the outline's direction there."""
    inward = left_of(along)
    for i in range(count):
        place = at + along * (i - (count - 1) / 2) * depth * 0.9
        for points in _notch_shape(kind, depth):
            shape = place + points[:, :1] * along + points[:, 1:] * inward
            closed = kind in ("v", "castle", "check")
            sketch.polyline(shape, line, closed=closed, fill=PAPER if closed else "none")
            room.add_points(shape)
        room.add_line(place, place + inward * depth)


def _notch_shape(kind: str, d: float) -> list[Floats]:
    """Lines of one notch: along the edge, inward."""
    h = 0.45 * d
    if kind == "v":
        return [np.array([[-h, 0], [0, d], [h, 0]])]
    if kind == "check":
        return [np.array([[-h, 0], [h, d], [h, 0]])]
    if kind == "castle":
        return [np.array([[-h, 0], [-h, d], [h, d], [h, 0]])]
    if kind == "t":
        return [np.array([[0, 0], [0, d]]), np.array([[-h, d], [h, d]])]
    if kind == "u":
        turn = np.linspace(np.pi, 0, 9)
        bow = np.stack([h * np.cos(turn), d - h + h * np.sin(turn)], axis=1)
        return [np.concatenate([[[-h, 0]], bow, [[h, 0]]])]
    return [np.array([[0, 0], [0, d]])]


def fold_bracket(sketch: Sketch, room: Room, fold: Path, size: float) -> tuple[Floats, Floats]:
    """Bracket arrows that point at a fold, from inside the piece; the ends of its bar."""
    length = fold.length
    inset = min(2.0 * size, length / 3)
    margin = min(max(0.12 * length, size), length / 3)
    ends = fold.at(np.array([margin, length - margin]))
    inward = left_of(unit(fold.end - fold.start))
    bar = ends + inward * inset
    solid = Line(FOLD_LINE.colour, FOLD_LINE.width * 0.8)
    tips = ends + inward * size * 0.8
    sketch.polyline([tips[0], bar[0], bar[1], tips[1]], solid)
    for tip in ends:
        arrowhead(sketch, tip, -inward, size, FOLD_LINE.colour)
    room.add_line(ends[0], bar[0], bar[1], ends[1])
    return bar[0], bar[1]


def drill(
    sketch: Sketch,
    room: Room,
    at: Floats,
    size: float,
    *,
    line: Line = DRILL_LINE,
) -> None:
    """A drill hole: a small circle with a cross."""
    sketch.dot(at, 0.35 * size, line, PAPER)
    for reach in (np.array([0.6 * size, 0]), np.array([0, 0.6 * size])):
        sketch.polyline([at - reach, at + reach], line)
        room.add_line(at - reach, at + reach)


def drawn_pleats(piece: Piece) -> tuple[Pleat, ...]:
    """The pleats of a piece of which no marks, named after them, show how they are laid."""
    names = [mark.name or "" for mark in piece.marks]
    return tuple(p for p in piece.pleats if not any(n.startswith(f"{p.name}-") for n in names))


def pleat(sketch: Sketch, room: Room, a: Floats, b: Floats, inward: Floats, size: float) -> None:
    """A pleat's mouth: its two lines, and an arrow from the one to the other."""
    reach = inward * 3 * size
    line = Line(MARK_LINE.colour, MARK_LINE.width)
    for end in (a, b):
        sketch.polyline([end, end + reach], line)
        room.add_line(end, end + reach)
    middle = inward * 1.8 * size
    head = min(0.8 * size, 0.4 * float(np.hypot(*(b - a))))
    arrow(sketch, a + middle, b + middle, line, head, both=False)
    room.add_line(a + middle, b + middle)
