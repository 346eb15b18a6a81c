"""Photographs of paper patterns in: `read_photo`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from ...budget import one_budget
from ...errors import InputError, SizewrightError
from ...findings import Finding
from ...geometry.crossings import is_simple
from ...geometry.flatten import flatten
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import CORNER_ANGLE
from ...units import Unit
from ..drawing.assemble import understood
from ..drawing.drafts import JOIN_TOLERANCE, REFIT_TOLERANCE, Options
from ..drawing.shapes import Drawing, Element, Group, Shape
from ..reading import Behind, Reading, SetAside
from ..source import Source, content
from .contour import refined
from .fitting import Fit, fit_edges, fit_marks
from .marks import PAPERS
from .picture import decoded
from .plain import find_plain, printed_at
from .proof import whole
from .segment import Found, Segmented, find_pieces
from .squares import find_sheets
from .told import error_of
from .trace import traced

SheetName = Literal["A4", "Letter", "corners"]
#: Smallest piece, mm2; more pieces than this are a pattern in the cloth.
_LEAST, _MOST = 900.0, 60
#: Room round the pieces on the page of the drawing, mm.
_MARGIN = 10.0
#: A piece this near to a sheet touches it, mm.
_TOUCHES = 4.0
#: An outline is followed where it is sure by this much.
_SURE = 0.55
#: What is not sure is tinted so far round, px of the small picture.
_TINT = 4
#: A loop lies no farther from its path than this, mm, and a path from its loop, which is rounded
#: at corners; a polygon is as near as this.
_OFF, _BEYOND, _POLYGON = 0.9, 1.5, 0.14
#: What is warned of: contrast (of 255), errors told and bends of the sheet, mm, pixels a mm.
_FAINT, _WRONG, _BENT, _COARSE = 30.0, 1.5, 1.5, 2.0
#: A sheet is printed at so much of its size or it is told, as a share.
_PRINTED = 0.003
#: Squares further than this from where their sheet has them are not a sheet's, px.
_UNLIKE = 1.5
#: Sharpness of the picture behind the drawing: pixels a mm, and pixels at most on a side.
_BEHIND, _BEHIND_MOST = 2.0, 1600
_LOOK = "Look at the drawing (sizewright convert): the photo stands behind its lines."
_RULER = "Check two long edges, one along the grain and one across, with a ruler on the paper."


@one_budget()
def read_photo(
    source: Source,
    *,
    name: str = "",
    units: Unit | None = None,
    sheet: SheetName = "corners",
    corner_angle: float = CORNER_ANGLE,
) -> Reading:
    """The pieces in a photograph (JPEG or PNG), in mm, y up, straightened by a sheet of paper.

    `source` is a file (its name or path) or its bytes; `name` names it in messages. `sheet`:
    `corners` is the sheet of marks that `sizewright sheet` prints, one or up to four of them;
    `A4` and `Letter` are a plain sheet of that paper, or again the one of marks. `units` has
    no use here and is refused. `corner_angle` in degrees: a vertex that turns more is a corner.

    Raises InputError for what is no whole picture, too large, or without sheet or piece, and
    where OpenCV is not installed. What can be read but is doubtful comes back as findings;
    the largest error that is to be feared is always told.
    """
    data, where = content(source, name, "photo")
    try:
        if units is not None:
            raise InputError(
                "a photo takes its scale from the sheet in it", cure="Leave out the units."
            )
        picture, damaged = decoded(data)
        made = _Photo(picture, sheet)
        if damaged:
            made.find("photo-damaged", "warn", "parts of the picture are damaged", _LOOK)
        reading = understood(made.drawing(), Options(corner_angle, REFIT_TOLERANCE, JOIN_TOLERANCE))
        return reading._replace(behind=made.behind())
    except SizewrightError as error:
        raise error.at(where) from None


@dataclass(frozen=True, eq=False)
class _Piece:
    """A piece: its loops (n, 2) on the plane in mm, the outer one first, and their paths, its
    contrast of 255, the places in pixels at which it is `unsure`, and whether all is `clear`."""

    loops: list[Floats]
    paths: list[Path]
    contrast: float
    unsure: Floats
    clear: bool


class _Photo:
    """One photograph on its way to a drawing."""

    def __init__(self, picture: Any, sheet: SheetName) -> None:
        import cv2

        self.picture = picture
        self.findings: list[Finding] = []
        grey = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY).astype(np.float32)
        self.fit, self.sheets = self._straightened(grey, sheet)
        self.shift = np.zeros(2)
        self.page = (0.0, 0.0)
        self.segmented: Segmented | None = None
        self.unsure = np.zeros((0, 2))
        self.unclear = False

    def find(self, code: str, level: Any, text: str, cure: str = "") -> None:
        """Add a finding about the photograph."""
        self.findings.append(Finding(code, level, text, cure=cure))

    # --- the sheet --------------------------------------------------------------------

    def _straightened(self, grey: Floats, sheet: SheetName) -> tuple[Fit, list[Floats]]:
        """The view, and the outlines of all sheets on the plane."""
        height, width = grey.shape
        seen = find_sheets(grey)
        if seen:
            fit, papers = fit_marks(width, height, seen)
            if fit.noise > _UNLIKE:
                raise InputError(
                    "the squares in this photo do not lie as those of a printed sheet do",
                    cure="Lay a sheet of marks flat, whole and sharp in the photo, not cropped.",
                )
            squares = sum(len(s.places) for s in seen)
            titles = ", ".join(s.sheet.title for s in seen)
            self.find("photo-sheet", "note", f"straightened by {squares} squares of {titles}")
            if sheet != "corners" and seen[0].sheet.paper != sheet:
                text = f"the sheet of marks is {seen[0].sheet.paper}, not {sheet} as was said"
                self.find("photo-other-sheet", "warn", text, "Say what is true with --set sheet=.")
            for s in seen:
                if (missing := len(s.sheet.nodes) - len(s.places)) > 2:
                    text = f"{missing} squares of {s.sheet.title} are not seen"
                    self.find("photo-squares", "note", text, "Keep the whole sheet free and lit.")
            if fit.bent > _BENT:
                text = f"the sheet does not lie flat: a part of it rises by about {fit.bent:.1f} mm"
                self.find("photo-bent", "warn", text, "Stick its corners down, and take another.")
            known = [at for p in papers if (at := printed_at(grey, fit.view, p)) is not None]
            printed = float(np.mean(known)) if known else 1.0
            if abs(printed - 1) > _PRINTED:
                text = f"by the edges of its paper the sheet was printed at {100 * printed:.1f} %"
                cure = "Print it at 100 %, without fitting to the page, and take another. "
                self.find("photo-print", "warn", text, cure + _RULER)
            return replace(fit, printed=printed), papers
        if sheet == "corners":
            raise InputError(
                "no sheet of marks was found in this photo",
                cure="Print one (sizewright sheet), and lay it whole and lit beside the piece; "
                "or say which plain sheet lies there: --set sheet=A4, or sheet=Letter.",
            )
        plain = find_plain(grey, PAPERS[sheet])
        if not plain:
            raise InputError(
                f"no plain {sheet} sheet was found in this photo",
                cure="Lay a white sheet flat on a darker ground, all four edges free and in the "
                "photo, taken from above; better, print a sheet of marks (sizewright sheet).",
            )
        if len(plain) > 1:
            text = f"{len(plain)} things in the photo have the shape of {sheet}; one was taken"
            cure = "Cover what is no sheet, or use a sheet of marks (sizewright sheet). "
            self.find("photo-sheets", "warn", text, cure + _RULER)
        fit = fit_edges(width, height, PAPERS[sheet], plain[0].view, plain[0].edges)
        self.find("photo-sheet", "note", f"straightened by the edges of a plain {sheet} sheet")
        half = np.array(PAPERS[sheet]) / 2
        return fit, [np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half]

    # --- the pieces -------------------------------------------------------------------

    def drawing(self) -> Drawing:
        """The pieces as a drawing of any kind, on a page of their own."""
        view = self.fit.view
        fine = float(np.median(view.scale(np.concatenate(self.sheets))))
        papers = [view.pixels(_dense(p)) for p in self.sheets]
        found = find_pieces(self.picture, papers, _LEAST * fine**2)
        self.segmented = found
        root = Element("photo", place="the photo")
        drawing = Drawing(root)
        in_it = [p for p in found.pieces if not p.cut_off]
        for _ in range(min(len(found.pieces) - len(in_it), 20)):
            drawing.set_aside.append(SetAside("", "area", "cut off by the photo's edge"))
        if len(in_it) > _MOST or not in_it:
            self._nothing(found, len(in_it))
        pieces: list[_Piece] = []
        for one in in_it:
            if (piece := self._piece(one, found.plain, fine)) is None:
                drawing.set_aside.append(SetAside("", "area", "its outline cannot be followed"))
            else:
                pieces.append(piece)
        if not pieces:
            self._nothing(found, 0)
        every = np.concatenate([loop for piece in pieces for loop in piece.loops])
        low, high = every.min(axis=0), every.max(axis=0)
        self.shift = _MARGIN - low
        wide, tall = np.ceil(high - low + 2 * _MARGIN)
        self.page = (float(wide), float(tall))
        group = Group(root, None)
        for number, piece in enumerate(pieces):
            shape = Shape(Element("area", None, root, place=f"area {number + 1}"), group, None)
            shape.position = number
            shape.paths = [p.with_controls(p.controls + self.shift) for p in piece.paths]
            drawing.shapes.append(shape)
        self._judge(pieces, found, fine)
        drawing.page = self.page
        drawing.findings += self.findings
        return drawing

    def _nothing(self, found: Segmented, count: int) -> None:
        if count:
            what = f"{count} things in this photo look like pieces, as on a patterned ground"
        elif not found.plain:
            what = "no piece could be told from the patterned or unevenly lit ground in this photo"
        elif any(not piece.cut_off for piece in found.pieces):
            what = "the outline of what lies in this photo cannot be followed: a shadow, wrinkles "
            what += "or lines that run over its edge"
        elif found.pieces:
            what = "the pieces in this photo are cut off by its edge"
        else:
            what = "no piece was found in this photo"
        raise InputError(
            what,
            cure="Lay the piece on a plain ground of another colour, away from the photo's edge, "
            "and light it from both sides.",
        )

    def _piece(self, piece: Found, plain: bool, fine: float) -> _Piece | None:
        """A piece by the surest of its outlines; None where none can be followed."""
        ways = [
            [refined(self.picture, o, fine, plain=even, hole=k > 0) for k, o in enumerate(outlines)]
            for outlines, even in ((piece.outlines, plain), (piece.otherwise, True))
            if outlines
        ]
        lines = max(ways, key=lambda way: (round(way[0].sureness, 2), way[0].contrast))
        if lines[0].sureness < _SURE:
            return None
        holes = [line for line in lines[1:] if line.sureness >= _SURE]
        agreed = piece.agreed and len(holes) == len(lines) - 1
        lines = [lines[0], *holes]
        loops = [self.fit.view.plane(line.places) for line in lines]
        paths, fair = zip(*(_followed(loop) for loop in loops), strict=True)
        unsure = np.concatenate([line.places[line.unsure] for line in lines])
        clear = agreed and all(fair) and not len(unsure)
        return _Piece(loops, list(paths), lines[0].contrast, unsure, clear)

    def _judge(self, pieces: list[_Piece], found: Segmented, fine: float) -> None:
        """All that a person should know before trusting the outlines."""
        doubtful = sum(not piece.clear for piece in pieces)
        self.unsure = np.concatenate([piece.unsure for piece in pieces])
        if (contrast := min(piece.contrast for piece in pieces)) < _FAINT:
            text = f"a piece hardly differs from its ground ({contrast:.0f} of 255)"
            cure = "Lay it on a ground of another colour. "
            self.find("photo-faint", "warn", text, cure + _LOOK)
        if not found.plain:
            text = "the ground is patterned or unevenly lit; pieces were told from it by their "
            cure = "Lay them on a plain ground, lit from both sides. "
            self.find("photo-doubtful", "warn", text + "evenness alone", cure + _LOOK)
        elif doubtful:
            text = (
                "two ways of telling piece from ground do not agree on "
                f"{doubtful} of {len(pieces)} pieces: shadow, wrinkles or a pattern"
            )
            cure = "What they differ on is tinted in the photo behind the drawing. "
            self.find("photo-doubtful", "warn", text, cure + _LOOK)
        if any(p.cut_off for p in found.pieces):
            text = "something is cut off by the photo's edge, and was left out"
            self.find("photo-cut-off", "warn", text, "If it is a piece, take it in whole.")
        for sheet in self.sheets:
            if any(_gap(piece.loops[0], sheet) < _TOUCHES for piece in pieces):
                text = "a piece touches the sheet, and its outline there is the sheet's"
                self.find("photo-touches", "warn", text, "Lay them apart, and take another.")
        if fine < _COARSE:
            text = f"the photo shows a mm by {fine:.1f} pixels only"
            self.find("photo-coarse", "warn", text, "Take it nearer, or with more pixels.")
        lost = len(found.pieces) - len(pieces) - sum(p.cut_off for p in found.pieces)
        if lost:
            text = f"the outlines of {lost} things cannot be followed, and were left out"
            cure = "If one is a piece, lay it on a plain ground, lit from both sides."
            self.find("photo-unclear", "warn", text, cure)
        error = error_of(self.fit, [piece.loops[0] for piece in pieces])
        near = f"within {_rounded(error)} mm"
        flat = "where sheet and pieces lie as flat as paper does"
        self.unclear = doubtful > 0 or not found.plain
        if self.unclear:
            # What outline was taken for a piece's edge, no figure tells.
            text = (
                f"the photo is straightened to {near} in 19 of 20 cases, {flat}; how far the "
                "outlines lie off the paper is not known"
            )
        else:
            text = f"outlines are {near} of the paper in 19 of 20 cases, {flat}"
        wrong = error > _WRONG
        cure = "Use a sheet of marks (sizewright sheet), or four round the piece. " if wrong else ""
        self.find("photo-error", "warn" if wrong or self.unclear else "note", text, cure + _RULER)

    # --- the photo behind -------------------------------------------------------------

    def behind(self) -> Behind:
        """The straightened photo on the drawing's page, what is doubtful in it tinted."""
        import cv2

        width, height = self.page
        fine = min(_BEHIND, _BEHIND_MOST / max(width, height))
        x = (np.arange(int(width * fine)) + 0.5) / fine
        y = height - (np.arange(int(height * fine)) + 0.5) / fine
        grid = np.stack(np.meshgrid(x, y), axis=-1)
        at = self.fit.view.pixels(grid.reshape(-1, 2) - self.shift).reshape(grid.shape)
        at = at.astype(np.float32)
        shown = cv2.remap(
            self.picture, at[..., 0], at[..., 1], cv2.INTER_AREA, borderValue=(255,) * 3
        )
        assert self.segmented is not None
        doubtful = self.segmented.doubtful.astype(np.uint8)
        if self.unclear:
            small = doubtful.shape[1] / self.picture.shape[1]
            for place in np.rint(self.unsure * small).astype(int).tolist():
                cv2.circle(doubtful, place, _TINT, 1, -1)
            shown = _tinted(shown, at * small, doubtful)
        _, coded = cv2.imencode(".jpg", shown, [cv2.IMWRITE_JPEG_QUALITY, 80])
        return Behind(coded.tobytes(), "image/jpeg", (0.0, 0.0, width, height))


