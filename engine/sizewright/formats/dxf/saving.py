"""ezdxf documents made and written so that the same pattern gives the same bytes.

And what a drawing as a whole needs: the box round it, and room for a name in a piece.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING

from ...geometry.flatten import flatten
from ...geometry.path import Path
from ...model import Pattern
from ...units import Unit
from .fenced import fence_ezdxf
from .units import unit_codes

if TYPE_CHECKING:
    from ezdxf.document import Drawing

_LARGEST, _SMALLEST = 12.0, 1.5
#: Rough width of a letter as a share of its height.
_LETTER = 0.7


def new_document(unit: Unit, layers: Mapping[str, int]) -> Drawing:
    """An empty document of R2000. `layers` gives each layer's name its colour number (ACI).

    `unit` (mm or inches) goes into `$INSUNITS` and `$MEASUREMENT`.
    """
    fence_ezdxf()
    from ezdxf.filemanagement import new

    insunits, measurement = unit_codes(unit)
    with _fixed():
        doc = new("R2000")
    doc.header["$INSUNITS"] = insunits
    doc.header["$MEASUREMENT"] = measurement
    for name, colour in layers.items():
        if name not in doc.layers:
            doc.layers.add(name, color=colour)
    return doc


def to_bytes(doc: Drawing, unit: Unit, bounds: tuple[float, float, float, float]) -> bytes:
    """The document as a DXF text file, without dates or random numbers.

    `bounds` in mm is the box that the drawing fills.
    """
    x0, y0, x1, y1 = (round(unit.from_mm(v), 6) for v in bounds)
    doc.modelspace().reset_extents((x0, y0, 0.0), (x1, y1, 0.0))
    stream = io.StringIO()
    with _fixed():
        doc.write(stream)
    data: bytes = doc.encode(_LONG.sub(lambda tag: _rounded(tag, unit), stream.getvalue()))
    return data


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


#: A group code, and a value with more decimals than any drawing needs.
_LONG = re.compile(r"\n( *(\d+)\n)(-?\d+(?:\.\d{8,}(?:e-?\d+)?|(?:\.\d+)?e-\d+))(?=\n)")


def _rounded(tag: re.Match[str], unit: Unit) -> str:
    """A number to 1e-7 mm, where processors and libraries differ in what comes behind."""
    code = int(tag[2])
    if not any(low <= code <= high for low, high in _NUMBERS):
        return tag[0]
    places = 7 if unit is Unit.MM else 9
    return f"\n{tag[1]}{round(float(tag[3]), places) + 0.0!r}"


#: Group codes whose values are numbers with decimals.
_NUMBERS = ((10, 59), (110, 149), (210, 239), (460, 469), (1010, 1059))


@contextmanager
def _fixed() -> Iterator[None]:
    """ezdxf's own marks (dates, version, GUIDs) held fixed, its global option put back."""
    import ezdxf

    options = ezdxf.options  # type: ignore[attr-defined]
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
