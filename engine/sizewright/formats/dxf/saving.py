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


def new_document(
    version: str = "R2000",
    unit: Unit = Unit.MM,
    layers: Mapping[str, int] | None = None,
) -> Drawing:
    """An empty document. `layers` gives each layer's name its colour number (ACI).

    `unit` (mm or inches) goes into `$INSUNITS` and `$MEASUREMENT`, which R12 does not have.
    """
    fence_ezdxf()
    from ezdxf.filemanagement import new

    insunits, measurement = unit_codes(unit)
    with _fixed():
        doc = new(version)
    if version != "R12":
        doc.header["$INSUNITS"] = insunits
        doc.header["$MEASUREMENT"] = measurement
    for name, colour in (layers or {}).items():
        if name not in doc.layers:
            doc.layers.add(name, color=colour)
    return doc


def to_bytes(
    doc: Drawing,
    unit: Unit = Unit.MM,
    *,
    bounds: tuple[float, float, float, float] | None = None,
    comments: tuple[str, ...] = (),
) -> bytes:
    """The document as a DXF text file, without dates or random numbers.

    `bounds` in mm is the box that the drawing fills. An R12 file gets `$INSUNITS` and
    `$MEASUREMENT` too, which most programs heed, and no section of blocks where it has none.
    `comments` become `999` lines at its head, which programs skip.
    """
    if bounds is not None:
        x0, y0, x1, y1 = (round(unit.from_mm(v), 6) for v in bounds)
        doc.modelspace().reset_extents((x0, y0, 0.0), (x1, y1, 0.0))
    stream = io.StringIO()
    with _fixed():
        doc.write(stream)
    text = _LONG.sub(lambda tag: _rounded(tag, unit), stream.getvalue())
    if doc.dxfversion == "AC1009":
        text = _plain_r12(text, unit)
    head = "".join(f"999\n{comment}\n" for comment in comments)
    data: bytes = doc.encode(head + text)
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


def _plain_r12(text: str, unit: Unit) -> str:
    insunits, measurement = unit_codes(unit)
    version = "$ACADVER\n  1\nAC1009\n"
    says = f"  9\n$INSUNITS\n 70\n{insunits}\n  9\n$MEASUREMENT\n 70\n{measurement}\n"
    text = text.replace(version, version + says, 1)
    first = text.find("  0\nSECTION\n  2\nBLOCKS\n")
    last = text.find("  0\nENDSEC\n", first) + len("  0\nENDSEC\n")
    blocks = text[first:last]
    # Only those of the two spaces: no program needs them written down.
    if first >= 0 and blocks.count("\nBLOCK\n") <= 2:
        text = text[:first] + text[last:]
    return text


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
