"""Path data (the `d` attribute) as subpaths of lines and cubics, in user units."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from ...errors import InputError
from ...geometry.arcs import arc_to_cubics
from .values import NUMBER, finite, refuse_not_finite, within_reach

Point = tuple[float, float]
#: Two points for a line, four for a cubic.
Segment = tuple[Point, ...]

#: More segments than this in one drawing is no pattern.
MOST_SEGMENTS = 300_000

#: An arc with a radius below this, in mm, is a straight line (SVG 1.1, F.6.2: zero).
_NO_RADIUS = 1e-9

_GAP = re.compile(r"[\s,]*")
_NUMBER = re.compile(rf"[\s,]*({NUMBER})")
_FLAG = re.compile(r"[\s,]*([01])")
_COUNT = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}


@dataclass(slots=True)
class Subpath:
    """A run of segments from one move; `closed` when `Z` ended it."""

    segments: list[Segment] = field(default_factory=list)
    closed: bool = False


@dataclass(slots=True)
class PathData:
    """Subpaths, and the text from which on the data could not be read ("" when all was)."""

    subpaths: list[Subpath]
    rest: str = ""


def parse_path(text: str, scale: float = 1.0, most: int = MOST_SEGMENTS) -> PathData:
    """Subpaths of path data (SVG 1.1, 8.3), read up to the first error in it.

    `scale`, mm to the user unit, tells how finely arcs are to be cut. Raises InputError
    for numbers that are not finite and for more than `most` segments.
    """
    return _Reader(text, scale, most).read()


class _Reader:
    def __init__(self, text: str, scale: float, most: int) -> None:
        self.text = text
        self.scale = scale
        self.most = most
        self.at = 0
        self.count = 0
        self.subpaths: list[Subpath] = []
        self.start: Point = (0.0, 0.0)
        self.here: Point = (0.0, 0.0)
        self.handle: Point | None = None  # of the last cubic or quadratic, to be mirrored
        self.last = ""

    def read(self) -> PathData:
        text = self.text
        while True:
            self.at = self._after_gap()
            if self.at >= len(text) or text.strip() == "none":
                return self._done("")
            command = text[self.at]
            kind = command.upper()
            first = not self.last
            if kind not in _COUNT or (first and kind != "M"):
                self._refuse(self.at)
                return self._done(text[self.at :])
            begun = self.at
            self.at += 1
            relative = command.islower()
            if kind == "Z":
                self._close()
                continue
            values = self._arguments(kind)
            if values is None:
                self._refuse(begun)
                return self._done(text[begun:])
            while values is not None:
                self._draw(kind, relative, values)
                kind = "L" if kind == "M" else kind
                values = self._arguments(kind)

    def _after_gap(self) -> int:
        match = _GAP.match(self.text, self.at)
        return match.end() if match else self.at

    def _refuse(self, begun: int) -> None:
        """A number that is not finite is refused, not passed over."""
        letters = "".join(_COUNT)
        after = self.text[begun : begun + 400].strip().lstrip(letters + letters.lower())
        for word in re.split(r"[\s,]+", after.strip()):
            if not re.fullmatch(NUMBER, word):
                refuse_not_finite(word)
                return

    def _done(self, rest: str) -> PathData:
        return PathData([s for s in self.subpaths if s.segments], rest.strip())

    def _arguments(self, kind: str) -> list[float] | None:
        """One set of numbers for a command; None (and no step on) where there is none."""
        at = self.at
        values: list[float] = []
        for i in range(_COUNT[kind]):
            pattern = _FLAG if kind == "A" and i in (3, 4) else _NUMBER
            match = pattern.match(self.text, at)
            if match is None:
                return None
            values.append(finite(match[1]))
            at = match.end()
        self.at = at
        return values

    def _close(self) -> None:
        if self.subpaths and not self.subpaths[-1].closed:
            self.subpaths[-1].closed = True
        self.here = self.start
        self.handle = None
        self.last = "Z"

    def _add(self, segment: Segment) -> None:
        if self.last == "Z":
            # Drawing on after Z begins a new subpath where the last one began.
            self.subpaths.append(Subpath())
        self.count += 1
        if self.count > self.most:
            raise InputError(
                f"the drawing has more than {MOST_SEGMENTS} line segments",
                cure="Take out everything but the pieces, or simplify its paths.",
            )
        self.subpaths[-1].segments.append(segment)
        self.here = segment[-1]

    def _draw(self, kind: str, relative: bool, v: list[float]) -> None:
        ox, oy = self.here if relative else (0.0, 0.0)
        x0, y0 = self.here
        if kind == "M":
            self.here = self.start = (ox + v[0], oy + v[1])
            self.subpaths.append(Subpath())
        elif kind == "L":
            self._add((self.here, (ox + v[0], oy + v[1])))
        elif kind == "H":
            self._add((self.here, (ox + v[0], y0)))
        elif kind == "V":
            self._add((self.here, (x0, oy + v[0])))
        elif kind == "A":
            self._arc(v, (ox + v[5], oy + v[6]))
        else:
            points = [(ox + v[i], oy + v[i + 1]) for i in range(0, len(v), 2)]
            self._curve(kind, points)
            self.last = kind
            return
        self.handle = None
        self.last = kind

    def _curve(self, kind: str, points: list[Point]) -> None:
        here = self.here
        family = "CS" if kind in "CS" else "QT"
        if kind in "ST":
            # The last handle mirrored in the current point, or that point itself.
            seen = self.handle if self.last and self.last in family else None
            x, y = here if seen is None else (2 * here[0] - seen[0], 2 * here[1] - seen[1])
            points = [(x, y), *points]
        if family == "CS":
            self._add((here, *points))
            self.handle = points[1]
        else:
            q, end = points
            self._add((here, _two_thirds(here, q), _two_thirds(end, q), end))
            self.handle = q

    def _arc(self, v: list[float], end: Point) -> None:
        k = self.scale
        start = self.here
        within_reach(*(c * k for c in (*start, *end, v[0], v[1])))
        if min(abs(v[0]), abs(v[1])) * k < _NO_RADIUS:
            if start != end:
                self._add((start, end))
            return
        cubics = arc_to_cubics(
            (start[0] * k, start[1] * k),
            v[0] * k,
            v[1] * k,
            v[2],
            bool(v[3]),
            bool(v[4]),
            (end[0] * k, end[1] * k),
        )
        for i, cubic in enumerate(cubics):
            points = [_pair(p, k) for p in cubic]
            points[0] = self.here
            if i == len(cubics) - 1:
                points[3] = end
            self._add(tuple(points))


def _pair(p: Any, k: float) -> Point:
    return float(p[0]) / k, float(p[1]) / k


def _two_thirds(end: Point, handle: Point) -> Point:
    """A cubic's handle for a quadratic's: two thirds of the way to it."""
    return (
        end[0] + 2.0 / 3.0 * (handle[0] - end[0]),
        end[1] + 2.0 / 3.0 * (handle[1] - end[1]),
    )
