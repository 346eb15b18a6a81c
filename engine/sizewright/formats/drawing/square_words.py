"""What words in a square, or right beside one, say of how large it should be."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from .lines import Loop
from .shapes import Box, Shape, Text

#: Words are so wide, in their heights, as long as nothing tells it.
_WIDE = 0.5
#: Words beside a square begin so near it: in mm, or in their heights.
_NEAR, _HEIGHTS = 3.0, 3.5
_UNITS = (
    r"(mm|millimet(?:er|re)s?|cm|[cz]entim[eè]t(?:er|re|ro)s?|in(?:ch(?:es)?)?|pouces?|zoll"
    r"|pulgadas?|[\"\u201d\u2033])"
)
_NUMBER = r"(\d{1,4}(?:[.,]\d{1,4})?(?![\d/])|(?:\d{1,2}[ -])?\d{1,2}/\d{1,2})"
LENGTH = re.compile(rf"(?<![\d/.,]){_NUMBER}[ -]?{_UNITS}\u00b2?(?!\w)", re.I)
_TEST = re.compile(
    r"test|scale|check|calibr|contr[o\u00f4]l|kontroll|ma(?:\u00df|ss)stab|[e\u00e9]chelle|escala|prueba|prova"
    r"|proef|measure|100 ?%",
    re.I,
)
_PLAIN_WORD = re.compile(rf"[\d.,/]+(?:{_UNITS}\u00b2?)?|{_UNITS}|[x\u00d7*]|by|=|square", re.I)


def only_length(said: str) -> bool:
    """Whether words say a length and nothing else."""
    return all(map(_PLAIN_WORD.fullmatch, said.split()))


def meant_by(said: str, name: str = "") -> re.Match[str] | None:
    """The length that a square says it is, where it is meant for a test."""
    length = LENGTH.search(said) or LENGTH.search(name)
    return length if length and (_TEST.search(f"{name} {said}") or only_length(said)) else None


def mm(length: re.Match[str]) -> float:
    """What a length says, mm."""
    said, unit = length[1].replace(",", "."), length[2].lower()
    parts = (part.partition("/") for part in re.split(r"[ -]", said))
    number = sum(float(above) / float(below or 1) for above, _, below in parts if float(below or 1))
    return number * (1.0 if unit[0] == "m" else 10.0 if unit[0] == "c" or "ent" in unit else 25.4)


def said_in(held: Sequence[Shape]) -> str:
    """All that words say."""
    return " ".join(t.text for s in held for t in s.texts)


def words_in(loop: Loop, words: Sequence[Shape]) -> list[Shape]:
    """Words that begin in a square, or go through it on a line."""
    x0, y0, x1, y1 = loop.path.bounds
    held = []
    for shape in words:
        boxes = [_box(t) for t in shape.texts if t.angle == 0]
        if loop.holds_words(shape) or any(
            a < x0 and c > (x0 + x1) / 2 and b > y0 and d < y1 for a, b, c, d in boxes
        ):
            held.append(shape)
    return held


def words_beside(
    squares: Sequence[Loop], loops: Sequence[Loop], words: Sequence[Shape]
) -> Iterable[tuple[Loop, list[Shape]]]:
    """Words that lie right beside a square, with the nearest; none that lie in any loop."""
    found: dict[int, list[Shape]] = {}
    for shape in words if squares else ():
        near = min(squares, key=lambda lp: _far(shape, lp))
        if _far(shape, near) > max(_NEAR, _HEIGHTS * max(t.height for t in shape.texts)):
            continue
        if not any(lp.holds_words(shape) for lp in loops):
            found.setdefault(id(near), []).append(shape)
    return [(lp, found[id(lp)]) for lp in squares if id(lp) in found]


def _far(shape: Shape, loop: Loop) -> float:
    x0, y0, x1, y1 = loop.path.bounds
    boxes = [_box(t) for t in shape.texts]
    return min(max(a - x1, x0 - c, b - y1, y0 - d, 0.0) for a, b, c, d in boxes)


def _box(text: Text) -> Box:
    x, y = text.at
    lines = text.text.split("\n")
    wide = _WIDE * text.height * max(map(len, lines)) if text.angle == 0 else 0.0
    return x, y - 1.2 * text.height * (len(lines) - 1), x + wide, y + 0.7 * text.height
