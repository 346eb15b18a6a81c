"""Pages that lie beside each other, found by whole objects that several of them show in part."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...budget import spend
from ...geometry.types import Floats
from ..drawing.shapes import Box
from .items import Item, Page, Shapes, common

#: Objects are at one place where they are this near, mm.
NEAR = 0.3
#: Neighbours lie over one another by no more than this, mm, or this share of a side.
_LAP, _LAP_SHARE = 60.0, 0.35
#: Of two pages so many shared shapes are compared, and of each so many pairs.
_MOST_SHAPES, _MOST_PAIRS = 120, 16
#: Evidence below this is chance.
_LEAST = 1.0


@dataclass(frozen=True, slots=True)
class Vote:
    """Page `second` lies `by` (2,) mm from `first`. `off`: how far shared shapes disagree, mm.

    `beyond`: some of them are shown in part. `near`: the pages lie over one another by more than
    neighbours do, and show the same there.
    """

    first: int
    second: int
    by: Floats
    weight: float
    off: float
    beyond: bool
    near: bool


def number_shapes(pages: list[Page]) -> None:
    """Number the shapes of all pages: those that look the same have the same number."""
    shapes = Shapes(lambda i: (i.style, i.fill, i.words.get("text")))
    for page in pages:
        shapes.number(page)


def votes(pages: list[Page], furniture: set[int]) -> list[Vote]:
    """What pairs of pages say of where they lie, the surest first.

    Nothing where no shape that is shared goes on beyond a page: then lines were cut, and what
    two pages have alike is chance, or lies where they overlap.
    """
    kept = [[i for i in page.items if id(i) not in furniture] for page in pages]
    windows = windows_of(pages, kept)
    sides = [_Side(window, items) for window, items in zip(windows, kept, strict=True)]
    found = []
    for j, second in enumerate(sides):
        for i, first in enumerate(sides[:j]):
            spend(200, "pages that share shapes")
            if (vote := _vote(i, j, first, second)) is not None:
                found.append(vote)
    if not any(vote.beyond for vote in found):
        return []
    return sorted(found, key=lambda v: (-v.weight, v.second - v.first, v.first))


def too_near(first: Box, second: Box) -> bool:
    """Whether two windows lie over one another by more than neighbours do."""
    x0, y0, x1, y1 = common(first, second)
    lap = min(x1 - x0, y1 - y0)
    least = min(*_sides(first), *_sides(second))
    return lap > min(max(_LAP, _LAP_SHARE * least), 0.6 * least)


def _sides(box: Box) -> tuple[float, float]:
    return box[2] - box[0], box[3] - box[1]


class _Side:
    """What one page shows, made ready to be compared."""

    def __init__(self, window: Box, items: list[Item]) -> None:
        self.window = window
        self.by_shape: dict[int, list[Item]] = {}
        for item in items:
            self.by_shape.setdefault(item.same, []).append(item)
        shown = [(item, box) for item in items if (box := item.visible) is not None]
        self.shown = [item for item, _ in shown]
        self.boxes = np.array([box for _, box in shown]).reshape(-1, 4)
        self._starts = {
            shape: np.array([i.points[0] for i in same]).tolist()
            for shape, same in self.by_shape.items()
        }
        self._drawn: dict[int, Any] = {}

    def within(self, box: Box) -> list[Item]:
        """What is shown in a box."""
        x0, y0, x1, y1 = box
        b = self.boxes
        meets = (b[:, 0] < x1) & (b[:, 2] > x0) & (b[:, 1] < y1) & (b[:, 3] > y0)
        return [self.shown[k] for k in np.flatnonzero(meets)]

    def holds(self, shape: int, place: Floats) -> bool:
        """Whether such a shape begins at a place."""
        x, y = place.tolist()
        return any(
            abs(a - x) <= NEAR and abs(b - y) <= NEAR for a, b in self._starts.get(shape, ())
        )

    def goes_through(self, item: Item, box: Box) -> bool:
        """Whether a line of it lies in a box: one that is culled by its lines need not be there."""
        import shapely

        # Every other page asks for its lines.
        if id(item) not in self._drawn:
            self._drawn[id(item)] = item.drawn(NEAR)
        return bool(shapely.intersects(shapely.box(*box), self._drawn[id(item)]).any())


def windows_of(pages: list[Page], kept: list[list[Item]]) -> list[Box]:
    """The part of each page that shows the pattern; alike on all pages of one size."""
    found: dict[tuple[int, int], Box] = {}
    for page, items in zip(pages, kept, strict=True):
        box = _window(page, items)
        if box is not None:
            key = (round(page.size[0]), round(page.size[1]))
            x0, y0, x1, y1 = found.get(key, box)
            # A clip may be drawn no larger than what is shown there.
            found[key] = min(x0, box[0]), min(y0, box[1]), max(x1, box[2]), max(y1, box[3])
    return [
        found.get((round(page.size[0]), round(page.size[1])), (0.0, 0.0, *page.size))
        for page in pages
    ]


def _window(page: Page, items: list[Item]) -> Box | None:
    """The clip of most of what a page shows, where it has one that leaves most of the page."""
    boxes = Counter(
        tuple(round(v, 1) for v in item.seen) for item in items if item.seen is not None
    )
    whole: Box = (0.0, 0.0, *page.size)
    for box, _ in boxes.most_common(3):
        x0, y0, x1, y1 = common((box[0], box[1], box[2], box[3]), whole)
        if x1 - x0 > 0.4 * page.size[0] and y1 - y0 > 0.4 * page.size[1]:
            return x0, y0, x1, y1
    return None


def _vote(i: int, j: int, first: _Side, second: _Side) -> Vote | None:
    shapes = first.by_shape.keys() & second.by_shape.keys()
    ranked = sorted(shapes, key=lambda s: (-_telling(first.by_shape[s][0]), s))[:_MOST_SHAPES]
    steps, weights, pairs = [], [], []
    for shape in ranked:
        ours, theirs = first.by_shape[shape], second.by_shape[shape]
        if len(ours) * len(theirs) > _MOST_PAIRS:
            continue
        for a in ours:
            for b in theirs:
                steps.append(a.points[0] - b.points[0])
                share = _telling(a) / max(len(ours), len(theirs))
                weights.append(share if a.cut or b.cut else share / 2)
                pairs.append((a, b))
    if not steps:
        return None
    by, weight = np.array(steps), np.array(weights)
    counts = (np.abs(by[:, None] - by).max(axis=2) <= NEAR) @ weight
    last: Vote | None = None
    for k in np.argsort(-counts, kind="stable")[:20]:
        if counts[k] < _LEAST:
            break
        agree = np.abs(by - by[k]).max(axis=1) <= NEAR
        step = np.median(by[agree], axis=0)
        x, y = float(step[0]), float(step[1])
        w = second.window
        moved = (w[0] + x, w[1] + y, w[2] + x, w[3] + y)
        near = too_near(first.window, moved)
        missed = _missed(first, second, step, moved)
        if counts[k] > 2 * missed and not (near and (counts[k] < 3 * missed or last)):
            off = float(np.hypot(*(by[agree] - step).T).max())
            beyond = any(a.cut or b.cut for (a, b), on in zip(pairs, agree, strict=True) if on)
            last = Vote(i, j, step, float(counts[k]) - missed, off, beyond, near)
            if not near:
                return last
    return last if last is not None and last.beyond else None


def _telling(item: Item) -> float:
    """How much it says that two pages hold the same thing."""
    if not item.chains:
        return 0.25
    return 1.0 + float(np.log2(max(len(item.points) - 3, 1))) / 2


def _missed(first: _Side, second: _Side, step: Floats, moved: Box) -> float:
    """The weight of what one page shows where both do, and the other has not."""
    x0, y0, x1, y1 = common(first.window, moved)
    lap = (x0 + 1, y0 + 1, x1 - 1, y1 - 1)
    if lap[0] >= lap[2] or lap[1] >= lap[3]:
        return 0.0
    x, y = float(step[0]), float(step[1])
    back = (lap[0] - x, lap[1] - y, lap[2] - x, lap[3] - y)
    missed = 0.0
    for one, other, box, way in ((first, second, lap, -step), (second, first, back, step)):
        for item in one.within(box):
            if other.holds(item.same, item.points[0] + way):
                continue
            if not item.chains or one.goes_through(item, box):
                missed += _telling(item)
    return missed
