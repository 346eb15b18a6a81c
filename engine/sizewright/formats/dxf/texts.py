"""Texts of a DXF drawing: their words, and where these stand."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np

from ..drawing.shapes import Text

if TYPE_CHECKING:
    from ...geometry.types import Floats
    from .curves_in import Frame


def words_of(entity: Any) -> str:
    """What a text entity shows."""
    if entity.dxftype() == "MTEXT":
        return words_in_lines(str(entity.text))
    return words_in_line(str(entity.dxf.text))


def words_in_line(text: str) -> str:
    """What the string of a TEXT shows: its codes resolved, `\\U+00E9` too."""
    line = one_line(_carets(text))
    return decoded(_SIGN.sub(lambda code: _SIGNS.get(code[1].lower(), ""), line))


def one_line(text: str) -> str:
    """`text` as a TEXT can hold it."""
    return text.replace("\n", "").replace("\r", "").rstrip("^")


def words_in_lines(text: str) -> str:
    """What the string of a MTEXT shows: its codes resolved, `\\U+00E9` too."""
    # Behind the last semicolon no code is ended, and none need be looked for.
    ended, semicolon, rest = _carets(text).rpartition(";")
    return decoded(_CODE.sub(_shown, ended + semicolon) + _SHORT_CODE.sub(_shown, rest))


#: Signs by their codes, `%%d` and so on.
_SIGNS = {"c": "Ø", "d": "°", "p": "±", "%": "%"}
#: Such a code in a TEXT, or one that starts or ends a line over, through or under the words.
_SIGN = re.compile(r"%%([cdp%kou]|\Z)", re.IGNORECASE)
_SHORT = r"%%(?P<sign>.?)|\\(?P<one>[\\{}PNLlOoKkX])|(?P<none>[{}]|\\\Z)"
#: A code of a MTEXT; one that takes something ends with a semicolon, and is kept where it does not.
_CODE = re.compile(rf"{_SHORT}|\\S(?P<stacked>[^;]*);|\\[^;]*;", re.DOTALL)
_SHORT_CODE = re.compile(rf"{_SHORT}|(?P<kept>\\.)", re.DOTALL)
#: What a code of one letter shows, if not itself.
_ONE = {"P": "\n", "N": " ", **dict.fromkeys("LlOoKkX", "")}


def _shown(code: re.Match[str]) -> str:
    what, value = code.lastgroup, code[code.lastgroup or 0]
    if what == "sign":
        return _SIGNS.get(value.lower(), f"%%{value}" if value else "")
    if what == "one":
        return _ONE.get(value, value)
    return value if what in ("stacked", "kept") else ""


def _carets(text: str) -> str:
    """`text` with the control signs that stand in it as a caret and a letter."""
    return re.sub(r"\^(.)", lambda pair: chr((ord(pair[1]) - 64) % 126), text)


def decoded(text: str) -> str:
    """A string of the file with its `\\U+` codes and stray bytes as letters."""
    if "\\U+" in text:
        text = re.sub(r"\\U\+([0-9A-Fa-f]{4})", lambda code: chr(int(code[1], 16)), text)
    if not text.isascii() and any("\ud800" <= c <= "\udfff" for c in text):
        text = text.encode("utf-8", "surrogateescape").decode("utf-8", "replace")
    return text


def text_of(entity: Any, frame: Frame) -> Text | None:
    """A text's words, baseline start, letter height in mm and turn in degrees."""
    along: Floats
    if entity.dxftype() == "MTEXT":
        words = words_of(entity)
        height = float(entity.dxf.char_height)
        start = np.array(tuple(entity.dxf.insert), dtype=float)
        if entity.dxf.hasattr("text_direction"):
            along = np.array(tuple(entity.dxf.text_direction), dtype=float)
            along /= np.linalg.norm(along)
        else:
            angle = math.radians(float(entity.dxf.get("rotation", 0.0)))
            along = np.array([math.cos(angle), math.sin(angle), 0.0])
        up = np.array([-along[1], along[0], 0.0])
        # Attachment points run in threes from the top; the first line's base is meant.
        row = (int(entity.dxf.get("attachment_point", 1)) - 1) // 3
        rows = words.count("\n") + 1
        start = start - up * height * (1.0 if row == 0 else 0.5 if row == 1 and rows == 1 else 0.0)
    else:
        words = words_of(entity)
        height = float(entity.dxf.height)
        ocs = entity.ocs()
        aligned = int(entity.dxf.get("halign", 0)) or int(entity.dxf.get("valign", 0))
        place = entity.dxf.get("insert")
        if place is None or (aligned and not any(place) and entity.dxf.hasattr("align_point")):
            place = entity.dxf.align_point
        start = np.array(tuple(ocs.to_wcs(place)), dtype=float)
        angle = math.radians(float(entity.dxf.get("rotation", 0.0)))
        along = np.array(tuple(ocs.to_wcs((math.cos(angle), math.sin(angle), 0.0))), dtype=float)
        up = np.array(tuple(ocs.to_wcs((-math.sin(angle), math.cos(angle), 0.0))), dtype=float)
    if not words.strip():
        return None
    at, tip, top = frame.place(np.array([start, start + along, start + height * up]))
    size = float(np.hypot(*(top - at)[:2]))
    turn = math.degrees(math.atan2(tip[1] - at[1], tip[0] - at[0]))
    tag = str(entity.dxf.get("tag", "")) if entity.dxftype() == "ATTRIB" else ""
    return Text(words, (float(at[0]), float(at[1])), size, turn, tag)
