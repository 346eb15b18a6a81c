"""PDF drawings in: `read_pdf`."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ...budget import one_budget, spend
from ...errors import InputError, SizewrightError
from ...findings import Finding
from ...geometry.types import Floats
from ...model import CORNER_ANGLE
from ...units import Unit
from ..drawing.assemble import understood
from ..drawing.drafts import JOIN_TOLERANCE, REFIT_TOLERANCE, Options
from ..drawing.loops import cleaned
from ..drawing.shapes import Drawing, Element, Group, Shape, Style, Text
from ..reading import Reading, SetAside
from ..source import Source, content

#: The process that extracts may take so long, s; its own limit of processor time is less.
_LONGEST = 60.0
#: Pages stand so far apart, mm; nothing lies farther from its page than this, mm.
_BETWEEN, _FARTHEST = 50.0, 1e6
#: What a shape costs of the budget of its file.
_SHAPE_STEPS = 200
#: What was drawn within this of the page's border is a frame, mm.
_AT_BORDER = 1.0
_POINT = 25.4 / 72
# A child finds this package where its parent did.
_BEGIN = (
    "import sys, json; sys.path[:] = json.loads(sys.argv[1])\n"
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
) -> Reading:
    """The pattern in a PDF, true to scale in mm, y up from the first page's lower left.

    `source` is a file (its name or path) or its bytes; `name` names it in messages. `units`
    is what one unit of the page is, whatever the file says (72 to the inch). Each page is a
    sheet of its own, laid to the right of the one before. `corner_angle` in degrees: a vertex
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
        drawing = _drawing(found, 1.0 if units is None else units.to_mm(1.0) / _POINT)
        return understood(
            drawing, Options(corner_angle, refit_tolerance, join_tolerance, sizes or {}, square)
        )
    except SizewrightError as error:
        raise error.at(where) from None


def _extracted(data: bytes) -> dict[str, Any]:
    """What the file shows, by a process of its own that may fail without harm."""
    try:
        done = subprocess.run(
            [sys.executable, "-c", _BEGIN, json.dumps(sys.path)],
            input=data,
            capture_output=True,
            timeout=_LONGEST,
        )
        found = json.loads(done.stdout) if done.returncode == 0 else None
    except (subprocess.TimeoutExpired, ValueError):
        found = None
    if not isinstance(found, dict):
        what = "reading this PDF was given up: it is broken, or asks for more than any pattern"
        raise InputError(what, cure=_AGAIN)
    if "trouble" in found:
        what, cure = _TROUBLE[found["trouble"]]
        raise InputError(what.format(of=found.get("of", "")), cure=cure)
    return found


def _drawing(found: dict[str, Any], scale: float) -> Drawing:
    """All pages side by side, as a drawing of any kind."""
    pages = found["pages"]
    drawn = [page for page in pages if page["paths"]]
    if not drawn:
        if any(page["pictures"] for page in pages):
            what = "this PDF holds a picture and no lines, as a scan does"
            cure = "Trace it in a vector editor, or measure the paper by tape (docs/from-paper.md)."
        else:
            what, cure = "this PDF holds no lines", "Check that it is the file with the pattern."
        raise InputError(what, cure=cure)
    root = Element("pdf", place="the drawing")
    drawing = Drawing(root)
    layers: dict[str, Group] = {"": Group(root, None)}
    left, cut, pictures = 0.0, 0, 0
    for number, page in enumerate(pages, 1):
        sheet = _Sheet(f"page {number}, " if len(pages) > 1 else "", scale, left, layers)
        width, height = (scale * v for v in page["size"])
        for path in page["paths"]:
            shape = sheet.path(path)
            if len(pages) > 1 and _is_border(shape, (left, 0.0, left + width, height)):
                drawing.set_aside.append(SetAside("", "path", "page frame"))
                continue
            cut += path["cut"] == "part"
            if shape.paths:
                drawing.shapes.append(shape)
        drawing.shapes += [sheet.word(words) for words in _lines(page["words"])]
        pictures += page["pictures"]
        left += width + _BETWEEN
    for position, shape in enumerate(drawing.shapes):
        shape.position = position
    if len(pages) == 1:
        drawing.page = (scale * pages[0]["size"][0], scale * pages[0]["size"][1])
        drawing.border = (0.0, 0.0, *drawing.page)
    for _ in range(min(pictures, 20)):
        drawing.set_aside.append(SetAside("", "image", "a picture"))
    drawing.findings += _told(found, len(drawn), cut, pictures)
    return drawing


