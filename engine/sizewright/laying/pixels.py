"""A sheet as a grid of pixels: what of it is taken, and where a shape lies on what is free.

Whether a place is free is found for all places at once: the sheet is one long number, a bit
a pixel, and each run of a shape's pixels moves it to where it lies under the shape's corner.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ..geometry.raster import touched_pixels
from ..geometry.types import Bools


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


#: Runs of 2 ** k pixels, by k: the rows and columns of their left ends. Some may overlap.
Runs = list[tuple[int, list[tuple[int, int]]]]


def runs_of(mask: Bools) -> Runs:
    """A mask as runs of so many pixels of a row that they are soon looked for."""
    edge = np.zeros((len(mask), mask.shape[1] + 1), dtype=np.bool_)
    edge[:, :-1] = mask
    edge[:, 1:] ^= mask
    rows, columns = np.nonzero(edge)
    found: dict[int, list[tuple[int, int]]] = {}
    ends = zip(rows[::2].tolist(), columns[::2].tolist(), columns[1::2].tolist(), strict=True)
    for row, first, end in ends:
        k = (end - first).bit_length() - 1
        found.setdefault(k, []).append((row, first))
        if end - first > 1 << k:
            found[k].append((row, end - (1 << k)))
    return sorted(found.items())


class Taken:
    """The pixels of a sheet, `height` x `width`, that are taken."""

    def __init__(self, height: int, width: int) -> None:
        self.height, self._width = height, width
        self._taken = np.zeros((height, width), dtype=np.bool_)
        # Row after row as the bits of a number; the k-th tells whether any of 2 ** k is taken.
        self._any_of: list[int] = []

    def put(self, mask: Bools, y: int, x: int) -> None:
        """Take the pixels of a mask that is laid with its corner at (y, x)."""
        self._taken[y : y + mask.shape[0], x : x + mask.shape[1]] |= mask
        self._any_of = []

    def free(self, size: tuple[int, ...], runs: Runs) -> Bools:
        """The places (y, x) of a mask's corner where it lies on the sheet and on nothing else.

        The mask is told by its `size` and what `runs_of` gives for it.
        """
        room = self.height - size[0] + 1, self._width - size[1] + 1
        if not self._any_of:
            bits = np.packbits(self._taken, bitorder="little")
            self._any_of.append(int.from_bytes(bits.tobytes(), "little"))
        if not self._any_of[0]:
            return np.ones(room, dtype=np.bool_)
        meets = 0
        # A shift moves the whole sheet; it runs on into the next row only for places that
        # run off the sheet.
        for k, places in runs:
            while len(self._any_of) <= k:
                last = self._any_of[-1]
                self._any_of.append(last | last >> (1 << (len(self._any_of) - 1)))
            some = self._any_of[k]
            for row, column in places:
                meets |= some >> (row * self._width + column)
        count = self.height * self._width
        found = np.frombuffer(meets.to_bytes((count + 7) // 8, "little"), dtype=np.uint8)
        every = np.unpackbits(found, count=count, bitorder="little").reshape(self.height, -1)
        free: Bools = every[: room[0], : room[1]] == 0
        return free
