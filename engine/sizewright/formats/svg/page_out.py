"""The page that a pattern is written on, and numbers on it: y down, from its top."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ...findings import Finding
from ...geometry import affine
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import Pattern, Piece, Vec
from ..drawing.scribe import Facts
from ..drawing.settled import PLACES, number

#: Margin in mm round pieces that bring no page.
MARGIN = 10.0
_SLACK = 1e-6
_EMPTY = (210.0, 297.0)


class Frame(NamedTuple):
    """A page in mm; its height turns the model's y up into the drawing's y down."""

    width: float
    height: float

    def at(self, place: Vec | Floats) -> Vec:
        """A model's place in the drawing's numbers, not yet rounded."""
        return float(place[0]), self.height - float(place[1])

    def xy(self, place: Vec | Floats, places: int = PLACES) -> tuple[str, str]:
        """A model's place as the drawing's two numbers."""
        x, y = self.at(place)
        return number(x, places), number(y, places)

    def data(self, path: Path, places: int = PLACES, *, short: bool = True) -> str:
        """SVG path data: absolute M, L, C, Z, and `short` for level and upright lines, H, V."""
        words = ["M", *self.xy(path.start, places)]
        x, y = words[1], words[2]
        last = len(path) - 1
        segments = zip(path.controls.tolist(), path.lines.tolist(), strict=True)
        for i, (controls, line) in enumerate(segments):
            to = self.xy(controls[3], places)
            if line and not (path.closed and i == last):
                if to[1] == y and short:
                    words += ["H", to[0]]
                elif to[0] == x and short:
                    words += ["V", to[1]]
                else:
                    words += ["L", *to]
            elif not line:
                words += ["C", *self.xy(controls[1], places), *self.xy(controls[2], places), *to]
            x, y = to
        return " ".join([*words, "Z"] if path.closed else words)


def line_ends(frame: Frame, path: Path) -> Facts:
    """The four numbers of a `line` element."""
    (x1, y1), (x2, y2) = frame.xy(path.start), frame.xy(path.end)
    return {"x1": x1, "y1": y1, "x2": x2, "y2": y2}


def on_page(pattern: Pattern) -> tuple[Pattern, Frame, list[Finding]]:
    """The pattern where it lies on its page, that page, and what had to be moved or grow.

    The pattern's own page serves where all lies on it; else it grows to the right and the
    top, so that coordinates stay. What lies below or left of the page is shifted onto it.
    """
    width, height = (0.0, 0.0) if pattern.page is None else pattern.page
    boxes = np.array([box for piece in pattern.pieces for box in _boxes(piece)])
    if len(boxes) == 0:
        return pattern, _frame(*(pattern.page or _EMPTY)), []
    x0, y0 = boxes[:, 0:2].min(axis=0)
    x1, y1 = boxes[:, 2:4].max(axis=0)
    findings: list[Finding] = []
    dx = 0.0 if x0 >= -_SLACK else float(math.ceil(MARGIN - x0))
    dy = 0.0 if y0 >= -_SLACK else float(math.ceil(MARGIN - y0))
    if dx or dy:
        shift = affine.translation(dx, dy)
        pattern = pattern.replacing(lambda piece: _moved(piece, shift))
        findings.append(
            Finding(
                "shifted",
                "note",
                f"moved {number(dx)} mm right and {number(dy)} mm up, onto the page",
                cure="Sizes and shapes are the same; only coordinates differ.",
            )
        )
    needs = x1 + dx, y1 + dy
    if needs[0] > width + _SLACK or needs[1] > height + _SLACK:
        width = max(width, float(math.ceil(needs[0] + MARGIN)))
        height = max(height, float(math.ceil(needs[1] + MARGIN)))
    return pattern, _frame(width, height), findings


def _moved(piece: Piece, shift: Floats) -> Piece:
    """A piece moved with the one that it was graded from, so that they stay a pair."""
    base = piece.base and _moved(piece.base, shift)
    return replace(piece.transformed(shift), base=base)


def _frame(width: float, height: float) -> Frame:
    return Frame(float(number(width)), float(number(height)))


def _boxes(piece: Piece) -> Iterator[Floats | tuple[float, ...]]:
    """Boxes (x0, y0, x1, y1) of all that a piece draws; curves by their true extremes."""
    paths = [piece.outline.path, *(m.path for m in piece.marks)]
    paths += [c.path for c in piece.cutouts] + [a.path for a in piece.adjusts]
    if piece.cut_line is not None:
        paths.append(piece.cut_line.path)
    for path in paths:
        yield path.bounds
    places = [d.at for d in piece.drills] + [d.apex for d in piece.darts]
    places += [label.at for label in piece.labels]
    for line in (piece.axis, piece.grain):
        places += [line.start, line.end] if line is not None else []
    for place in places:
        yield (*place, *place)
