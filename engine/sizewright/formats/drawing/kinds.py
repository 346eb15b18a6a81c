"""Kinds of line in a drawing: what is drawn alike, by colour, width and dashes, or on one layer."""

from __future__ import annotations

import colorsys
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from ...geometry.path import Path
from .lines import layer_of
from .shapes import Shape, Style

#: Colours, widths and dashes so little apart are the same: steps of 255, shares, mm.
_COLOUR, _SHARE, _WIDTH, _DASH = 4, 0.06, 0.02, 0.05
_NAMES = {
    "black": "#000000", "white": "#ffffff", "red": "#ff0000", "lime": "#00ff00",
    "green": "#008000", "blue": "#0000ff", "navy": "#000080", "yellow": "#ffff00",
    "cyan": "#00ffff", "aqua": "#00ffff", "teal": "#008080", "magenta": "#ff00ff",
    "fuchsia": "#ff00ff", "purple": "#800080", "maroon": "#800000", "olive": "#808000",
    "orange": "#ffa500", "brown": "#a52a2a", "pink": "#ffc0cb", "grey": "#808080",
    "gray": "#808080", "silver": "#c0c0c0", "darkgreen": "#006400", "darkblue": "#00008b",
    "crimson": "#dc143c", "violet": "#ee82ee", "gold": "#ffd700", "turquoise": "#40e0d0",
}  # fmt: skip
_NUMBER = re.compile(r"\d+(?:\.\d*)?|\.\d+")
#: Names of hues up to so many degrees.
_HUES = (
    (14, "red"), (42, "orange"), (68, "yellow"), (160, "green"), (196, "turquoise"),
    (258, "blue"), (290, "purple"), (342, "pink"), (361, "red"),
)  # fmt: skip


@dataclass(eq=False)
class Kind:
    """One kind of line: its number from 1, its style, its `layer` where that counts.

    `bits` are its lines, each with the shape that it is drawn in.
    """

    number: int
    style: Style
    layer: str | None
    bits: list[tuple[Shape, Path]] = field(default_factory=list)
    text: str = ""

    @property
    def name(self) -> str:
        """What settings call it."""
        return f"line {self.number}"


def kinds_of(shapes: Iterable[Shape], *, layers: bool) -> list[Kind]:
    """The kinds of line of the shapes that are lined, numbered as they are first drawn.

    With `layers`, lines on different layers are different kinds too.
    """
    kinds: list[Kind] = []
    for shape in shapes:
        layer = layer_of(shape.group) if layers else None
        kind = next((k for k in kinds if k.layer == layer and _alike(k.style, shape.style)), None)
        if kind is None:
            kind = Kind(len(kinds) + 1, shape.style, layer)
            kinds.append(kind)
        kind.bits += [(shape, path) for path in shape.paths]
    for kind in kinds:
        kind.text = _words(kind, kinds)
    return kinds


def lined(style: Style) -> bool:
    """Whether a line is drawn at all, and not only a fill."""
    return style.colour.strip().lower() not in ("none", "transparent")


def rgb(colour: str) -> tuple[int, int, int] | None:
    """Red, green and blue from 0 to 255 of a colour as a file says it; None if not known."""
    plain = colour.strip().lower()
    plain = _NAMES.get(plain, plain)
    if re.fullmatch(r"#[0-9a-f]{6}", plain):
        return int(plain[1:3], 16), int(plain[3:5], 16), int(plain[5:7], 16)
    if re.fullmatch(r"#[0-9a-f]{3}", plain):
        red, green, blue = (17 * int(c, 16) for c in plain[1:])
        return red, green, blue
    if plain.startswith("rgb"):
        parts = _NUMBER.findall(plain)[:3]
        if len(parts) == 3:
            times = 2.55 if "%" in plain else 1.0
            red, green, blue = (min(255, round(float(p) * times)) for p in parts)
            return red, green, blue
    return None


def is_grey(colour: str) -> bool:
    """Whether a colour is black, grey or white, or none that is known."""
    found = rgb(colour)
    return found is None or max(found) - min(found) < 24


def same_colour(a: str, b: str) -> bool:
    """Whether two colours are the same to the eye, however they are written."""
    one, two = rgb(a), rgb(b)
    if one is None or two is None:
        return a.strip().lower() == b.strip().lower()
    return all(abs(p - q) <= _COLOUR for p, q in zip(one, two, strict=True))


def dashes_of(style: Style) -> tuple[float, ...]:
    """Lengths of dashes and gaps, mm; none where the line is solid or the file names a pattern."""
    return tuple(float(n) for n in _NUMBER.findall(style.dashes)) if _plain(style) else ()


def _plain(style: Style) -> bool:
    return bool(re.fullmatch(r"[\d\s.,]*", style.dashes))


def _alike(a: Style, b: Style) -> bool:
    if not same_colour(a.colour, b.colour) or _plain(a) != _plain(b):
        return False
    if a.width is None or b.width is None:
        if a.width is not b.width:
            return False
    elif abs(a.width - b.width) > max(_WIDTH, _SHARE * max(a.width, b.width)):
        return False
    if not _plain(a):
        return a.dashes.casefold() == b.dashes.casefold()
    one, two = dashes_of(a), dashes_of(b)
    return len(one) == len(two) and all(
        abs(p - q) <= max(_DASH, _SHARE * max(p, q)) for p, q in zip(one, two, strict=True)
    )


def _words(kind: Kind, kinds: Sequence[Kind]) -> str:
    """`black solid 0.35 mm`, so that no two kinds are called alike."""
    style = kind.style
    colour = _colour_words(style.colour)
    twins = [k for k in kinds if k is not kind and _colour_words(k.style.colour) == colour]
    if any(not same_colour(k.style.colour, style.colour) for k in twins):
        red, green, blue = rgb(style.colour) or (0, 0, 0)
        colour = f"{colour} #{red:02x}{green:02x}{blue:02x}"
    parts = [colour, _dash_words(style)]
    if style.width:
        parts.append(f"{style.width:.2g} mm")
    text = " ".join(part for part in parts if part)
    if kind.layer is not None:
        text = f'on layer "{kind.layer}"' + (f", {text}" if text else "")
    return text


def _colour_words(colour: str) -> str:
    found = rgb(colour)
    if found is None:
        return f"colour {colour}" if colour.isdigit() else colour
    hue, light, _ = colorsys.rgb_to_hls(*(v / 255 for v in found))
    if light < 0.09 or (max(found) - min(found) < 24 and light < 0.2):
        return "black"
    if max(found) - min(found) < 24:
        return "white" if light > 0.95 else "grey"
    name = next(word for most, word in _HUES if hue * 360 < most)
    if name == "orange" and light < 0.4:
        return "brown"
    return f"dark {name}" if light < 0.25 else f"light {name}" if light > 0.8 else name


def _dash_words(style: Style) -> str:
    if not _plain(style):
        return style.dashes.lower()
    dashes = dashes_of(style)
    if not any(dashes):
        return "solid"
    return f"dashed {' '.join(f'{d:.2g}' for d in dashes)}"
