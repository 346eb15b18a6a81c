"""The names of sizes on their lines, often enough that every part of a line bears one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..geometry.nearest import nearest
from ..geometry.path import Path
from ..geometry.spread import widest_apart
from ..geometry.types import Floats
from ..palette import PAPER, Line
from .labels import LEADING, upright
from .on_pages import Pages
from .room import SIGN, Box, Room
from .sketch import Sketch, Words
from .text import width

_LETTERS = 3.4
# A label about every so many mm of line; how far it may be moved along, and in what steps.
_EVERY, _MOVED, _STEP = 200.0, 60.0, 4.0
# A page that shows less of a line than this, mm, needs no label for it.
_SHOWN = 30.0
# What costs as much as moving a label its whole way: lying on a corner, on another line.
_AT_CORNER, _ON_LINES = 2.0, 3.0


class SizeLabels:
    """Puts the labels of a nest down.

    `outlines` are the outermost closed lines of the sizes, `paths` what is drawn of them, for
    each its `name` and `line`.
    """

    def __init__(
        self,
        sketch: Sketch,
        room: Room,
        outlines: Sequence[Path],
        paths: Sequence[Path],
        names: Sequence[str],
        lines: Sequence[Line],
    ) -> None:
        self.sketch, self.room = sketch, room
        self.outlines, self.paths, self.names, self.lines = outlines, paths, names, lines
        self.samples = [p.at(np.linspace(0.0, p.length, int(p.length) + 2)) for p in paths]
        self.corners = [p.vertices[np.abs(p.turns) > 10.0] for p in outlines]
        self.placed: list[list[Box]] = [[] for _ in paths]

    def write(self, pages: Pages) -> None:
        """Labels along the whole lines, and at least one of each size on each page."""
        self._along()
        for window in pages.windows:
            for i in range(len(self.paths)):
                self._on_page(i, window)

    def _along(self) -> None:
        outer = max(self.outlines, key=lambda p: p.area)
        widest = widest_apart(self.outlines, outer)
        count = max(2, round(outer.length / _EVERY))
        first = float(widest[0]) if len(widest) else 0.0
        stride = max(width(n, _LETTERS, bold=True) for n in self.names) + 2.0
        middle = (len(self.paths) - 1) / 2
        for station in first + np.arange(count) * outer.length / count:
            for i, path in enumerate(self.paths):
                near = outer.at(np.array([station + (i - middle) * stride]))
                foot = nearest(path, near)
                if float(foot.distance[0]) > _MOVED:
                    continue  # on the fold, where no line of this size is drawn
                s = float(foot.s[0])
                moves = np.arange(-_MOVED, _MOVED + 1.0, _STEP)
                self._best(i, s + moves, np.abs(moves) / _MOVED)

    def _on_page(self, i: int, window: tuple[float, float, float, float]) -> None:
        x0, y0, x1, y1 = window
        if any(x0 <= b.x <= x1 and y0 <= b.y <= y1 for b in self.placed[i]):
            return
        path = self.paths[i]
        s = np.arange(_STEP / 2, path.length, _STEP)
        at = path.at(s)
        half = width(self.names[i], _LETTERS, bold=True) / 2
        inside = (at >= (x0 + half, y0 + half)) & (at <= (x1 - half, y1 - half))
        s = s[inside.all(axis=1)]
        if len(s) * _STEP >= _SHOWN:
            off = np.abs(np.arange(len(s)) - (len(s) - 1) / 2) / len(s)
            self._best(i, s, off)

    def _best(self, i: int, places: Floats, costs: Floats) -> None:
        """Put a label down at the cheapest of the arc lengths `places`, if one is free."""
        path, name, line = self.paths[i], self.names[i], self.lines[i]
        if path.closed:
            places = places % path.length
        wide = width(name, _LETTERS, bold=True)
        kept = (places >= 0.0) & (places <= path.length)
        best: tuple[float, Box] | None = None
        places, costs = places[kept], costs[kept]
        at, along = path.at(places), path.tangents(places)
        others = [p for k, p in enumerate(self.samples) if k != i]
        for k in np.argsort(costs, kind="stable"):
            if best is not None and costs[k] >= best[0]:
                break
            turn = upright(float(np.degrees(np.arctan2(along[k, 1], along[k, 0]))))
            box = Box(float(at[k, 0]), float(at[k, 1]), wide, _LETTERS * LEADING, turn)
            covered = self.room.covered(box.grown(0.6))
            if covered >= SIGN:
                continue
            near = np.hypot(*(self.corners[i] - at[k]).T).min(initial=np.inf)
            cost = float(costs[k]) + covered + (_AT_CORNER if near < wide / 2 + 2.0 else 0.0)
            over = sum(int(box.holds(p).sum()) for p in others)
            cost += _ON_LINES * over / (over + wide)
            if best is None or cost < best[0]:
                best = (cost, box)
        if best is None:
            return
        box = best[1]
        blank = Box(box.x, box.y, wide + 1.2, _LETTERS * 1.05, box.angle)
        self.sketch.polyline(blank.corners, None, closed=True, fill=PAPER)
        self.sketch.words(Words(name, box, _LETTERS, bold=True, colour=line.colour))
        self.room.add_box(box)
        self.room.add_words(box)
        self.placed[i].append(box)
