"""What is laid on the sheet: a piece, or the sizes of one piece on top of each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from sizewright.geometry import Floats, flatten
from sizewright.laying import Place, Shape
from sizewright.model import Pattern, Piece
from sizewright.palette import Line
from sizewright.pictures import (
    Pages,
    Sketch,
    Words,
    laid_over,
    nested,
    printed_nest,
    printed_piece,
    size_lines,
    sizes_in_order,
)
from sizewright.plugin import working_on

# Chords of the shapes that are laid, mm; what is printed stays curves.
_CHORD = 0.3
# Words that stand out of a piece by no more than this, mm, lie on its line.
_OVER = 2.5


@dataclass(frozen=True)
class Item:
    """A piece, or its sizes (smallest first) as they lie on each other, with their lines."""

    number: int
    pieces: tuple[Piece, ...]
    lines: tuple[Line, ...]

    @property
    def name(self) -> str:
        """Name of the piece."""
        return self.pieces[0].name

    @property
    def title(self) -> str:
        """Name, with the size where there is one only."""
        return self.pieces[0].title if len(self.pieces) == 1 else self.name

    @property
    def sizes(self) -> tuple[str, ...]:
        """Sizes, smallest first; empty where there are none."""
        return tuple(p.size for p in self.pieces if p.size)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Box round all sizes, mm."""
        b = np.array([p.bounds for p in self.pieces])
        low, high = b[:, :2].min(axis=0), b[:, 2:].max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def drawing(self, pages: Pages | None = None) -> Sketch:
        """All its strokes and words, in the coordinates of its pieces."""
        with working_on(self.pieces[0]):
            return _drawing(self.pieces, self.lines, (pages or Pages()).about(self.bounds))

    def rings(self) -> list[Floats]:
        """Closed polygons of all outlines."""
        return [flatten(p.drawn.path, _CHORD) for p in self.pieces]

    def shape(self, turns: Sequence[int], gap: float) -> Shape:
        """What is laid, in the coordinates of its pieces: outlines, and words beside them."""
        outside = words_outside(self)
        # Words beside a piece have their place only while it stays upright.
        return Shape([*self.rings(), *outside], (0,) if outside else turns, gap)

    def moved(self, place: Place) -> Item:
        """The item where a place has it."""
        return replace(self, pieces=tuple(p.transformed(place.matrix) for p in self.pieces))


# The same pieces are printed on several papers.
@lru_cache(maxsize=128)
def _drawing(pieces: tuple[Piece, ...], lines: tuple[Line, ...], pages: Pages) -> Sketch:
    if len(pieces) == 1:
        return printed_piece(pieces[0], pages)
    return printed_nest(pieces, lines, pages)


def words_outside(item: Item, pages: Pages | None = None) -> list[Floats]:
    """Boxes of the words that stand out of an item's own box, as closed polygons.

    A size's name on its line reaches over it by half its height, which the gap has room for.
    """
    over = (-_OVER, -_OVER, _OVER, _OVER)
    x0, y0, x1, y1 = (b + d for b, d in zip(item.bounds, over, strict=True))
    found = []
    for part in item.drawing(pages).parts:
        if isinstance(part, Words):
            corners = part.box.corners
            low, high = corners.min(axis=0), corners.max(axis=0)
            if low[0] < x0 or low[1] < y0 or high[0] > x1 or high[1] > y1:
                found.append(corners)
    return found


def items_of(pattern: Pattern, *, nest: bool) -> list[Item]:
    """The items of a pattern in the order of its pieces; sizes nested where asked for."""
    sizes = sizes_in_order(pattern)
    line = dict(zip(sizes, size_lines(len(sizes)), strict=True))
    groups = nested(laid_over(pattern) if nest else pattern)
    if not nest:
        groups = tuple((piece,) for group in groups for piece in group)
    return [
        Item(number, group, tuple(line[p.size] if p.size else size_lines(1)[0] for p in group))
        for number, group in enumerate(groups, start=1)
    ]
