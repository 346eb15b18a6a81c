"""Shapes in their places on a sheet of pages. Here y runs down, as pages are read."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from sizewright.geometry import Floats

#: Lines are wider than the shape that they bound by this, mm.
EDGE = 0.5


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

    def cell(self, row: int, column: int, rows: int, columns: int) -> tuple[float, ...]:
        """Box (x0, y0, x1, y1), y down, of what a page shows and its neighbours need not.

        The cells of a sheet cover it once; those at the right and the bottom end take in
        the strip that has no neighbour.
        """
        x0, y0 = column * self.step_x, row * self.step_y
        x1 = x0 + self.step_x + (self.overlap if column == columns - 1 else 0.0)
        y1 = y0 + self.step_y + (self.overlap if row == rows - 1 else 0.0)
        return x0, y0, x1, y1


@dataclass(frozen=True)
class Place:
    """Where a shape lies: turned counter-clockwise by degrees, then its box's upper left, mm."""

    turn: int
    x: float
    y: float


@dataclass(frozen=True)
class Plan:
    """A sheet with every shape in its place, and the pages (row, column) that are needed."""

    grid: Grid
    places: tuple[Place, ...]
    rows: int
    columns: int
    pages: tuple[tuple[int, int], ...]
    bottom: float
    spread: float

    @property
    def rank(self) -> tuple[float, ...]:
        """Less is better: pages, then the sheet that has to be stuck together, then spread."""
        if self.grid.roll:
            return (self.columns, self.bottom, self.spread)
        return (len(self.pages), self.rows * self.columns, self.rows + self.columns, self.spread)


class Shape:
    """A shape to be laid: closed rings (m, 2) in mm, y up, and the turns that it may take."""

    def __init__(self, rings: Sequence[Floats], turns: Sequence[int], gap: float) -> None:
        from shapely import Polygon, union_all

        whole = union_all([Polygon(ring).buffer(0) for ring in rings])
        self.turns = tuple(turns)
        self.half_gap = max(gap / 2, EDGE)
        self._whole = whole
        self._grown = whole.buffer(self.half_gap)
        self.area = float(self._grown.area)

    @cached_property
    def sizes(self) -> dict[int, tuple[float, float]]:
        """Width and height in each turn, the room round it included."""
        found = {}
        for turn in self.turns:
            x0, y0, x1, y1 = self.turned(turn, grown=True).bounds
            found[turn] = (x1 - x0, y1 - y0)
        return found

    def turned(self, turn: int, *, grown: bool = False) -> Any:
        """The shape turned, y down, as a shapely geometry; its box does not begin at 0."""
        from shapely.affinity import affine_transform

        c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[turn // 90 % 4]
        # Turned counter-clockwise in y up, then y turned over.
        matrix = (c, -s, -s, -c, 0.0, 0.0)
        return affine_transform(self._grown if grown else self._whole, matrix)

    def at(self, place: Place) -> Any:
        """The shape in its place on the sheet, y down, as a shapely geometry."""
        from shapely.affinity import translate

        turned = self.turned(place.turn)
        x0, y0, _, _ = turned.bounds
        return translate(turned, place.x - x0, place.y - y0)


def plan_of(shapes: Sequence[Shape], places: Sequence[Place], grid: Grid) -> Plan:
    """A plan from places: how large the sheet is, and which pages bear anything, exactly."""
    from shapely import STRtree, box

    lying = [shape.at(place).buffer(EDGE) for shape, place in zip(shapes, places, strict=True)]
    right = max((g.bounds[2] for g in lying), default=0.0)
    bottom = max((g.bounds[3] for g in lying), default=0.0)
    rows, columns = grid.rows(bottom), grid.columns(right)
    tree = STRtree(lying)
    pages = []
    for row in range(rows):
        for column in range(columns):
            cell = box(*grid.cell(row, column, rows, columns))
            if len(tree.query(cell, predicate="intersects")):
                pages.append((row, column))
    spread = sum(g.bounds[2] + g.bounds[3] for g in lying)
    return Plan(grid, tuple(places), rows, columns, tuple(pages), bottom, spread)
