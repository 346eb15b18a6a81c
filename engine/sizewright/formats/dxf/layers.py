"""Layers of the DXF that Sizewright writes, and what the names of others' layers hint at."""

from __future__ import annotations

import re
from collections.abc import Mapping

#: Layer for each role, with its colour number (ACI), near those of the palette.
CURVES: Mapping[str, tuple[str, int]] = {
    "cut": ("CUT", 7),
    "sew": ("SEW", 4),
    "unknown": ("OUTLINE", 7),
    "cutout": ("CUTOUT", 7),
    "notch": ("NOTCH", 1),
    "drill": ("DRILL", 1),
    "mark": ("MARK", 3),
    "grain": ("GRAIN", 5),
    "axis": ("AXIS", 8),
    "fold": ("FOLD", 6),
    "adjust": ("ADJUST", 8),
    "label": ("TEXT", 2),
    "picture": ("NAMES", 8),
    "point": ("POINTS", 30),
    "edge": ("EDGES", 30),
    "dart": ("DARTS", 8),
    "pleat": ("DARTS", 8),
    "hold": ("HOLDS", 8),
    "pattern": ("PATTERN", 8),
}

#: First match wins, so the narrower words come first. Parts of words of several languages.
_HINTS: tuple[tuple[str, str], ...] = (
    ("cutout", r"cut-?outs?|holes?|internal-?cuts?|inner-?cuts?|openings?"),
    ("drill", r"drill(?:s|ing|-?holes?)?|punch(?:es)?"),
    ("notch", r"notch(?:es)?|nicks?|v-?notch(?:es)?|slits?"),
    ("grain", r"grain(?:line)?s?"),
    ("axis", r"axis|axes|grade-?(?:line|reference)"),
    ("fold", r"fold(?:s|line)?|mirror(?:line)?"),
    ("sew", r"sew(?:ing|n|line)?|stitch(?:es|ing)?|seams?|seam-?lines?"),
    ("adjust", r"adjust|lengthen|shorten"),
    ("frame", r"frames?|borders?|sheets?|page|paper|title-?block"),
    ("aside", r"construction|guides?|help|dim(?:ension)?s?|names|points|edges|holds"),
    ("mark", r"marks?|marking|internal|inner|inside|draw|pen|plot|darts?|pleats?|buttons?"),
    ("label", r"texts?|labels?|annotations?|notes?"),
    ("cut", r"cut(?:ting|line)?|outlines?|bound(?:ary|aries)?|contours?|outer|pieces?|pattern"),
)
_WORDS = tuple((role, re.compile(words)) for role, words in _HINTS)


def hint(layer: str) -> str:
    """The role that a layer's name hints at; "" where it hints at none.

    >>> hint("Sewing lines"), hint("CUT_OUTS"), hint("0")
    ('sew', 'cutout', '')
    """
    plain = re.sub(r"[\s_.]+", "-", layer.strip().casefold())
    words = [word for word in re.split(r"[-\d]+", plain) if word]
    for role, pattern in _WORDS:
        if pattern.fullmatch(plain) or pattern.fullmatch("-".join(words)):
            return role
    # Two words that stand together, as in "front-cut-out", say more than each of them.
    for role, pattern in _WORDS:
        if any("-" in m[0] for m in pattern.finditer(plain)):
            return role
    for role, pattern in _WORDS:
        if any(pattern.fullmatch(word) for word in words):
            return role
    return ""
