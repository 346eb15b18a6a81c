"""A sheet as a grid of pixels: what of it is taken, and where a shape lies on what is free.

Whether a place is free is found for all places at once: the correlation of a shape with
what lies there already is zero where they do not meet.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np

from ..geometry.raster import touched_pixels
from ..geometry.types import Bools, Floats


def mask_of(
    area: Any, corner: tuple[float, float], pixel: tuple[float, float], size: tuple[int, int]
) -> Bools:
    """Pixels, (rows, columns) = `size`, that a shapely area reaches; its holes are filled.

    `corner` is that of pixel [0, 0], mm, and `pixel` the step to the next column and row;
    a negative one counts rows downwards.
    """
    rings = [np.array(part.exterior.coords) for part in getattr(area, "geoms", [area])]
    flip = np.sign(pixel)
    x, y = flip * corner
    wide, tall = np.abs(pixel)
    return touched_pixels([ring * flip for ring in rings], (x, y), (wide, tall), size)


class Taken:
    """The pixels of a sheet, `height` x `width`, that are taken."""

    def __init__(self, height: int, width: int) -> None:
        self.height = height
        self._taken = np.zeros((height, width), dtype=np.float32)
        self.size = _quick(height), _quick(width)
        self._any = False
        self._spectrum: Any = None

    def put(self, mask: Bools, y: int, x: int) -> None:
        """Take the pixels of a mask that is laid with its corner at (y, x)."""
        self._taken[y : y + mask.shape[0], x : x + mask.shape[1]][mask] = 1.0
        self._any = True
        self._spectrum = None

    def spectra(self, masks: Sequence[Bools]) -> Any:
        """What `free` asks of some masks; the same for every sheet of this size."""
        found = [np.fft.rfft2(mask.astype(np.float32), self.size) for mask in masks]
        return np.conj(np.stack(found))

    def free(self, masks: Sequence[Bools], spectra: Any) -> list[Bools]:
        """For each mask the places (y, x) of its corner where it lies on nothing else.

        It lies on the sheet with all of it; `spectra` is what this sheet gave for the masks.
        """
        height, width = self._taken.shape
        rooms = [(height - m.shape[0] + 1, width - m.shape[1] + 1) for m in masks]
        if not self._any:
            return [np.ones(room, dtype=np.bool_) for room in rooms]
        if self._spectrum is None:
            self._spectrum = np.fft.rfft2(self._taken, self.size)
        # It wraps round only for places that run off the sheet.
        meets: Floats = np.fft.irfft2(self._spectrum * spectra, self.size)
        return [m[:down, :across] < 0.5 for m, (down, across) in zip(meets, rooms, strict=True)]


@cache
def _quick(length: int) -> int:
    """The least length from `length` on that is a product of 2, 3 and 5: transforms are quick."""
    while True:
        rest = length
        for factor in (2, 3, 5):
            while rest % factor == 0:
                rest //= factor
        if rest == 1:
            return length
        length += 1
