"""HTML out of text: all that is not made here is escaped."""

from __future__ import annotations

import json
from typing import Any

from sizewright.pictures import escape


class Html(str):
    """Text that is HTML already."""

    __slots__ = ()


def el(tag: str, *inside: str, **attributes: str) -> Html:
    """An element. What is inside is text unless it is `Html`; `_` in a name stands for `-`."""
    return Html(f"<{tag}{_attributes(attributes)}>{joined(*inside)}</{tag}>")


def void(tag: str, **attributes: str) -> Html:
    """An element that holds nothing and has no end."""
    return Html(f"<{tag}{_attributes(attributes)}>")


def joined(*parts: str) -> Html:
    """Parts one after another."""
    return Html("".join(part if isinstance(part, Html) else escape(part) for part in parts))


def name(text: str) -> Html:
    """A name that somebody gave, whichever way its letters run."""
    return el("bdi", text)


def data(value: Any) -> Html:
    """Data for the script, as JSON that no text in it can end."""
    text = json.dumps(value, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    for char in "<>&":
        text = text.replace(char, f"\\u{ord(char):04x}")
    return Html(text)


def _attributes(attributes: dict[str, str]) -> str:
    # A word of Python's own is written with `_` behind it.
    return "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(value)}"'
        for key, value in attributes.items()
    )
