"""Rectangles that are no pieces: frames round the page or round everything, and legends."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...geometry.path import Path
from .drafts import Gathered
from .lines import Loop, Strand
from .shapes import Box, Drawing, Shape

#: A frame follows the page within this, in mm, or covers at least this share of it.
_AT_BORDER = 1.0
_NEARLY = 0.85
#: Pieces fill at least this share of a frame that is drawn round them.
_FILLED = 0.2
#: A legend has so many samples of lines, each so near before what it means, in letter heights,
#: and all from one place to another within this, mm.
_SAMPLES, _BESIDE, _ALIKE = 2, 3.0, 1.0


def without_frames(loops: list[Loop], drawing: Drawing, out: Gathered) -> list[Loop]:
    """Without rectangles that follow the page, or go round everything else.

    Where nothing but frames is there, and no piece by its name, they stay, with a finding: the
    page is then likelier to be cut to the piece.
    """
    boxes = [lp.path.bounds for lp in loops]
    frames = {id(lp) for lp in loops if not lp.holes and at_page(lp.path, boxes, drawing)}
    if loops and len(frames) == len(loops) and not out.drafts:
        text = "the only closed paths follow the page's border; they were taken for pieces"
        cure = "If they are a frame, mark the pieces with data-piece."
        out.find("page-frame", "warn", text, cure)
        return loops
    left = [lp for lp in loops if id(lp) not in frames]
    for loop in sorted(left, key=lambda lp: -lp.area):
        if loop.holes or not _round_all(loop, [lp for lp in left if lp is not loop]):
            break
        text = "a rectangle round everything else was taken for a frame and left out"
        cure = "If it is a piece, move it away from the others."
        out.find("page-frame", "note", text, cure)
        left.remove(loop)
    kept = {id(lp) for lp in left}
    for loop in loops:
        if id(loop) not in kept:
            for shape in loop.shapes:
                out.aside(shape, "page frame")
    return left


def at_page(path: Path, boxes: list[Box], drawing: Drawing) -> bool:
    """Whether a loop is a frame round the page; `boxes` are those of all loops."""
    # Boxes first: few loops are as large as the page.
    box, page = path.bounds, drawing.page
    borders = [drawing.border, (0.0, 0.0, *page) if page is not None else None]
    if any(b is not None and _follows(box, b) for b in borders):
        return is_rectangle(path)
    if page is None:
        return False
    width, height = box[2] - box[0], box[3] - box[1]
    if width < _NEARLY * page[0] or height < _NEARLY * page[1]:
        return False
    # Frames may stand in frames: what is no smaller need not lie inside.
    smaller = [b for b in boxes if (b[2] - b[0]) * (b[3] - b[1]) < 0.999 * width * height]
    return bool(smaller) and all(_inside(b, box) for b in smaller) and is_rectangle(path)


def without_legends(
    loops: list[Loop], strokes: Sequence[Strand], words: Sequence[Shape], out: Gathered
) -> list[Loop]:
    """Without rectangles in which each line is a sample, with words that say what it means."""
    left = []
    for loop in loops:
        if not is_rectangle(loop.path):
            left.append(loop)
            continue
        held = [s for s in strokes if _inside(s.path.bounds, loop.path.bounds)]
        said = [s for s in words if loop.holds_words(s)]
        meant = [s for s in held if _is_sample(s.path, said)]
        looks = {s.first.style for s in meant}
        alike = not meant or np.ptp([s.path.bounds[::2] for s in meant], axis=0).max() <= _ALIKE
        if len(looks) < _SAMPLES or len(meant) < len(held) or not alike:
            left.append(loop)
            continue
        for shape in (*loop.shapes, *(shape for s in held for shape, _ in s.parts), *said):
            out.aside(shape, "a legend")
        text = "a rectangle that says what kinds of line mean was taken for a legend and left out"
        out.find("legend", "note", text, "If it is a piece, take the words beside its lines out.")
    return left


def _is_sample(path: Path, words: Sequence[Shape]) -> bool:
    """Whether it is a level stroke with words behind it."""
    x0, y0, x1, y1 = path.bounds
    texts = [t for s in words for t in s.texts]
    return y1 - y0 < 0.1 * (x1 - x0) and any(
        abs(t.at[1] + t.height / 3 - y0) < t.height and 0 < t.at[0] - x1 < _BESIDE * t.height
        for t in texts
    )


def _follows(box: Box, border: Box) -> bool:
    return all(abs(a - b) <= _AT_BORDER for a, b in zip(box, border, strict=True))


def _round_all(loop: Loop, others: list[Loop]) -> bool:
    """Whether a rectangle goes round at least two others that lie apart and fill some of it."""
    if not others or not is_rectangle(loop.path):
        return False
    if not all(_inside(lp.path.bounds, loop.path.bounds) for lp in others):
        return False
    apart = [lp for lp in others if not any(o is not lp and o.holds(lp.samples) for o in others)]
    return len(apart) > 1 and sum(lp.area for lp in apart) >= _FILLED * loop.area


def _inside(a: Box, b: Box) -> bool:
    return a[0] >= b[0] and a[1] >= b[1] and a[2] <= b[2] and a[3] <= b[3]


def is_rectangle(path: Path) -> bool:
    """Whether a loop is a rectangle along the page's sides."""
    if len(path) > 64 or not path.lines.all():
        return False
    corners = path.vertices[np.abs(path.turns) > 1.0]
    if len(corners) != 4:
        return False
    steps = np.abs(np.roll(corners, -1, axis=0) - corners)
    return bool((steps.min(axis=1) <= 1e-3 * steps.max(axis=1)).all())
