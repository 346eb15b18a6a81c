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
# Ways out of a corner, each by itself: the cosines of many at once may round otherwise.
_WAYS = np.array([(np.cos(turn), np.sin(turn)) for turn in np.radians(np.arange(0, 360, 30))])
_REACHES = np.array([2.4, 3.2, 4.4, 6.0, 8.0])


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
    if named:
        names = [p.size or "" for p, _ in named]
        tie_names(sketch, room, _corners(named), names, [line for _, line in named], size)


def tie_names(
    sketch: Sketch,
    room: Room,
    places: Floats,
    names: Sequence[str],
    lines: Sequence[Line],
    size: float,
) -> None:
    """Names tied to their lines at one of `places` (places, names, 2): where it serves best."""
    fan = _best(room, places, names, size)
    for at, box, end, name, line in zip(fan.points, fan.boxes, fan.ends, names, lines, strict=True):
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
    return stations(outlines[-1].path, [o.path for o in outlines])


def stations(outer: Path, paths: Sequence[Path]) -> Floats:
    """Places along one line and what of each of `paths` is nearest, (places, paths, 2)."""
    at = outer.at(np.linspace(0.0, outer.length, 24, endpoint=False))
    near: Floats = np.stack([nearest(path, at).point for path in paths], axis=1)
    return near


def _best(room: Room, places: Floats, names: Sequence[str], size: float) -> _Fan:
    """The cheapest fan without a tangle that covers nothing, else the one that covers least."""
    best, least = None, np.inf
    for fan in _fans(places, names, size):
        best = best or fan
        if fan.cost >= least:
            break
        if _tangled(fan.points, fan.boxes, fan.ends):
            continue
        price = fan.cost + 4.0 * sum(room.clashes(box, 0.25 * size) for box in fan.boxes)
        if price >= least:
            continue
        price += 0.12 * sum(
            room.crossed(a + unit(b - a) * 0.3 * size, b)
            for a, b in zip(fan.points, fan.ends, strict=True)
        )
        if price < least:
            best, least = fan, price
    assert best is not None  # some way always faces out
    return best


def _fans(places: Floats, names: Sequence[str], size: float) -> Iterator[_Fan]:
    """Fans at the widest corners, each way out, upright and level: the cheapest first."""
    count = places.shape[1]
    steps = np.hypot(*np.moveaxis(np.diff(places, axis=1), 2, 0)) if count > 1 else None
    gaps = np.zeros(len(places)) if steps is None else steps.min(axis=1)
    middle = places.mean(axis=(0, 1))
    wide = [width(name, size, bold=True) + 0.3 * size for name in names]
    tried, costs = [], []
    for k in np.argsort(-gaps, kind="stable")[:_TRIED]:
        points = places[k]
        away = unit(points.mean(axis=0) - middle)
        facing = np.array([float(way @ away) for way in _WAYS])
        out = facing >= -0.3
        middles, ends = _laid(points, wide, _WAYS[out], size)
        ties = np.hypot(*np.moveaxis(ends - points, -1, 0)) / size
        worth = 5.0 * (_AMPLE - min(float(gaps[k]) / size, _AMPLE))
        turned = worth + 1.5 * (1.0 - facing[out])
        costs.append(turned[:, None, None, None] + 0.25 * ties.sum(axis=-1))
        tried += [(points, *laid) for laid in zip(_rows(middles), _rows(ends), strict=True)]
    cost = np.concatenate([c.ravel() for c in costs])
    for i in np.argsort(cost, kind="stable"):
        points, at, end = tried[i]
        boxes = (
            Box(x, y, one, size * LEADING) for (x, y), one in zip(at.tolist(), wide, strict=True)
        )
        yield _Fan(points, tuple(boxes), end, float(cost[i]))


def _rows(laid: Floats) -> Floats:
    """Places of all fans at a corner, one after another: (fans, sizes, 2)."""
    return laid.reshape(-1, *laid.shape[-2:])


def _laid(
    points: Floats, wide: Sequence[float], ways: Floats, size: float
) -> tuple[Floats, Floats]:
    """Middles of the names in columns and level rows, and where the lines from the points end.

    Both are (ways, reaches, upright or level, to and fro, sizes, 2); `wide` are the widths of
    the names.
    """
    tall, widths, number = size * LEADING, np.array(wide), len(wide)
    spread = np.abs(points - points.mean(axis=0)).max(axis=0)
    in_row = sum(wide) + size * number
    before = np.array([sum((one + size for one in wide[:i]), 0.0) for i in range(number)])
    column = np.arange(number) - (number - 1) / 2
    shape = (len(ways), len(_REACHES), 2, 2, number, 2)
    middles, ends = np.empty(shape), np.empty(shape)
    for upright, block in enumerate(((in_row, tall), (max(wide), tall * number))):
        # The whole block stands clear of the points on the side where it lies.
        beyond = ways / np.abs(ways).max(axis=1)[:, None] * (np.array(block) / 2 + spread)
        reach = ways[:, None] * _REACHES[:, None] * size
        at = points.mean(axis=0) + reach + beyond[:, None]
        for back, order in enumerate((1, -1)):
            here, end = middles[:, :, 1 - upright, back], ends[:, :, 1 - upright, back]
            here[...] = at[:, :, None]
            if upright:
                here[..., 1] += column * order * tall * 1.06
            else:
                here[..., 0] += (before + (widths + size) / 2 - in_row / 2) * order
            across = 0 if upright else 1
            side = np.where(points[:, across] < here[..., across], 1.0, -1.0)
            end[...] = here
            end[..., across] -= side * (widths if upright else tall) / 2
    return middles, ends


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
