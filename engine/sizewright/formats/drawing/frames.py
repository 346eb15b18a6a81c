"""Rectangles that are no pieces: frames round the page or round everything, test squares."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from ...geometry.path import Path
from .drafts import Gathered
from .lines import Loop
from .shapes import Box, Drawing, Shape

#: A frame follows the page within this, in mm, or covers at least this share of it.
_AT_BORDER = 1.0
_NEARLY = 0.85
#: Pieces fill at least this share of a frame that is drawn round them.
_FILLED = 0.2
#: Sides of test squares, mm; so far off, as a share, one is no square; and so far the scale
#: is right.
_SQUARES = (5.0, 250.0)
_SQUARE, _TRUE = 0.01, 0.005
_UNITS = r"(mm|cm|in(?:ch(?:es)?)?|[\"\u2033])"
_LENGTH = re.compile(rf"(\d{{1,4}}(?:[.,]\d{{1,4}})?)[ -]?{_UNITS}(?!\w)", re.I)
_TEST = re.compile(r"test|scale|check|calibrat|control|kontroll|ma[ßs]+stab|[eé]chelle", re.I)
_PLAIN_WORD = re.compile(rf"[\d.,]+{_UNITS}?|{_UNITS}|x|by|=|square", re.I)


def without_frames(loops: list[Loop], drawing: Drawing, out: Gathered) -> list[Loop]:
    """Without rectangles that follow the page, or go round everything else.

    Where nothing but frames is there, and no piece by its name, they stay, with a finding: the
    page is then likelier to be cut to the piece.
    """
    boxes = [lp.path.bounds for lp in loops]
    frames = {id(lp) for lp in loops if not lp.holes and _at_page(lp.path, boxes, drawing)}
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


def _at_page(path: Path, boxes: list[Box], drawing: Drawing) -> bool:
    # Boxes first: few loops are as large as the page.
    box, page = path.bounds, drawing.page
    borders = [drawing.border, (0.0, 0.0, *page) if page is not None else None]
    if any(b is not None and _follows(box, b) for b in borders):
        return _is_rectangle(path)
    if page is None:
        return False
    width, height = box[2] - box[0], box[3] - box[1]
    if width < _NEARLY * page[0] or height < _NEARLY * page[1]:
        return False
    # Frames may stand in frames: what is no smaller need not lie inside.
    smaller = [b for b in boxes if (b[2] - b[0]) * (b[3] - b[1]) < 0.999 * width * height]
    return bool(smaller) and all(_inside(b, box) for b in smaller) and _is_rectangle(path)


def _follows(box: Box, border: Box) -> bool:
    return all(abs(a - b) <= _AT_BORDER for a, b in zip(box, border, strict=True))


def _round_all(loop: Loop, others: list[Loop]) -> bool:
    """Whether a rectangle goes round at least two others that lie apart and fill some of it."""
    if not others or not _is_rectangle(loop.path):
        return False
    if not all(_inside(lp.path.bounds, loop.path.bounds) for lp in others):
        return False
    apart = [lp for lp in others if not any(o is not lp and o.holds(lp.samples) for o in others)]
    return len(apart) > 1 and sum(lp.area for lp in apart) >= _FILLED * loop.area


def _inside(a: Box, b: Box) -> bool:
    return a[0] >= b[0] and a[1] >= b[1] and a[2] <= b[2] and a[3] <= b[3]


def _is_rectangle(path: Path) -> bool:
    """Whether a loop is a rectangle along the page's sides."""
    if len(path) > 64 or not path.lines.all():
        return False
    corners = path.vertices[np.abs(path.turns) > 1.0]
    if len(corners) != 4:
        return False
    steps = np.abs(np.roll(corners, -1, axis=0) - corners)
    return bool((steps.min(axis=1) <= 1e-3 * steps.max(axis=1)).all())


def without_squares(loops: list[Loop], words: Sequence[Shape], out: Gathered) -> list[Loop]:
    """Without squares whose words say how large they should be; they prove the scale.

    Such a square says a length and that it is a test, or holds nothing but the length.
    """
    left = []
    for loop in loops:
        held = [s for s in words if loop.holds(np.array([t.at for t in s.texts]))]
        said = " ".join(t.text for s in held for t in s.texts)
        name = loop.shapes[0].name
        length = _LENGTH.search(said) or _LENGTH.search(name)
        meant = _TEST.search(f"{name} {said}") or all(map(_PLAIN_WORD.fullmatch, said.split()))
        if not (length and meant and _is_square(loop)):
            left.append(loop)
            continue
        for shape in (*loop.shapes, *held):
            out.aside(shape, "a test square" if shape in loop.shapes else "words of a test square")
        _judge_square(loop, length, out)
    return left


def _is_square(loop: Loop) -> bool:
    x0, y0, x1, y1 = loop.path.bounds
    a, b = sorted((x1 - x0, y1 - y0))
    fits = _SQUARES[0] <= b <= _SQUARES[1] and b - a <= _SQUARE * b
    return fits and not loop.holes and _is_rectangle(loop.path)


def _judge_square(loop: Loop, length: re.Match[str], out: Gathered) -> None:
    unit = {"mm": 1.0, "cm": 10.0}.get(length[2].lower(), 25.4)
    wanted = float(length[1].replace(",", ".")) * unit
    found = loop.path.length / 4
    if abs(found / wanted - 1) <= _TRUE:
        text = f"the test square of {length[0].strip()} is as large as it says"
        out.find("test-square", "note", text)
        return
    out.find(
        "scale-wrong",
        "warn",
        f"the test square of {length[0].strip()} measures {found:.1f} mm, not {wanted:.1f} mm: "
        f"everything is {found / wanted:.4g} times its size; nothing was changed",
        cure=f"Make the drawing {wanted / found:.4g} times as large, or mend its page or unit.",
    )
