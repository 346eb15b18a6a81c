"""The printed sheet: where its squares lie, and which sheet they say that it is.

All squares stand on one square grid: a frame round the paper, and in the row below the frame's
top a few that tell which way up the sheet is and its number.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ...geometry.types import Floats, Ints

PaperName = Literal["A4", "Letter"]
#: Width and height, mm.
PAPERS: dict[PaperName, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
#: Side of a square, mm.
SIDE = 8.0
#: So many sheets are told apart, for laying round a piece.
NUMBERS = (1, 2, 3, 4)
#: Distance of the squares' middles, mm; columns and rows of the frame.
_GRID: dict[PaperName, tuple[float, int, int]] = {"A4": (29.4, 7, 10), "Letter": (30.6, 7, 9)}


@dataclass(frozen=True, slots=True)
class Sheet:
    """One printed sheet."""

    paper: PaperName
    number: int

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the paper, mm."""
        return PAPERS[self.paper]

    @property
    def title(self) -> str:
        """What it is called in messages."""
        return f"{self.paper} sheet {self.number}"

    @property
    def nodes(self) -> Ints:
        """Columns and rows (n, 2) of its squares on the grid, from the lower left."""
        _, columns, rows = _GRID[self.paper]
        frame = [
            (i, j)
            for j in range(rows)
            for i in range(columns)
            if i in (0, columns - 1) or j in (0, rows - 1)
        ]
        high, low = divmod(self.number - 1, 2)
        code = (1, high, low, (high + low) % 2, 0)
        frame += [(i, rows - 2) for i, bit in enumerate(code, 1) if bit]
        return np.array(frame, dtype=np.intp)

    def places(self, nodes: Ints) -> Floats:
        """Middles (n, 2) of squares in mm, y up from the paper's lower left."""
        pitch, columns, rows = _GRID[self.paper]
        corner = (np.array(self.size) - pitch * (np.array([columns, rows]) - 1)) / 2
        places: Floats = corner + pitch * nodes
        return places


SHEETS = tuple(Sheet(paper, number) for paper in PAPERS for number in NUMBERS)
