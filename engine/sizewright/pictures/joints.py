"""The sheet that pages were put together to: its pieces, and where each page lies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..model import Pattern
from ..palette import FOLDING, INK, LINEN, QUIET, Line
from .room import Box
from .sketch import Sketch, Words
from .text import width

#: The number of a page, and the box of what it shows of the sheet, mm.
PageBox = tuple[int, tuple[float, float, float, float]]

_JOINT = Line(FOLDING, 0.25, (2.5, 1.5))
_PIECE = Line(INK, 0.35)
_NUMBER, _TITLE = 1.4, 1.2


def span(pages: Sequence[PageBox]) -> tuple[float, float]:
    """Width and height of all pages, mm."""
    boxes = np.array([box for _, box in pages])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return float(high[0] - low[0]), float(high[1] - low[1])


def joints_picture(
    pattern: Pattern, pages: Sequence[PageBox], size: float, *, scale: float
) -> Sketch:
    """The sheet `scale` times as large, with letters `size` mm high."""
    sketch = Sketch()
    boxes = np.array([box for _, box in pages])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    for piece in pattern.pieces:
        path = piece.drawn.path
        x0, y0, x1, y1 = path.bounds
        if x1 < low[0] or x0 > high[0] or y1 < low[1] or y0 > high[1]:
            continue
        sketch.stroke(path.with_controls(path.controls * scale), _PIECE, LINEN)
    for number, box in pages:
        x0, y0, x1, y1 = (v * scale for v in box)
        sketch.polyline([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], _JOINT, closed=True)
        text, tall = str(number), min(_NUMBER * size, 0.3 * (x1 - x0))
        at = Box((x0 + x1) / 2, (y0 + y1) / 2, width(text, tall, bold=True), tall)
        sketch.words(Words(text, at, tall, bold=True, colour=QUIET))
    title = "The pages put together"
    tall = _TITLE * size
    wide = width(title, tall, bold=True)
    at = Box(low[0] * scale + wide / 2, high[1] * scale + 1.4 * size, wide, tall)
    sketch.words(Words(title, at, tall, bold=True))
    return sketch
