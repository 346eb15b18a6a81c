"""Values of `data-` attributes: quantities, lengths, choices."""

from __future__ import annotations

from collections.abc import Iterable

from ...errors import InputError
from ...model import Quantity, Side
from ...units import parse_length
from .xml_tree import Node

_YES = {"yes": True, "true": True, "no": False, "false": False}


def bad(node: Node, name: str, text: str, cure: str) -> InputError:
    """The error for an attribute's value that cannot be read."""
    return InputError(f'{name}="{text[:40]}" cannot be read', where=node.shown(), cure=cure)


def choice(node: Node, name: str, allowed: Iterable[str], default: str) -> str:
    """One of `allowed` words; `default` where the attribute is missing or empty."""
    words = tuple(allowed)
    text = node.get(name).strip().lower()
    if not text:
        return default
    if text not in words:
        raise bad(node, name, text, f"Use one of {', '.join(words)}.")
    return text


def side(node: Node) -> Side:
    """The `data-side` of a piece or feature."""
    word = choice(node, "data-side", ("both", "left", "right"), "both")
    return "left" if word == "left" else "right" if word == "right" else "both"


def flag(node: Node, name: str, default: bool = False) -> bool:
    """A yes or no."""
    return _YES[choice(node, name, _YES, "yes" if default else "no")]


def whole(node: Node, name: str, default: int, allowed: Iterable[int]) -> int:
    """A whole number out of a few."""
    words = [str(n) for n in allowed]
    return int(choice(node, name, words, str(default)))


def length(node: Node, name: str, *, least: float = 0.0) -> float | None:
    """A length with its unit in mm, None where the attribute is missing."""
    text = node.get(name).strip()
    if not text:
        return None
    try:
        value = parse_length(text)
    except InputError as error:
        raise error.at(f"{node.shown()}, {name}") from None
    if value < least:
        raise bad(node, name, text, "Give a length that is not below zero.")
    return value


def quantities(node: Node, text: str) -> tuple[Quantity, ...]:
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
            raise bad(node, "data-quantity", text, "Write it like main 2, interfacing 1.")
        found.append(Quantity(" ".join(words) or "main", count))
    names = [q.material for q in found]
    if len(set(names)) != len(names):
        raise bad(node, "data-quantity", text, "Name each material once.")
    return tuple(found)
