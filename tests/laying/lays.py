"""Pieces and cloths to lay, and a proof of lays that shares nothing with the engine's."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from shapely import Polygon, affinity

from sizewright.geometry import Path, flatten
from sizewright.laying import Cloth, Item, Lay, items_for
from sizewright.model import Grain, Outline, Piece, Quantity


def piece(
    name: str, points: Sequence[tuple[float, float]], count: int = 1, *, pair: bool = False
) -> Piece:
    """A piece of straight edges whose grain runs up."""
    path = Path.polyline(points, closed=True)
    x, y = np.mean(points, axis=0)
    grain = Grain((float(x), float(y) - 5), (float(x), float(y) + 5))
    return Piece(
        name, Outline.of(path), kind="cut", grain=grain, pair=pair,
        quantity=(Quantity("main", count),),
    )  # fmt: skip


def gore(name: str, wide: float, tall: float, count: int = 1, *, pair: bool = False) -> Piece:
    """A piece that is wider below than above, and not symmetric."""
    return piece(name, [(0, 0), (wide, 0), (0.7 * wide, tall), (0, tall)], count, pair=pair)


def items(cloth: Cloth, *pieces: Piece) -> list[Item]:
    """What is laid of some pieces."""
    return items_for(cloth, pieces)[0]


def check(lay: Lay) -> None:
    """Assert that nothing overlaps, hangs over or lies nearer than the gap.

    Built from the places alone: outline, mirrored, turned by what the grain needs, moved so
    that its box begins at (x, y).
    """
    areas: dict[str, list[Polygon]] = {}
    for one in lay.laid:
        piece = one.item.piece
        shape = Polygon(flatten(piece.drawn.path, 0.02))
        up = math.degrees(math.atan2(piece.up[1], piece.up[0]))
        shape = affinity.rotate(shape, -up, origin=(0, 0))
        if one.item.side == "turned over":
            shape = affinity.scale(shape, 1, -1, origin=(0, 0))
        x0 = y0 = angle = 0.0
        ground = None
        if lay.cloth.width is None:
            panel = lay.cloth.panel(one.panel)
            rings = [Polygon(flatten(p, 0.02)) for p in (*panel.holes, *panel.flaws)]
            ground = Polygon(flatten(panel.outline, 0.02))
            x0, y0, _, _ = panel.outline.bounds
            angle = panel.angle
            for ring in rings:
                ground = ground.difference(ring)
        shape = affinity.rotate(shape, angle + one.turn, origin=(0, 0))
        a, b, _, _ = shape.bounds
        shape = affinity.translate(shape, x0 + one.x - a, y0 + one.y - b)
        if ground is not None:
            assert shape.difference(ground).area < 0.05, one
        else:
            low, high = lay.cloth.selvedge, lay.cloth.width - lay.cloth.selvedge
            left, under, right, over = shape.bounds
            assert left > -0.01
            assert under > low - 0.01
            assert over < high + 0.01
            assert right < (lay.cloth.length or math.inf) + 0.01
        for other in areas.setdefault(one.panel, []):
            assert shape.intersection(other).area < 1e-3
            assert shape.distance(other) > lay.cloth.gap - 0.01
        areas[one.panel].append(shape)
    assert len(lay.laid) + len(lay.left) == len({i.item.key for i in lay.laid}) + len(lay.left)
