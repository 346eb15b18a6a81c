"""A picture of a nest: all sizes of each piece over each other, each in its own line."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Literal, Protocol

import numpy as np

from ..model import Pattern, Piece
from ..model.vec import Vec
from ..palette import FOLD_LINE, GRAIN_LINE, INK, LINEN, SEW_LINE, Line
from . import symbols
from .facts import cutting_words
from .fans import write_fan
from .nesting import Group, nested, sizes_in_order
from .piece_lines import fold_path, scaled, sewn_path
from .printed import LETTERS, Printed, size_lines
from .rows import letter_size
from .sheet import sheet
from .sketch import Sketch

Which = Literal["outermost", "sewing"]

# The picture's larger side when it is opened, pixels, and the letters then.
_PIXELS, _LETTER = 1800, 13.0
_TITLES = (1.7 * LETTERS, 1.35 * LETTERS, LETTERS)
# How much heavier the line of the size is in which the pattern was drawn.
_HEAVIER = 2.2
_ARROW = Line(INK, 0.22)
# Thin and without dashes, so that it is taken for no size's line.
_SEWN = Line(SEW_LINE.colour, 0.15)
# Moves shorter than this on the picture are not drawn, mm.
_SEEN = 0.05


class Move(Protocol):
    """How far a vertex of a piece goes between two sizes: a `sizewright.grading.Step`, say."""

    @property
    def piece(self) -> str:
        """Name of the piece."""

    @property
    def vertex(self) -> int:
        """Vertex of its outline."""

    @property
    def before(self) -> str:
        """The size that the vertex goes from."""

    @property
    def move(self) -> Vec:
        """How far it goes, (dx, dy) mm on the page."""


def nest_picture(
    pattern: Pattern, *, lines: Which = "outermost", moves: Iterable[Move] = ()
) -> str:
    """An SVG file with the sizes of each piece over each other, as they lie in `pattern`.

    `lines` says which are drawn: the outermost ones, or the sewing lines. `moves` are drawn as
    arrows, each from its vertex in the size before. The line of the base size is heavier. The
    file opens about 1800 pixels wide or high; it is not to full scale, and says so. Raises
    ValueError for a pattern without pieces.
    """
    if not pattern.pieces:
        raise ValueError("a picture needs at least one piece")
    moves = tuple(moves)
    sizes = sizes_in_order(pattern)
    line = dict(zip(sizes, size_lines(len(sizes)), strict=True))
    if pattern.base_size in line and len(sizes) > 1:
        base = line[pattern.base_size]
        line[pattern.base_size] = replace(base, width=base.width * _HEAVIER)
    groups = [
        tuple(replace(p, cut_line=None) for p in group) if lines == "sewing" else group
        for group in nested(pattern)
    ]
    size, times = letter_size([_span(group) for group in groups], _LETTER / _PIXELS)
    # Drawn as a print is, on a scale at which its letters fit the picture.
    scale = LETTERS / size
    drawn: list[tuple[str, Sketch]] = []
    for group, k in zip(groups, times, strict=True):
        name = group[0].name
        own = [m for m in moves if m.piece == name]
        one = _Nest(group, [line[p.size] if p.size else size_lines(1)[0] for p in group])
        drawn.append((name, one.sketch(scale * k, own, pattern.base_size, k)))
    return sheet(
        drawn,
        _key(groups, line, pattern.base_size, bool(moves)),
        LETTERS,
        heading=_heading(pattern.title, sizes, groups),
        pixels=_PIXELS,
        scale=scale,
    )


class _Nest:
    """One piece in all its sizes."""

    def __init__(self, pieces: Group, lines: Sequence[Line]) -> None:
        self.pieces = pieces
        self.lines = lines

    def sketch(self, scale: float, moves: Sequence[Move], base: str | None, k: float) -> Sketch:
        """The drawing at `scale`; `k` is how much larger than the other pieces that is."""
        pieces = [_small(p, scale) for p in self.pieces]
        middle = next((p for p in pieces if p.size == base), pieces[len(pieces) // 2])
        drawing = Printed(middle, _TITLES, 0.9 * LETTERS)
        for piece in pieces:
            drawing.sketch.stroke(piece.drawn.path, None, LINEN)
        # The heavy line lies under the thin ones, where they come near.
        order = sorted(range(len(pieces)), key=lambda i: -self.lines[i].width)
        for i in order:
            drawing.size_lines(pieces[i], self.lines[i], signs=0.5 * LETTERS)
        drawing.folds(pieces)
        if middle.grain is not None:
            start, end = np.array(middle.grain.start), np.array(middle.grain.end)
            both = middle.grain.ends == 2
            symbols.arrow(drawing.sketch, start, end, GRAIN_LINE, LETTERS, both=both)
            drawing.room.add_line(start, end)
        if moves:
            _arrows(drawing, pieces, middle, moves, scale)
        write_fan(drawing.sketch, drawing.room, pieces, self.lines, LETTERS)
        facts = [middle.name, cutting_words(middle)]
        facts.append(f"drawn {k:g} times larger" if k != 1.0 else "")
        drawing.words([fact for fact in facts if fact], pieces[0].drawn.path)
        return drawing.sketch


def _arrows(
    drawing: Printed,
    pieces: Sequence[Piece],
    middle: Piece,
    moves: Sequence[Move],
    scale: float,
) -> None:
    """Arrows from size to size; the points that grade lie on the sewing line."""
    if middle.cut_line is not None:
        sewn = sewn_path(middle)
        if sewn is not None:
            drawing.sketch.stroke(sewn, _SEWN)
        drawing.room.add_path(middle.outline.path)
    by_size = {p.size: p for p in pieces}
    for one in moves:
        start = by_size[one.before].outline.vertex_at(one.vertex)
        end = start + np.array(one.move) * scale
        length = float(np.hypot(*(end - start)))
        if length < _SEEN:
            continue
        head = min(0.4 * LETTERS, 0.6 * length)
        symbols.arrow(drawing.sketch, start, end, _ARROW, head, both=False)
        drawing.room.add_line(start, end)


def _small(piece: Piece, scale: float) -> Piece:
    """A piece as it is drawn, without what a nest does not show."""
    return scaled(replace(piece, axis=None, labels=(), adjusts=()), scale)


def _span(group: Group) -> tuple[float, float]:
    """Width and height of all sizes together, mm."""
    b = np.array([p.bounds for p in group])
    wide, high = b[:, 2:].max(axis=0) - b[:, :2].min(axis=0)
    return float(wide), float(high)


def _heading(title: str, sizes: Sequence[str], groups: Sequence[Group]) -> str:
    words = [title or "Nest"]
    if sizes:
        span = f"sizes {sizes[0]} to {sizes[-1]}" if len(sizes) > 1 else f"size {sizes[0]}"
        words.append(span)
    kinds = {p.drawn_kind for group in groups for p in group}
    if len(kinds) == 1:
        words.append({"cut": "cutting lines", "sew": "sewing lines"}.get(kinds.pop(), ""))
    return ", ".join(word for word in words if word)


def _key(
    groups: Sequence[Group], line: dict[str, Line], base: str | None, arrows: bool
) -> list[tuple[str, Line]]:
    key = [
        (f"{size} (as drawn)" if size == base and len(line) > 1 else size, kind)
        for size, kind in line.items()
    ]
    pieces = [p for group in groups for p in group]
    if any(fold_path(p) is not None for p in pieces):
        key.append(("fold", FOLD_LINE))
    if any(p.grain is not None for p in pieces):
        key.append(("grain", GRAIN_LINE))
    if arrows:
        key.append(("arrow: from the size before", _ARROW))
        if any(p.cut_line is not None for p in pieces):
            words = f"sewing line of {base}" if base in line else "sewing line"
            key.append((words, _SEWN))
    return key
