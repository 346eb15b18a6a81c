"""The fold in SVG: its line over the outline's, which it hides there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...model import Fold
from ...model.drawn import drawn_fold
from ...palette import FOLD_LINE, PAPER, Line
from .pen import Pen, line_ends, stroke
from .xml_out import Tag

#: A fold lies on the outline, so it is drawn wider than that.
_FOLD = replace(FOLD_LINE, width=2 * FOLD_LINE.width)
# Between the fold's dashes nothing is to be seen of the lines below it, which stay whole paths.
_COVER = Line(PAPER, 1.2 * _FOLD.width)
#: A point this near a straight line, in mm, lies on it.
_STRAIGHT = 1e-6
# A line within this of another, mm, lies on it; a stretch shorter than that far is left out.
_ON, _SHORT = 0.05, 0.5


def fold_tags(pen: Pen) -> list[Tag]:
    """What hides the lines on the fold, for the eye only, and the fold itself above it."""
    if pen.piece.fold is None:
        return []
    path = _fold_path(pen, pen.piece.fold)
    fold = pen.shape(path, "fold", {"data-role": "fold"})
    fold.attributes = {**fold.attributes, **stroke(_FOLD)}
    return [_under(pen, path), fold]


def _under(pen: Pen, path: Path) -> Tag:
    """A cover for all that is drawn on the fold's line; the fold carried on to its ends.

    The cutting line goes further than the sewing line, whose stretch the fold is.
    """
    whole = _cut_stretch(pen, path)
    strokes = [(path if whole is None else whole, _COVER)]
    if whole is not None:
        start, end = nearest(whole, np.array([path.start, path.end])).s
        if start > _SHORT:
            strokes.append((whole.part(0.0, float(start)), _FOLD))
        if whole.length - end > _SHORT:
            strokes.append((whole.part(float(end), whole.length), _FOLD))
    name = pen.named(f"{pen.piece.name}.picture")
    return Tag("g", {**name, "data-role": "picture"}, children=[_line(pen, *s) for s in strokes])


def _line(pen: Pen, path: Path, line: Line) -> Tag:
    path = _straight(path)
    if len(path) == 1 and path.lines[0]:
        return Tag("line", {**line_ends(pen.frame, path), **stroke(line)})
    return Tag("path", {"d": pen.frame.data(path, 3), **stroke(line)})


def _cut_stretch(pen: Pen, path: Path) -> Path | None:
    """The edge of the cutting line that the fold lies on; None without such an edge."""
    found = drawn_fold(pen.piece)
    if found is None or pen.piece.cut_line is None or found[0].start == found[0].end:
        return None
    stretch = pen.drawn.segments(found[0].start, found[0].end)
    places = path.at(np.linspace(0.0, path.length, 9))
    return stretch if float(nearest(stretch, places).distance.max()) < _ON else None


def _fold_path(pen: Pen, fold: Fold) -> Path:
    """The stretch itself; one line from end to end where it is straight."""
    return _straight(pen.outline.path.segments(fold.start, fold.end))


def _straight(run: Path) -> Path:
    """One line from end to end where the whole of an open path lies on it."""
    step = run.end - run.start
    size = float(np.hypot(*step))
    if size == 0 or not run.lines.all():
        return run
    off = run.vertices - run.start
    away = np.abs(step[0] * off[:, 1] - step[1] * off[:, 0]) / size
    if (away > _STRAIGHT).any():
        return run
    return Path.polyline(np.array([run.start, run.end]))
