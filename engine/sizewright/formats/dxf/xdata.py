"""Attributes that ride on entities: extended data under one application name.

Each attribute is a string `name=value`, cut into pieces that fit; a piece that goes on
begins with `+`. All is plain ASCII: other signs, and those that programs read as codes, are
written as UTF-8 bytes with per cent signs.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import quote, unquote

APPID = "SIZEWRIGHT"
#: A string of extended data may hold 255 bytes, all data of an entity 16 kB.
_LONGEST = 240
_MOST = 15_000
_SAFE = " !\"#$&'()*,-./:;<=>?@[]_`{|}"


def as_strings(attributes: Mapping[str, str]) -> list[str] | None:
    """Attributes as the strings that an entity bears; None where they are too long for it."""
    strings: list[str] = []
    for name, value in attributes.items():
        text = f"{name}={_quoted(value)}"
        strings.append(text[:_LONGEST])
        rest = text[_LONGEST:]
        while rest:
            strings.append("+" + rest[:_LONGEST])
            rest = rest[_LONGEST:]
    return strings if sum(len(s) + 3 for s in strings) <= _MOST else None


def attributes_of(entity: Any) -> dict[str, str]:
    """The attributes that an entity bears as `as_strings`; empty where there are none."""
    if not entity.has_xdata(APPID):
        return {}
    whole: list[str] = []
    for code, value in entity.get_xdata(APPID):
        if code != 1000 or not isinstance(value, str):
            continue
        if value.startswith("+") and whole:
            whole[-1] += value[1:]
        elif "=" in value:
            whole.append(value)
    pairs = (text.split("=", 1) for text in whole)
    return {name: unquote(value) for name, value in pairs}


def _quoted(value: str) -> str:
    done = quote(value, safe=_SAFE)
    # Blanks at the ends of a line, also where it may be cut, are lost in some programs.
    return done.replace(" ", "%20") if done != done.strip() or len(done) > 200 else done
