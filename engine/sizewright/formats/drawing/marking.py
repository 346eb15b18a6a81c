"""What an element says of itself: `data-` attributes, or a dotted name in their place."""

from __future__ import annotations

from collections.abc import Iterable

from ...errors import InputError
from ...model import Faces, Quantity, Side
from ...units import parse_length
from .names import ROLES, dotted, dotted_of
from .shapes import Element, Marking

#: A worn or stained place of a panel of cloth: a mark of this kind.
FLAW = "flaw"
#: Names that a `data-role` may have.
DATA_ROLES = tuple(sorted(ROLES - {"point", "edge", "dart", "pleat", "hold"}))


def marking_of(element: Element, ident: str | None = None) -> Marking | None:
    """The marking of an element; None where it has none. `ident` stands for its id."""
    a = element.attributes
    name = a.get("data-name")
    role = a.get("data-role", "").strip()
    hold = a.get("data-hold", "").strip().lower()
    hold = "" if hold in ("no", "false") else hold
    found = dotted_of(element) if ident is None else dotted(ident)
    piece = found.piece if found else None
    point, edge = a.get("data-point"), a.get("data-edge")
    dart, pleat = a.get("data-dart"), a.get("data-pleat")
    vertex = point is not None or ("data-rule" in a and not role)
    if role or hold or vertex or edge is not None or dart is not None or pleat is not None:
        if "data-piece" in a and element.kind != "g":
            piece = a["data-piece"] or piece
        kind = a.get("data-kind", "")
        if role == FLAW:
            role, kind = "mark", FLAW
        rule = a.get("data-rule", "").strip() or None
        return Marking(piece, role, point, vertex, edge, dart, pleat, hold, name, kind, rule=rule)
    if found is None or "data-piece" in a:
        # A piece may well bear a dotted name of its own.
        return None
    by_id = ident is not None or (dotted(element.label) is None and dotted(name or "") is None)
    rest, word, rule = found.rest, found.role, None
    if word in ("point", "notch"):
        rest, rule = _with_rule(rest)
    if word == "point":
        return Marking(piece, point=rest or None, vertex=True, by_id=by_id, rule=rule)
    if word in ("edge", "dart", "pleat"):
        return Marking(piece, **{word: rest}, by_id=by_id)  # type: ignore[arg-type]
    if word == "hold":
        return Marking(piece, hold="yes", name=rest or name, by_id=by_id)
    if name is not None and dotted(name):
        name = None
    if word == FLAW:
        return Marking(piece, "mark", name=rest or name, kind=FLAW, by_id=by_id)
    kind = a.get("data-kind", rest if word == "mark" else "")
    name = name or (rest if word != "mark" else "") or None
    rule = a.get("data-rule", "").strip() or rule
    return Marking(piece, word, name=name, kind=kind, by_id=by_id, rule=rule)


def _with_rule(rest: str) -> tuple[str, str | None]:
    """Name and rule of `underarm.rule.side` or `rule.side`; a name alone has no rule."""
    name, found, rule = f".{rest}".partition(".rule.")
    return (name[1:], rule.strip() or None) if found else (rest, None)


# --- values of attributes ------------------------------------------------------------

_YES = {"yes": True, "true": True, "no": False, "false": False}


def bad(element: Element, name: str, text: str, cure: str) -> InputError:
    """The error for an attribute's value that cannot be read."""
    return InputError(f'{name}="{text[:40]}" cannot be read', where=element.place, cure=cure)


def choice(element: Element, name: str, allowed: Iterable[str], default: str) -> str:
    """One of `allowed` words; `default` where the attribute is missing or empty."""
    words = tuple(allowed)
    text = element.get(name).strip().lower()
    if not text:
        return default
    if text not in words:
        raise bad(element, name, text, f"Use one of {', '.join(words)}.")
    return text


def faces(element: Element) -> Faces | None:
    """The `data-faces` of a piece: where it lies on the wearer."""
    word = choice(element, "data-faces", ("front", "back"), "")
    return "front" if word == "front" else "back" if word == "back" else None


def side(element: Element) -> Side:
    """The `data-side` of a piece or feature."""
    word = choice(element, "data-side", ("both", "left", "right"), "both")
    return "left" if word == "left" else "right" if word == "right" else "both"


def flag(element: Element, name: str, default: bool = False) -> bool:
    """A yes or no."""
    return _YES[choice(element, name, _YES, "yes" if default else "no")]


def whole(element: Element, name: str, default: int, allowed: Iterable[int]) -> int:
    """A whole number out of a few."""
    words = [str(n) for n in allowed]
    return int(choice(element, name, words, str(default)))


def length(element: Element, name: str, *, least: float = 0.0) -> float | None:
    """A length with its unit in mm, None where the attribute is missing."""
    text = element.get(name).strip()
    if not text:
        return None
    try:
        value = parse_length(text)
    except InputError as error:
        raise error.at(f"{element.place}, {name}") from None
    if value < least:
        raise bad(element, name, text, "Give a length that is not below zero.")
    return value


def quantities(element: Element, text: str) -> tuple[Quantity, ...]:
    """Quantities such as `main 2, interfacing 1`; a bare number is of `main`."""
    found: list[Quantity] = []
    for part in text.split(","):
        if not part.strip():
            continue
        words = part.split()
        count = 1
        if words[-1].isdecimal() and len(words[-1]) < 5:
            count = int(words.pop())
        elif words[0].isdecimal() and len(words[0]) < 5:
            count = int(words.pop(0))
        elif len(words) > 1 or not any(c.isalpha() for c in part):
            raise bad(element, "data-quantity", text, "Write it like main 2, interfacing 1.")
        found.append(Quantity(" ".join(words) or "main", count))
    names = [q.material for q in found]
    if len(set(names)) != len(names):
        raise bad(element, "data-quantity", text, "Name each material once.")
    return tuple(found)
