"""A picture of a lay: each length or panel of cloth with the pieces that lie on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..geometry import affine
from ..geometry.flatten import flatten
from ..geometry.path import Path
from ..geometry.types import Floats
from ..model import Piece
from ..palette import (
    CLOTH,
    CUT_LINE,
    CUTOUT_LINE,
    FOLD_LINE,
    GRAIN_LINE,
    INK,
    LINEN,
    PAPER,
    QUIET,
    SEW_LINE,
    Line,
)
from . import symbols
from .canvas import Canvas
from .footer import Key, footer
from .labels import Candidate, Style, Text, write
from .piece_lines import scaled
from .printed import LETTERS, free_box, inside_points
from .room import Box, Room
from .rows import in_rows
from .sketch import Sketch, Words
from .text import width

# A sheet of A4, lying, and its margins, mm; with a long list it grows. The cloth is drawn no
# smaller than to be so high.
_WIDE, _TALL = 297.0, 210.0
_MARGIN, _GAP, _LEAST = 12.0, 9.0, 90.0
# The picture is so many times smaller than the cloth: the first at which it fits the sheet.
_SMALLER = (1, 2, 2.5, 4, 5, 8, 10, 12, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200)
_SMALL = 0.8 * LETTERS
_NAMES = (LETTERS, 0.85 * LETTERS, 0.72 * LETTERS, 0.6 * LETTERS)
_LINE = 1.5 * _SMALL
_PIXELS = 1800
_EDGE = Line(QUIET, 0.35)
_SELVEDGE = Line(QUIET, 0.2, (2.0, 1.0))
_CUT = Line(CUT_LINE.colour, 0.35)
_SEWN = Line(SEW_LINE.colour, 0.2, (1.6, 0.9))
_HATCH = Line(FOLD_LINE.colour, 0.25)
_FOLDED = Line(FOLD_LINE.colour, 0.45, FOLD_LINE.dashes)
_HATCH_STEP = 1.6


@dataclass(frozen=True)
class Ground:
    """A length or panel of cloth, mm, y up: its outline, and what of it is kept clear.

    `grain` is the direction of its grain, degrees; `one_way` with a nap. `selvedges` and
    `folds` are lines along it. `along` and `across` say how long and wide it is.
    """

    name: str
    outline: Path
    grain: float = 0.0
    one_way: bool = False
    holes: tuple[Path, ...] = ()
    flaws: tuple[Path, ...] = ()
    selvedges: tuple[Path, ...] = ()
    folds: tuple[Path, ...] = ()
    along: str = ""
    across: str = ""


@dataclass(frozen=True)
class Lying:
    """A piece in its place on a ground, its number in the order to cut, title, a word on how."""

    number: int
    piece: Piece
    title: str
    words: str = ""


@dataclass(frozen=True)
class LaySheet:
    """The finished picture, `width` by `height` mm; the cloth is `smaller` times smaller."""

    width: float
    height: float
    smaller: float
    title: str
    _parts: tuple[tuple[Sketch, float, float], ...]
    _lines: tuple[tuple[str, float, float, float, bool], ...]
    _foot: Any

    def put(self, canvas: Any) -> None:
        """Draw it on a canvas of this size, or on what draws as a canvas does."""
        for sketch, dx, dy in self._parts:
            sketch.put(canvas, dx, dy)
        for text, x, y, size, bold in self._lines:
            canvas.text(text, (x, y), size, anchor="start", bold=bold)
        self._foot.put(canvas, _MARGIN, _MARGIN)

    def svg(self) -> str:
        """The picture as an SVG file, about 1800 pixels wide or high."""
        canvas = Canvas(self.width, self.height)
        self.put(canvas)
        return canvas.svg(title=self.title, pixels=_PIXELS)


def lay_picture(
    grounds: Sequence[tuple[Ground, Sequence[Lying]]],
    *,
    title: str,
    facts: Sequence[str] = (),
) -> LaySheet:
    """All grounds with what lies on them, over a list of the pieces in the order to cut.

    `facts` stand under the title. The cloth is drawn at a round scale, to lie on a sheet of A4
    where that can be.
    """
    across = _WIDE - 2 * _MARGIN
    listed = _listed([one for _, lying in grounds for one in lying], across)
    key = _key(grounds)
    foot_tall = footer(key, _SMALL, across).height
    head_tall = 2.2 * LETTERS + _LINE * (len(_filled(facts, across)) + 1)
    below = _MARGIN + foot_tall + 4.0 + (listed[1] + 4.0 if listed[0] else 0.0)
    room = max(_TALL - below - head_tall - _MARGIN - 6.0, _LEAST)
    for smaller in _SMALLER:
        drawn = [_ground(ground, (), 1.0 / smaller) for ground, _ in grounds]
        rows = in_rows([_span(sketch) for sketch in drawn], _GAP)
        if rows.width <= across and rows.height <= room:
            break
    drawn = [_ground(ground, lying, 1.0 / smaller) for ground, lying in grounds]
    across = max(rows.width, across)
    tall = below + max(rows.height, room) + 6.0 + head_tall + _MARGIN
    base = below + (max(rows.height, room) - rows.height) / 2
    left = _MARGIN + (across - rows.width) / 2
    parts = []
    for sketch, (x, y) in zip(drawn, rows.places, strict=True):
        x0, y0, _, _ = sketch.bounds
        parts.append((sketch, left + x - x0, base + y - y0))
    lines = [(text, _MARGIN + x, below - 4.0 + y, _SMALL, bold) for text, x, y, bold in listed[0]]
    top = tall - _MARGIN - 1.5 * LETTERS
    lines.append((title, _MARGIN, top, 1.6 * LETTERS, True))
    for k, fact in enumerate(_filled([*facts, f"drawn 1:{smaller:g}"], across)):
        lines.append((fact, _MARGIN, top - 2.0 * LETTERS - k * _LINE, _SMALL, False))
    foot = footer(key, _SMALL, across, scale=1.0 / smaller)
    wide = across + 2 * _MARGIN
    return LaySheet(wide, tall, smaller, title, tuple(parts), tuple(lines), foot)


def _span(sketch: Sketch) -> tuple[float, float]:
    x0, y0, x1, y1 = sketch.bounds
    return x1 - x0, y1 - y0


def _key(grounds: Sequence[tuple[Ground, Sequence[Lying]]]) -> Key:
    pieces = [one.piece for _, lying in grounds for one in lying]
    kinds = {p.drawn_kind for p in pieces}
    key = [("cutting line" if kinds == {"cut"} else "outline", _CUT)] if pieces else []
    if any(p.cut_line is not None for p in pieces):
        key.append(("sewing line", _SEWN))
    key.append(("grain", GRAIN_LINE))
    if any(ground.selvedges for ground, _ in grounds):
        key.append(("selvedge", _SELVEDGE))
    if any(ground.folds for ground, _ in grounds):
        key.append(("fold of the cloth", _FOLDED))
    if any(ground.flaws for ground, _ in grounds):
        key.append(("hatched: worn or stained", _HATCH))
    return key


def _filled(facts: Sequence[str], across: float) -> list[str]:
    """Facts in lines no wider than `across`."""
    lines: list[str] = []
    for fact in facts:
        longer = f"{lines[-1]} · {fact}" if lines else fact
        if lines and width(longer, _SMALL) <= across:
            lines[-1] = longer
        else:
            lines.append(fact)
    return lines


def _line(
    sketch: Sketch, text: str, x: float, y: float, size: float, *, bold: bool = False,
    colour: str = INK,
) -> float:  # fmt: skip
    """A line of text that begins at x, its middle at y; how wide it is."""
    wide = width(text, size, bold=bold)
    sketch.words(Words(text, Box(x + wide / 2, y, wide, 1.2 * size), size, bold, colour=colour))
    return wide


def _listed(
    every: Sequence[Lying], across: float
) -> tuple[list[tuple[str, float, float, bool]], float]:
    """The pieces by number in columns: lines with their places under (0, 0); how high all are."""
    texts = [
        f"{one.number}  {one.title}" + (f", {one.words}" if one.words else "") for one in every
    ]
    if not texts:
        return [], 0.0
    column = max(width(text, _SMALL) for text in texts) + 6.0
    count = max(1, int((across + 6.0) // column))
    tall = -(-len(texts) // count)
    lines = [("In the order to cut", 0.0, -_SMALL, True)]
    for k, text in enumerate(texts):
        lines.append((text, (k // tall) * column, -(k % tall + 1) * _LINE - _SMALL, False))
    return lines, (tall + 1) * _LINE + _SMALL


def _ground(ground: Ground, lying: Sequence[Lying], scale: float) -> Sketch:
    sketch = Sketch()
    m = affine.scaling(scale)
    outline = ground.outline.transformed(m)
    sketch.stroke(outline, _EDGE, CLOTH)
    for path in ground.selvedges:
        sketch.stroke(path.transformed(m), _SELVEDGE)
    for path in ground.flaws:
        _hatched(sketch, path.transformed(m))
    for path in ground.holes:
        sketch.stroke(path.transformed(m), CUTOUT_LINE, PAPER)
    pieces = [scaled(one.piece, scale) for one in lying]
    for piece in pieces:
        sketch.stroke(piece.drawn.path, _CUT, LINEN)
        if piece.cut_line is not None:
            sketch.stroke(piece.outline.path, _SEWN)
        for cutout in piece.cutouts:
            sketch.stroke(cutout.path, _CUT, CLOTH)
    for path in ground.folds:
        sketch.stroke(path.transformed(m), _FOLDED)
    for one, piece in zip(lying, pieces, strict=True):
        _named(sketch, one, piece)
    _beside(sketch, ground, outline)
    return sketch


def _named(sketch: Sketch, one: Lying, piece: Piece) -> None:
    """Number and name inside the piece, as large as fits; its grain where there is room."""
    within = piece.drawn.path
    room = Room(0.5)
    room.add_path(within)
    places = inside_points(within)
    number = str(one.number)
    full = [one.title, *([one.words] if one.words else [])]
    for size in _NAMES:
        wordings = [
            [(f"{number}  {full[0]}", True), *((words, False) for words in full[1:])],
            [(f"{number}  {full[0]}", True)],
        ]
        for wording in wordings if size > _NAMES[-1] else [*wordings, [(number, True)]]:
            text = Text(tuple((words, Style(size, bold=bold)) for words, bold in wording))
            for angle in (0.0, 90.0):
                box = free_box(room, text, angle, places, within, 0.25 * size, 0)
                if box is not None:
                    write(sketch, room, Candidate(text, box, 0.0))
                    _grain(sketch, room, piece)
                    return
    text = Text(((number, Style(_NAMES[-1], bold=True)),))
    x, y = places[0] if len(places) else within.vertices.mean(axis=0)
    write(sketch, room, Candidate(text, Box(float(x), float(y), text.width, text.height), 0.0))


def _grain(sketch: Sketch, room: Room, piece: Piece) -> None:
    """A short arrow along the grain of a piece, where it is clear of its name."""
    if piece.grain is None:
        return
    start, end = np.array(piece.grain.start), np.array(piece.grain.end)
    long = float(np.hypot(*(end - start)))
    turn = float(np.degrees(np.arctan2(*(end - start)[::-1])))
    x, y = (start + end) / 2
    if long < 2.5 or not room.free(Box(float(x), float(y), long, 1.0, turn), 0.2):
        return
    head = min(1.6, 0.3 * long)
    symbols.arrow(sketch, start, end, GRAIN_LINE, head, both=piece.grain.ends == 2)


def _hatched(sketch: Sketch, path: Path) -> None:
    """A bad place: its outline, and slanting lines across it."""
    from shapely import LineString, Polygon

    area = Polygon(flatten(path, 0.05)).buffer(0)
    x0, y0, x1, y1 = area.bounds
    for k in range(int(((x1 - x0) + (y1 - y0)) / _HATCH_STEP) + 1):
        x = x0 + k * _HATCH_STEP
        cut = LineString([(x, y0), (x - (y1 - y0), y1)]).intersection(area)
        for part in getattr(cut, "geoms", [cut]):
            if part.geom_type == "LineString" and part.length > 0.1:
                sketch.polyline(np.array(part.coords), _HATCH)
    sketch.stroke(path, _HATCH)


def _beside(sketch: Sketch, ground: Ground, outline: Path) -> None:
    """The name over a ground, its grain beside that, its measures along it."""
    x0, y0, x1, y1 = outline.bounds
    x = x0
    if ground.name:
        x += _line(sketch, ground.name, x0, y1 + 2.5, _SMALL, bold=True) + 4.0
    way = np.array([np.cos(np.radians(ground.grain)), np.sin(np.radians(ground.grain))])
    reach: Floats = 5.0 * way
    middle = np.array([x + abs(float(reach[0])) + 0.5, y1 + 1.5 + max(1.0, abs(float(reach[1])))])
    symbols.arrow(sketch, middle - reach, middle + reach, GRAIN_LINE, 1.8, both=not ground.one_way)
    words = "grain, one way" if ground.one_way else "grain"
    right = float(middle[0]) + abs(float(reach[0])) + 2.0
    _line(sketch, words, right, float(middle[1]), _SMALL, colour=GRAIN_LINE.colour)
    if ground.along:
        wide = width(ground.along, _SMALL)
        _line(sketch, ground.along, (x0 + x1 - wide) / 2, y0 - 2.6, _SMALL, colour=QUIET)
    if ground.across:
        wide = width(ground.across, _SMALL)
        box = Box(x1 + 2.6, (y0 + y1) / 2, wide, 1.2 * _SMALL, 90.0)
        sketch.words(Words(ground.across, box, _SMALL, colour=QUIET))
