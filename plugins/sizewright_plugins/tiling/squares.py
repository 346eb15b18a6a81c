"""The two plain test squares: 5 cm and 2 in."""

from __future__ import annotations

from sizewright.palette import INK, Line
from sizewright.units import Unit

from .pen import Pen

# The squares' edges are measured along the middle of this line.
_LINE = Line(INK, 0.25)
_SIDES = ((50.0, "5 cm"), (Unit.IN.to_mm(2), "2 in"))
_APART = 8.0
#: Width and height of both squares side by side, mm.
SQUARES_SIZE = (sum(side for side, _ in _SIDES) + _APART, max(side for side, _ in _SIDES))


def draw_squares(pen: Pen, x: float, y: float) -> None:
    """Both squares, the lower left of the first at (x, y)."""
    for side, name in _SIDES:
        pen.box(x, y, x + side, y + side, _LINE)
        middle = x + side / 2
        pen.text(name, (middle, y + side / 2 + 0.5), 6.0, bold=True)
        pen.text("each side, measured", (middle, y + side / 2 - 5.5), 2.8)
        x += side + _APART