def _told(found: dict[str, Any], drawn: int, cut: int, pictures: int) -> list[Finding]:
    findings = []
    if drawn > 1:
        text = (
            f"{drawn} pages hold lines; each was read as a sheet of its own, beside the one "
            "before. A pattern that goes on over the pages' edges is not put together yet"
        )
        cure = "If yours goes on, take the file with everything on one large page, or tape the "
        cure += "print together and measure it (docs/from-paper.md)."
        findings.append(Finding("pages-apart", "warn", text, cure=cure))
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


class _Sheet:
    """Shapes of one page, laid `left` mm to the right."""

    def __init__(self, place: str, scale: float, left: float, layers: dict[str, Group]) -> None:
        self.place, self.scale, self.left, self.layers = place, scale, left, layers

    def path(self, path: dict[str, Any]) -> Shape:
        """A path, with the curves that it was drawn with."""
        shape = self._shape("path", path)
        shape.hidden = path["cut"] == "whole"
        width = path["width"]
        shape.style = Style(
            path["colour"] or "none",
            None if width is None else round(width * self.scale, 3),
            " ".join(f"{d * self.scale:.2f}" for d in path["dashes"]),
        )
        for chain in path["chains"]:
            segments = chain["segments"]
            spend(_SHAPE_STEPS, "its shapes")
            lines = np.array([len(s) == 2 for s in segments])
            controls = np.array([s if len(s) == 4 else [s[0], s[0], s[1], s[1]] for s in segments])
            # What is filled and not lined has no open side.
            closed = chain["closed"] or not path["colour"]
            made = cleaned(self._placed(controls), lines, closed)
            if made is not None:
                shape.paths.append(made)
        return shape

    def word(self, words: dict[str, Any]) -> Shape:
        """Words on one line."""
        shape = self._shape("text", words)
        at = self._placed(np.array(words["at"]))
        text = " ".join(words["text"].split())
        height = words["height"] * self.scale
        shape.texts.append(Text(text, (float(at[0]), float(at[1])), height, words["angle"]))
        return shape

    def _shape(self, kind: str, item: dict[str, Any]) -> Shape:
        layer = item["layer"]
        if layer not in self.layers:
            root = self.layers[""]
            self.layers[layer] = Group(Element("layer", None, root.element, label=layer), root)
        element = Element(kind, place=f"{self.place}object {item['number']}")
        return Shape(element, self.layers[layer], None)

    def _placed(self, points: Floats) -> Floats:
        if not (np.abs(points) < _FARTHEST).all():
            what = f"{self.place}a line goes on far beyond the page"
            raise InputError(what, cure="Take it out, or print the page to a new PDF.")
        placed: Floats = points * self.scale + np.array([self.left, 0.0])
        return placed


def _is_border(shape: Shape, border: tuple[float, float, float, float]) -> bool:
    return any(
        path.closed
        and len(path) == 4
        and all(abs(a - b) <= _AT_BORDER for a, b in zip(path.bounds, border, strict=True))
        for path in shape.paths
    )


def _lines(words: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Words that follow one another on one line put together: writers split them as they like."""
    lines: list[dict[str, Any]] = []
    for item in words:
        gap = _gap(lines[-1], item) if lines else None
        if gap is None:
            lines.append(dict(item))
            continue
        last, new = lines[-1], item["text"]
        last["text"] += new if gap < 0.15 else f" {new}"
        last["length"] = math.dist(last["at"], item["at"]) + item["length"]
    return lines


def _gap(last: dict[str, Any], item: dict[str, Any]) -> float | None:
    """How far `item` begins behind the end of `last`, in letter heights; None if elsewhere."""
    height = last["height"]
    turn = abs(last["angle"] - item["angle"]) % 360
    if last["layer"] != item["layer"] or abs(item["height"] / height - 1) > 0.02:
        return None
    if min(turn, 360 - turn) > 0.5:
        return None
    way = math.radians(last["angle"])
    dx, dy = (b - a for a, b in zip(last["at"], item["at"], strict=True))
    along = (dx * math.cos(way) + dy * math.sin(way) - last["length"]) / height
    aside = (dy * math.cos(way) - dx * math.sin(way)) / height
    return along if abs(aside) < 0.1 and -0.3 < along < 0.7 else None
