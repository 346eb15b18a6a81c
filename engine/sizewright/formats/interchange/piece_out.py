"""One piece as a block of an interchange drawing."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ...findings import Finding, Level
from ...geometry.flatten import flatten
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import CORNER_ANGLE, Notch, Outline, Piece, Vec, format_quantity
from ...model.drawn import drawn_fold, drawn_named, drawn_notches
from ..drawing.losses import losses
from .boundary_in import ON_MIRROR, off_line
from .curve_points import chords
from .layers import (
    BOUNDARY,
    BOUNDARY_CHECK,
    CURVE,
    CUTOUT,
    DRILL,
    GRAIN,
    INTERNAL,
    MIRROR,
    NOTCH_LAYERS,
    NOTCH_PITCH,
    PLAID,
    REFERENCE,
    SEW,
    SEW_CHECK,
    STRIPE,
    TEXT,
    TURN,
)
from .r13 import Space
from .rules_out import size_word
from .texts import ascii_only

#: Height of the texts that the format puts on a piece, mm.
HEIGHT = 5.0
#: Finer chords, mm, of the curves that readers may judge their own by.
_JUDGE = 0.005
_LEADING = 1.5


def write_piece(
    piece: Piece, name: str, numbers: Mapping[str, str], sheet: Space, *, checks: bool
) -> list[Finding]:
    """Everything of a piece that the format can hold, into a block; and what it cannot.

    `name` is its name there, `numbers` those of the rules. `checks`: with finer curves too.
    """
    writer = _Writer(piece, name, numbers, sheet)
    writer.texts()
    writer.lines(checks)
    writer.directions()
    for notch, (edge, along) in zip(piece.notches, drawn_notches(piece), strict=True):
        writer.notch(notch, edge.offset + along)
    writer.inner_lines()
    writer.labels()
    writer.losses()
    return writer.findings


class _Writer:
    def __init__(self, piece: Piece, name: str, numbers: Mapping[str, str], sheet: Space) -> None:
        self.piece = piece
        self.name = name
        self.numbers = numbers
        self.sheet = sheet
        self.findings: list[Finding] = []

    def find(self, code: str, level: Level, text: str, cure: str = "") -> None:
        """Add a finding about the piece."""
        name, size = self.piece.name, self.piece.size or ""
        self.findings.append(Finding(code, level, text, name, size, cure=cure))

    # --- lines --------------------------------------------------------------------------

    def lines(self, checks: bool) -> None:
        """Boundary, sewing line and mirror line."""
        piece = self.piece
        boundary = drawn_named(piece)
        outlines = [(boundary, BOUNDARY, BOUNDARY_CHECK)]
        if piece.cut_line is not None:
            outlines.append((piece.outline, SEW, SEW_CHECK))
        for outline, layer, check in outlines:
            self._outline(outline, layer)
            if checks:
                self.sheet.polyline(flatten(outline.path, _JUDGE), check, closed=True)
        found = drawn_fold(piece)
        if found is None or piece.fold is None:
            return
        stretch = piece.fold if piece.cut_line is None else found[0]
        ends = boundary.path.vertices[[stretch.start, stretch.end]]
        self.sheet.line(ends[0], ends[1], MIRROR)
        sewn = piece.outline.path.vertices[[piece.fold.start, piece.fold.end]]
        if off_line(ends, sewn).max() > ON_MIRROR:
            text = "the cutting line does not run along the fold, so the fold may be lost"
            self.find("fold-apart", "warn", text, "Leave no allowance on the fold.")

    def _outline(self, outline: Outline, layer: int) -> None:
        """One closed line with its points and rules."""
        worst = self._chords(outline.path, outline.corners, layer)
        if worst:
            text = f"a curve laid through the curve points may lie {worst:.2f} mm off the line"
            cure = "Use the chords as they are, or redraw that line with gentler curves."
            self.find("curve-points-coarse", "warn", text, cure)
        for point in outline.points:
            if point.rule is not None:
                corner = outline.corner_number(point.vertex) is not None
                at = outline.vertex_at(point.vertex)
                self._rule(point.rule, at, TURN if corner else CURVE)

    def _chords(self, path: Path, corners: tuple[int, ...], layer: int) -> float:
        """A line as chords with turn and curve points; how far curves through these stray."""
        made = chords(path, corners)
        self.sheet.polyline(made.points, layer, closed=path.closed)
        for points, where in ((made.points[made.turn], TURN), (made.points[made.curve], CURVE)):
            for at in points:
                self.sheet.point(at, where)
        return made.worst

    def inner_lines(self) -> None:
        """Marks, adjust lines, drawn darts, cut-outs and drill holes."""
        piece = self.piece
        layers = {"sew": SEW, "stripe": STRIPE, "plaid": PLAID}
        paths = [(mark.path, layers.get(mark.kind, INTERNAL)) for mark in piece.marks]
        paths += [(adjust.path, INTERNAL) for adjust in piece.adjusts]
        for dart in piece.darts:
            if dart.tip is None:
                ends = piece.outline.vertex_at(dart.a), piece.outline.vertex_at(dart.b)
                legs = Path.polyline(np.array([ends[0], dart.apex, ends[1]]))
                paths.append((legs, INTERNAL))
        paths += [(cutout.path, CUTOUT) for cutout in piece.cutouts]
        for path, layer in paths:
            if len(path) == 1 and path.lines[0]:
                self.sheet.line(path.start, path.end, layer)
                for at in (path.start, path.end):
                    self.sheet.point(at, TURN)
            else:
                corners = np.flatnonzero(np.abs(path.turns) > CORNER_ANGLE)
                self._chords(path, tuple(int(v) for v in corners), layer)
        for drill in piece.drills:
            self.sheet.point(drill.at, DRILL)

    def directions(self) -> None:
        """Grain and grade reference line, the latter drawn the way that x of rules counts."""
        piece = self.piece
        ruled = any(p.rule for p in piece.outline.points)
        grain: tuple[Vec, Vec] | None = None
        if piece.grain is not None:
            (x0, y0), (x1, y1) = piece.grain.start, piece.grain.end
            up = (x1 - x0) * piece.up[0] + (y1 - y0) * piece.up[1] >= 0 or piece.axis is not None
            ends = (piece.grain.start, piece.grain.end)
            grain = ends if up or not ruled else ends[::-1]
            self.sheet.line(grain[0], grain[1], GRAIN)
        if piece.axis is not None:
            self.sheet.line(piece.axis.start, piece.axis.end, REFERENCE)
        elif ruled:
            at, size = _inside(piece.drawn.path), 50.0
            up_end = (at[0] + size * piece.up[0], at[1] + size * piece.up[1])
            start, end = grain or (at, up_end)
            self.sheet.line(start, end, REFERENCE)

    def notch(self, notch: Notch, s: float) -> None:
        """A point for each cut about arc length `s`, the depth as its thickness."""
        layer = NOTCH_LAYERS[notch.kind]
        count = min(notch.count, 3)
        cuts = [s + (k - (count - 1) / 2) * NOTCH_PITCH for k in range(count)]
        for at in self.piece.drawn.path.at(np.array(cuts)):
            self.sheet.point(at, layer, thickness=notch.depth)
            if notch.rule is not None:
                self._rule(notch.rule, at, layer)

    # --- texts --------------------------------------------------------------------------

    def texts(self) -> None:
        """What is said of the piece as a whole, in it."""
        piece = self.piece
        said = [("PIECE NAME", self.name)]
        if piece.size is not None:
            said.append(("SIZE", size_word(piece.size)))
        if piece.quantity:
            first = piece.quantity[0]
            said += [("QUANTITY", str(first.count)), ("MATERIAL", first.material)]
        words = []
        if len(piece.quantity) > 1 or any(len(q.material.split()) > 1 for q in piece.quantity):
            words.append(f"CUT {format_quantity(piece.quantity)}")
        if piece.pair:
            words.append("PAIR")
        if piece.side != "both":
            words.append(f"SIDE {piece.side}")
        if piece.cut_line is None and piece.kind != "unknown":
            words.append(f"OUTLINE {piece.kind}")
        if piece.allowance is not None:
            words.append(f"ALLOWANCE {piece.allowance:.6g} mm")
        if words:
            said.append(("ANNOTATION", "; ".join(words)))
        x, y = _inside(piece.drawn.path)
        for k, (label, value) in enumerate(said):
            place = (x, y - k * _LEADING * HEIGHT)
            self.sheet.text(f"{label}: {ascii_only(value)}", place, HEIGHT, BOUNDARY)

    def labels(self) -> None:
        """Each line of a label as a text."""
        for label in self.piece.labels:
            angle = np.radians(label.angle)
            down = np.array([np.sin(angle), -np.cos(angle)]) * label.height * _LEADING
            lines = [line.strip() for line in label.text.splitlines() if line.strip()]
            for k, line in enumerate(lines):
                at = np.array(label.at) + k * down
                self.sheet.text(ascii_only(line), at, label.height, TEXT, angle=label.angle)

    def _rule(self, rule: str, at: Floats, layer: int) -> None:
        self.sheet.text(f"# {self.numbers.get(rule, rule)}", at, HEIGHT / 2, layer)

    # --- what the format has no place for -----------------------------------------------

    def losses(self) -> None:
        """Tell what is lost or changed."""
        piece = self.piece
        own_kinds = ("", "sew", "stripe", "plaid")
        grain = piece.grain and (piece.grain.start, piece.grain.end)
        axis = piece.axis and (piece.axis.start, piece.axis.end)
        taken = piece.axis is not None and not piece.axis.given and axis != grain
        also = {
            "kinds of inner lines": sum(m.kind not in own_kinds for m in piece.marks),
            "adjust lines (now internal lines)": len(piece.adjusts),
            "V notches (layer 4 tells them from slits no more)": sum(
                n.kind == "v" for n in piece.notches
            ),
            "notches of more than three cuts": sum(n.count > 3 for n in piece.notches),
            "grade axis that was taken, not drawn": int(taken),
            "side that width counts to": int(
                piece.axis is not None and piece.axis.away is not None
            ),
        }
        self.findings += losses(piece, also)
        if piece.kind == "sew" and piece.cut_line is None:
            text = "the boundary is the sewing line, without allowance"
            self.find("no-allowance", "warn", text, "Add the allowance before the piece is cut.")
        kept = [*(label.text.replace("\n", " ") for label in piece.labels)]
        kept += [q.material for q in piece.quantity]
        changed = any(ascii_only(text) != text for text in kept)
        if piece.size is not None and size_word(piece.size) != piece.size:
            changed = True
        if changed or piece.name != self.name:
            shown = f' (its name is "{self.name}" there)' if piece.name != self.name else ""
            text = f"the format holds plain letters only{shown}"
            self.find("letters-changed", "note", text)


def _inside(path: Path) -> Vec:
    """A place well within a closed line."""
    import shapely

    area = shapely.Polygon(flatten(path, 0.5))
    point = area.representative_point() if area.is_valid else area.centroid
    return float(point.x), float(point.y)
