"""Where each page lies: pages joined one by one, never two in one place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from ...geometry.types import Floats
from ..drawing.shapes import Box
from .shared import Vote, too_near

#: A joint at which two pages disagree by more than this, mm, is none.
WRONG = 1.0

Pair = tuple[int, int]
_NONE: Mapping[Pair, Floats] = {}


class Layout:
    """Sheets of pages that were put together. `windows` are what each shows, on itself."""

    def __init__(self, windows: list[Box]) -> None:
        self.windows = windows
        self.place: dict[int, Floats] = {}
        self._sheet = list(range(len(windows)))
        self._members = [[k] for k in range(len(windows))]

    def at(self, page: int) -> Floats:
        """Where a page lies on its sheet, (2,) mm."""
        return self.place.get(page, np.zeros(2))

    def sheets(self) -> Iterator[list[int]]:
        """The pages of each sheet, in their order; a page alone is a sheet too."""
        yield from sorted(sorted(members) for members in self._members if members)

    def together(self, page: int) -> list[int]:
        """The pages of the sheet that a page is on."""
        return sorted(self._members[self._sheet[page]])

    def window(self, page: int) -> Box:
        """What a page shows, on its sheet."""
        x, y = (float(v) for v in self.at(page))
        x0, y0, x1, y1 = self.windows[page]
        return x0 + x, y0 + y, x1 + x, y1 + y

    def join(
        self, first: int, second: int, by: Floats, agreed: Mapping[Pair, Floats] = _NONE
    ) -> bool:
        """Put `second` `by` mm from `first`, with all that is on its sheet; whether it fits.

        Pages that are `agreed` to lie so far from one another may lie over one another by much.
        """
        a, b = self._sheet[first], self._sheet[second]
        if a == b:
            return bool(np.hypot(*(self.at(second) - self.at(first) - by)) <= WRONG)
        shift = self.at(first) + by - self.at(second)
        x, y = (float(v) for v in shift)
        for one in self._members[b]:
            x0, y0, x1, y1 = self.window(one)
            moved = (x0 + x, y0 + y, x1 + x, y1 + y)
            for other in self._members[a]:
                if not too_near(self.window(other), moved):
                    continue
                away = self.at(one) + shift - self.at(other)
                way, known = (1, (other, one)) if other < one else (-1, (one, other))
                if known not in agreed or np.hypot(*(away - way * agreed[known])) > WRONG:
                    return False
        for one in self._members[b]:
            self.place[one] = self.at(one) + shift
            self._sheet[one] = a
        self._members[a] += self._members[b]
        self._members[b] = []
        return True

    def vote(self, votes: list[Vote]) -> None:
        """Join by votes, the surest first; those of pages that would lie too near come last."""
        for vote in votes:
            if not vote.near:
                self.join(vote.first, vote.second, vote.by)
        agreed = {(vote.first, vote.second): vote.by for vote in votes if vote.near}
        for vote in votes if agreed else ():
            self.join(vote.first, vote.second, vote.by, agreed)
