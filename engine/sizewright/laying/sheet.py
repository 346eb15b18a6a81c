"""A sheet of pages, or a length of a roll, with shapes in their places."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from .shape import Place, Shape


@dataclass(frozen=True)
class Grid:
    """The pages of a sheet: `step` from one to the next, and `overlap`, both in mm.

    On a `roll` the length that is used counts, not the pages.
    """

    step_x: float
    step_y: float
    overlap: float
    roll: bool = False

    def columns(self, width: float) -> int:
        """How many pages side by side hold a width, mm."""
        return max(1, math.ceil((width - self.overlap) / self.step_x - 1e-9))

    def rows(self, height: float) -> int:
        """How many pages under one another hold a height, mm."""
        return max(1, math.ceil((height - self.overlap) / self.step_y - 1e-9))


@dataclass(frozen=True)
class Plan:
    """A sheet with every shape in its place, and the pages (row, column) that are needed.

    Rows count downwards. `bottom` is how far down the shapes reach, mm; `spread` the sum of
    how far down and right each of them does.
    """

    grid: Grid
    places: tuple[Place, ...]
    rows: int
    columns: int
    pages: tuple[tuple[int, int], ...]
    bottom: float
    spread: float

    @property
    def width(self) -> float:
        """Width of the sheet, mm."""
        return self.columns * self.grid.step_x + self.grid.overlap

    @property
    def height(self) -> float:
        """Height of the sheet, mm."""
        return self.rows * self.grid.step_y + self.grid.overlap

    @property
    def rank(self) -> tuple[float, ...]:
        """Less is better: pages, then the sheet that has to be stuck together, then spread."""
        if self.grid.roll:
            return (self.columns, self.bottom, self.spread)
        return (len(self.pages), self.rows * self.columns, self.rows + self.columns, self.spread)

    def cell(self, row: int, column: int) -> tuple[float, float, float, float]:
        """Box (x0, y0, x1, y1) of what a page shows and its neighbours need not, mm.

        The cells of a sheet cover it once; those at the right and the bottom end take in
        the strip that has no neighbour.
        """
        grid = self.grid
        x0, y1 = column * grid.step_x, -row * grid.step_y
        x1 = self.width if column == self.columns - 1 else x0 + grid.step_x
        y0 = -self.height if row == self.rows - 1 else y1 - grid.step_y
        return x0, y0, x1, y1


def plan_of(shapes: Sequence[Shape], places: Sequence[Place], grid: Grid) -> Plan:
    """A plan from places: how large the sheet is, and which pages bear anything, exactly."""
    from shapely import STRtree, box

    lying = [s.at(place, line=True) for s, place in zip(shapes, places, strict=True)]
    bounds = np.array([g.bounds for g in lying]).reshape(-1, 4)
    right = float(bounds[:, 2].max(initial=0.0))
    bottom = float(-bounds[:, 1].min(initial=0.0))
    rows, columns = grid.rows(bottom), grid.columns(right)
    spread = float((bounds[:, 2] - bounds[:, 1]).sum())
    bare = Plan(grid, tuple(places), rows, columns, (), bottom, spread)
    cells = list(product(range(rows), range(columns)))
    boxes = np.array([bare.cell(*at) for at in cells])
    found, _ = STRtree(lying).query(box(*boxes.T), "intersects")
    return replace(bare, pages=tuple(cells[k] for k in np.unique(found)))
