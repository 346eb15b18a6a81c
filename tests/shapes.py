"""Small outlines and pieces, drawn here for the tests of several rooms."""

from __future__ import annotations

from sizewright.geometry.path import Path
from sizewright.model import Dart, Fold, Outline, Piece, Point, Run


def rectangle(width: float = 200.0, height: float = 100.0, x: float = 0.0, y: float = 0.0) -> Path:
    """A rectangle, counter-clockwise from its lower left corner."""
    return Path.polyline(
        [(x, y), (x + width, y), (x + width, y + height), (x, y + height)], closed=True
    )


def bodice() -> Piece:
    """Half a sleeveless front: fold at the left, waist dart of 30 mm, curved neck and armhole.

    Corner 1 is the waist at the fold; the dart is cut out of the waist.
    """
    path = Path.of(
        [
            [(0, 0), (90, 0)],
            [(90, 0), (105, 140)],
            [(105, 140), (120, 0)],
            [(120, 0), (240, 10)],
            [(240, 10), (260, 210)],
            [(260, 210), (215, 215), (195, 250), (200, 380)],
            [(200, 380), (75, 420)],
            [(75, 420), (75, 360), (45, 320), (0, 320)],
            [(0, 320), (0, 0)],
        ],
        closed=True,
    )
    outline = Outline.of(
        path,
        points=[
            Point(0, "waist-centre"),
            Point(4, "waist-side", "side"),
            Point(5, "underarm", "side"),
            Point(6, "shoulder-tip"),
            Point(7, "neck-side"),
            Point(8, "neck-centre"),
        ],
        runs=[
            Run(0, 4, "waist"),
            Run(4, 5, "side"),
            Run(5, 6, "armhole"),
            Run(6, 7, "shoulder"),
            Run(7, 8, "neck"),
        ],
    )
    return Piece(
        "front",
        outline,
        kind="sew",
        fold=Fold(8, 0),
        darts=(Dart("waist", 1, 3, (105.0, 140.0), 2),),
    )
