"""Room for labels: turned boxes, and what on a drawing they would lie over."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np

from ..geometry.flatten import flatten
from ..geometry.path import Path
from ..geometry.types import Bools, Floats, Ints

#: What it weighs to lie over another label, over a sign, over a place better left free.
LABEL, SIGN, RATHER_NOT = 10, 5, 1
# So many boxes are looked through one by one, without an array of them.
_FEW = 12
# So many squares at most, side by side, tell where points are.
_CELLS = 250
# Chords of lines that labels keep off, mm.
_CHORD = 0.0005


@lru_cache(maxsize=4096)
def cos_sin(degrees: float) -> tuple[float, float]:
    """Cosine and sine of an angle; few angles are asked, each of them often."""
    turn = np.radians(degrees)
    return float(np.cos(turn)), float(np.sin(turn))


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle round (x, y), turned counter-clockwise by `angle` degrees."""

    x: float
    y: float
    width: float
    height: float
    angle: float = 0.0

    @property
    def axes(self) -> tuple[Floats, Floats]:
        """Unit vectors along its width and its height."""
        c, s = cos_sin(self.angle)
        return np.array([c, s]), np.array([-s, c])

    @property
    def corners(self) -> Floats:
        """Its four corners (4, 2), counter-clockwise."""
        a, b = self.axes
        half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2
        turned: Floats = (
            np.array([self.x, self.y])
            + half[:, :1] * self.width * a
            + half[:, 1:] * self.height * b
        )
        return turned

    def grown(self, margin: float) -> Box:
        """Larger by `margin` on every side."""
        return Box(self.x, self.y, self.width + 2 * margin, self.height + 2 * margin, self.angle)

    @property
    def letters(self) -> Box:
        """Where the letters of a text in it are: the box less its leading."""
        return Box(self.x, self.y, 0.94 * self.width, 0.8 * self.height, self.angle)

    def holds(self, points: Floats) -> Bools:
        """Which of `points` (m, 2) lie in it: (m,) of bool."""
        u, v = points[:, 0] - self.x, points[:, 1] - self.y
        if self.angle != 0.0:  # half of all are upright
            c, s = cos_sin(self.angle)
            u, v = c * u + s * v, c * v - s * u
        inside: Bools = (np.abs(u) <= self.width / 2) & (np.abs(v) <= self.height / 2)
        return inside

    def nearest(self, point: Sequence[float] | Floats) -> Floats:
        """Its point nearest to `point`, (2,)."""
        if self.angle == 0.0:
            u = min(max(float(point[0]) - self.x, -self.width / 2), self.width / 2)
            v = min(max(float(point[1]) - self.y, -self.height / 2), self.height / 2)
            return np.array([self.x + u, self.y + v])
        a, b = self.axes
        d = np.asarray(point, dtype=np.float64) - (self.x, self.y)
        u = min(max(float(d @ a), -self.width / 2), self.width / 2)
        v = min(max(float(d @ b), -self.height / 2), self.height / 2)
        near: Floats = np.array([self.x, self.y]) + u * a + v * b
        return near

    def overlaps(self, other: Box) -> bool:
        """Whether the two share more than an edge (separating axes)."""
        dx, dy = self.x - other.x, self.y - other.y
        reach = math.hypot(self.width, self.height) + math.hypot(other.width, other.height)
        if math.hypot(dx, dy) >= reach / 2:
            return False
        # Plain numbers: arrays so small would take many times as long.
        turns = math.radians(self.angle), math.radians(other.angle)
        c, s = abs(math.cos(turns[0] - turns[1])), abs(math.sin(turns[0] - turns[1]))
        for turn, own, across in ((turns[0], self, other), (turns[1], other, self)):
            x, y = math.cos(turn), math.sin(turn)
            wide = own.width + c * across.width + s * across.height
            tall = own.height + s * across.width + c * across.height
            if abs(dx * x + dy * y) >= wide / 2 - 1e-9:
                return False
            if abs(dy * x - dx * y) >= tall / 2 - 1e-9:
                return False
        return True


class _Boxes:
    """Boxes by their weights, of which those in reach of another are soon found."""

    def __init__(self) -> None:
        self._all: list[tuple[Box, int]] = []
        #: Middles and half diagonals (3, k) of those that were looked through last.
        self._round: Floats = np.empty((3, 0))

    def add(self, box: Box, weight: int) -> None:
        self._all.append((box, weight))

    def under(self, box: Box, over: int = 0) -> Iterator[int]:
        """The weights above `over` of those that share more than an edge with `box`."""
        if len(self._all) <= _FEW:
            for other, weight in self._all:
                if weight > over and box.overlaps(other):
                    yield weight
            return
        if self._round.shape[1] < len(self._all):
            half = ((b.x, b.y, math.hypot(b.width, b.height) / 2) for b, _ in self._all)
            self._round = np.array(list(half)).T.copy()
        x, y, reach = self._round
        dx, dy = x - box.x, y - box.y
        reach = reach + (math.hypot(box.width, box.height) / 2 + 1e-6)
        for k in np.flatnonzero(dx * dx + dy * dy < reach * reach).tolist():
            other, weight = self._all[k]
            if weight > over and box.overlaps(other):
                yield weight


