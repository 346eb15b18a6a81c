"""Text elements: their lines, place, letter height and turn."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np

from ...errors import InputError
from ...geometry import affine
from ...geometry.types import Floats
from ..drawing.shapes import Text
from .shapes import Viewport
from .values import numbers, user_length
from .xml_tree import Node

#: What may stand round words within a text.
_SPANS = ("tspan", "a")
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
#: Units of the font's size (an `ex` by CSS where nothing is known of the font).
_EMS = {"em": 1.0, "ex": 0.5}


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


def first_words(node: Node) -> list[Node]:
    """A `text` element and the `tspan` elements in it that its first words stand in."""
    chain = [node]
    while True:
        told = (c for c in chain[-1].content if not isinstance(c, str) or c.strip())
        first = next(told, None)
        if first is None or isinstance(first, str) or first.kind not in _SPANS:
            return chain
        chain.append(first)


def text_line(first: Sequence[Node], matrix: Floats, font: float, viewport: Viewport) -> Text:
    """A `text` element, of whose first words `first_words` tells where they stand.

    Its lines are the `tspan` elements with a place of their own. `font` in user units.
    """
    x = _coordinate(first, "x", viewport.width, font)
    y = _coordinate(first, "y", viewport.height, font)
    start = affine.apply(matrix, np.array([x, y]))
    along = matrix[:, :2] @ np.array([1.0, 0.0])
    # Letter height: how far one unit up the page goes, square to the baseline.
    width = math.hypot(float(along[0]), float(along[1]))
    rise = abs(affine.determinant(matrix)) / width if width > 0 else 0.0
    angle = math.degrees(math.atan2(float(along[1]), float(along[0])))
    text = _content(first[0])
    return Text(text, (float(start[0]), float(start[1])), font * rise, angle)


def _coordinate(first: Sequence[Node], name: str, of: float, font: float) -> float:
    """The x or y at which the first words stand, user units: the innermost that is given."""
    for one in reversed(first):
        if not one.get(name).strip():
            continue
        word = re.split(r"[\s,]+", one.get(name).strip())[0]
        try:
            found, unit = numbers(word.lower())
            if len(found) == 1 and unit in _EMS:
                return found[0] * font * _EMS[unit]
            return user_length(word, percent_of=of)
        except InputError as error:
            raise error.at(f"{one.place}, {name}") from None
    return 0.0


def _content(node: Node) -> str:
    lines: list[str] = [""]
    _into(lines, node, [""])
    if node.get("xml:space") == "preserve":
        return "\n".join(line.replace("\t", " ").replace("\n", " ") for line in lines)
    return "\n".join(" ".join(line.split()) for line in lines)


def _into(lines: list[str], node: Node, height: list[str]) -> None:
    """The words of a node added to lines; `height` is the y of the last of them."""
    for item in node.content:
        if isinstance(item, str):
            lines[-1] += item
        elif item.kind in _SPANS:
            y = item.get("y")
            line = item.get("dy") or item.get("sodipodi:role") == "line"
            if line or (y and y != height[0]):
                if height[0] or lines[-1].strip():
                    lines.append("")
                height[0] = y or height[0] or "0"
            elif y and lines[-1].strip():
                lines[-1] += " "
            _into(lines, item, height)
