"""A drawing in the making: its parts in mm, y up, put on a canvas when its place is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ..geometry.path import Path
from ..geometry.types import Floats
from ..palette import INK, Line
from .canvas import Canvas
from .room import Box

# From the middle of a line of text down to its baseline, in letter heights.
_BASELINE = 0.36


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line or a closed shape."""

    path: Path
    line: Line | None
    fill: str = "none"


@dataclass(frozen=True, slots=True)
class Dot:
    """A circle."""

    at: Floats
    radius: float
    line: Line | None = None
    fill: str = "none"


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text in the middle of its box."""

    text: str
    box: Box
    size: float
    bold: bool = False
    italic: bool = False
    colour: str = INK


@dataclass
class Sketch:
    """Strokes, dots and words in the order in which they are drawn."""

    parts: list[Stroke | Dot | Words] = field(default_factory=list)

    def stroke(self, path: Path, line: Line | None, fill: str = "none") -> None:
        """Add a line or shape."""
        self.parts.append(Stroke(path, line, fill))

    def polyline(
        self,
        points: Floats | Sequence[Sequence[float] | Floats],
        line: Line | None,
        *,
        closed: bool = False,
        fill: str = "none",
    ) -> None:
        """Add straight lines through points."""
        self.stroke(Path.polyline(np.asarray(points), closed=closed), line, fill)

    def dot(
        self, at: Sequence[float] | Floats, radius: float, line: Line | None, fill: str = "none"
    ) -> None:
        """Add a circle."""
        self.parts.append(Dot(np.asarray(at, dtype=np.float64), radius, line, fill))

    def words(self, words: Words) -> None:
        """Add a line of text."""
        self.parts.append(words)

    @property
    def labels(self) -> list[Words]:
        """All lines of text."""
        return [part for part in self.parts if isinstance(part, Words)]

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Box (x0, y0, x1, y1) round everything, text included."""
        corners: list[Floats] = []
        for part in self.parts:
            if isinstance(part, Stroke):
                x0, y0, x1, y1 = part.path.bounds
                corners.append(np.array([[x0, y0], [x1, y1]]))
            elif isinstance(part, Dot):
                corners.append(np.array([part.at - part.radius, part.at + part.radius]))
            else:
                corners.append(part.box.corners)
        points = np.concatenate(corners)
        (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)

    def put(self, canvas: Canvas, dx: float, dy: float) -> None:
        """Draw it, moved by (dx, dy)."""
        move = np.array([dx, dy])
        for part in self.parts:
            if isinstance(part, Stroke):
                moved = part.path.with_controls(part.path.controls + move)
                if part.path.lines.all():
                    canvas.polyline(
                        moved.vertices, part.line, closed=part.path.closed, fill=part.fill
                    )
                else:
                    canvas.path(moved, part.line, fill=part.fill)
            elif isinstance(part, Dot):
                canvas.circle(part.at + move, part.radius, part.line, fill=part.fill)
            else:
                _put_words(canvas, part, move)


def _put_words(canvas: Canvas, words: Words, move: Floats) -> None:
    _, up = words.box.axes
    at = np.array([words.box.x, words.box.y]) - up * _BASELINE * words.size + move
    canvas.text(
        words.text,
        at,
        words.size,
        angle=words.box.angle,
        bold=words.bold,
        italic=words.italic,
        colour=words.colour,
    )
