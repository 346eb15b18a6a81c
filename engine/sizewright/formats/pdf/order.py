"""Where pages lie by their order, once some were placed by what they show."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from ...geometry.types import Floats
from .layout import Layout

#: Steps from page to page are the same within this, mm.
_SAME = 1.0


@dataclass(frozen=True, slots=True)
class Rows:
    """Pages in rows of `columns`: `first` steps along a row, `second` to the next row, (2,) mm.

    `start` is a page that begins a row.
    """

    columns: int
    first: Floats
    second: Floats
    start: int = 0

    def place(self, page: int) -> Floats:
        """Where a page lies, mm."""
        row, column = divmod(page - self.start, self.columns)
        place: Floats = column * self.first + row * self.second
        return place


def by_order(layout: Layout, wanted: list[int]) -> list[int]:
    """Place the pages `wanted` by their order where only one place is left for each.

    That is where all pages that were placed already lie in rows of one length, in order and
    without a gap; beyond the last of them only where that fills the rows. The pages that were
    placed so come back.
    """
    rows = _rows(layout)
    main = max(layout.sheets(), key=len)
    if rows is None:
        return []
    full = (len(layout.windows) - rows.start) % rows.columns == 0
    first, last = (wanted[0], wanted[-1]) if full else (main[0], main[-1])
    moved = [k for k in wanted if k not in main and first <= k <= last]
    base = main[0]
    return [k for k in moved if layout.join(base, k, rows.place(k) - rows.place(base))]


def _rows(layout: Layout) -> Rows | None:
    pairs = {}
    for sheet in layout.sheets():
        for n, i in enumerate(sheet):
            for j in sheet[n + 1 :]:
                pairs[i, j] = layout.at(j) - layout.at(i)
    first = _usual([by for (i, j), by in pairs.items() if j == i + 1])
    if first is None:
        return None
    fits = []
    for columns in range(2, len(layout.windows) // 2 + 1):
        across = [
            by
            for (i, j), by in pairs.items()
            if j == i + columns and abs(float(by @ first)) < 0.1 * float(first @ first)
        ]
        second = _usual(across)
        if second is None:
            continue
        for start in range(columns):
            rows = Rows(columns, first, second, start)
            if all(
                float(np.abs(rows.place(j) - rows.place(i) - by).max()) <= _SAME
                for (i, j), by in pairs.items()
            ):
                fits.append(rows)
    return fits[0] if len(fits) == 1 else None


def _usual(steps: list[Floats]) -> Floats | None:
    """The commonest of some steps along one axis."""
    straight = [s for s in steps if min(abs(s)) < _SAME]
    if not straight:
        return None
    counted = Counter(tuple(np.round(s / _SAME).tolist()) for s in straight)
    best = min(counted, key=lambda c: (-counted[c], c))
    near = [s for s in straight if float(np.abs(s / _SAME - best).max()) <= 1]
    usual: Floats = np.median(near, axis=0)
    return usual
