"""What a search on panels works on: the panels side by side, the shapes to lay, and their proof."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from shapely import MultiPolygon, Polygon, affinity, prepare

from ...geometry.types import Floats

#: Panels lie this far apart, mm.
APART = 12.0
# Places are told to this, mm.
_EXACT = 1e-4


@dataclass(frozen=True)
class Place:
    """Where a shape lies: which of its turns, and its lower left, mm, on the ground."""

    turn: int
    x: float
    y: float


class Shape:
    """One shape in the turns that it may take, lower left at (0, 0), grain level."""

    def __init__(self, ring: Floats, turns: Sequence[int]) -> None:
        self.turns = tuple(turns)
        self.polygons = []
        for turn in turns:
            polygon = affinity.rotate(Polygon(ring).buffer(0), turn, origin=(0, 0))
            x0, y0, _, _ = polygon.bounds
            self.polygons.append(affinity.translate(polygon, -x0, -y0))
        self.area = float(self.polygons[0].area)
        self.size = self.polygons[0].bounds[2:]

    def at(self, place: Place) -> Any:
        """What it covers there."""
        return affinity.translate(self.polygons[place.turn], place.x, place.y)


class Ground:
    """Panels with level grain on shelves, and the shapes to lay on them."""

    def __init__(self, task: Mapping[str, Any]) -> None:
        self.gap = float(task["gap"])
        panels = [MultiPolygon([Polygon(r[0], r[1:]) for r in parts]) for parts in task["panels"]]
        self.offsets, self.width, self.height = _shelves([p.bounds for p in panels])
        self.panels = [
            affinity.translate(p, dx, dy) for p, (dx, dy) in zip(panels, self.offsets, strict=True)
        ]
        self.whole = MultiPolygon([part for panel in self.panels for part in panel.geoms])
        for panel in self.panels:
            prepare(panel)
        alike: dict[tuple[bytes, tuple[int, ...]], Shape] = {}
        self.shapes = []
        for ring, turns in zip(task["shapes"], task["turns"], strict=True):
            points = np.array(ring, dtype=np.float64)
            key = (points.tobytes(), tuple(turns))
            if key not in alike:
                alike[key] = Shape(points, turns)
            self.shapes.append(alike[key])

    @cached_property
    def area(self) -> float:
        """Sound cloth, mm2."""
        return float(self.whole.area)

    def sound(self, places: Mapping[int, Place]) -> dict[int, Place]:
        """Those of some places that hold, larger shapes first: on a panel, clear of the others."""
        kept: dict[int, Place] = {}
        lying: list[Any] = []
        for i in sorted(places, key=lambda k: -self.shapes[k].area):
            area = self.shapes[i].at(places[i])
            if not any(panel.covers(area) for panel in self.panels):
                continue
            if all(self._clear(area, other) for other in lying):
                kept[i] = places[i]
                lying.append(area)
        return kept

    def _clear(self, a: Any, b: Any) -> bool:
        apart = float(a.distance(b))
        return apart >= self.gap and (apart > 0 or float(a.intersection(b).area) < _EXACT)

    def told(self, places: Mapping[int, Place]) -> dict[str, Any]:
        """Places as a find: (shape, panel, x, y, turn in degrees), on panels as they were given."""
        found = []
        for i, place in sorted(places.items()):
            area = self.shapes[i].at(place)
            k = next(k for k, panel in enumerate(self.panels) if panel.covers(area))
            dx, dy = self.offsets[k]
            turn = self.shapes[i].turns[place.turn]
            found.append((i, k, place.x - dx, place.y - dy, turn))
        return {"places": found, "area": sum(self.shapes[i].area for i in places)}


def _shelves(
    boxes: Sequence[tuple[float, ...]],
) -> tuple[list[tuple[float, float]], float, float]:
    """How panels are moved to lie on shelves, apart from each other; the size of all."""
    area = sum((x1 - x0 + APART) * (y1 - y0 + APART) for x0, y0, x1, y1 in boxes)
    most = max(max(x1 - x0 for x0, _, x1, _ in boxes), (1.2 * area) ** 0.5)
    moves: dict[int, tuple[float, float]] = {}
    x = y = tall = width = 0.0
    for k in sorted(range(len(boxes)), key=lambda k: boxes[k][1] - boxes[k][3]):
        x0, y0, x1, y1 = boxes[k]
        if x > 0 and x + x1 - x0 > most:
            x, y, tall = 0.0, y + tall + APART, 0.0
        moves[k] = (x - x0, y - y0)
        x += x1 - x0 + APART
        width, tall = max(width, x - APART), max(tall, y1 - y0)
    return [moves[k] for k in range(len(boxes))], width, y + tall
