"""Shapes to be laid, the turns that they may take, and where they lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any

import numpy as np

from ..geometry import affine
from ..geometry.types import Floats

#: Lines are wider than the shape that they bound by this, mm.
EDGE = 0.5


@dataclass(frozen=True)
class Place:
    """Where a shape lies: turned counter-clockwise about (0, 0), then moved by (x, y), mm.

    `turn` is in degrees, a multiple of 90.
    """

    turn: int
    x: float
    y: float

    @property
    def matrix(self) -> Floats:
        """The same as an affine map, (2, 3)."""
        return affine.compose(affine.translation(self.x, self.y), affine.rotation(self.turn))


class Shape:
    """A shape to be laid: all that lies within its closed rings, (m, 2) mm, y up.

    `turns` are those that it may take, degrees, multiples of 90, and `gap` is its least
    distance from any other shape with that gap, mm.
    """

    def __init__(self, rings: Sequence[Floats], turns: Sequence[int], gap: float) -> None:
        from shapely import Polygon, union_all

        self.turns = tuple(turns)
        self.half_gap = max(gap / 2, EDGE)
        self.outline = union_all([Polygon(ring).buffer(0) for ring in rings])
        # One and the same geometry is laid again and again.
        self._turned = cache(self._grown)

    def _grown(self, turn: int, by: float) -> Any:
        from shapely.affinity import affine_transform

        (a, b, _), (c, d, _) = Place(turn, 0.0, 0.0).matrix
        area = self.outline.buffer(by) if by else self.outline
        return affine_transform(area, (a, b, c, d, 0.0, 0.0))

    @cached_property
    def area(self) -> float:
        """Area with half of the gap round it, mm2."""
        return float(self.grown(self.turns[0]).area)

    @cached_property
    def sizes(self) -> dict[int, tuple[float, float]]:
        """Width and height in each turn with half of the gap round it, mm."""
        found = {}
        for turn in self.turns:
            x0, y0, x1, y1 = self.grown(turn).bounds
            found[turn] = (x1 - x0, y1 - y0)
        return found

    def grown(self, turn: int) -> Any:
        """The shape turned, with half of the gap round it, as a shapely geometry."""
        return self._turned(turn, self.half_gap)

    def at(self, place: Place, *, line: bool = False) -> Any:
        """The shape in its place as a shapely geometry; with its `line`, `EDGE` larger."""
        from shapely import transform

        turned = self._turned(place.turn, EDGE if line else 0.0)
        return transform(turned, lambda points: points + np.array([place.x, place.y]))