class Room:
    """What is drawn already, as points and boxes. `step` is the spacing of the points, mm."""

    def __init__(self, step: float) -> None:
        self.step = step
        self._boxes, self._words = _Boxes(), _Boxes()
        self._points: list[Floats] = []
        #: All points from left to right, and how far right each of them is.
        self._all: tuple[Floats, list[float]] | None = None
        self._counts: tuple[Floats, float, Ints] | None = None

    def add_points(self, points: Floats) -> None:
        """Points (m, 2) that no label may lie over."""
        self._points.append(np.asarray(points, dtype=np.float64).reshape(-1, 2))
        self._all = self._counts = None

    def add_path(self, path: Path) -> None:
        """A line, as points along it."""
        chords = flatten(path, _CHORD)
        if path.closed:
            chords = np.vstack([chords, chords[:1]])
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(chords, axis=0).T))])
        count = int(np.ceil(path.length / self.step)) + 1
        places = np.linspace(0.0, along[-1], count)
        self.add_points(np.column_stack([np.interp(places, along, c) for c in chords.T]))

    def add_line(self, *points: Sequence[float] | Floats) -> None:
        """Straight lines from point to point."""
        for a, b in pairwise(points):
            self.add_points(between(a, b, self.step))

    def add_box(self, box: Box, weight: int = LABEL) -> None:
        """A label that has its place, or another box to keep clear of, by its weight."""
        self._boxes.add(box, weight)

    def add_words(self, box: Box) -> None:
        """Words that stand there; `on_words` counts them."""
        self._words.add(box.letters, 1)

    def on_words(self, box: Box) -> int:
        """Over how many words the letters in a box would lie."""
        return sum(self._words.under(box.letters))

    def _sorted(self) -> tuple[Floats, list[float]]:
        if self._all is None:
            every = np.concatenate([np.empty((0, 2)), *self._points])
            every = every[np.argsort(every[:, 0])]
            self._all = every, every[:, 0].tolist()
        return self._all

    def crowded(self, places: Floats, wide: float, tall: float) -> Bools:
        """Over which of `places` (m, 2) an upright box would surely have points in it.

        Soon told, from how many lie in the squares of a grid; of the others nothing is said.
        """
        points, _ = self._sorted()
        if not len(points):
            return np.zeros(len(places), dtype=np.bool_)
        if self._counts is None:
            low, span = points.min(axis=0), np.ptp(points, axis=0)
            cell = max(2 * self.step, float(span.max()) / _CELLS)
            x, y = ((points - low) / cell).astype(np.intp).T
            size = int(x.max()) + 1, int(y.max()) + 1
            sums = np.zeros((size[0] + 1, size[1] + 1), dtype=np.intp)
            sums[1:, 1:] = np.bincount(x * size[1] + y, minlength=size[0] * size[1]).reshape(size)
            self._counts = low, cell, sums.cumsum(axis=0).cumsum(axis=1)
        low, cell, sums = self._counts
        half = np.array([wide, tall]) / 2 - 1e-6
        most = np.array(sums.shape) - 1
        first = np.minimum(np.maximum(np.ceil((places - half - low) / cell), 0), most)
        last = np.minimum(np.maximum(np.floor((places + half - low) / cell), first), most)
        (x0, y0), (x1, y1) = first.astype(np.intp).T, last.astype(np.intp).T
        found: Bools = sums[x1, y1] - sums[x0, y1] - sums[x1, y0] + sums[x0, y0] > 0
        return found

    def _holds(self, box: Box) -> int:
        """How many points lie in a box; only those in reach of it, from left to right, are seen."""
        points, across = self._sorted()
        reach = math.hypot(box.width, box.height) / 2 + 1e-6
        first, last = bisect_left(across, box.x - reach), bisect_left(across, box.x + reach)
        return int(np.count_nonzero(box.holds(points[first:last]))) if first < last else 0

    def clashes(self, box: Box, margin: float) -> int:
        """How much lies under `box` grown by `margin`: points, and the weights of boxes."""
        grown = box.grown(margin)
        return self._holds(grown) + self.covered(grown)

    def free(self, box: Box, margin: float, *, over: int = 0) -> bool:
        """Whether nothing lies under `box` grown by `margin`: sooner told than how much."""
        grown = box.grown(margin)
        return next(self._boxes.under(grown, over), 0) == 0 and self._holds(grown) == 0

    def covered(self, box: Box, *, over: int = 0) -> int:
        """The weights of the boxes that `box` overlaps, those of `over` or less left out."""
        return sum(self._boxes.under(box, over))

    def crossed(self, a: Sequence[float] | Floats, b: Sequence[float] | Floats) -> int:
        """How many points and labels a straight line from a to b would pass over."""
        d = np.asarray(b, dtype=np.float64) - np.asarray(a, dtype=np.float64)
        length = float(np.hypot(*d))
        if length == 0.0:
            return 0
        middle = (np.asarray(a) + np.asarray(b)) / 2
        turn = float(np.degrees(np.arctan2(d[1], d[0])))
        thin = Box(float(middle[0]), float(middle[1]), length, 1.2 * self.step, turn)
        return self._holds(thin) + self.covered(thin, over=LABEL - 1)


def between(a: Sequence[float] | Floats, b: Sequence[float] | Floats, step: float) -> Floats:
    """Points from a to b no more than `step` apart, (m, 2)."""
    p, q = np.asarray(a, dtype=np.float64), np.asarray(b, dtype=np.float64)
    count = int(np.ceil(float(np.hypot(*(q - p))) / step)) + 1
    return p + np.linspace(0.0, 1.0, count)[:, None] * (q - p)
