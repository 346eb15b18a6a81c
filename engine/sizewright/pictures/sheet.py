"""A picture of a whole pattern: its pieces in rows, a key to the lines, a scale bar."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations

import numpy as np

from ..findings import Finding
from ..model import Pattern, Piece
from ..palette import (
    ADJUST_LINE,
    CUT_LINE,
    FOLD_LINE,
    GRAIN_LINE,
    MARK_LINE,
    PLAIN_LINE,
    SEW_LINE,
)
from .canvas import Canvas
from .footer import Key, footer
from .joints import PageBox, joints_picture, span
from .line_kinds import LARGER, NumberedLine, line_kinds
from .nesting import nested
from .piece_picture import piece_picture
from .rows import GAP, in_rows, letter_size, opening_pixels
from .sketch import Sketch
from .text import width

# The picture's larger side when it is opened, pixels, and the letters then; the first of
# these at which no word lies over another.
_PIXELS = (1400, 1800, 2200)
_LETTER = 13.0
# Palette lines are for drawings at full size; so much of a letter is 1 mm of them.
_WEIGHT = 0.25
# Pages put together are drawn so large against the largest piece.
_SHEET = 1.8
_LINE_NAMES = (
    ("cutting line", CUT_LINE),
    ("sewing line", SEW_LINE),
    ("line of unknown kind", PLAIN_LINE),
    ("fold", FOLD_LINE),
    ("grain", GRAIN_LINE),
    ("mark, not cut", MARK_LINE),
    ("lengthen or shorten", ADJUST_LINE),
)


def picture(
    pattern: Pattern,
    findings: Iterable[Finding] = (),
    pages: Sequence[PageBox] = (),
    lines: Sequence[NumberedLine] = (),
) -> str:
    """An SVG file that shows every piece with its numbers, names and lengths.

    Warnings and failures among `findings` are ringed where they lie. `pages` are numbers and
    boxes, mm, of pages that the pattern was put together from: they are shown with its pieces.
    `lines` are kinds of line, which are drawn first, as they lie, with their numbers; of a
    nest that is told apart by them, each piece is then drawn in the size in the middle alone.

    The drawing is in mm; it opens about 1400 pixels wide or high, more where there are
    many words on a piece, and is not for cutting.
    Raises ValueError for a pattern without pieces.
    """
    if not pattern.pieces:
        raise ValueError("a picture needs at least one piece")
    faults = [f for f in findings if f.level != "note"]
    pieces = _in_the_middle(pattern) if lines else pattern.pieces
    spans = [(p.bounds[2] - p.bounds[0], p.bounds[3] - p.bounds[1]) for p in pieces]
    small = 1.0
    if pages:
        across = span(pages)
        small = min(_SHEET * max(map(max, spans)) / max(across), 1.0)
        spans.append((small * across[0], small * across[1]))
    if lines:
        boxes = np.array([path.bounds for one in lines for path in one.paths])
        wide, high = LARGER * (boxes[:, 2:].max(axis=0) - boxes[:, :2].min(axis=0))
        spans.append((float(wide), float(high)))
    for pixels in _PIXELS:
        size, times = letter_size(spans, _LETTER / pixels)
        sketches = [
            piece_picture(piece, size, scale=k, faults=[f for f in faults if _of(f, piece)])
            for piece, k in zip(pieces, times, strict=False)
        ]
        if not any(map(_crowded, sketches)):
            break
    used = _used(pieces)
    drawn = [(piece.title, sketch) for piece, sketch in zip(pieces, sketches, strict=True)]
    if pages:
        drawn.append(("pages", joints_picture(pattern, pages, size, scale=small)))
    if lines:
        drawn.insert(0, ("Kinds of line", line_kinds(lines, size)))
    key = [item for item in _LINE_NAMES if item[0] in used]
    return sheet(drawn, key, size, heading=pattern.title, pixels=pixels, weight=_WEIGHT * size)


def _in_the_middle(pattern: Pattern) -> tuple[Piece, ...]:
    """Each piece in the size in the middle of its own."""
    return tuple(group[len(group) // 2] for group in nested(pattern))


def _of(fault: Finding, piece: Piece) -> bool:
    return (fault.piece, fault.size or None) == piece.key


def _crowded(sketch: Sketch) -> bool:
    """Whether words lie over each other."""
    boxes = [words.box for words in sketch.labels]
    return any(a.overlaps(b) for a, b in combinations(boxes, 2))


def sheet(
    drawn: Sequence[tuple[str, Sketch]],
    key: Key,
    size: float,
    *,
    heading: str,
    pixels: int,
    weight: float = 1.0,
    scale: float = 1.0,
) -> str:
    """Drawings with their titles in rows on one SVG file, over a key and a scale bar.

    Letters are `size` mm high; `weight` multiplies the widths of lines, `scale` says how large
    the drawings are; the file opens `pixels` wide or high.
    """
    boxes = [sketch.bounds for _, sketch in drawn]
    rows = in_rows([(x1 - x0, y1 - y0) for x0, y0, x1, y1 in boxes], GAP * size)
    margin = 2.0 * size
    foot = footer(key, size, rows.width, scale=scale)
    title = 3.2 * size if heading else 0.0
    below = margin + foot.height + 2.0 * size
    across = max(rows.width, foot.width, width(heading, 1.8 * size, bold=True))
    canvas = Canvas(across + 2 * margin, below + rows.height + title + margin, weight=weight)
    if heading:
        at = (margin, canvas.height - margin - 1.5 * size)
        canvas.text(heading, at, 1.8 * size, anchor="start", bold=True)
    left = margin + (across - rows.width) / 2
    for (name, sketch), box, (x, y) in zip(drawn, boxes, rows.places, strict=True):
        canvas.open_group(name)
        sketch.put(canvas, left + x - box[0], below + y - box[1])
        canvas.close_group()
    foot.put(canvas, margin, margin)
    wide = opening_pixels(canvas.width, canvas.height, size, pixels)
    return canvas.svg(title=heading or "Pattern pieces", pixels=wide)


def _used(pieces: Sequence[Piece]) -> set[str]:
    """Names of the kinds of line that are drawn."""
    kinds = {"cut": "cutting line", "sew": "sewing line", "unknown": "line of unknown kind"}
    used: set[str] = set()
    for p in pieces:
        used.add(kinds[p.drawn_kind])
        if p.cut_line is not None:
            used.add("sewing line")
        features = (
            ("fold", p.fold),
            ("grain", p.grain),
            ("mark, not cut", p.marks),
            ("lengthen or shorten", p.adjusts),
        )
        used |= {name for name, there in features if there}
    return used
