"""The name of each size on its line in a nest. For the eye only: readers leave it out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...geometry.nearest import nearest
from ...geometry.spread import widest_apart
from ...geometry.types import Floats
from ...model import Piece
from ...palette import PAPER, Line
from ..drawing.scribe import Facts, without_forbidden
from ..drawing.settled import number
from .names_out import letter_height, turn_along
from .page_out import Frame
from .xml_out import Tag

# Larger than the names of edges and points, as they tell the lines apart.
_SHARE = 1.25
# Rough width of a bold letter, height of the blank below it, and its baseline below its middle.
_LETTER, _TALL, _BASELINE = 0.66, 1.0, 0.35


@dataclass(frozen=True, slots=True)
class SizeName:
    """Where the name of a size stands: its middle, turn in degrees, letter height in mm."""

    at: Floats
    turn: float
    size: float
    width: float

    @property
    def body(self) -> Floats:
        """Points all over it, (m, 2)."""
        turn = math.radians(self.turn)
        along = np.array([math.cos(turn), math.sin(turn)])
        across = np.array([-along[1], along[0]]) * self.size * 0.5
        steps = np.linspace(-0.5, 0.5, 9)[:, None] * self.width * along
        rows: Floats = np.vstack([self.at + steps + across * f for f in (-1.0, 0.0, 1.0)])
        return rows


Key = tuple[str, str | None]


def size_names(pieces: Sequence[Piece]) -> dict[Key, SizeName]:
    """A place for the name of each size of each piece that has several.

    They stand side by side, each on its line, where the lines lie furthest apart.
    """
    found: dict[Key, SizeName] = {}
    for name in dict.fromkeys(piece.name for piece in pieces):
        group = [p for p in pieces if p.name == name and p.size]
        if len(group) < 2:
            continue
        paths = {p.key: p.drawn.path for p in group}
        order = sorted(group, key=lambda p: paths[p.key].area)
        outer = paths[order[-1].key]
        first = float(widest_apart([paths[p.key] for p in order], outer)[0])
        size = _SHARE * letter_height(outer.bounds)
        widths = [len(p.size or "") * size * _LETTER + 0.4 * size for p in order]
        stride = max(widths) + 0.6 * size
        # On a short line they stand closer, so that they do not run round a corner.
        stride = min(stride, outer.length / (2 * len(order)))
        for i, (piece, width) in enumerate(zip(order, widths, strict=True)):
            path = paths[piece.key]
            beside = outer.at(np.array([first + (i - (len(order) - 1) / 2) * stride]))
            s = nearest(path, beside).s
            turn = turn_along(path.tangents(s)[0])
            found[piece.key] = SizeName(path.at(s)[0], turn, size, width)
    return found


def size_tags(piece: Piece, place: SizeName, line: Line, frame: Frame) -> tuple[list[Tag], Facts]:
    """The name on its line, over a blank that interrupts the line; and their style."""
    x, y = frame.at(place.at)
    middle = f"rotate({number(-place.turn, 1)} {number(x, 2)} {number(y, 2)})"
    blank: Facts = {
        "x": number(x - place.width / 2, 2),
        "y": number(y - place.size * _TALL / 2, 2),
        "width": number(place.width, 2),
        "height": number(place.size * _TALL, 2),
        "fill": PAPER,
    }
    text: Facts = {
        "x": number(x, 2),
        "y": number(y + _BASELINE * place.size, 2),
        "font-size": number(place.size, 2),
        "font-weight": "bold",
        "text-anchor": "middle",
        "fill": line.colour,
    }
    turn = None if middle.startswith("rotate(0 ") else middle
    shown = without_forbidden(piece.size or "")
    return [Tag("rect", blank), Tag("text", text, shown)], {"stroke": "none", "transform": turn}
