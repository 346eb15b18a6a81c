"""Names in a drawing: labels and ids, dotted names, sizes, and what they may hold."""

from __future__ import annotations

import re
from dataclasses import dataclass

from .xml_tree import Node

#: Second parts of a dotted name, as in `front.grain`.
ROLES = frozenset(
    {
        *("outline", "sew", "fold", "grain", "axis", "notch", "drill", "mark"),
        *("cutout", "label", "adjust", "picture"),
        *("point", "edge", "dart", "pleat", "hold"),
    }
)

_FORBIDDEN = re.compile(r"[:;=+,\"\n]+")
_ENCODED = re.compile(r"_x([0-9A-Fa-f]{2,4})_")
_COPY = re.compile(r"(?:[-_.]\d+)+$")
_NUMBERED = re.compile(r"^([a-z]+)(?:[-_]?\d+)*$")

_LETTERS = r"(?:\d{0,2}X+S|X*S|S|M|L|X*L|\d{1,2}XL|\d{1,2}X)"
_FIGURES = r"(?:0{1,2}|\d{1,3}(?:[.,]5|½)?)(?: ?(?:P|T|W|M|S|L))?"
_ONE = rf"(?:{_FIGURES}|{_LETTERS})"
_SIZE = re.compile(
    rf"(?:(?:EU|US|UK|DE|FR|IT|AU|JP|INT)[ .]?)?{_ONE}(?: ?[-/–] ?{_ONE})?", re.IGNORECASE
)
_IN_WORDS = re.compile(r"(?:size|sz|gr|größe|taille|talla)[ ._:-]*(.+)", re.IGNORECASE)


def clean(name: str) -> str:
    """`name` without the characters that references and seams use; itself without any.

    >>> clean("front: left")
    'front- left'
    """
    return _FORBIDDEN.sub("-", name).strip("- ") if _FORBIDDEN.search(name) else name


def label_of(node: Node) -> str:
    """The name that a person gave an element in an editor; "" where there is none."""
    return node.get("inkscape:label").strip()


def id_of(node: Node) -> str:
    """The element's id, with the codes that editors put for blanks and such decoded."""
    ident = node.get("id").strip()
    if "_x" in ident:
        ident = _ENCODED.sub(lambda m: chr(int(m[1], 16)), ident)
        ident = ident.lstrip("_")
    return ident


def name_of(node: Node) -> str:
    """Label, else id."""
    return label_of(node) or id_of(node)


@dataclass(frozen=True, slots=True)
class Dotted:
    """A dotted name: `front.point.underarm` is piece front, role point, rest underarm."""

    piece: str
    role: str
    rest: str


def dotted(name: str) -> Dotted | None:
    """A dotted name taken apart; None where the name says no role.

    Numbers that an editor put after the role to keep ids apart are no rest.
    """
    if "." not in name:
        return None
    parts = name.split(".")
    for k in range(1, len(parts)):
        numbered = _NUMBERED.match(parts[k].strip().lower())
        role = numbered[1] if numbered else ""
        if role in ROLES:
            rest = ".".join(parts[k + 1 :]).strip()
            if re.fullmatch(r"[\d.]*", rest):
                rest = ""
            return Dotted(clean(".".join(parts[:k])), role, rest)
    return None


def dotted_of(node: Node) -> Dotted | None:
    """The dotted name of an element: of its label, of a dotted `data-name`, else of its id."""
    for name in (label_of(node), node.get("data-name").strip(), id_of(node)):
        found = dotted(name)
        if found is not None:
            return found
    return None


def without_copy_suffix(ident: str, known: frozenset[str]) -> str:
    """An id without the `-1`, `_2`, `.3` or `-4-7` that an editor put to keep it unique.

    Only where the shorter id is one of `known`: `strap-2` alone is a name of its own.
    """
    match = _COPY.search(ident)
    if match is None:
        return ident
    shorter = ident
    while True:
        cut = re.sub(r"[-_.]\d+$", "", shorter)
        if cut == shorter or not cut:
            return ident
        if cut in known:
            return cut
        shorter = cut


def without_size_suffix(ident: str, size: str | None) -> str:
    """An id without the size at its end: `front-12` in size 12 is `front`."""
    if not size:
        return ident
    for mark in ("-", "_", ".", "@", " "):
        for shown in (size, size.replace(" ", "-"), size.replace(" ", "_")):
            if ident.lower().endswith(f"{mark}{shown.lower()}") and len(ident) > len(shown) + 1:
                return ident[: -len(shown) - 1]
    return ident


def size_in_words(label: str) -> str | None:
    """The size of a label that says so (`size 12`, `Size M`); None otherwise."""
    match = _IN_WORDS.fullmatch(label.strip())
    if match is None:
        return None
    return bare_size(match[1])


def bare_size(label: str) -> str | None:
    """The size of a label that is nothing else (`12`, `XL`, `EU 38`, `10-12`)."""
    plain = label.strip()
    return plain if _SIZE.fullmatch(plain) else None
