"""Words of a drawing that are nearly ours: `data-egde`, `front.pont.waist`."""

from __future__ import annotations

import re
from collections.abc import Callable
from difflib import SequenceMatcher
from functools import lru_cache

from ...findings import Finding
from .marking import DATA_ROLES, marking_of
from .names import ROLES
from .shapes import Element

#: Every attribute that the reader knows, without its `data-`.
ATTRIBUTES = frozenset(
    (
        *(
            "allowance",
            "allowances",
            "at",
            "away",
            "base",
            "base-size",
            "bodies",
            "corners",
            "count",
        ),
        *("dart", "depth", "edge", "ends", "faces", "given", "hold", "keep"),
        *("kind", "name", "on", "outline", "pair", "piece", "pleat", "point"),
        *("quantity", "refit", "role", "rule", "runs", "seam", "seams", "side"),
        *("size", "tip"),
    )
)
#: Words at least so alike are one misspelt; so much more where the first letter differs.
_ALIKE, _ALIKE_BUT_FIRST = 0.75, 0.85
#: A misspelt word has at most so many letters more or fewer.
_LONGER = 3
#: Numbers that an editor put behind a word, and the "line" of "grain line", tell nothing.
_BEHIND = re.compile(r"(?:[-_ ]?\d+)+$|[-_ ]?lines?$")
#: Longer words are none of ours misspelt; nor are words further on in a dotted name.
_LONGEST, _MOST_PARTS = 20, 5
#: With more findings than this the drawing is not for us.
_MOST_TOLD = 20


def misspelt(root: Element, shown: Callable[[Element], bool]) -> list[Finding]:
    """A warning for each attribute and each dotted name with a word that is nearly ours.

    `shown` says whether an element is drawn, so that its name counts. The same word is told
    once, with the first place and how many more there are.
    """
    found: dict[tuple[str, str], list[tuple[Element, str]]] = {}
    for element in root.iter():
        for attribute in element.attributes:
            meant = _meant_attribute(attribute)
            if meant:
                found.setdefault((attribute, meant), []).append((element, ""))
        dotted = _nearly_dotted(element) if shown(element) else None
        if dotted is not None:
            name, word, meant = dotted
            found.setdefault((word, f'"{meant}"'), []).append((element, name))
    told = list(found.items())[:_MOST_TOLD]
    return [_finding(word, meant, at) for (word, meant), at in told]


def _finding(word: str, meant: str, at: list[tuple[Element, str]]) -> Finding:
    element, name = at[0]
    more = f" (and {len(at) - 1} more)" if len(at) > 1 else ""
    return Finding(
        "word-unknown",
        "warn",
        f'the name "{name[:60]}" was not understood: there is no "{word[:20]}"{more}'
        if name
        else f'there is no attribute "{word[:60]}"; it was not read{more}',
        place=element.place,
        cure=f"Did you mean {meant}?",
    )


def meant_role(word: str) -> str:
    """`Did you mean "grain"? ` for a misspelt role; "" where none is near."""
    if word.lower() in ROLES.difference(DATA_ROLES):
        return f'Did you mean data-{word.lower()}="NAME"? '
    near = nearest_word(word.lower(), tuple(DATA_ROLES))
    return f'Did you mean "{near}"? ' if near else ""


def _meant_attribute(attribute: str) -> str:
    """How an attribute that is unknown but nearly ours is written; "" for any other."""
    if attribute[:5].lower() != "data-" or attribute[5:] in ATTRIBUTES:
        return ""
    word = attribute[5:].lower()
    if word in DATA_ROLES:
        return f'data-role="{word}"'
    near = nearest_word(word, tuple(sorted(ATTRIBUTES)))
    return f'"data-{near}"' if near else ""


def _nearly_dotted(element: Element) -> tuple[str, str, str] | None:
    """Name, wrong word and meant word of an unmarked shape called like `front.pont.waist`."""
    names = [element.label, element.get("data-name").strip(), element.get("id").strip()]
    names = [n for n in names if "." in n]
    if not names or "data-piece" in element.attributes or marking_of(element) is not None:
        return None
    for name in names:
        for part in name.split(".")[1:_MOST_PARTS]:
            near = nearest_word(part.strip().lower(), tuple(sorted(ROLES)))
            if near:
                return name, part.strip(), near
    return None


@lru_cache(maxsize=4096)
def nearest_word(word: str, known: tuple[str, ...]) -> str:
    """The word of `known` that `word`, in small letters, is nearly; "" where none is."""
    if len(word) > _LONGEST:
        return ""
    word = _BEHIND.sub("", word) or word
    letters = set(word)
    best, most = "", 0.0
    for one in known:
        # Most are told apart by their letters alone, which is quicker.
        if abs(len(word) - len(one)) > _LONGER or 3 * len(letters & set(one)) < 2 * len(letters):
            continue
        alike = SequenceMatcher(None, word, one).ratio()
        least = _ALIKE if one[:1] == word[:1] else _ALIKE_BUT_FIRST
        if alike >= max(least, most + 1e-9):
            best, most = one, alike
    return best
