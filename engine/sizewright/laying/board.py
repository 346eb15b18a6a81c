"""Laying shapes on a sheet, one after another, each where it opens the fewest new pages."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from ..geometry.types import Bools
from .pixels import Runs, Taken, mask_of, runs_of
from .shape import Place, Shape
from .sheet import Grid

# Small whole numbers, for which single precision is enough.
Singles = NDArray[np.float32]


class Pixels:
    """The shapes as pixels, in every turn, on one grid of pages; rows count downwards."""

    def __init__(self, grid: Grid, shapes: Sequence[Shape], pixel: float) -> None:
        self.grid, self.shapes = grid, shapes
        self.nx = max(1, round(grid.step_x / pixel))
        self.ny = max(1, round(grid.step_y / pixel))
        self.px, self.py = grid.step_x / self.nx, grid.step_y / self.ny
        self.masks: dict[tuple[int, int], Bools] = {}
        for i, shape in enumerate(shapes):
            for turn in shape.turns:
                area = shape.grown(turn)
                x0, y0, x1, y1 = area.bounds
                size = math.ceil((y1 - y0) / self.py + 0.01), math.ceil((x1 - x0) / self.px + 0.01)
                self.masks[i, turn] = mask_of(area, (x0, y1), (self.px, -self.py), size)
        # Many boards of one grid ask for the same.
        self.touched, self.runs = cache(self._touched), cache(self._runs)

    def _runs(self, i: int, turn: int) -> Runs:
        return runs_of(self.masks[i, turn])

    def _touched(self, i: int, turn: int) -> Singles:
        """Which pages a shape reaches when it lies at each offset within a page.

        (pages down, pages across, ny, nx), counted from the page of its upper left; 1 or 0.
        """
        rows = _reached(self.masks[i, turn], self.ny)
        down, ny, w = rows.shape
        both = _reached(rows.reshape(-1, w).T, self.nx)
        across, nx, _ = both.shape
        pages = both.reshape(across, nx, down, ny).transpose(2, 0, 3, 1)
        return pages.astype(np.float32, order="C")


class Board:
    """A sheet so many pages wide, on which shapes are laid in an order."""

    def __init__(self, pixels: Pixels, columns: int) -> None:
        self.pixels, self.columns = pixels, columns
        self.grid = pixels.grid
        self._extra = int(self.grid.overlap / pixels.py)
        self._wide = columns * pixels.nx + int(self.grid.overlap / pixels.px)
        # The turns of each shape that its width has room for.
        self._turns = [
            [turn for turn in shape.turns if pixels.masks[i, turn].shape[1] <= self._wide]
            for i, shape in enumerate(pixels.shapes)
        ]
        # Many orders begin alike: where the last of some shapes came to lie, by rows and these.
        self._known: dict[tuple[int, tuple[int, ...]], tuple[int, int, int] | None] = {}

    @property
    def holds_all(self) -> bool:
        """Whether each shape fits in its width in one turn at least."""
        return all(self._turns)

    def lay(self, order: Sequence[int]) -> list[Place]:
        """Places of the shapes, laid in this order; the sheet grows downwards as it must."""
        masks, cell = self.pixels.masks, self.pixels.nx * self.pixels.ny
        area = sum(int(masks[i, turns[0]].sum()) for i, turns in enumerate(self._turns))
        tallest = max(
            min(masks[i, turn].shape[0] for turn in turns) for i, turns in enumerate(self._turns)
        )
        rows = max(1, math.ceil(1.3 * area / (self.columns * cell)))
        rows = max(rows, math.ceil((tallest - self._extra) / self.pixels.ny))
        while True:
            places = self._lay(order, rows)
            if places is not None:
                return places
            rows += max(1, rows // 4)

    def _lay(self, order: Sequence[int], rows: int) -> list[Place] | None:
        """The places on a sheet of so many rows; None where they do not hold all."""
        pixels, height = self.pixels, rows * self.pixels.ny + self._extra
        sheet = Taken(height, self._wide)
        # 1 where a page bears nothing yet; the strips at the ends belong to the last page.
        beyond = height // pixels.ny + 3, self._wide // pixels.nx + 3
        free = np.zeros(beyond, dtype=np.float32)
        free[:rows, : self.columns] = 1.0
        places: dict[int, Place] = {}
        bottom = 0
        for k, i in enumerate(order, start=1):
            laid = rows, tuple(order[:k])
            if laid not in self._known:
                self._known[laid] = self._next(i, sheet, free, bottom)
            found = self._known[laid]
            if found is None:
                return None
            y, x, turn = found
            mask = pixels.masks[i, turn]
            sheet.put(mask, y, x)
            bottom = max(bottom, y + mask.shape[0])
            if not self.grid.roll:
                touched = pixels.touched(i, turn)[:, :, y % pixels.ny, x % pixels.nx]
                r, c = y // pixels.ny, x // pixels.nx
                free[r : r + len(touched), c : c + touched.shape[1]][touched > 0] = 0.0
            x0, _, _, y1 = pixels.shapes[i].grown(turn).bounds
            places[i] = Place(turn, x * pixels.px - x0, -y * pixels.py - y1)
        return [places[i] for i in range(len(places))]

    def _next(
        self, i: int, sheet: Taken, free: Singles, bottom: int
    ) -> tuple[int, int, int] | None:
        """Row, column and turn of the cheapest place of a shape; None where there is none."""
        pixels, height = self.pixels, sheet.height
        turns = [t for t in self._turns[i] if pixels.masks[i, t].shape[0] <= height]
        best: tuple[float, float] = math.inf, math.inf
        found = None
        for turn in turns:
            mask = pixels.masks[i, turn]
            h, w = mask.shape
            fits = sheet.free(mask.shape, pixels.runs(i, turn))
            if self.grid.roll:
                new = np.maximum(np.arange(len(fits))[:, None] + h - bottom, 0)
            else:
                new = _opened(pixels.touched(i, turn), free, fits.shape)
            # The cheapest free place: new pages, then how far down and right it reaches.
            new = np.where(fits, new, np.inf)
            least = float(new.min())
            if least <= best[0] and least < math.inf:
                down = (np.arange(len(fits)) + h) * pixels.py
                across = (np.arange(fits.shape[1]) + w) * pixels.px * 0.35
                reach = np.where(new == least, down[:, None] + across, np.inf)
                y, x = divmod(int(reach.argmin()), fits.shape[1])
                if (least, float(reach[y, x])) < best:
                    best, found = (least, float(reach[y, x])), (y, x, turn)
        return found


def _reached(mask: Bools, step: int) -> Bools:
    """Which pages, `step` pixels long, each column of a mask reaches from each offset in a page.

    (pages, step, columns), counted from the page of its upper end.
    """
    h, w = mask.shape
    pages = (h + step - 2) // step + 1
    sums = np.zeros((h + 1, w), dtype=np.int32)
    np.cumsum(mask, axis=0, out=sums[1:])
    ends = np.arange(pages + 1)[:, None] * step - np.arange(step)
    at = sums[np.minimum(np.maximum(ends, 0), h)]
    reached: Bools = at[1:] > at[:-1]
    return reached


def _opened(touched: Singles, free: Singles, shape: tuple[int, ...]) -> Singles:
    """How many new pages a shape needs at each place, (rows, columns) = `shape`.

    `touched` says which pages it reaches from each offset in a page, `free` which are new.
    """
    down, across, ny, nx = touched.shape
    rows, columns = -(-shape[0] // ny), -(-shape[1] // nx)
    near: Singles = np.ndarray(
        (rows, columns, down, across), free.dtype, free, strides=2 * free.strides
    )
    total = near.reshape(rows * columns, -1) @ touched.reshape(down * across, -1)
    pages = total.reshape(rows, columns, ny, nx).transpose(0, 2, 1, 3)
    whole: Singles = pages.reshape(rows * ny, columns * nx)
    return whole[: shape[0], : shape[1]]
