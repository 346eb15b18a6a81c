"""One palette and one set of line weights for everything that is drawn.

The hues differ in lightness as well as in colour, and every kind of line has its own
dash, so that a grey print or a colour-blind reader tells them apart.
"""

from __future__ import annotations

from dataclasses import dataclass

INK = "#22303c"
SEWING = "#0b6e8f"
FOLDING = "#a3431f"
GRAIN = "#5b4b8a"
MARKING = "#4d6b2f"
FAULT = "#d0021b"
QUIET = "#646e78"
LINEN = "#f7f3ea"
CLOTH = "#dfe5ea"
PAPER = "#ffffff"


@dataclass(frozen=True, slots=True)
class Line:
    """How one kind of line is drawn: colour, width and dashes, both in mm."""

    colour: str
    width: float
    dashes: tuple[float, ...] = ()


#: A line for each kind of thing that is drawn, for drawings at full size.
CUT_LINE = Line(INK, 0.6)
PLAIN_LINE = Line(INK, 0.35)
SEW_LINE = Line(SEWING, 0.4, (4.0, 2.0))
FOLD_LINE = Line(FOLDING, 0.5, (9.0, 2.0, 1.2, 2.0))
GRAIN_LINE = Line(GRAIN, 0.4)
NOTCH_LINE = Line(INK, 0.5)
MARK_LINE = Line(MARKING, 0.35, (2.0, 1.2))
CUTOUT_LINE = Line(INK, 0.5)
ADJUST_LINE = Line(QUIET, 0.35, (6.0, 1.5))
AXIS_LINE = Line(QUIET, 0.35, (1.0, 1.0))
HAIR = Line(QUIET, 0.2)

#: Lines for the sizes of a nest, smallest first; beyond the last they begin again. None has
#: the colour of a fold, a sewing line or the grain.
SIZE_LINES = (
    Line("#22303c", 0.35),
    Line("#c2185b", 0.35, (6.0, 1.5)),
    Line("#1d4fd0", 0.35, (2.5, 1.2)),
    Line("#b1831a", 0.45, (8.0, 1.5, 1.2, 1.5)),
    Line("#a01fb0", 0.35, (1.0, 1.0)),
    Line("#2f7d32", 0.45, (5.0, 1.2, 1.2, 1.2, 1.2, 1.2)),
    Line("#6b5f00", 0.35, (10.0, 2.0)),
    Line("#7d8790", 0.45),
)
