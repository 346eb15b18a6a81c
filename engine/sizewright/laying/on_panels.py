"""Items on cloth of a given size, panels or a cut length: tasks of two unlike searches."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..geometry import affine
from .cloth import Cloth, Panel
from .grown import MORE, grown, ring_of
from .items import Item
from .lay import Laid

# The comb keeps this much cloth round its panels, mm; the slit from each to its edge is so wide.
_RIM, _SLIT = 6.0, 0.04
_PLAY = 1.0002


@dataclass(frozen=True)
class OnPanels:
    """The search by pixels (`panels.guided`), and how its finds are read."""

    items: tuple[Item, ...]
    panels: tuple[Panel, ...]

    def task(self, cloth: Cloth, seconds: float, seed: int) -> dict[str, Any]:
        """The worker's task."""
        return {
            "engine": "panels.guided",
            "shapes": [item.turned(0.0).tolist() for item in self.items],
            "turns": [list(cloth.turns)] * len(self.items),
            "panels": [_rings(level(panel)) for panel in self.panels],
            "gap": cloth.gap + 0.01,
            "seconds": seconds,
            "seed": seed,
        }

    def read(self, find: Mapping[str, Any]) -> list[Laid]:
        """The places of a find."""
        return [
            on_panel(self.items[i], self.panels[k], x, y, turn)
            for i, k, x, y, turn in find["places"]
        ]


@dataclass(frozen=True)
class Comb:
    """The panels as the holes of one item of the strip library, open to its lower edge.

    Only cloth without islands can be told so.
    """

    items: tuple[Item, ...]
    panels: tuple[Panel, ...]
    rings: tuple[Any, ...]
    offsets: tuple[tuple[float, float], ...]
    width: float
    height: float

    @classmethod
    def of(cls, cloth: Cloth, items: Sequence[Item], panels: Sequence[Panel]) -> Comb | None:
        """The comb of some panels; None where a hole or flaw is an island."""
        from shapely import Polygon, box
        from shapely.affinity import translate

        rings: list[Any] = [grown(item, cloth.gap) for item in items]
        x, tall, holes, offsets = _RIM, 0.0, [], []
        for panel in panels:
            area = level(panel)
            if any(len(part.interiors) for part in area.geoms):
                return None
            x0, y0, x1, y1 = area.bounds
            dx, dy = x - x0, 2 * _RIM - y0
            offsets.append((dx, dy))
            for part in area.geoms:
                ring = ring_of(part, cloth.gap / 2 + 0.2 * MORE)
                holes.append(translate(Polygon(ring), dx, dy))
            x += x1 - x0 + cloth.gap + 2 * _RIM
            tall = max(tall, y1 - y0)
        width, height = x, tall + cloth.gap + 4 * _RIM
        comb = box(0, 0, width, height)
        for hole in holes:
            ring = np.array(hole.exterior.coords)
            low = ring[ring[:, 1].argmin()]
            slit = box(low[0] - _SLIT / 2, -1.0, low[0] + _SLIT / 2, low[1] + 0.5)
            comb = comb.difference(hole).difference(slit)
        if comb.geom_type != "Polygon" or len(comb.interiors):
            return None
        ring = np.array(comb.exterior.coords)[:-1]
        return cls(
            tuple(items), tuple(panels), (ring, *rings), tuple(offsets), width, height * _PLAY
        )

    def task(self, cloth: Cloth, seconds: float, seed: int) -> dict[str, Any]:
        """The worker's task."""
        least = min(float(np.ptp(ring, axis=0).min()) for ring in self.rings[1:])
        return {
            "engine": "strip",
            "shapes": [ring.tolist() for ring in self.rings],
            "turns": [[0], *[list(cloth.turns)] * len(self.items)],
            "height": self.height,
            "seconds": seconds,
            "seed": seed,
            "until": self.width + 0.9 * least,
        }

    def read(self, find: Mapping[str, Any]) -> list[Laid]:
        """The places of a find, counted from the comb; what lies on no panel is left out."""
        from shapely import Point

        (cx, cy, _), *places = find["places"]
        laid = []
        for item, (x, y, turn) in zip(self.items, places, strict=True):
            at = affine.apply(affine.rotation(turn), item.turned(0.0)) + np.array([x - cx, y - cy])
            for panel, (dx, dy) in zip(self.panels, self.offsets, strict=True):
                own = at - (dx, dy)
                middle = own.mean(axis=0)
                if level(panel).buffer(1.0).intersects(Point(middle)) or level(panel).intersects(
                    Point(own[0])
                ):
                    low = own.min(axis=0)
                    laid.append(on_panel(item, panel, float(low[0]), float(low[1]), turn))
                    break
        return laid


def level(panel: Panel) -> Any:
    """What may be cut of a panel, its grain level, as a multipolygon."""
    from shapely import MultiPolygon
    from shapely.affinity import rotate

    sound = rotate(panel.sound, -panel.angle, origin=(0, 0))
    parts = [p for p in getattr(sound, "geoms", [sound]) if p.geom_type == "Polygon"]
    return MultiPolygon(parts)


def on_panel(item: Item, panel: Panel, x: float, y: float, turn: int) -> Laid:
    """The place of an item whose lower left is at (x, y) on a panel that has its grain level."""
    ring = affine.apply(affine.rotation(panel.angle), item.turned(turn) + np.array([x, y]))
    low = ring.min(axis=0) - np.array(panel.corner)
    return Laid(item, panel.name, float(low[0]), float(low[1]), turn)


def _rings(area: Any) -> list[list[list[list[float]]]]:
    return [
        [
            [list(map(float, p)) for p in ring.coords][:-1]
            for ring in (part.exterior, *part.interiors)
        ]
        for part in area.geoms
    ]
