"""What a drawing as a whole needs: the box round it, and room for a name in a piece."""

from __future__ import annotations

from ...geometry.flatten import flatten
from ...geometry.path import Path
from ...model import Pattern

_LARGEST, _SMALLEST = 12.0, 1.5
#: Rough width of a letter as a share of its height.
_LETTER = 0.7


def name_place(path: Path, letters: int) -> tuple[float, float, float]:
    """Baseline start (x, y) and letter height, mm, of a text of so many letters in a loop.

    The text is centred on a point well inside, its height by the room on both sides there.
    """
    import shapely

    area = shapely.Polygon(flatten(path, 0.5))
    if not area.is_valid:
        area = shapely.make_valid(area)
    spot = shapely.maximum_inscribed_circle(area, tolerance=max(area.length / 200.0, 0.1))
    (x, y), edge = spot.coords[0], spot.length
    height = max(_SMALLEST, min(_LARGEST, 1.4 * edge / (letters * _LETTER), edge / 2))
    return x - letters * _LETTER * height / 2, y - height / 2, height


def bounds_of(pattern: Pattern) -> tuple[float, float, float, float]:
    """The box (x0, y0, x1, y1) round the outermost lines of all pieces, mm."""
    if not pattern.pieces:
        return 0.0, 0.0, 0.0, 0.0
    boxes = [piece.bounds for piece in pattern.pieces]
    return (
        min(b[0] for b in boxes),
        min(b[1] for b in boxes),
        max(b[2] for b in boxes),
        max(b[3] for b in boxes),
    )
