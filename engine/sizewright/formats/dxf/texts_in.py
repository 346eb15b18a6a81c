"""What the texts in a piece say: its name, size and quantity, and what is left as labels."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from ...errors import InputError
from ...model import parse_quantity
from ..svg.names import clean
from ..svg.text import TextLine
from .entities import Entity

#: `LABEL: value`, as pattern files of many makers write it.
_SAID = re.compile(r"\s*([A-Za-z][A-Za-z _-]{1,20}?)\s*[:=]\s*(.+?)\s*")
_FIELDS = {
    "name": "name",
    "piece": "name",
    "piece name": "name",
    "part": "name",
    "size": "size",
    "quantity": "quantity",
    "qty": "quantity",
    "cut": "quantity",
    "pair": "pair",
}
_LONGEST = 80
_PAIR = {"yes": "yes", "true": "yes", "no": "no", "false": "no"}


@dataclass
class Said:
    """`name`, `size`, `quantity` and `pair` where texts say them, and the other texts."""

    fields: dict[str, str] = field(default_factory=dict)
    labels: list[tuple[Entity, TextLine]] = field(default_factory=list)


def said_by(texts: Sequence[Entity], *, named: bool) -> Said:
    """What the texts of one piece say.

    Texts and block attributes such as `SIZE: 12` are taken at their word; without a name
    among them the largest other text (of equals the first) is the name, unless the piece is
    `named` some other way.
    """
    out = Said()
    for entity in texts:
        assert entity.text is not None
        rest = []
        for line in entity.text.text.split("\n"):
            if not line.strip():
                continue
            if not _take(line, entity.tag, out.fields):
                rest.append(line.strip())
        if rest:
            out.labels.append((entity, replace(entity.text, text="\n".join(rest))))
    if "name" not in out.fields and not named and out.labels:
        best = max(out.labels, key=lambda one: round(one[1].height, 3))
        first, *others = best[1].text.split("\n")
        if plain_name(first):
            out.fields["name"] = plain_name(first)
            k = out.labels.index(best)
            left = [(best[0], replace(best[1], text="\n".join(others)))] if others else []
            out.labels[k : k + 1] = left
    return out


def plain_name(text: str) -> str:
    """A text as the name of a piece: one line, without signs that references use."""
    return clean(" ".join(text.split()))[:_LONGEST].strip()


def _take(line: str, tag: str, fields: dict[str, str]) -> bool:
    """Whether a line says one of the fields; it is noted then."""
    match = _SAID.fullmatch(line)
    key = _FIELDS.get(" ".join(re.split(r"[ _-]+", (match[1] if match else tag).casefold())))
    if key is None or key in fields:
        return False
    value = match[2] if match else line.strip()
    if key == "name":
        value = plain_name(value)
    elif key == "quantity":
        try:
            parse_quantity(value)
        except InputError:
            return False
    elif key == "pair":
        value = _PAIR.get(value.casefold(), "")
    if not value:
        return False
    fields[key] = value
    return True
