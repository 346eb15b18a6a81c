"""Laying shapes on a sheet, one after another, each where it opens the fewest new pages.

Sheet and shapes are grids of pixels, and y runs down from the top of the sheet. Whether a
place is free is found for all places at once: the convolution of a shape with what lies
there already is zero where they do not meet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from sizewright.geometry import Bools, Floats, touched_pixels

from .plan import Grid, Place, Plan, Shape, plan_of


class Pixels:
    """The shapes as pixels, in every turn, on one grid of pages."""

    def __init__(self, grid: Grid, shapes: Sequence[Shape], pixel: float) -> None:
        self.grid, self.shapes = grid, shapes
        self.nx = max(1, round(grid.step_x / pixel))
        self.ny = max(1, round(grid.step_y / pixel))
        self.px, self.py = grid.step_x / self.nx, grid.step_y / self.ny
        self.masks: dict[tuple[int, int], Bools] = {}
        for i, shape in enumerate(shapes):
            for turn in shape.turns:
                self.masks[i, turn] = self._mask(shape, turn)
        self._touched: dict[tuple[int, int], Floats] = {}

    def _mask(self, shape: Shape, turn: int) -> Bools:
        grown = shape.turned(turn, grown=True)
        x0, y0, x1, y1 = grown.bounds
        parts = getattr(grown, "geoms", [grown])
        rings = [np.array(p.exterior.coords) for p in parts]
        size = math.ceil((y1 - y0) / self.py + 0.01), math.ceil((x1 - x0) / self.px + 0.01)
        return touched_pixels(rings, (x0, y0), (self.px, self.py), size)

    def touched(self, i: int, turn: int) -> Floats:
        """Which pages a shape reaches when it lies at each offset within a page.

        (ny, nx, pages down, pages across), counted from the page of its upper left.
        """
        if (i, turn) not in self._touched:
            mask = self.masks[i, turn]
            h, w = mask.shape
            down, across = (h + self.ny - 2) // self.ny + 1, (w + self.nx - 2) // self.nx + 1
            sums = np.zeros((h + 1, w + 1), dtype=np.int32)
            sums[1:, 1:] = mask.cumsum(axis=0).cumsum(axis=1)
            y = np.clip(np.arange(down + 1)[None] * self.ny - np.arange(self.ny)[:, None], 0, h)
            x = np.clip(np.arange(across + 1)[None] * self.nx - np.arange(self.nx)[:, None], 0, w)
            at = sums[y[:, None, :, None], x[None, :, None, :]]
            inside = at[:, :, 1:, 1:] - at[:, :, :-1, 1:] - at[:, :, 1:, :-1] + at[:, :, :-1, :-1]
            self._touched[i, turn] = (inside > 0).astype(np.float64)
        return self._touched[i, turn]


class Board:
    """A sheet so many pages wide, on which shapes are laid in an order."""

    def __init__(self, pixels: Pixels, columns: int) -> None:
        self.pixels, self.columns = pixels, columns
        self.grid, self.shapes, self.masks = pixels.grid, pixels.shapes, pixels.masks
        self.nx, self.ny, self.px, self.py = pixels.nx, pixels.ny, pixels.px, pixels.py
        self.extra_x = int(self.grid.overlap / self.px)
        self.extra_y = int(self.grid.overlap / self.py)

    @property
    def holds_all(self) -> bool:
        """Whether each shape fits in its width in one turn at least."""
        width = self.columns * self.nx + self.extra_x
        return all(
            any(self.masks[i, turn].shape[1] <= width for turn in shape.turns)
            for i, shape in self._all
        )

    def _mask(self, shape: Shape, turn: int) -> Bools:
        grown = shape.turned(turn, grown=True)
        x0, y0, x1, y1 = grown.bounds
        parts = getattr(grown, "geoms", [grown])
        rings = [np.array(p.exterior.coords) for p in parts]
        size = math.ceil((y1 - y0) / self.py + 0.01), math.ceil((x1 - x0) / self.px + 0.01)
        return touched_pixels(rings, (x0, y0), (self.px, self.py), size)

    def lay(self, order: Sequence[int]) -> Plan:
        """Lay the shapes in this order; the sheet grows downwards as it must."""
        area = sum(int(self.masks[i, s.turns[0]].sum()) for i, s in enumerate(self.shapes))
        cell = self.nx * self.ny
        rows = max(1, math.ceil(1.3 * area / (self.columns * cell)))
        wide = self.columns * self.nx + self.extra_x
        tallest = max(
            min(m.shape[0] for m in (self.masks[i, t] for t in s.turns) if m.shape[1] <= wide)
            for i, s in self._all
        )
        rows = max(rows, math.ceil((tallest - self.extra_y) / self.ny))
        while True:
            placed = self._lay(order, rows)
            if placed is not None:
                return plan_of(self.shapes, placed, self.grid)
            rows += max(1, rows // 4)

    @property
    def _all(self) -> list[tuple[int, Shape]]:
        return list(enumerate(self.shapes))

    def _lay(self, order: Sequence[int], rows: int) -> list[Place] | None:
        height, width = rows * self.ny + self.extra_y, self.columns * self.nx + self.extra_x
        sheet = _Sheet(height, width)
        # 1 where a page bears nothing yet; the strips at the ends belong to the last page.
        free = np.zeros((rows + 2 + height // self.ny, self.columns + 2 + width // self.nx))
        free[:rows, : self.columns] = 1.0
        places: list[Place | None] = [None] * len(self.shapes)
        bottom = 0
        for i in order:
            best: tuple[float, int, int, int] | None = None
            for turn in self.shapes[i].turns:
                mask = self.masks[i, turn]
                if mask.shape[0] > height or mask.shape[1] > width:
                    continue
                fits = sheet.free(mask)
                opened = self._opened(i, turn, free, fits.shape)
                found = self._best(fits, opened, mask.shape, bottom)
                if found is not None and (best is None or found[0] < best[0]):
                    best = (found[0], turn, found[1], found[2])
            if best is None:
                return None
            _, turn, y, x = best
            mask = self.masks[i, turn]
            sheet.put(mask, y, x)
            bottom = max(bottom, y + mask.shape[0])
            if not self.grid.roll:
                touched = self.pixels.touched(i, turn)[y % self.ny, x % self.nx]
                r, c = y // self.ny, x // self.nx
                part = free[r : r + touched.shape[0], c : c + touched.shape[1]]
                part[touched[: part.shape[0], : part.shape[1]] > 0] = 0.0
            gap = self.shapes[i].half_gap
            places[i] = Place(turn, x * self.px + gap, y * self.py + gap)
        return [p for p in places if p is not None]

    def _best(
        self, fits: Bools, opened: Floats, size: tuple[int, ...], bottom: int
    ) -> tuple[float, int, int] | None:
        """The cheapest free place: new pages, then how far down it reaches, then how far right."""
        if not fits.any():
            return None
        rows, columns = fits.shape
        down = np.arange(rows)[:, None] + size[0]
        right = np.arange(columns)[None, :] + size[1]
        if self.grid.roll:
            opened = np.maximum(down - bottom, 0)
        cost = opened * 1e6 + down * self.py + right * self.px * 0.35
        cost = np.where(fits, cost, np.inf)
        k = int(cost.argmin())
        return float(cost.flat[k]), k // columns, k % columns

    def _opened(self, i: int, turn: int, free: Floats, shape: tuple[int, ...]) -> Floats:
        """How many new pages a shape needs at each place, (rows, columns)."""
        if self.grid.roll:
            return np.zeros(shape)
        touched = self.pixels.touched(i, turn)
        rows, columns = -(-shape[0] // self.ny), -(-shape[1] // self.nx)
        total = np.zeros((rows, self.ny, columns, self.nx))
        for k in range(touched.shape[2]):
            for j in range(touched.shape[3]):
                part = free[k : k + rows, j : j + columns]
                padded = np.zeros((rows, columns))
                padded[: part.shape[0], : part.shape[1]] = part
                if padded.any():
                    total += touched[None, :, None, :, k, j] * padded[:, None, :, None]
        whole: Floats = total.reshape(rows * self.ny, columns * self.nx)
        return whole[: shape[0], : shape[1]]


class _Sheet:
    """What is taken of a sheet, and where a mask does not meet it."""

    def __init__(self, height: int, width: int) -> None:
        from scipy.fft import next_fast_len

        self.taken = np.zeros((height, width), dtype=np.float32)
        self.size = next_fast_len(height, real=True), next_fast_len(width, real=True)
        self._spectrum: Any = None

    def put(self, mask: Bools, y: int, x: int) -> None:
        """Take the pixels of a mask laid at (y, x)."""
        part = self.taken[y : y + mask.shape[0], x : x + mask.shape[1]]
        part[mask] = 1.0
        self._spectrum = None

    def free(self, mask: Bools) -> Bools:
        """Places (y, x) of a mask's corner where it lies on the sheet and on nothing else."""
        from scipy.fft import irfft2, rfft2

        height, width = self.taken.shape
        down, across = height - mask.shape[0] + 1, width - mask.shape[1] + 1
        if not self.taken.any():
            return np.ones((down, across), dtype=np.bool_)
        if self._spectrum is None:
            self._spectrum = rfft2(self.taken, self.size)
        own = np.conj(rfft2(mask.astype(np.float32), self.size))
        # Correlation; it wraps round only for places that run off the sheet.
        meets = irfft2(self._spectrum * own, self.size)[:down, :across]
        lying: Bools = meets < 0.5
        return lying
