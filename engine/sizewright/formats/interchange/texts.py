"""Texts that mean something: `LABEL: value` for a style or piece, `# n` for a grade rule."""

from __future__ import annotations

import re
import unicodedata

_LABELLED = re.compile(r"\s*+([^\W\d_][\w /.-]*+)\s*+[:=](.*)", re.DOTALL)
_RULE = re.compile(r"\s*+(?:#|(?:grade\s*+)?rule\s*+[:#]?)\s*+([\w.-]++)\s*+", re.IGNORECASE)
_ALIKE = {
    "piece": "piecename",
    "name": "piecename",
    "partname": "piecename",
    "qty": "quantity",
    "fabric": "material",
    "style": "stylename",
    "basesize": "samplesize",
    "sample": "samplesize",
    "ruletable": "graderuletable",
    "graderuletablename": "graderuletable",
    "unit": "units",
}
#: Labels of a style as a whole, and of one piece.
_OF_STYLE = "author creationdate creationtime stylename samplesize graderuletable units version"
STYLE = frozenset(_OF_STYLE.split())
PIECE = frozenset(["piecename", "size", "quantity", "category", "material", "annotation"])
#: Letters that do not come apart into a plain letter and an accent, each with what it becomes.
_ODD = (
    "ßss ẞSS æae ÆAE œoe ŒOE øo ØO łl ŁL đd ĐD ðd ÐD þth ÞTh ıi –- —- −- ‘' ’' “\" ”\" ×x ·. …... "
    "½1/2 ¼1/4 ¾3/4"
)
_PLAIN = {ord(pair[0]): pair[1:] for pair in _ODD.split()}


def labelled(text: str) -> tuple[str, str] | None:
    """A known label in one spelling (`piecename`) and its value; None for other texts."""
    match = _LABELLED.fullmatch(text)
    if match is None:
        return None
    key = re.sub(r"[^a-z]", "", match[1].casefold())
    key = _ALIKE.get(key, key)
    if key not in STYLE | PIECE:
        if "version" not in key:
            return None
        key = "version"
    return key, " ".join(match[2].split())


def rule_of(text: str) -> str | None:
    """The rule number of a text like `# 12`, without idle zeros; None for other texts."""
    match = _RULE.fullmatch(text)
    if match is None:
        return None
    number = match[1]
    plain = number.isascii() and number.isdigit()
    return (number.lstrip("0") or "0") if plain else number


def ascii_only(text: str) -> str:
    """`text` in 7-bit letters: accents dropped, other signs as `_`."""
    apart = unicodedata.normalize("NFKD", text.translate(_PLAIN)).translate(_PLAIN)
    letters = (c for c in apart if not unicodedata.combining(c))
    return "".join(c if " " <= c <= "~" else " " if c.isspace() else "_" for c in letters)
