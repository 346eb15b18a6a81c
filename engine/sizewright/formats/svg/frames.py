"""Closed paths that are no pieces of their own: page frames, copies, lines within a piece."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...geometry.path import Path
from .drafts import Gathered
from .drawn import Drawn
from .loops import Region, lies_within, same_line
from .names import label_of, name_of
from .page import Page
from .sizes import Sizes

#: A shape, and one region of it.
Found = tuple[Drawn, Region]

#: A frame follows the page within this, in mm, or covers at least this share of it.
_AT_BORDER = 1.0
_NEARLY = 0.85


def sides(path: Path) -> tuple[float, float]:
    """Shorter and longer side of a path's box, mm."""
    x0, y0, x1, y1 = path.bounds
    a, b = sorted((x1 - x0, y1 - y0))
    return a, b


def spoken(drawn: Drawn) -> bool:
    """Whether a person has named the shape, or its clone."""
    return bool(label_of(drawn.node)) or bool(drawn.via is not None and label_of(drawn.via))


def without_frames(found: list[Found], page: Page, out: Gathered) -> list[Found]:
    """Without rectangles that follow the page, or go round everything and nearly fill it.

    Where nothing but frames is there they stay, with a finding: the page is then likelier
    to be cut to the piece.
    """
    boxes = [region.outer.bounds for _, region in found]
    frames = [not r.holes and _is_frame(r.outer, boxes, page) for _, r in found]
    if found and all(frames):
        out.find(
            "page-frame",
            "warn",
            "the only closed paths follow the page's border; they were taken for pieces",
            cure="If they are a frame, mark the pieces with data-piece.",
        )
        return found
    for (drawn, _), frame in zip(found, frames, strict=True):
        if frame:
            out.aside(drawn, "page frame")
    return [one for one, frame in zip(found, frames, strict=True) if not frame]


def _is_frame(path: Path, boxes: list[tuple[float, float, float, float]], page: Page) -> bool:
    if not is_rectangle(path):
        return False
    box = path.bounds
    borders = [page.border, (0.0, 0.0, *page.size) if page.size is not None else None]
    if any(b is not None and np.allclose(box, b, rtol=0, atol=_AT_BORDER) for b in borders):
        return True
    if page.size is None:
        return False
    width, height = box[2] - box[0], box[3] - box[1]
    if width < _NEARLY * page.size[0] or height < _NEARLY * page.size[1]:
        return False
    # Frames may stand in frames: what is no smaller need not lie inside.
    smaller = [b for b in boxes if (b[2] - b[0]) * (b[3] - b[1]) < 0.999 * width * height]
    return bool(smaller) and all(
        b[0] >= box[0] and b[1] >= box[1] and b[2] <= box[2] and b[3] <= box[3] for b in smaller
    )


def is_rectangle(path: Path) -> bool:
    """Whether a loop is a rectangle along the page's sides."""
    if len(path) > 64 or not path.lines.all():
        return False
    corners = path.vertices[np.abs(path.turns) > 1.0]
    if len(corners) != 4:
        return False
    steps = np.abs(np.roll(corners, -1, axis=0) - corners)
    return bool((steps.min(axis=1) <= 1e-3 * steps.max(axis=1)).all())


def without_copies(found: list[Found], sizes: Sizes, out: Gathered) -> list[Found]:
    """Of shapes exactly on one another (a fill and its stroke) one is kept: a labelled one.

    Shapes of different sizes are no copies.
    """
    kept: list[Found] = []
    cells: dict[tuple[int, int, int], list[int]] = {}
    for drawn, region in found:
        size = sizes.of(drawn)
        # Cells of 1 mm of corner and length, with their neighbours: twins meet in one.
        x, y = (round(v) for v in region.outer.bounds[:2])
        length = round(region.outer.length)
        near = [
            k
            for i in (-1, 0, 1)
            for j in (-1, 0, 1)
            for n in (-1, 0, 1)
            for k in cells.get((x + i, y + j, length + n), ())
        ]
        for k in near:
            first, other = kept[k]
            if same_line(other.outer, region.outer) and sizes.of(first) == size:
                if spoken(drawn) and not spoken(first):
                    kept[k] = (drawn, region)
                    first, drawn = drawn, first
                of = name_of(first.node) or "another shape"
                out.aside(drawn, f"a copy exactly on {of}")
                break
        else:
            cells.setdefault((x, y, length), []).append(len(kept))
            kept.append((drawn, region))
    return kept


def without_inner(
    found: list[Found],
    around: Sequence[tuple[str, str | None, Path]],
    sizes: Sizes,
    out: Gathered,
) -> list[Found]:
    """Without shapes that lie inside another one of their size: lines within a piece.

    `around` are outlines of pieces that are known by name already, with name and size.
    Sizes of one piece may lie inside each other.
    """
    known: list[tuple[str, str | None, Path, Drawn | None]]
    known = [(name, size, path, None) for name, size, path in around]
    known += [(name_of(d.node) or d.kind, sizes.of(d), r.outer, d) for d, r in found]
    kept: list[Found] = []
    for drawn, region in found:
        size = sizes.of(drawn)
        holders = [
            (abs(path.area), name)
            for name, other, path, source in known
            if source is not drawn and other == size and lies_within(region.outer, path)
        ]
        if holders:
            out.aside(drawn, f"inside {min(holders)[1]}")
        else:
            kept.append((drawn, region))
    return kept
