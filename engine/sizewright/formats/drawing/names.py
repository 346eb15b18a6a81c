"""Names in a drawing: dotted names, sizes, what names hint at, and what they may hold."""

from __future__ import annotations

import re
from collections.abc import Container
from dataclasses import dataclass
from functools import lru_cache

from .shapes import Element

#: Second parts of a dotted name, as in `front.grain`.
ROLES = frozenset(
    {
        *("outline", "sew", "fold", "grain", "axis", "notch", "drill", "mark"),
        *("cutout", "label", "adjust", "picture", "flaw"),
        *("point", "edge", "dart", "pleat", "hold"),
    }
)

_FORBIDDEN = re.compile(r"[:;=+,\"\n]+")
_COPY = re.compile(r"(?:[-_.]\d+)+$")
_NUMBERED = re.compile(r"^([a-z]+)(?:[-_]?\d+)*$")

_LONGEST = 80
#: What programs call shapes, groups and layers by themselves, with a number behind it or not.
_PROGRAM = re.compile(
    r"(?:path|id|rect|circle|ellipse|polygon|polyline|line|use|svg|shape|layer|image|text|tspan|"
    r"object|group|g|curve|surface|page|ebene|calque|capa|livello|laag|warstwa|lager|gruppe|"
    r"groupe|grupo|gruppo|unbenannt|untitled)(?:[-_. ]*+(?=[a-f]*\d)[0-9a-f]++)*+",
    re.IGNORECASE,
)

_LETTERS = r"(?:\d{0,2}X+S|X*S|S|M|L|X*L|\d{1,2}XL|\d{1,2}X)"
_FIGURES = r"(?:0{1,2}|\d{1,3}(?:[.,]5|½)?)(?: ?(?:P|T|W|M|S|L))?"
_ONE = rf"(?:{_FIGURES}|{_LETTERS})"
_SIZE = re.compile(
    rf"(?:(?:EU|US|UK|DE|FR|IT|AU|JP|INT)[ .]?)?{_ONE}(?: ?[-/–] ?{_ONE})?", re.IGNORECASE
)
# "Sizes" is the head of a key, and no size S.
_IN_WORDS = re.compile(r"(?:size|sz|gr|größe|taille|talla)(?!s\b)[ ._:-]*(.+)", re.IGNORECASE)


def clean(name: str) -> str:
    """`name` without the characters that references and seams use; itself without any.

    >>> clean("front: left")
    'front- left'
    """
    return _FORBIDDEN.sub("-", name).strip("- ") if _FORBIDDEN.search(name) else name


def untaken(name: str, taken: Container[str], mark: str = "-") -> str:
    """`name`, or with the first number from 2 behind it that is not taken."""
    found, n = name, 1
    while found in taken:
        n += 1
        found = f"{name}{mark}{n}"
    return found


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


def dotted_of(element: Element) -> Dotted | None:
    """The dotted name of an element: of its label, of a dotted `data-name`, else of its id."""
    for name in (element.label, element.get("data-name").strip(), element.ident):
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


def size_of_layer(name: str) -> str | None:
    """The size of a layer named by a size alone (`12`), or by a role and a size (`CUT-12`)."""
    role, dash, size = name.partition("-")
    if not dash or not hint(role):
        return bare_size(name)
    return size_in_words(size) or bare_size(size) or bare_size(size.replace("_", " "))


def given(name: str) -> bool:
    """Whether a name was given by a person; `path1039`, `Layer 1` and `0` are no names."""
    return bool(name) and name != "0" and not _PROGRAM.fullmatch(name)


def plain_name(text: str) -> str:
    """A text as the name of a piece: one line, without signs that references use."""
    return clean(" ".join(text.split()))[:_LONGEST].strip()


# --- what names hint at ---------------------------------------------------------------

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
    ("mark", r"marks?|flaws?|marking|internal|inner|inside|draw|pen|plot|darts?|pleats?|buttons?"),
    ("label", r"texts?|labels?|annotations?|notes?"),
    ("cut", r"cut(?:ting|line)?|outlines?|bound(?:ary|aries)?|contours?|outer|pieces?|pattern"),
)
_WORDS = tuple((role, re.compile(words)) for role, words in _HINTS)


@lru_cache(maxsize=4096)
def hint(layer: str) -> str:
    """The role that the name of a layer, group or line hints at; "" where it hints at none.

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


def names_role(layer: str) -> bool:
    """Whether a name is that of a role and says nothing else: `marks`, not `inner pocket`."""
    plain = re.sub(r"[\s_.]+", "-", layer.strip().casefold())
    plain = re.sub(r"[-\d]*$|-?lines?[-\d]*$", "", plain)
    return any(pattern.fullmatch(plain) for _, pattern in _WORDS)
