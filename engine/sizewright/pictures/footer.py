"""What stands under the pieces of a picture: a key to the lines, and a scale bar."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..palette import INK, QUIET, Line
from .canvas import Canvas
from .text import width

#: Names of lines, and the lines.
Key = Sequence[tuple[str, Line]]


@dataclass(frozen=True, slots=True)
class Footer:
    """Scale bar and key under the pieces."""

    items: tuple[tuple[str, Line], ...]
    lines: tuple[tuple[int, ...], ...]
    size: float
    bar: tuple[float, float]
    scale: float
    width: float
    height: float

    def put(self, canvas: Canvas, x: float, y: float) -> None:
        """Draw it with its lower left at (x, y)."""
        size = self.size
        top = y + self.height
        for number, line in enumerate(self.lines):
            at = x
            level = top - (number + 0.6) * 1.9 * size
            for i in line:
                name, kind = self.items[i]
                canvas.polyline([(at, level), (at + 4 * size, level)], kind)
                where = (at + 4.6 * size, level - 0.36 * size)
                canvas.text(name, where, size, anchor="start")
                at += _item_width(name, size)
        level = y + 1.5 * size
        for (mm, label), drop in zip(_bars(self.bar), (0.0, -1.35 * size), strict=True):
            self._bar(canvas, x, level + drop, mm * self.scale, label)
        note = "Not to full scale: do not cut from this picture."
        beside = x + max(self.bar) * self.scale + 8 * size
        canvas.text(note, (beside, level - 0.9 * size), size, anchor="start", colour=QUIET)

    def _bar(self, canvas: Canvas, x: float, y: float, mm: float, label: str) -> None:
        size = self.size
        high = 0.42 * size
        for k in range(4):
            box = [
                (x + mm * (k + i) / 4, y + j * high) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))
            ]
            fill = INK if k % 2 == 0 else "none"
            canvas.polyline(box, Line(INK, 0.2), closed=True, fill=fill)
        canvas.text(label, (x + mm + 0.6 * size, y - 0.14 * size), size, anchor="start")


def _bars(bar: tuple[float, float]) -> tuple[tuple[float, str], tuple[float, str]]:
    cm, inches = bar
    return (cm, f"{cm / 10:g} cm"), (inches, f"{inches / 25.4:g} in")


def _item_width(name: str, size: float) -> float:
    return 4.6 * size + width(name, size) + 2.0 * size


def footer(key: Key, size: float, across: float, *, scale: float = 1.0) -> Footer:
    """Key and scale bar with letters `size` mm high, in about the width `across`, mm.

    `scale` is how large the pieces are drawn.
    """
    items = tuple(key)
    lines: list[list[int]] = [[]]
    x = 0.0
    for i, (name, _) in enumerate(items):
        wide = _item_width(name, size)
        if lines[-1] and x + wide > max(across, 30 * size):
            lines.append([])
            x = 0.0
        lines[-1].append(i)
        x += wide
    spans = [sum(_item_width(items[i][0], size) for i in line) for line in lines]
    aim = 12 * size / scale
    centimetres = min((10.0, 20, 50, 100, 200, 500, 1000, 2000), key=lambda v: abs(np.log(v / aim)))
    inches = min(
        (v * 25.4 for v in (0.5, 1, 2, 4, 8, 20, 40, 80)),
        key=lambda v: abs(np.log(v / centimetres)),
    )
    note = width("Not to full scale: do not cut from this picture.", size)
    wide = max([*spans, max(centimetres, inches) * scale + 8 * size + note])
    tall = len(lines) * 1.9 * size + 3.2 * size
    rows = tuple(tuple(line) for line in lines)
    return Footer(items, rows, size, (centimetres, inches), scale, wide, tall)
