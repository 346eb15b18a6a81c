"""The `cutter` profile: flat R12 polylines for machines that read little.

No blocks, no curves, plain layer names. What a machine has no use for is left out, and a
finding tells of each kind of it.
"""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from ...errors import UsageError
from ...findings import Finding, Level
from ...geometry.flatten import flatten
from ...geometry.path import Path
from ...model import Pattern, Piece, format_quantity
from ...units import Unit
from ..drawing.described import describe
from ..drawing.losses import losses, not_held
from ..drawing.names import bare_size
from ..drawing.scribe import Figure
from ..drawing.words import name_in
from ..interchange.texts import ascii_only
from ..reading import Written
from .places import bounds_of, name_place
from .r12 import R12

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


def write_cutter(pattern: Pattern, unit: Unit, *, chord: float) -> Written:
    """The pattern as DXF R12 of polylines, lines, circles and texts, where it lies.

    `unit` is mm or inches; `chord` in mm is how far a curve may lie from the chords that
    stand for it. Layers are CUT, SEW, OUTLINE (not said which), CUTOUT, NOTCH, DRILL, MARK,
    GRAIN, FOLD, ADJUST, TEXT; in a nest of sizes with the size behind, as in CUT-12.
    Raises UsageError for a chord tolerance that is not above zero.
    """
    if not chord > 0:
        raise UsageError(f"a chord tolerance of {chord:g} mm is not above zero")
    sheet = R12(unit, _layers(pattern))
    pen = _Pen(sheet, pattern, chord)
    shapes = {said.piece.key: said.shapes for said in describe(pattern).pieces}
    for piece in pattern.pieces:
        for shape in shapes[piece.key]:
            pen.draw(shape, piece)
        pen.write(piece)
        pen.findings += _not_held(piece)
    lost = {
        f"seams ({'; '.join(seam.name for seam in pattern.seams)})": pattern.seams,
        "title": pattern.title,
        "bodies that it was graded to": pattern.bodies,
        "base size": pattern.base_size,
        "page": pattern.page,
    }
    pen.findings += not_held([what for what, there in lost.items() if there])
    if pen.flattened:
        text = f"curves were cut into chords within {chord:g} mm"
        pen.find("flattened", "note", text, "Write the curves profile to keep them.")
    return Written(sheet.to_bytes(bounds_of(pattern)), tuple(pen.findings))


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
    def __init__(self, sheet: R12, pattern: Pattern, chord: float) -> None:
        self.sheet = sheet
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

    def draw(self, shape: Figure, piece: Piece) -> None:
        """One shape, if a machine can do something with it."""
        layer = _ROLES.get(shape.role)
        if shape.role == "outline":
            layer = _OUTLINES[piece.drawn_kind]
        elif shape.role == "cutout":
            layer = "CUTOUT" if piece.drawn_kind == "sew" else _OUTLINES[piece.drawn_kind]
        if layer is None or (shape.role == "dart" and shape.says["tip"] != "no"):
            # The legs of a dart that is cut out are the outline's own.
            return
        layer += _suffix(self.pattern, piece.size)
        if shape.dot is not None:
            centre, radius = shape.dot
            self.sheet.circle(centre, radius, layer)
        for path in shape.paths:
            self._line(path, layer)

    def _line(self, path: Path, layer: str) -> None:
        self.flattened |= not bool(path.lines.all())
        points = flatten(path, self.chord).tolist()
        if path.closed and points[0] == points[-1]:
            points.pop()
        if len(points) == 2 and not path.closed:
            self.sheet.line(points[0], points[1], layer)
        else:
            self.sheet.polyline(points, layer, closed=path.closed)

    # --- texts ------------------------------------------------------------------------

    def write(self, piece: Piece) -> None:
        """Name, size and quantity of a piece, and its labels."""
        name = self._plain(piece.name, piece)
        x, y, height = name_place(piece.drawn.path, max(len(name), 8))
        largest = not any(label.height * 1.001 >= height for label in piece.labels)
        if not largest or name_in(name) != name:
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
        self.sheet.text(words, place, height, layer, angle=angle)

    def _plain(self, text: str, piece: Piece) -> str:
        """A text in the letters that any machine has."""
        plain = " ".join(ascii_only(text).split()).replace("%%", "%")
        if plain != text:
            self.find("name-changed", "warn", f'"{text}" is written "{plain}"', piece=piece)
        return plain


def _not_held(piece: Piece) -> list[Finding]:
    """What of a piece a flat drawing does not hold, and a warning where it cannot be cut."""
    points = [p for o in (piece.outline, piece.cut_line) if o is not None for p in o.points]
    kinds = sorted({n.kind for n in piece.notches} - {"slit", "v"})
    also = {
        "grade rules": sum(p.rule is not None for p in points)
        + sum(n.rule is not None for n in piece.notches),
        f"kinds of notches ({', '.join(kinds)})": len(kinds),
        "groups of notches": sum(n.count > 1 for n in piece.notches),
        "kinds of marks": sum(m.kind != "" for m in piece.marks),
        "side of the piece": int(piece.side != "both"),
        "grade axis": int(piece.axis is not None),
        "allowance": int(piece.allowance is not None),
    }
    found = losses(piece, also)
    if piece.drawn_kind == "sew":
        text = "the piece has only a sewing line; it is on layer SEW and nothing is on CUT"
        cure = "Add the seam allowance first."
        size = piece.size or ""
        found.append(Finding("nothing-to-cut", "warn", text, piece.name, size, cure=cure))
    return found
