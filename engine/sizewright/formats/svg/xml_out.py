"""XML that a person can read: one element a line, long path data wrapped."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from ...palette import Line
from ..drawing.scribe import Facts, Named
from ..drawing.settled import number

_WIDTH = 100
_ESCAPES: dict[str, str | int | None] = {"&": "&amp;", "<": "&lt;", ">": "&gt;"}
_IN_ATTRIBUTE = {**_ESCAPES, '"': "&quot;", "\t": "&#9;", "\n": "&#10;", "\r": "&#13;"}
_IN_TEXT = {**_ESCAPES, "\r": "&#13;"}


@dataclass
class Tag:
    """One element: attributes in order (None: left out), then text or children."""

    name: str
    attributes: Mapping[str, str | None] = field(default_factory=dict)
    text: str | None = None
    children: list[Tag] = field(default_factory=list)

    def lines(self, indent: int = 0) -> list[str]:
        """The element as lines of text, children two blanks further in."""
        pad = " " * indent
        head = _head(self, indent)
        if self.text is not None:
            inner = _escaped(self.text, _IN_TEXT)
            if self.children:  # text elements: no blank may come in between
                inner += "".join(_inline(child) for child in self.children)
            head[-1] += f">{inner}</{self.name}>"
            return head
        if not self.children:
            head[-1] += "/>"
            return head
        head[-1] += ">"
        for child in self.children:
            head += child.lines(indent + 2)
        return [*head, f"{pad}</{self.name}>"]


def named(name: Named) -> Facts:
    """The id of an element, and its label for editors where that is another."""
    return {"id": name.id, "inkscape:label": name.label}


def stroke(line: Line) -> Facts:
    """A line of the palette as presentation attributes (any program takes those)."""
    dashes = " ".join(number(d) for d in line.dashes) or None
    width = number(line.width)
    return {"stroke": line.colour, "stroke-width": width, "stroke-dasharray": dashes}


def _escaped(text: str, table: dict[str, str | int | None]) -> str:
    return text.translate(str.maketrans(table))


def _pairs(tag: Tag) -> list[str]:
    return [
        f'{name}="{_escaped(value, _IN_ATTRIBUTE)}"'
        for name, value in tag.attributes.items()
        if value is not None
    ]


def _inline(tag: Tag) -> str:
    start = " ".join([f"<{tag.name}", *_pairs(tag)])
    return f"{start}>{_escaped(tag.text or '', _IN_TEXT)}</{tag.name}>"


def _head(tag: Tag, indent: int) -> list[str]:
    """The start tag without its end, broken into lines between attributes."""
    pad = " " * indent
    lines = [f"{pad}<{tag.name}"]
    hang = pad + " " * 4
    for pair in _pairs(tag):
        if len(lines[-1]) + 1 + len(pair) <= _WIDTH:
            lines[-1] += f" {pair}"
            continue
        if not pair.startswith('d="'):
            lines.append(hang + pair)
            continue
        line = hang
        for word in re.findall(r"\S+(?: [-.0-9]\S*)*", pair):  # a command with its numbers
            if line.strip() and len(line) + 1 + len(word) > _WIDTH:
                lines.append(line)
                line = hang + " " * 3
            line += word if not line.strip() else f" {word}"
        lines.append(line)
    return lines
