"""The `curves` profile: everything that the pattern says, for a trip without loss.

Shapes and what they say are those of `drawing.described`, as in SVG; the facts ride on the
entities as extended data (docs/files.md). So one set of conventions holds for both.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ...findings import Finding
from ...geometry.path import Path
from ...model import Label, Pattern
from ...units import Unit
from ..drawing.described import Described, describe
from ..drawing.names import untaken
from ..drawing.scribe import Facts, Figure
from ..reading import Written
from .places import bounds_of, name_place
from .r2000 import R2000, letters
from .texts import one_line, words_in_line, words_in_lines
from .xdata import APPID, as_strings

#: Layer for each role, with its colour number (ACI), near those of the palette.
_LAYERS: Mapping[str, tuple[str, int]] = {
    "cut": ("CUT", 7),
    "sew": ("SEW", 4),
    "unknown": ("OUTLINE", 7),
    "cutout": ("CUTOUT", 7),
    "notch": ("NOTCH", 1),
    "drill": ("DRILL", 1),
    "mark": ("MARK", 3),
    "grain": ("GRAIN", 5),
    "axis": ("AXIS", 8),
    "fold": ("FOLD", 6),
    "adjust": ("ADJUST", 8),
    "label": ("TEXT", 2),
    "picture": ("NAMES", 8),
    "point": ("POINTS", 30),
    "edge": ("EDGES", 30),
    "dart": ("DARTS", 8),
    "pleat": ("DARTS", 8),
    "hold": ("HOLDS", 8),
    "pattern": ("PATTERN", 8),
}
#: A turn of less than this, in degrees, goes on smoothly within one spline.
_SMOOTH = 3.0
#: Signs that mean something in MTEXT.
_MTEXT = str.maketrans({"\\": "\\\\", "{": "\\{", "}": "\\}", "\n": "\\P", "\r": ""})
_FORBIDDEN_IN_NAMES = str.maketrans(dict.fromkeys('<>/\\":;?*|=,`', "-"))


def write_curves(pattern: Pattern, unit: Unit = Unit.MM) -> Written:
    """The pattern as DXF R2000 whose splines are the pattern's own cubics.

    `unit` is mm or inches. Each piece is a group of entities on layers by role.
    """
    said = describe(pattern)
    sheet = R2000(unit, dict(_LAYERS.values()), APPID)
    pen = _Pen(sheet, unit.from_mm(1.0))
    pen.pattern(pattern, said.says)
    for piece in said.pieces:
        pen.piece(piece)
    pen.names(pattern)
    return Written(sheet.to_bytes(bounds_of(pattern)), (*said.findings, *pen.findings))


def _data(says: Facts) -> dict[str, str]:
    return {f"data-{name}": value for name, value in says.items() if value is not None}


class _Pen:
    def __init__(self, sheet: R2000, scale: float) -> None:
        self.sheet = sheet
        self.scale = scale
        self.findings: list[Finding] = []
        self.groups: set[str] = set()

    def pattern(self, pattern: Pattern, says: Facts) -> None:
        """A point that bears what is said of the whole pattern."""
        about = {"sizewright": "1"} | _data(says)
        if pattern.title:
            about["title"] = pattern.title
        if pattern.page is not None:
            about["page"] = f"{pattern.page[0]!r} {pattern.page[1]!r}"
        layer, _ = _LAYERS["pattern"]
        self.sheet.point((0.0, 0.0), layer)
        self._mark(about, "the seams of the pattern")

    def piece(self, said: Described) -> None:
        """The shapes of a piece, as a group that an editor moves whole."""
        all_says = {f"piece:{k}": v for k, v in said.says.items() if v is not None}
        few = {k: v for k, v in all_says.items() if v and k in ("piece:piece", "piece:size")}
        if said.story:
            all_says["piece:story"] = "\n".join(said.story)
        first = len(self.sheet)
        for shape in said.shapes:
            about = {"group": said.named.id, "id": shape.named.id} | _data(shape.says)
            shown = said.says["outline"] if shape.role == "outline" else shape.role
            layer, _ = _LAYERS[shown or "unknown"]
            about |= all_says if shape.role == "outline" else few
            self._draw(shape, about, layer)
        title = " ".join(v for v in (said.says["piece"], said.says["size"]) if v)
        plain = title.translate(_FORBIDDEN_IN_NAMES).upper()[:200] or "PIECE"
        name = untaken(plain, self.groups)
        self.groups.add(name)
        self.sheet.group(name, first)

    # --- one shape --------------------------------------------------------------------

    def _draw(self, shape: Figure, about: dict[str, str], layer: str) -> None:
        """The entities of a shape: the first bears all that is said of it."""
        what = f"what is said of {shape.named.id}"
        if shape.label is not None:
            self._text(shape.label, layer, about)
            self._mark(about, what)
        elif shape.dot is not None:
            (x, y), radius = shape.dot
            self.sheet.circle((x * self.scale, y * self.scale), radius * self.scale, layer)
            self._mark(about, what)
        keep = ("group", "id", "data-role", "piece:piece", "piece:size")
        few = {name: about[name] for name in keep if name in about}
        for number, path in enumerate(shape.paths):
            chains = _chains(path)
            whole = f"{len(chains)} {'closed' if path.closed else 'open'}"
            for k, chain in enumerate(chains):
                self._line(path, chain, len(chains) == 1, layer)
                part = {"part": f"{number} {k} {whole}"}
                self._mark((few if k else about) | part, what)

    def _line(self, path: Path, chain: tuple[int, int], alone: bool, layer: str) -> None:
        """A run of a path's segments, straight or curved; `alone` if it has no other.

        Straight ones are a LINE or an LWPOLYLINE; cubics are one SPLINE of degree 3 whose
        inner knots are threefold, so that its control points are the cubics' own.
        """
        part = path.controls[slice(*chain)] * self.scale
        closed = path.closed and alone
        if not path.lines[chain[0]]:
            self.sheet.spline(part, layer, closed=closed)
        elif len(part) == 1 and not closed:
            self.sheet.line(part[0, 0], part[0, 3], layer)
        else:
            points = part[:, 0] if closed else np.vstack([part[:, 0], part[-1:, 3]])
            self.sheet.lwpolyline(points, layer, closed=closed)

    def _text(self, label: Label, layer: str, about: dict[str, str]) -> None:
        x, y = (float(v) * self.scale for v in label.at)
        height = label.height * self.scale
        about["text"] = label.text
        if "\n" in label.text:
            turn = np.radians(label.angle)
            x, y = x - float(np.sin(turn)) * height, y + float(np.cos(turn)) * height
            codes = label.text.translate(_MTEXT)
            self.sheet.mtext(codes, (x, y), height, layer, angle=label.angle)
            shown = words_in_lines(letters(codes))
        else:
            line = one_line(label.text)
            self.sheet.text(line, (x, y), height, layer, angle=label.angle)
            shown = words_in_line(letters(line))
        if shown != label.text:
            about["shows"] = shown

    def _mark(self, about: Mapping[str, str], what: str) -> None:
        """Say all `about` the entity that was drawn last."""
        strings = as_strings(about)
        if strings is None:
            self.findings.append(
                Finding("too-long", "warn", f"{what} is too long for DXF and was cut", place=what)
            )
        # The longest go first: the story and seams of a long-lived pattern.
        kept = dict(about)
        while strings is None:
            kept.pop(max(kept, key=lambda name: len(kept[name])))
            strings = as_strings(kept)
        if strings:
            self.sheet.data(strings)

    # --- for the eye ------------------------------------------------------------------

    def names(self, pattern: Pattern) -> None:
        """The name of each piece that has no label, in it."""
        layer, _ = _LAYERS["picture"]
        for piece in pattern.pieces:
            if piece.labels:
                continue
            place = name_place(piece.drawn.path, len(piece.title))
            x, y, height = (v * self.scale for v in place)
            at, words = (round(x, 3), round(y, 3)), one_line(piece.title)
            self.sheet.text(words, at, round(height, 3), layer)
            strings = as_strings({"data-role": "picture", "piece:piece": piece.name})
            if strings:
                self.sheet.data(strings)


def _chains(path: Path) -> list[tuple[int, int]]:
    """First and past-the-last segment of each run that is one entity."""
    cuts = [0]
    for i in range(1, len(path)):
        kind = path.lines[i] != path.lines[i - 1]
        corner = not path.lines[i] and abs(float(path.turns[i])) > _SMOOTH
        if kind or corner:
            cuts.append(i)
    return list(zip(cuts, [*cuts[1:], len(path)], strict=True))
