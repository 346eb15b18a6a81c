"""Texts of a DXF drawing: their words, and where these stand."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from ...budget import spend
from ..drawing.shapes import Text

if TYPE_CHECKING:
    from ...geometry.types import Floats
    from .curves_in import Frame


def words_of(entity: Any) -> str:
    """What a text entity shows: codes resolved, `\\U+00E9` too."""
    if entity.dxftype() == "MTEXT":
        # ezdxf may look through the rest of a text, and keep it, at each code.
        looked = len(entity.text) * entity.text.count("\\")
        spend(looked // 10, "the codes of a text", held=looked)
    return decoded(str(entity.plain_text()))


def decoded(text: str) -> str:
    """A string of the file with its `\\U+` codes and stray bytes as letters."""
    if "\\U+" in text:
        from ezdxf.lldxf.encoding import decode_dxf_unicode

        text = decode_dxf_unicode(text)
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
