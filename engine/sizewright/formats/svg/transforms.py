"""Transform lists of SVG attributes and simple CSS ones, as affine maps (y down)."""

from __future__ import annotations

import math
import re

import numpy as np

from ...errors import InputError
from ...geometry import affine
from ...geometry.types import Floats
from ...units import Unit, parse_css_length
from .values import numbers

_ITEM = re.compile(r"[\s,]*([A-Za-z]+[XY]?)\s*\(([^()]*)\)[\s,]*")
_DEGREES = {"deg": 1.0, "rad": 180.0 / math.pi, "grad": 0.9, "turn": 360.0}
_CSS_ANGLE = re.compile(r"(deg|rad|grad|turn)\b")
_CSS_LENGTH = re.compile(r"(?<=[0-9.])(mm|cm|in|pt|pc|px|q)\b", re.IGNORECASE)
_COUNTS = {
    "matrix": (6,),
    "translate": (1, 2),
    "translateX": (1,),
    "translateY": (1,),
    "scale": (1, 2),
    "scaleX": (1,),
    "scaleY": (1,),
    "rotate": (1, 3),
    "skewX": (1,),
    "skewY": (1,),
}
_BY_LOWER = {name.lower(): name for name in _COUNTS}


def parse_transform(text: str) -> Floats:
    """The map (2, 3) of a transform list such as `translate(10 5) rotate(30)`.

    The first item acts last (SVG 1.1, 7.6). Angles in degrees unless a CSS unit says
    otherwise. Raises InputError for unknown or malformed items.
    """
    maps: list[Floats] = []
    at = 0
    plain = text.strip()
    if plain in ("", "none"):
        return affine.identity()
    while at < len(plain):
        match = _ITEM.match(plain, at)
        if match is None:
            raise _bad(text, plain[at:])
        maps.append(_one(match[1], match[2], text))
        at = match.end()
    with np.errstate(over="ignore", invalid="ignore"):
        return affine.compose(*maps)


def _bad(text: str, part: str) -> InputError:
    return InputError(
        f'the transform "{text.strip()[:60]}" cannot be read at "{part.strip()[:30]}"',
        cure="Use matrix, translate, scale, rotate, skewX and skewY only.",
    )


def _one(name: str, inside: str, text: str) -> Floats:
    kind = _BY_LOWER.get(name.lower())
    if kind is None:
        raise _bad(text, f"{name}({inside})")
    v, rest = numbers(_unitless(inside))
    if rest or len(v) not in _COUNTS[kind]:
        raise _bad(text, f"{name}({inside})")
    match kind:
        case "matrix":
            return affine.affine(*v)
        case "translate":
            return affine.translation(v[0], v[1] if len(v) == 2 else 0.0)
        case "translateX":
            return affine.translation(v[0], 0.0)
        case "translateY":
            return affine.translation(0.0, v[0])
        case "scale":
            return affine.scaling(*v)
        case "scaleX":
            return affine.scaling(v[0], 1.0)
        case "scaleY":
            return affine.scaling(1.0, v[0])
        case "rotate":
            # Positive turns run from x towards y in either direction of y.
            return affine.rotation(v[0], (v[1], v[2]) if len(v) == 3 else (0.0, 0.0))
        case "skewX":
            return affine.affine(1, 0, math.tan(math.radians(v[0])), 1, 0, 0)
    return affine.affine(1, math.tan(math.radians(v[0])), 0, 1, 0, 0)


def _unitless(inside: str) -> str:
    """CSS angles as degrees and CSS lengths as pixels, without their units."""
    if not any(c.isalpha() for c in inside):
        return inside

    def plain(word: str) -> str:
        angle = _CSS_ANGLE.search(word)
        if angle:
            number = word[: angle.start()]
            return repr(float(number) * _DEGREES[angle[1]]) if _is_number(number) else word
        if _CSS_LENGTH.search(word):
            return repr(Unit.PX.from_mm(parse_css_length(word)))
        return word

    return " ".join(plain(word) for word in re.split(r"[\s,]+", inside.strip()))


def _is_number(text: str) -> bool:
    found, rest = numbers(text)
    return len(found) == 1 and not rest
