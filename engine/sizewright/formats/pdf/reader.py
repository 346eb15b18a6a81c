"""PDF drawings in: `read_pdf`."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from ...budget import one_budget
from ...errors import InputError, SizewrightError
from ...findings import Finding
from ...model import CORNER_ANGLE
from ...units import Unit
from ..apart import run_apart
from ..drawing.assemble import understood
from ..drawing.drafts import JOIN_TOLERANCE, REFIT_TOLERANCE, Options
from ..drawing.shapes import Box, Drawing, Element, Group, Shape, Style, Text
from ..reading import Reading, SetAside
from ..source import Source, content
from .items import Item, Page, pages_of
from .sheets import Sheets, Taping, put_together

#: What was drawn within this of the page's border is a frame, mm.
_AT_BORDER = 1.0
_POINT = 25.4 / 72
# `serve` of `extract`, or that the package which that needs is not there.
_EXTRACT = (
    "try: from sizewright.formats.pdf.extract import serve\n"
    "except (ImportError, OSError): print(json.dumps({'trouble': 'missing'}))\n"
    "else: serve()"
)
_AGAIN = "Save or download it again, or print it to a new PDF from a viewer that opens it."
_TROUBLE = {
    "locked": (
        "this PDF is locked by a password",
        "Open it with its password, and print it to a new PDF at 100 %.",
    ),
    "missing": (
        "PDFs cannot be read here, as the package pypdfium2 is missing or damaged",
        "Install it: python -m pip install --force-reinstall pypdfium2",
    ),
    "broken": ("this PDF is broken and cannot be opened", _AGAIN),
    "page": ("page {of} of this PDF is broken", _AGAIN),
    "units": (
        "the pages of this PDF have different units (UserUnit)",
        "Print it to a new PDF at 100 %, or save each page as a PDF of its own.",
    ),
    "much": ("this PDF holds more than any pattern needs ({of})", "Take out all but the pattern."),
}


@one_budget()
def read_pdf(
    source: Source,
    *,
    name: str = "",
    units: Unit | None = None,
    corner_angle: float = CORNER_ANGLE,
    refit_tolerance: float = REFIT_TOLERANCE,
    join_tolerance: float = JOIN_TOLERANCE,
    sizes: Mapping[str, str] | None = None,
    square: float | None = None,
    columns: int | None = None,
    trim: float | None = None,
    overlap: float | None = None,
) -> Reading:
    """The pattern in a PDF, true to scale in mm, y up from the first page's lower left.

    `source` is a file (its name or path) or its bytes; `name` names it in messages. `units`
    is what one unit of the page is, whatever the file says (72 to the inch). Pages that the
    pattern goes on over are put together; any other is a sheet of its own, to the right of what
    comes before. Where that fails, `columns` says how many pages lie side by side (0: every page
    for itself), `trim` how much of each page's border goes away, `overlap` how far pages lie over
    one another, mm. `corner_angle` in degrees: a vertex
    that turns more is a corner. `refit_tolerance` in mm: how far a curve that replaces a run of
    short chords may lie from them. Loose lines whose ends are within `join_tolerance` mm are
    joined. `sizes` says which kind of line each size of a nest is (`line 3`). Everything is
    scaled so that the drawn test square is `square` mm wide.

    Raises InputError for what cannot be read: locked, broken, without lines, or beyond any
    limit. What can be read but is doubtful comes back as findings.
    """
    data, where = content(source, name)
    try:
        found = _extracted(data)
        scale = 1.0 if units is None else units.to_mm(1.0) / _POINT
        pages = _lined(found, scale)
        sheets = put_together(pages, Taping(columns, trim, overlap))
        drawing = _drawing(found, pages, sheets)
        options = Options(corner_angle, refit_tolerance, join_tolerance, sizes or {}, square)
        reading = understood(drawing, options)
        boxes = sorted(sheets.boxes.items())
        return reading._replace(pages=tuple((k + 1, _grown(b, drawing.scaled)) for k, b in boxes))
    except SizewrightError as error:
        raise error.at(where) from None


def _grown(box: Box, times: float) -> Box:
    x0, y0, x1, y1 = box
    return x0 * times, y0 * times, x1 * times, y1 * times


def _extracted(data: bytes) -> dict[str, Any]:
    """What the file shows, by a process of its own that may fail without harm."""
    done = run_apart(_EXTRACT, data)
    try:
        found = None if done is None else json.loads(done[0])
    except ValueError:
        found = None
    if not isinstance(found, dict):
        what = "reading this PDF was given up: it is broken, or asks for more than any pattern"
        raise InputError(what, cure=_AGAIN)
    if "trouble" in found:
        what, cure = _TROUBLE[found["trouble"]]
        raise InputError(what.format(of=found.get("of", "")), cure=cure)
    return found


def _lined(found: dict[str, Any], scale: float) -> list[Page]:
    """The pages. InputError where no line is on any."""
    pages = pages_of(found, scale)
    if any(page.lined for page in pages):
        return pages
    if any(page.pictures for page in pages):
        what = "this PDF holds a picture and no lines, as a scan does"
        cure = "Print it, and take it in by a photo (docs/from-a-photo.md) or by tape and ruler."
    else:
        what, cure = "this PDF holds no lines", "Check that it is the file with the pattern."
    raise InputError(what, cure=cure)


def _drawing(found: dict[str, Any], pages: list[Page], sheets: Sheets) -> Drawing:
    """Pages, put together, as a drawing of any kind."""
    root = Element("pdf", place="the drawing")
    drawing = Drawing(root, set_aside=sheets.set_aside, findings=sheets.findings)
    layers: dict[str, Group] = {"": Group(root, None)}
    cut = 0
    for item in sheets.items:
        shape = _shape(item, f"page {item.page + 1}, " if len(pages) > 1 else "", layers)
        if len(pages) > 1 and _is_border(shape, sheets.border(item.page)):
            drawing.set_aside.append(SetAside("", "path", "page frame"))
            continue
        cut += item.cut == "part"
        if shape.paths or shape.texts:
            shape.position = len(drawing.shapes)
            drawing.shapes.append(shape)
    if len(pages) == 1:
        drawing.page = pages[0].size
        drawing.border = (0.0, 0.0, *drawing.page)
    pictures = sum(page.pictures for page in pages)
    for _ in range(min(pictures, 20)):
        drawing.set_aside.append(SetAside("", "image", "a picture"))
    drawing.findings += _told(found, cut, pictures)
    return drawing


def _told(found: dict[str, Any], cut: int, pictures: int) -> list[Finding]:
    findings = []
    if cut:
        text = f"clipped in the drawing or by the page's edge ({cut} lines are); read whole"
        cure = "Check the piece, or cut its line where the clip does."
        findings.append(Finding("clipped", "warn", text, cure=cure))
    if found["layers_unsure"]:
        text = "some layers are switched off, and what stands on them may have been read"
        cure = "Print it to a new PDF with only the layers that you want, at 100 %."
        findings.append(Finding("layers-off", "warn", text, cure=cure))
    if pictures:
        text = f"the pages hold {pictures} pictures besides lines; pictures are not read"
        if pictures == 1:
            text = "the pages hold a picture besides lines; pictures are not read"
        findings.append(Finding("pictures", "note", text))
    return findings


def _shape(item: Item, page: str, layers: dict[str, Group]) -> Shape:
    """What stands on a page, with the curves that it was drawn with."""
    if item.layer not in layers:
        root = layers[""]
        layers[item.layer] = Group(Element("layer", None, root.element, label=item.layer), root)
    element = Element("path" if item.chains else "text", place=f"{page}object {item.number}")
    shape = Shape(element, layers[item.layer], None, hidden=item.cut == "whole")
    if item.words:
        said, at = item.words, (float(item.points[0, 0]), float(item.points[0, 1]))
        shape.texts.append(Text(said["text"], at, said["height"], said["angle"]))
        shape.style = Style(fill=item.fill)
        return shape
    shape.paths = item.paths()
    width = None if item.width is None else round(item.width, 3)
    dashes = " ".join(f"{d:.2f}" for d in item.dashes)
    shape.style = Style(item.colour or "none", width, dashes, item.fill)
    return shape


def _is_border(shape: Shape, border: Box) -> bool:
    return any(
        path.closed
        and len(path) == 4
        and all(abs(a - b) <= _AT_BORDER for a, b in zip(path.bounds, border, strict=True))
        for path in shape.paths
    )
