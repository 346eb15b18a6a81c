"""The ground and the shapes as pixels of one size, and what each place would cost."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft2, next_fast_len, rfft2
from scipy.ndimage import distance_transform_edt
from shapely import contains_xy, prepare

from ...geometry.types import Bools
from .ground import Ground, Place, Shape

Singles = NDArray[np.float32]
# Pixels round a shape that tell what it touches; a place off the cloth costs no more than this.
_RING, _FAR = 2.3, 6.0


class Stamp:
    """One shape in one turn as pixels: itself, with its gap, how deep, and the ring round it."""

    def __init__(self, level: Level, polygon: Any) -> None:
        _, _, wide, tall = polygon.bounds
        h, pad = level.pixel, level.pad
        self.size = math.ceil(tall / h) + 2 * pad, math.ceil(wide / h) + 2 * pad
        self.own = level.mask(polygon, self.size)
        self.wide = level.mask(polygon.buffer(level.reach), self.size)
        self.wide |= self.own
        # Small shapes have a pixel at least, lest they weigh nothing.
        if not self.wide.any():
            self.wide[self.size[0] // 2, self.size[1] // 2] = True
        self.deep = np.sqrt(distance_transform_edt(self.wide)).astype(np.float32)
        away = distance_transform_edt(~self.wide)
        self.ring = (away > 0) & (away <= _RING)
        self.of_wide, self.of_ring = level.spectrum(self.wide), level.spectrum(self.ring)
        rows, columns = level.size[0] - self.size[0] + 1, level.size[1] - self.size[1] + 1
        self.rooms = max(rows, 0), max(columns, 0)
        self.off = level.correlated(level.of_out, level.spectrum(self.own), self)
        self.beside = float(self.ring.sum())


class Level:
    """Pixels of `pixel` mm; shapes are taken to be `slack` mm smaller all round than they are.

    So a place that is just too tight is still found, for the exact work that follows.
    """

    def __init__(self, ground: Ground, pixel: float, slack: float) -> None:
        self.ground, self.pixel, self.slack = ground, pixel, slack
        self.reach = ground.gap / 2 - slack
        self.pad = math.ceil((ground.gap / 2) / pixel) + 4
        self.size = (
            math.ceil(ground.height / pixel) + 2 * self.pad,
            math.ceil(ground.width / pixel) + 2 * self.pad,
        )
        self.fast = next_fast_len(self.size[0], real=True), next_fast_len(self.size[1], real=True)
        inside = self.mask(ground.whole.buffer(slack), self.size)
        away = distance_transform_edt(~inside)
        self.out = np.where(inside, 0.0, np.minimum(away, _FAR) + 0.5).astype(np.float32)
        self.closed = ~inside
        self.of_out = rfft2(self.out, self.fast)
        self._stamps: dict[tuple[int, int], Stamp] = {}

    def stamp(self, shape: Shape, turn: int) -> Stamp:
        """A shape's pixels in one of its turns."""
        key = (id(shape), turn)
        if key not in self._stamps:
            self._stamps[key] = Stamp(self, shape.polygons[turn])
        return self._stamps[key]

    def mask(self, area: Any, size: tuple[int, int]) -> Bools:
        """Pixels whose middle lies in an area that begins `pad` pixels from the lower left."""
        y, x = ((np.arange(n) + 0.5 - self.pad) * self.pixel for n in size)
        prepare(area)
        found: Bools = contains_xy(area, *np.meshgrid(x, y))
        return found

    def spectrum(self, mask: Bools) -> Any:
        """What `correlated` asks of a mask."""
        return np.conj(rfft2(mask.astype(np.float32), self.fast))

    def correlated(self, field: Any, spectrum: Any, stamp: Stamp) -> Singles:
        """The sum of a field (its `rfft2`) under a mask, for every place of its corner."""
        rows, columns = stamp.rooms
        whole: Singles = irfft2(field * spectrum, self.fast)
        return whole[:rows, :columns]

    def cell(self, place: Place) -> tuple[int, int]:
        """The pixel nearest a place's corner."""
        return round(place.y / self.pixel), round(place.x / self.pixel)

    def place(self, turn: int, row: int, column: int) -> Place:
        """The place of a pixel."""
        return Place(turn, column * self.pixel, row * self.pixel)
