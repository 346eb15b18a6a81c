"""What hides the lines below a fold, for the eye only."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...model import Piece
from ...model.drawn import drawn_fold
from ...palette import FOLD_LINE, PAPER, Line
from ..drawing.described_lines import straight
from .page_out import Frame, line_ends
from .xml_out import Tag, stroke

#: A fold lies on the outline, so it is drawn wider than that.
FOLD = replace(FOLD_LINE, width=2 * FOLD_LINE.width)
# Between the fold's dashes nothing is to be seen of the lines below it, which stay whole paths.
_COVER = Line(PAPER, 1.2 * FOLD.width)
# A line within this of another, mm, lies on it; a stretch shorter than that far is left out.
_ON, _SHORT = 0.05, 0.5


def cover(piece: Piece, fold: Path, frame: Frame) -> list[Tag]:
    """A cover for all that is drawn on the fold's line; the fold carried on to its ends.

    The cutting line goes further than the sewing line, whose stretch the fold is.
    """
    whole = _cut_stretch(piece, fold)
    strokes = [(fold if whole is None else whole, _COVER)]
    if whole is not None:
        start, end = nearest(whole, np.array([fold.start, fold.end])).s
        if start > _SHORT:
            strokes.append((whole.part(0.0, float(start)), FOLD))
        if whole.length - end > _SHORT:
            strokes.append((whole.part(float(end), whole.length), FOLD))
    return [_line(straight(path), line, frame) for path, line in strokes]


def _line(path: Path, line: Line, frame: Frame) -> Tag:
    if len(path) == 1 and path.lines[0]:
        return Tag("line", {**line_ends(frame, path), **stroke(line)})
    return Tag("path", {"d": frame.data(path, 3), **stroke(line)})


def _cut_stretch(piece: Piece, fold: Path) -> Path | None:
    """The edge of the cutting line that the fold lies on; None without such an edge."""
    found = drawn_fold(piece)
    if found is None or piece.cut_line is None or found[0].start == found[0].end:
        return None
    stretch = piece.cut_line.path.segments(found[0].start, found[0].end)
    places = fold.at(np.linspace(0.0, fold.length, 9))
    return stretch if float(nearest(stretch, places).distance.max()) < _ON else None
