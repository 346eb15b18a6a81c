"""The names of sizes beside a corner of a nest, a thin line from each to its own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..geometry.nearest import nearest
from ..geometry.path import Path
from ..geometry.types import Floats
from ..model import Piece
from ..palette import INK, Line
from .labels import LEADING
from .room import Box, Room
from .sketch import Sketch, Words
from .symbols import unit
from .text import width

# Corners that are tried, those where the sizes lie widest apart first.
_TRIED = 8
# Beyond this many letter heights between neighbouring sizes, wider apart is no better.
_AMPLE = 1.5
_TURNS = np.radians(np.arange(0, 360, 30))
_REACHES = (2.4, 3.2, 4.4, 6.0, 8.0)


@dataclass(frozen=True, slots=True)
class _Fan:
    """Names laid out: their boxes, and the lines to them, from the sizes' own lines."""

    points: Floats
    boxes: tuple[Box, ...]
    ends: Floats
    cost: float


def write_fan(
    sketch: Sketch, room: Room, pieces: Sequence[Piece], lines: Sequence[Line], size: float
) -> None:
    """Each size's name, tied to its line at the corner where they are best told apart.

    `pieces` smallest first; letters are `size` mm high, and take up room.
    """
    named = [(p, line) for p, line in zip(pieces, lines, strict=True) if p.size]
    if not named:
        return
    names = [p.size or "" for p, _ in named]
    fan = _best(room, _corners(named), names, size)
    for at, box, end, name, (_, line) in zip(
        fan.points, fan.boxes, fan.ends, names, named, strict=True
    ):
        sketch.polyline([at, end], Line(line.colour, 0.2))
        sketch.dot(at, 0.14 * size, None, line.colour)
        sketch.words(Words(name, box, size, bold=True, colour=INK))
        room.add_line(at, end)
        room.add_box(box)


def _corners(named: Sequence[tuple[Piece, Line]]) -> Floats:
    """Corresponding places of all sizes, (places, sizes, 2): corners where all have as many."""
    outlines = [p.drawn for p, _ in named]
    if outlines[0].corners and len({len(o.corners) for o in outlines}) == 1:
        places: Floats = np.stack([o.path.vertices[list(o.corners)] for o in outlines], axis=1)
        return places
    outer: Path = outlines[-1].path
    at = outer.at(np.linspace(0.0, outer.length, 24, endpoint=False))
    near: Floats = np.stack([nearest(o.path, at).point for o in outlines], axis=1)
    return near


def _best(room: Room, places: Floats, names: Sequence[str], size: float) -> _Fan:
    """The cheapest fan without a tangle that covers nothing, else the one that covers least."""
    best: tuple[float, _Fan] | None = None
    fans = sorted(_fans(places, names, size), key=lambda f: f.cost)
    for fan in fans:
        if best is not None and fan.cost >= best[0]:
            break
        if _tangled(fan.points, fan.boxes, fan.ends):
            continue
        price = fan.cost + 4.0 * sum(room.clashes(box, 0.25 * size) for box in fan.boxes)
        if best is not None and price >= best[0]:
            continue
        price += 0.12 * sum(
            room.crossed(a + unit(b - a) * 0.3 * size, b)
            for a, b in zip(fan.points, fan.ends, strict=True)
        )
        if best is None or price < best[0]:
            best = (price, fan)
    return fans[0] if best is None else best[1]


def _fans(places: Floats, names: Sequence[str], size: float) -> Iterator[_Fan]:
    """Fans at the widest corners, each way out, upright and level."""
    count = places.shape[1]
    steps = np.hypot(*np.moveaxis(np.diff(places, axis=1), 2, 0)) if count > 1 else None
    gaps = np.zeros(len(places)) if steps is None else steps.min(axis=1)
    middle = places.mean(axis=(0, 1))
    wide = [width(name, size, bold=True) + 0.3 * size for name in names]
    in_row, tall = sum(wide) + size * len(wide), size * LEADING
    for k in np.argsort(-gaps, kind="stable")[:_TRIED]:
        points = places[k]
        centre = points.mean(axis=0)
        spread = np.abs(points - centre).max(axis=0)
        away = unit(centre - middle)
        worth = 5.0 * (_AMPLE - min(float(gaps[k]) / size, _AMPLE))
        for turn in _TURNS:
            out = np.array([np.cos(turn), np.sin(turn)])
            facing = float(out @ away)
            if facing < -0.3:
                continue
            for reach in _REACHES:
                for upright in (True, False):
                    block = (max(wide), tall * len(wide)) if upright else (in_row, tall)
                    # The whole block stands clear of the points on the side where it lies.
                    beyond = out / np.abs(out).max() * (np.array(block) / 2 + spread)
                    at = centre + out * reach * size + beyond
                    for order in (1, -1):
                        boxes, ends = _laid(points, wide, at, block[0], size, upright, order)
                        ties = np.hypot(*(ends - points).T) / size
                        cost = worth + 1.5 * (1.0 - facing) + 0.25 * float(ties.sum())
                        yield _Fan(points, boxes, ends, cost)


def _laid(
    points: Floats,
    wide: Sequence[float],
    middle: Floats,
    across: float,
    size: float,
    upright: bool,
    order: int,
) -> tuple[tuple[Box, ...], Floats]:
    """Boxes of the names in a column or a level row, and where the lines from the points end.

    `middle` is that of the whole block, `across` its width, `wide` the widths of the names.
    """
    tall = size * LEADING
    (x, y), start = middle.tolist(), points.tolist()
    boxes, ends = [], []
    at = 0.0
    for i, one in enumerate(wide):
        if upright:
            here = x, y + (i - (len(wide) - 1) / 2) * order * tall * 1.06
            side = 1.0 if start[i][0] < here[0] else -1.0
            ends.append((here[0] - side * one / 2, here[1]))
        else:
            here = x + (at + (one + size) / 2 - across / 2) * order, y
            at += one + size
            side = 1.0 if start[i][1] < here[1] else -1.0
            ends.append((here[0], here[1] - side * tall / 2))
        boxes.append(Box(*here, one, tall))
    return tuple(boxes), np.array(ends)


def _tangled(points: Floats, boxes: Sequence[Box], ends: Floats) -> bool:
    """Whether two lines cross, or one passes over another's name or point."""
    for i, (a, b) in enumerate(zip(points, ends, strict=True)):
        inner = a + np.linspace(0.0, 1.0, 24)[:, None] * (b - a)
        for j, (c, d) in enumerate(zip(points, ends, strict=True)):
            if i == j:
                continue
            if bool(boxes[j].holds(inner).any()):
                return True
            if _side(a, b, c) * _side(a, b, d) < 0 and _side(c, d, a) * _side(c, d, b) < 0:
                return True
            along = unit(b - a)
            far = float((c - a) @ along)
            off = abs(float(_side(a, b, c))) / max(float(np.hypot(*(b - a))), 1e-9)
            apart = float(np.hypot(*(c - a))) > 1e-6
            if apart and 0.0 < far < float(np.hypot(*(b - a))) and off < 0.25:
                return True
    return False


def _side(a: Floats, b: Floats, c: Floats) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
