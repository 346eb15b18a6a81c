"""Text elements: their lines, place, letter height and turn."""

from __future__ import annotations

import math
import re

import numpy as np

from ...errors import InputError
from ...geometry import affine
from ...geometry.types import Floats
from ..drawing.shapes import Text
from .shapes import Viewport
from .values import numbers, user_length
from .xml_tree import Node

#: Factors of the CSS font size words (CSS Fonts: steps from medium, 16 px).
_WORDS = {
    "xx-small": 9.6,
    "x-small": 12.0,
    "small": 14.2,
    "medium": 16.0,
    "large": 19.2,
    "x-large": 24.0,
    "xx-large": 32.0,
}


def font_size(text: str, inherited: float) -> float:
    """A font size in user units; the inherited one where it cannot be read."""
    plain = text.strip().lower()
    if plain in _WORDS:
        return _WORDS[plain]
    try:
        found, unit = numbers(plain)
        if len(found) == 1 and unit in ("em", "%"):
            size = found[0] * inherited / (100.0 if unit == "%" else 1.0)
        else:
            size = user_length(plain)
    except InputError:
        return inherited
    return size if size > 0 else inherited


def text_line(node: Node, matrix: Floats, font: float, viewport: Viewport) -> Text:
    """A `text` element. Its lines are the `tspan` elements with a place of their own."""
    first = _first_tspan(node)
    x = _coordinate(node, first, "x", viewport.width)
    y = _coordinate(node, first, "y", viewport.height)
    start = affine.apply(matrix, np.array([x, y]))
    along = matrix[:, :2] @ np.array([1.0, 0.0])
    # Letter height: how far one unit up the page goes, square to the baseline.
    width = math.hypot(float(along[0]), float(along[1]))
    rise = abs(affine.determinant(matrix)) / width if width > 0 else 0.0
    angle = math.degrees(math.atan2(float(along[1]), float(along[0])))
    text = _content(node)
    return Text(text, (float(start[0]), float(start[1])), font * rise, angle)


def _first_tspan(node: Node) -> Node | None:
    return next((c for c in node.nodes if c.kind == "tspan"), None)


def _coordinate(node: Node, first: Node | None, name: str, of: float) -> float:
    """The first of an element's x or y values, its first tspan's where it has none."""
    for one in (node, first):
        if one is None or not one.get(name).strip():
            continue
        word = re.split(r"[\s,]+", one.get(name).strip())[0]
        try:
            return user_length(word, percent_of=of)
        except InputError as error:
            raise error.at(f"{node.place}, {name}") from None
    return 0.0


def _content(node: Node) -> str:
    keep = node.get("xml:space") == "preserve"
    lines: list[str] = [""]
    begun = False
    for item in node.content:
        if isinstance(item, str):
            lines[-1] += item
        elif item.kind in ("tspan", "a"):
            placed = item.get("y") or item.get("dy") or item.get("sodipodi:role") == "line"
            if placed and (begun or lines[-1].strip()):
                lines.append("")
            begun = True
            lines[-1] += item.text()
    if keep:
        return "\n".join(line.replace("\t", " ").replace("\n", " ") for line in lines)
    return "\n".join(" ".join(line.split()) for line in lines)
