"""The `cutter` profile: flat R12 polylines for machines that read little.

No blocks, no curves, plain layer names. What a machine has no use for is left out, and a
finding tells of each kind of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import numpy as np

from ...errors import UsageError
from ...findings import Finding, Level
from ...geometry.flatten import flatten
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import Outline, Pattern, Piece, format_quantity
from ...model.outline import in_corner_order
from ...units import Unit
from ..drawing.names import bare_size
from ..drawing.shapes import Shape
from ..interchange.texts import ascii_only
from .drawing import drawing_of, piece_node, role_of
from .inside import bounds_of, name_place
from .saving import new_document, to_bytes
from .written import Written

#: How far a curve may lie from its chords, mm: so little that the curve fitted through them
#: again stays within 0.05 mm, and that a slight corner still stands out among their turns.
CHORD = 0.02
_LAYERS = {
    "CUT": 7,
    "SEW": 4,
    "OUTLINE": 7,
    "CUTOUT": 7,
    "NOTCH": 1,
    "DRILL": 1,
    "MARK": 3,
    "GRAIN": 5,
    "FOLD": 6,
    "ADJUST": 8,
    "TEXT": 2,
}
_OUTLINES = {"cut": "CUT", "sew": "SEW", "unknown": "OUTLINE"}
_ROLES = {
    "sew": "SEW",
    "notch": "NOTCH",
    "drill": "DRILL",
    "mark": "MARK",
    "dart": "MARK",
    "grain": "GRAIN",
    "fold": "FOLD",
    "adjust": "ADJUST",
}
#: Height of the lines below the name, as a share of its own.
_BELOW = 0.6


def write_cutter(pattern: Pattern, unit: Unit = Unit.MM, *, chord: float = CHORD) -> Written:
    """The pattern as DXF R12 of polylines, lines, circles and texts, where it lies.

    `unit` is mm or inches; `chord` in mm is how far a curve may lie from the chords that
    stand for it. Layers are CUT, SEW, OUTLINE (not said which), CUTOUT, NOTCH, DRILL, MARK,
    GRAIN, FOLD, ADJUST, TEXT; in a nest of sizes with the size behind, as in CUT-12.
    Raises UsageError for a chord tolerance that is not above zero.
    """
    if not chord > 0:
        raise UsageError(f"a chord tolerance of {chord:g} mm is not above zero")
    drawing = drawing_of(pattern)
    doc = new_document("R12", unit, _layers(pattern))
    pen = _Pen(doc.modelspace(), pattern, drawing.shift, unit.from_mm(1.0), chord)
    shapes: dict[int, list[Shape]] = {}
    for drawn in drawing.shapes:
        shapes.setdefault(id(piece_node(drawn)), []).append(drawn)
    nodes = {id(node): node for node in map(piece_node, drawing.shapes) if node is not None}
    by_key = {(n.get("data-piece"), n.get("data-size")): shapes[i] for i, n in nodes.items()}
    for piece in pattern.pieces:
        for drawn in by_key.get((piece.name, piece.size or ""), ()):
            pen.draw(drawn, piece)
        pen.write(piece)
        pen.findings += _not_held(piece)
    if pattern.seams:
        names = ", ".join(seam.name for seam in pattern.seams)
        pen.find("not-held", "note", f"seams are not held: {names}")
    if pattern.title or pattern.base_size or pattern.page:
        pen.find("not-held", "note", "title, base size and page are not held")
    if pen.flattened:
        text = f"curves were cut into chords within {chord:g} mm"
        pen.find("flattened", "note", text, "Write the curves profile to keep them.")
    return Written(to_bytes(doc, unit, bounds=bounds_of(pattern)), tuple(pen.findings))


def _layers(pattern: Pattern) -> dict[str, int]:
    """All layers with their colours; in a nest a set for each size."""
    if not pattern.pieces:
        return dict(_LAYERS)
    suffixes = dict.fromkeys(_suffix(pattern, p.size) for p in pattern.pieces)
    return {name + suffix: c for suffix in suffixes for name, c in _LAYERS.items()}


def _suffix(pattern: Pattern, size: str | None) -> str:
    """What stands behind the layers of one size of a nest: the size, or its number."""
    if size is None or len(pattern.sizes) < 2:
        return ""
    plain = size.upper().replace(" ", "_")
    if bare_size(size) and re.fullmatch(r"[A-Z0-9_-]+", plain):
        return f"-{plain}"
    return f"-SIZE{pattern.sizes.index(size) + 1}"


class _Pen:
    def __init__(
        self, space: Any, pattern: Pattern, shift: Floats, scale: float, chord: float
    ) -> None:
        self.space = space
        self.shift = shift
        self.scale = scale
        self.chord = chord
        self.pattern = pattern
        self.flattened = False
        self.findings: list[Finding] = []

    def find(
        self, code: str, level: Level, text: str, cure: str = "", piece: Piece | None = None
    ) -> None:
        """Add a finding."""
        name, size = ("", "") if piece is None else (piece.name, piece.size or "")
        self.findings.append(Finding(code, level, text, name, size, cure=cure))

    def draw(self, drawn: Shape, piece: Piece) -> None:
        """One shape, if a machine can do something with it."""
        role = role_of(drawn)
        layer = _ROLES.get(role)
        if role == "outline":
            layer = _OUTLINES[piece.drawn_kind]
        elif role == "cutout":
            layer = "CUTOUT" if piece.drawn_kind == "sew" else _OUTLINES[piece.drawn_kind]
        if layer is None or (role == "dart" and drawn.element.get("data-tip") != "no"):
            # The legs of a dart that is cut out are the outline's own.
            return
        layer += _suffix(self.pattern, piece.size)
        paths = [p.transformed(self.shift) for p in drawn.paths]
        if role == "drill":
            for path in paths:
                x0, y0, x1, y1 = (v * self.scale for v in path.bounds)
                centre = (x0 + x1) / 2, (y0 + y1) / 2
                self.space.add_circle(centre, (x1 - x0) / 2, dxfattribs={"layer": layer})
            return
        for path in paths:
            self._line(path, layer)

    def _line(self, path: Path, layer: str) -> None:
        self.flattened |= not bool(path.lines.all())
        points = [tuple(p) for p in flatten(path, self.chord) * self.scale]
        if path.closed and points[0] == points[-1]:
            points.pop()
        if len(points) == 2 and not path.closed:
            self.space.add_line(*points, dxfattribs={"layer": layer})
            return
        self.space.add_polyline2d(points, close=path.closed, dxfattribs={"layer": layer})

    # --- texts ------------------------------------------------------------------------

    def write(self, piece: Piece) -> None:
        """Name, size and quantity of a piece, and its labels."""
        name = self._plain(piece.name, piece)
        x, y, height = name_place(piece.drawn.path, max(len(name), 8))
        if any(label.height * 1.001 >= height for label in piece.labels):
            name = f"PIECE: {name}"
        below = []
        if piece.size:
            below.append(f"SIZE: {self._plain(piece.size, piece)}")
        if piece.quantity:
            below.append(f"QUANTITY: {self._plain(format_quantity(piece.quantity), piece)}")
        if piece.pair:
            below.append("PAIR: yes")
        self._text(name, (x, y), height, 0.0, piece)
        for k, line in enumerate(below):
            drop = (k + 1) * 1.3 * _BELOW * height
            self._text(line, (x, y - drop), _BELOW * height, 0.0, piece)
        for label in piece.labels:
            turn = np.radians(label.angle)
            down = np.array([np.sin(turn), -np.cos(turn)]) * 1.25 * label.height
            for k, line in enumerate(label.text.split("\n")):
                place = np.array(label.at) + k * down
                if line.strip():
                    words = self._plain(line, piece)
                    self._text(words, place, label.height, label.angle, piece)

    def _text(self, words: str, place: Any, height: float, angle: float, piece: Piece) -> None:
        layer = "TEXT" + _suffix(self.pattern, piece.size)
        dxf = {"layer": layer, "height": height * self.scale, "rotation": angle}
        text = self.space.add_text(words, dxfattribs=dxf)
        text.dxf.insert = (float(place[0]) * self.scale, float(place[1]) * self.scale)

    def _plain(self, text: str, piece: Piece) -> str:
        """A text in the letters that any machine has."""
        plain = " ".join(ascii_only(text).split()).replace("%%", "%")
        if plain != text:
            self.find("name-changed", "warn", f'"{text}" is written "{plain}"', piece=piece)
        return plain


def _not_held(piece: Piece) -> Iterator[Finding]:
    """What of a piece a flat drawing does not hold, one finding for each kind."""
    lines = [o for o in (piece.outline, piece.cut_line) if o is not None]
    points = [p for o in lines for p in o.points]
    runs = [r.name for o in lines for r in o.runs if r.name]
    rules = [p.rule for p in points if p.rule] + [n.rule for n in piece.notches if n.rule]
    sided: list[Any] = [*piece.notches, *piece.drills, *piece.marks, *piece.cutouts]
    named = [x.name for x in (*sided, *piece.adjusts) if x.name]
    kinds = {n.kind for n in piece.notches} - {"slit", "v"}
    lost = (
        ("point names", [p.name for p in points if p.name]),
        ("grade rules", rules),
        ("edge and run names", runs),
        ("names of marks", named),
        ("which notches are " + ", ".join(sorted(kinds)), sorted(kinds)),
        ("groups of notches", [str(n.count) for n in piece.notches if n.count > 1]),
        ("the ends that notches keep to", [n.keep for n in piece.notches if n.keep != "nearer"]),
        ("the seams of notches", [n.seam for n in piece.notches if n.seam]),
        ("labels of several lines (now a text for each)", _of_lines(piece)),
        ("sides", [x.side for x in [piece, *sided] if x.side != "both"]),
        ("darts (drawn as lines)", [d.name for d in piece.darts]),
        ("pleats", [p.name for p in piece.pleats]),
        ("holds", [h.name or "" for h in piece.holds]),
        ("the grade axis", ["axis"] if piece.axis else []),
        ("one end of the grain line", ["grain"] if piece.grain and piece.grain.ends == 1 else []),
        ("kinds of marks", [m.kind for m in piece.marks if m.kind]),
        ("the allowance", ["allowance"] if piece.allowance is not None else []),
        ("corner numbers from before grading", _renumbered(lines)),
        ("its story", list(piece.story)),
        ("the piece that it was graded from", ["base"] if piece.base else []),
    )
    for what, items in lost:
        if items:
            text = f"not held: {what}" + (f" ({len(items)})" if len(items) > 1 else "")
            yield Finding("not-held", "note", text, piece.name, piece.size or "")
    if piece.drawn_kind == "sew":
        yield Finding(
            "nothing-to-cut",
            "warn",
            "the piece has only a sewing line; it is on layer SEW and nothing is on CUT",
            piece.name,
            piece.size or "",
            cure="Add the seam allowance first.",
        )


def _of_lines(piece: Piece) -> list[str]:
    return [label.text for label in piece.labels if "\n" in label.text]


def _renumbered(lines: list[Outline]) -> list[str]:
    """One entry for each line whose corners a reader will number from another one."""
    return ["" for o in lines if in_corner_order(o.path, o.corners) != o.corners]