def _followed(loop: Floats) -> tuple[Path, bool]:
    """The path of a loop, and whether it is a fair one near the loop: where no fair one is found
    it is a polygon."""
    import shapely

    path = traced(loop)
    if not is_simple(path, may_touch=True):
        area = whole(loop).simplify(_POLYGON)
        return Path.polyline(np.asarray(area.exterior.coords)[:-1], closed=True), False
    way, ring = flatten(path, 0.05), shapely.LinearRing(loop)
    off = shapely.distance(shapely.LinearRing(way), shapely.points(loop)).max()
    beyond = shapely.distance(ring, shapely.points(way)).max()
    return path, bool(off < _OFF and beyond < _BEYOND)


def _tinted(shown: Any, at: Any, doubtful: Any) -> Any:
    import cv2

    there = cv2.remap(doubtful, at[..., 0], at[..., 1], cv2.INTER_NEAREST) > 0
    tinted = shown.copy()
    tinted[there] = (tinted[there] * 0.5 + np.array([30, 110, 240]) * 0.5).astype(np.uint8)
    return tinted


def _dense(corners: Floats) -> Floats:
    """A closed line of straight sides with a place at each sixteenth of them."""
    share = np.arange(16)[:, None] / 16
    ends = np.roll(corners, -1, axis=0)
    return np.concatenate([a + (b - a) * share for a, b in zip(corners, ends, strict=True)])


def _gap(line: Floats, sheet: Floats) -> float:
    import shapely

    return float(shapely.distance(shapely.Polygon(sheet), shapely.MultiPoint(line)))


def _rounded(error: float) -> str:
    """An error in mm with two digits, never rounded down."""
    return f"{np.ceil(error * 10) / 10:.1f}"
