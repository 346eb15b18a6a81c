"""A piece as files hold it: its numbers rounded once, so that a second writing says the same."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...geometry.types import Floats
from ...model import Outline, Piece

#: Decimals of a coordinate in mm: a tenth of a millionth, so that a trip costs under 1e-7 mm.
PLACES = 7


def number(value: float, places: int = PLACES) -> str:
    """A decimal without trailing zeros or exponent.

    It is rounded twice, so that a value halfway between two decimals goes the same way
    whatever the noise in its last bits: else a second writing would differ from the first.
    """
    text = f"{round(round(value, 10), places):.{places}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def rounded(values: Floats, places: int = PLACES) -> Floats:
    """Numbers as `number` writes them."""
    found: Floats = np.round(np.round(values, 10), places)
    return found


def settled(piece: Piece) -> Piece:
    """A piece with all coordinates as they come back from a file, within 1e-7 mm."""
    moved = piece.mapped(rounded)
    labels = []
    for label in piece.labels:
        numbers = *label.at, label.height, label.angle % 360.0
        x, y, height, angle = (float(number(value)) for value in numbers)
        labels.append(replace(label, at=(x, y), height=height, angle=angle % 360.0))
    cut = None if piece.cut_line is None else _settled(piece.cut_line)
    outline = _settled(piece.outline)
    return replace(moved, outline=outline, cut_line=cut, labels=tuple(labels))


def _settled(outline: Outline) -> Outline:
    return outline.with_path(outline.path.with_controls(rounded(outline.path.controls)))
