"""One piece as a block of an interchange drawing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

import numpy as np

from ...findings import Finding
from ...geometry.path import Path
from ...model import Notch, Outline, Piece, Vec, format_quantity
from ...model.drawn import drawn_fold, drawn_named, drawn_spot
from ...model.outline import in_corner_order
from ...units import Unit
from .boundary_in import ON_MIRROR, off_line
from .curve_points import Chords, chords
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
from .r13 import Sheet
from .rules_out import size_word
from .texts import ascii_only

#: Height of the texts that the format puts on a piece, mm.
HEIGHT = 5.0
#: Finer chords, mm, of the curves that readers may judge their own by.
_JUDGE = 0.005
_LEADING = 1.5


class PieceWriter:
    """Writes one piece; `findings` collects what the format cannot hold."""

    def __init__(self, piece: Piece, name: str, numbers: Mapping[str, str], unit: Unit) -> None:
        self.piece = piece
        self.name = name
        self.numbers = numbers
        self.unit = unit
        self.findings: list[Finding] = []
        self.layers: set[int] = set()
        self.sheet: Sheet

    def write(self, sheet: Sheet) -> None:
        """Everything that the format can hold, into a block."""
        self.sheet = sheet
        piece = self.piece
        self._texts()
        boundary = drawn_named(piece)
        self._outline(boundary, BOUNDARY, BOUNDARY_CHECK)
        if piece.cut_line is not None or piece.kind == "sew":
            self._outline(piece.outline, SEW, SEW_CHECK, again=piece.cut_line is None)
        for notch in piece.notches:
            self._notch(notch)
        fold = drawn_fold(piece)
        if fold is not None:
            edge, _, _ = fold
            ends = (boundary.vertex_at(edge.start), boundary.vertex_at(edge.end))
            if piece.cut_line is None and piece.fold is not None:
                ends = tuple(boundary.vertex_at(v) for v in (piece.fold.start, piece.fold.end))  # type: ignore[assignment]
            self._line(ends[0], ends[1], MIRROR)
            self._fold_apart(np.array(ends))
        self._directions()
        for mark in piece.marks:
            layer = {"stripe": STRIPE, "plaid": PLAID}.get(mark.kind, INTERNAL)
            self._path(mark.path, SEW if mark.kind == "sew" else layer)
        for adjust in piece.adjusts:
            self._path(adjust.path, INTERNAL)
        for dart in piece.darts:
            if dart.tip is None:
                ends = piece.outline.vertex_at(dart.a), piece.outline.vertex_at(dart.b)
                legs = np.array([ends[0], dart.apex, ends[1]])
                self._path(Path.polyline(legs), INTERNAL)
        for cutout in piece.cutouts:
            self._path(cutout.path, CUTOUT)
        for drill in piece.drills:
            self._point(drill.at, DRILL)
        self._labels()
        self._losses()

    # --- lines --------------------------------------------------------------------------

    def _outline(self, outline: Outline, layer: int, check: int, *, again: bool = False) -> None:
        """One closed line with its points; `again` where another layer has these already."""
        made = chords(outline.path, outline.corners)
        self._polyline(made.points, layer, closed=True)
        self._polyline(chords(outline.path, outline.corners, _JUDGE).points, check, closed=True)
        if made.worst:
            self._find(
                "curve-points-coarse",
                "warn",
                f"a curve laid through the curve points may lie {made.worst:.2f} mm off the line",
                "Use the chords as they are, or redraw that line with gentler curves.",
            )
        if again:
            return
        self._points(made)
        for point in outline.points:
            if point.rule is not None:
                at = outline.vertex_at(point.vertex)
                corner = outline.corner_number(point.vertex) is not None
                self._rule(point.rule, (float(at[0]), float(at[1])), TURN if corner else CURVE)

    def _points(self, made: Chords) -> None:
        for layer, which in ((TURN, made.turn), (CURVE, made.curve)):
            for at in made.points[which]:
                self._point((float(at[0]), float(at[1])), layer)

    def _path(self, path: Path, layer: int) -> None:
        """An inner line with its turn and curve points."""
        if len(path) == 1 and path.lines[0]:
            self._line(path.start, path.end, layer)
            for at in (path.start, path.end):
                self._point((float(at[0]), float(at[1])), TURN)
            return
        corners = np.flatnonzero(np.abs(path.turns) > 3.0)
        made = chords(path, tuple(int(v) for v in corners))
        self._polyline(made.points, layer, closed=path.closed)
        self._points(made)

    def _fold_apart(self, mirror: np.ndarray) -> None:
        """Tell where the fold of the sewing line does not lie on the boundary's."""
        fold = self.piece.fold
        if fold is None or self.piece.cut_line is None:
            return
        ends = np.array([self.piece.outline.vertex_at(v) for v in (fold.start, fold.end)])
        if off_line(mirror, ends).max() > ON_MIRROR:
            self._find(
                "fold-apart",
                "warn",
                "the cutting line does not run along the fold, so the fold may be lost",
                "Leave no allowance on the fold.",
            )

    def _directions(self) -> None:
        """Grain and grade reference line, the latter drawn the way that x of rules counts."""
        piece = self.piece
        ruled = any(p.rule for p in piece.outline.points)
        grain: tuple[Vec, Vec] | None = None
        if piece.grain is not None:
            (x0, y0), (x1, y1) = piece.grain.start, piece.grain.end
            up = (x1 - x0) * piece.up[0] + (y1 - y0) * piece.up[1] >= 0 or piece.axis is not None
            ends = (piece.grain.start, piece.grain.end)
            grain = ends if up or not ruled else ends[::-1]
            self._line(grain[0], grain[1], GRAIN)
        if piece.axis is not None:
            self._line(piece.axis.start, piece.axis.end, REFERENCE)
        elif ruled:
            at, size = _inside(piece.drawn.path), 50.0
            up_end = (at[0] + size * piece.up[0], at[1] + size * piece.up[1])
            start, end = grain or (at, up_end)
            self._line(start, end, REFERENCE)

    # --- notches ------------------------------------------------------------------------

    def _notch(self, notch: Notch) -> None:
        piece = self.piece
        edge, along = drawn_spot(piece, notch.at)
        path = piece.drawn.path
        layer = NOTCH_LAYERS[notch.kind]
        middle = edge.offset + along
        count = min(notch.count, 3)
        for k in range(count):
            s = middle + (k - (count - 1) / 2) * NOTCH_PITCH
            x, y = path.at(np.array([s]))[0]
            self.layers.add(layer)
            self.sheet.point(self._to((float(x), float(y))), layer, thickness=self._mm(notch.depth))
            if notch.rule is not None:
                self._rule(notch.rule, (float(x), float(y)), layer)

    # --- texts --------------------------------------------------------------------------

    def _texts(self) -> None:
        piece = self.piece
        said = [("PIECE NAME", self.name)]
        if piece.size is not None:
            said.append(("SIZE", size_word(piece.size)))
        if piece.quantity:
            said += [
                ("QUANTITY", str(piece.quantity[0].count)),
                ("MATERIAL", piece.quantity[0].material),
            ]
        words = []
        if len(piece.quantity) > 1 or any(len(q.material.split()) > 1 for q in piece.quantity):
            words.append(f"CUT {format_quantity(piece.quantity)}")
        if piece.pair:
            words.append("PAIR")
        if piece.side != "both":
            words.append(f"SIDE {piece.side}")
        if piece.kind == "cut":
            words.append("OUTLINE cut")
        if piece.allowance is not None:
            words.append(f"ALLOWANCE {piece.allowance:.6g} mm")
        if words:
            said.append(("ANNOTATION", "; ".join(words)))
        at = _inside(piece.drawn.path)
        for k, (label, value) in enumerate(said):
            place = (at[0], at[1] - k * _LEADING * HEIGHT)
            self._text(f"{label}: {ascii_only(value)}", place, HEIGHT, BOUNDARY)

    def _labels(self) -> None:
        for label in self.piece.labels:
            angle = np.radians(label.angle)
            down = np.array([np.sin(angle), -np.cos(angle)]) * label.height * _LEADING
            lines = [line for line in label.text.splitlines() if line.strip()]
            for k, line in enumerate(lines):
                x, y = np.array(label.at) + k * down
                self._text(
                    ascii_only(line.strip()), (float(x), float(y)), label.height, TEXT, label.angle
                )
            if len(lines) > 1:
                self._find(
                    "label-parted", "note", "a label of several lines became a text for each"
                )

    def _rule(self, rule: str, at: Vec, layer: int) -> None:
        self._text(f"# {self.numbers.get(rule, rule)}", at, HEIGHT / 2, layer)

    # --- what the format has no place for -----------------------------------------------

    def _losses(self) -> None:
        piece = self.piece
        lost: Counter[str] = Counter()
        lines = [piece.outline, *([piece.cut_line] if piece.cut_line is not None else [])]
        lost["point names"] = sum(p.name is not None for o in lines for p in o.points)
        lost["edge names"] = sum(r.name is not None for o in lines for r in o.runs)
        named: tuple[Any, ...] = (
            *piece.notches,
            *piece.drills,
            *piece.marks,
            *piece.cutouts,
            *piece.adjusts,
        )
        lost["names of notches and inner lines"] = sum(x.name is not None for x in named)
        sided: tuple[Any, ...] = (*piece.notches, *piece.drills, *piece.marks, *piece.cutouts)
        lost["features for one side only"] = sum(x.side != "both" for x in sided)
        lost["kinds of inner lines"] = sum(
            m.kind not in ("", "sew", "stripe", "plaid") for m in piece.marks
        )
        lost["adjust lines (now internal lines)"] = len(piece.adjusts)
        lost["darts as such (their lines stay)"] = len(piece.darts)
        lost["pleats as such"] = len(piece.pleats)
        lost["held points"] = len(piece.holds)
        lost["V notches (layer 4 tells them from slits no more)"] = sum(
            n.kind == "v" for n in piece.notches
        )
        lost["seams and ends that notches keep to"] = sum(
            n.seam is not None or n.keep != "nearer" for n in piece.notches
        )
        lost["one-way grain (a plain line now)"] = int(
            piece.grain is not None and piece.grain.ends == 1
        )
        lost["notches of more than three cuts"] = sum(n.count > 3 for n in piece.notches)
        told = [f"{count} {what}" for what, count in lost.items() if count]
        if told:
            self._find(
                "not-held",
                "note",
                f"the interchange format has no place for: {', '.join(told)}",
                "Keep the SVG drawing, which holds everything.",
            )
        self._history(lines)
        if piece.kind == "sew" and piece.cut_line is None:
            self._find(
                "no-allowance",
                "warn",
                "the boundary is the sewing line, without allowance",
                "Add the allowance before the piece is cut.",
            )
        kept = [*(label.text.replace("\n", " ") for label in piece.labels)]
        kept += [q.material for q in piece.quantity]
        changed = any(ascii_only(text) != text for text in kept)
        if piece.size is not None and size_word(piece.size) != piece.size:
            changed = True
        if changed or piece.name != self.name:
            shown = f' (its name is "{self.name}" there)' if piece.name != self.name else ""
            self._find("letters-changed", "note", f"the format holds plain letters only{shown}")

    def _history(self, lines: list[Outline]) -> None:
        """Tell what is lost of how the piece came to be; nothing of its shape."""
        piece = self.piece
        grain = piece.grain and (piece.grain.start, piece.grain.end)
        axis = piece.axis and (piece.axis.start, piece.axis.end)
        lost = {
            "its story": bool(piece.story),
            "the piece that it was graded from": piece.base is not None,
            "corner numbers from before grading": any(
                in_corner_order(line.path, line.corners) != line.corners for line in lines
            ),
            "that its grade axis was taken, not drawn": piece.axis is not None
            and not piece.axis.given
            and axis != grain,
            "the side that width counts to": piece.axis is not None and piece.axis.away is not None,
        }
        told = [what for what, is_lost in lost.items() if is_lost]
        if told:
            self._find("not-held", "note", f"not held: {', '.join(told)}")

    # --- helpers ------------------------------------------------------------------------

    def _mm(self, mm: float) -> float:
        return self.unit.from_mm(mm)

    def _to(self, at: Vec) -> Vec:
        return self._mm(float(at[0])), self._mm(float(at[1]))

    def _point(self, at: Vec, layer: int) -> None:
        self.layers.add(layer)
        self.sheet.point(self._to(at), layer)

    def _line(self, start: object, end: object, layer: int) -> None:
        self.layers.add(layer)
        self.sheet.line(self._to(start), self._to(end), layer)  # type: ignore[arg-type]

    def _polyline(self, points: np.ndarray, layer: int, *, closed: bool) -> None:
        self.layers.add(layer)
        self.sheet.polyline([self._to((x, y)) for x, y in points], layer, closed=closed)

    def _text(self, text: str, at: Vec, height: float, layer: int, angle: float = 0.0) -> None:
        self.layers.add(layer)
        self.sheet.text(text, self._to(at), self._mm(height), layer, angle=angle)

    def _find(self, code: str, level: str, text: str, cure: str = "") -> None:
        piece = self.piece
        found = Finding(
            code,
            "warn" if level == "warn" else "note",
            text,
            piece.name,
            piece.size or "",
            cure=cure,
        )
        self.findings.append(found)


def _inside(path: Path) -> Vec:
    """A place well within a closed line."""
    import shapely

    from ...geometry.flatten import flatten

    area = shapely.Polygon(flatten(path, 0.5))
    point = area.representative_point() if area.is_valid else area.centroid
    return float(point.x), float(point.y)
