"""Drawing on PDF pages in mm, y up: paths as true Bezier curves, fonts embedded."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from io import BytesIO
from pathlib import Path as FilePath
from typing import Any

import numpy as np

from sizewright.geometry import Floats, Path
from sizewright.palette import INK, Line
from sizewright.pictures import Dot, Sketch, Stroke, Words
from sizewright.units import Unit

# The typeface that reportlab ships; its licence lets documents embed it.
_PLAIN, _BOLD = "Vera", "VeraBd"
_POINTS = Unit.PT.from_mm(1.0)
# From the middle of a line of text down to its baseline, in letter heights.
_BASELINE = 0.36
# Handles of a quarter circle: 4/3 tan(90 degrees / 4).
_QUARTER = 4.0 / 3.0 * (2.0**0.5 - 1.0)
_STAND_IN = str.maketrans({"⁄": "/", "′": "'", "″": '"', "−": "-", "\u202f": " ", "\u00a0": " "})


#: Which share of a line's width lies before its anchor.
_BEFORE = {"start": 0.0, "middle": 0.5, "end": 1.0}


class Pen:
    """A PDF in the making. `lacking` collects the characters that its typeface has not."""

    def __init__(self, title: str) -> None:
        from reportlab.pdfgen.canvas import Canvas

        _register()
        self._file = BytesIO()
        self._canvas: Any = Canvas(
            self._file, pageCompression=1, invariant=1, initialFontName=_PLAIN
        )
        self._canvas.setTitle(title)
        self._canvas.setCreator("Sizewright")
        self._canvas.setAuthor("")
        # The print dialogue then begins at true size, where the viewer heeds it.
        self._canvas.setViewerPreference("PrintScaling", "None")
        self.lacking: set[str] = set()

    def bytes(self) -> bytes:
        """The finished file."""
        self._canvas.save()
        return self._file.getvalue()

    @contextmanager
    def page(self, width: float, height: float) -> Iterator[None]:
        """A page of `width` by `height` mm."""
        self._canvas.setPageSize((width * _POINTS, height * _POINTS))
        self._canvas.scale(_POINTS, _POINTS)
        self._canvas.setLineJoin(1)
        yield
        self._canvas.showPage()

    @contextmanager
    def form(self, name: str, width: float, height: float) -> Iterator[None]:
        """A drawing that is stored once, and shown by `show`."""
        self._canvas.beginForm(name, 0, 0, width, height)
        self._canvas.setLineJoin(1)
        yield
        self._canvas.endForm()

    def show(self, name: str, dx: float, dy: float, window: tuple[float, ...]) -> None:
        """A stored drawing moved by (dx, dy), as far as `window` (x0, y0, x1, y1) shows it."""
        with self.clipped(window):
            self._canvas.translate(dx, dy)
            self._canvas.doForm(name)

    @contextmanager
    def clipped(self, window: tuple[float, ...]) -> Iterator[None]:
        """Only what lies within (x0, y0, x1, y1) is shown."""
        x0, y0, x1, y1 = window
        self._canvas.saveState()
        outline = self._canvas.beginPath()
        outline.rect(x0, y0, x1 - x0, y1 - y0)
        self._canvas.clipPath(outline, stroke=0, fill=0)
        yield
        self._canvas.restoreState()

    # --- shapes ---------------------------------------------------------------

    def path(self, path: Path, line: Line | None, *, fill: str = "none") -> None:
        """A chain of lines and cubics."""
        drawn = self._canvas.beginPath()
        drawn.moveTo(*map(float, path.start))
        for controls, straight in zip(path.controls, path.lines, strict=True):
            if straight:
                drawn.lineTo(*map(float, controls[3]))
            else:
                drawn.curveTo(*map(float, controls[1:].ravel()))
        if path.closed:
            drawn.close()
        self._paint(drawn, line, fill)

    def polyline(
        self,
        points: Sequence[Sequence[float]] | Floats,
        line: Line | None,
        *,
        closed: bool = False,
        fill: str = "none",
    ) -> None:
        """Straight lines through points."""
        drawn = self._canvas.beginPath()
        drawn.moveTo(float(points[0][0]), float(points[0][1]))
        for x, y in points[1:]:
            drawn.lineTo(float(x), float(y))
        if closed:
            drawn.close()
        self._paint(drawn, line, fill)

    def box(
        self, x0: float, y0: float, x1: float, y1: float, line: Line | None, fill: str = "none"
    ) -> None:
        """An upright rectangle."""
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        self.polyline(corners, line, closed=True, fill=fill)

    def circle(
        self, at: Sequence[float] | Floats, radius: float, line: Line | None, *, fill: str = "none"
    ) -> None:
        """A circle of four cubics."""
        a, b = radius, radius * _QUARTER
        quarter = np.array([[a, 0], [a, b], [b, a], [0, a]])
        turn = np.array([[0.0, -1.0], [1.0, 0.0]])
        parts = []
        for _ in range(4):
            parts.append(quarter + np.asarray(at, dtype=np.float64))
            quarter = quarter @ turn.T
        self.path(Path.of(parts, closed=True), line, fill=fill)

    def sketch(self, sketch: Sketch, dx: float = 0.0, dy: float = 0.0) -> None:
        """A whole drawing, moved by (dx, dy)."""
        self._canvas.saveState()
        self._canvas.translate(dx, dy)
        for part in sketch.parts:
            if isinstance(part, Stroke):
                self.path(part.path, part.line, fill=part.fill)
            elif isinstance(part, Dot):
                self.circle(part.at, part.radius, part.line, fill=part.fill)
            else:
                self._words(part)
        self._canvas.restoreState()

    def _paint(self, drawn: Any, line: Line | None, fill: str) -> None:
        filled = fill != "none"
        if line is not None:
            self._canvas.setStrokeColor(_colour(line.colour))
            self._canvas.setLineWidth(line.width)
            self._canvas.setLineCap(0 if line.dashes else 1)
            self._canvas.setDash(list(line.dashes))
        if filled:
            self._canvas.setFillColor(_colour(fill))
        if line is not None or filled:
            self._canvas.drawPath(drawn, stroke=int(line is not None), fill=int(filled))

    # --- words ----------------------------------------------------------------

    def text(
        self,
        text: str,
        at: Sequence[float] | Floats,
        size: float,
        *,
        angle: float = 0.0,
        anchor: str = "middle",
        bold: bool = False,
        italic: bool = False,
        colour: str = INK,
    ) -> float:
        """One line of letters `size` mm high from its baseline at `at`; its width, mm.

        `anchor` is start, middle or end. The typeface has no slanted letters.
        """
        shown = self._readable(text)
        wide = measure(shown, size, bold=bold)
        self._canvas.saveState()
        self._canvas.translate(*map(float, at))
        if angle:
            self._canvas.rotate(angle)
        self._canvas.setFillColor(_colour(colour))
        self._canvas.setFont(_BOLD if bold else _PLAIN, size)
        self._canvas.drawString(-wide * _BEFORE[anchor], 0, shown)
        self._canvas.restoreState()
        return wide

    def _words(self, words: Words) -> None:
        """Words in the middle of their box; smaller where they would not fit in it."""
        size = words.size
        wide = measure(self._readable(words.text), size, bold=words.bold)
        if wide > words.box.width * 1.05:
            size *= words.box.width * 1.05 / wide
        _, up = words.box.axes
        at = np.array([words.box.x, words.box.y]) - up * _BASELINE * size
        self.text(words.text, at, size, angle=words.box.angle, bold=words.bold, colour=words.colour)

    def _readable(self, text: str) -> str:
        """The text in letters that the typeface has; `lacking` takes note of the others."""
        known = _letters()
        shown = []
        for char in unicodedata.normalize("NFC", text):
            if ord(char) in known:
                shown.append(char)
                continue
            plain = unicodedata.normalize("NFKD", char.translate(_STAND_IN)).translate(_STAND_IN)
            kept = "".join(c for c in plain if not unicodedata.combining(c))
            if kept and all(ord(c) in known for c in kept):
                # A fraction stands apart from the number before it.
                apart = " " if kept[:1].isdigit() and shown and shown[-1].isdigit() else ""
                shown.append(apart + kept)
            else:
                shown.append("?")
                self.lacking.add(char)
        return "".join(shown)


def measure(text: str, size: float, *, bold: bool = False) -> float:
    """Width of one line of text in mm, letters `size` mm high."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    _register()
    return float(stringWidth(text, _BOLD if bold else _PLAIN, size))


def wrap(text: str, size: float, width: float, *, bold: bool = False) -> list[str]:
    """Lines no wider than `width` mm; a word that is wider stands alone.

    Words with a no-break space between them stay together.
    """
    lines: list[str] = []
    for word in filter(None, re.split(r"[^\S\u00a0]+", text)):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and measure(longer, size, bold=bold) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


@cache
def _register() -> None:
    import reportlab
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    fonts = FilePath(reportlab.__file__).parent / "fonts"
    for name in (_PLAIN, _BOLD):
        registerFont(TTFont(name, str(fonts / f"{name}.ttf")))


@cache
def _letters() -> frozenset[int]:
    from reportlab.pdfbase.pdfmetrics import getFont

    _register()
    plain, bold = (set(getFont(name).face.charToGlyph) for name in (_PLAIN, _BOLD))
    return frozenset(plain & bold)


@cache
def _colour(text: str) -> Any:
    from reportlab.lib.colors import HexColor

    return HexColor(text)
