"""Items on a length of cloth: the strip packing library looks, this reads what it finds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..geometry import affine
from ..geometry.types import Floats
from .cloth import Cloth
from .grown import grown
from .items import Item
from .lay import Laid

# An exact fit needs this much play in the height of a strip, as a share of it.
_PLAY = 0.0005


@dataclass(frozen=True)
class Strip:
    """A task for the strip packing library, and how its finds are read as places."""

    items: tuple[Item, ...]
    rings: tuple[Floats, ...]
    turns: tuple[int, ...]
    height: float
    low: float
    spare: float

    @classmethod
    def of(cls, cloth: Cloth, items: Sequence[Item]) -> Strip:
        """The strip of a length of cloth; every item must fit across it."""
        low, high = cloth.band
        rings = [grown(item, cloth.gap) for item in items]
        tall = [float(np.ptp(item.turned(0.0)[:, 1])) for item in items]
        # What the ring of each reaches below and above it: the least of these lies outside.
        spare = min(
            min(-float(ring[:, 1].min()), float(ring[:, 1].max()) - h)
            for ring, h in zip(rings, tall, strict=True)
        )
        height = high - low + 2 * spare
        tallest = max(float(np.ptp(ring[:, 1])) for ring in rings)
        if tallest > height * (1 - _PLAY):
            height = max(height, tallest) * (1 + _PLAY)
        return cls(tuple(items), tuple(rings), cloth.turns, height, low, spare)

    def task(self, seconds: float, seed: int, until: float | None) -> dict[str, Any]:
        """The worker's task; `until` is a length, mm, that is short enough."""
        return {
            "engine": "strip",
            "shapes": [ring.tolist() for ring in self.rings],
            "turns": [list(self.turns)] * len(self.items),
            "height": self.height,
            "seconds": seconds,
            "seed": seed,
            "until": 0.0 if until is None else until + 2 * self.spare,
        }

    def read(self, find: Mapping[str, Any], cloth: Cloth) -> list[Laid]:
        """The places of a find, the leftmost at the start of the cloth."""
        found = []
        for item, (x, y, turn) in zip(self.items, find["places"], strict=True):
            found.append((item, *across(cloth, item, x, y - self.spare + self.low, turn), turn))
        return placed(found)


def across(cloth: Cloth, item: Item, x: float, y: float, turn: int) -> tuple[float, float]:
    """The lower left of an item that was turned about its own and moved by (x, y).

    Play may have let it hang over by a little: it is brought back.
    """
    low, high = cloth.band
    turned = affine.apply(affine.rotation(turn), item.turned(0.0))
    dx, dy = turned.min(axis=0)
    tall = float(np.ptp(turned[:, 1]))
    return x + float(dx), min(max(y + float(dy), low), max(high - tall, low))


def placed(found: Sequence[tuple[Item, float, float, int]]) -> list[Laid]:
    """Places on a length, the leftmost at its start."""
    start = min((x for _, x, _, _ in found), default=0.0)
    return [Laid(item, "", x - start, y, turn) for item, x, y, turn in found]
