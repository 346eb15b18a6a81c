"""What the words in a piece say: its name, size and quantity, and what is left as labels."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from ...errors import InputError
from ...model import parse_quantity
from .names import plain_name
from .shapes import Shape, Text

#: `LABEL: value`, as pattern files of many makers write it.
_SAID = re.compile(r"\s*([A-Za-z][A-Za-z _-]{1,20}?)\s*+[:=]\s*+(.+)")
#: The number that patterns print before the name of a piece: `1 FRONT`, `2. Yoke`.
_NUMBERED = re.compile(r"\d{1,2}[.):]?\s+(?=[^\W\d]{3})(?!inch|pieces?\b|times\b)", re.IGNORECASE)
#: Words that are no name: `cut 2 on fold`, `12`, `5 cm`.
_NO_NAME = re.compile(r"(?:cut|size|taille|gr)?\W*\d.*|\W*", re.IGNORECASE)
#: How many to cut, in the words of printed patterns: `cut 2`, `Cut 1 on fold`, `Strap (cut 2)`.
_CUT = re.compile(r"(?:.*\W)?cut\s+(\d{1,2})(?:\s+on\s+(?:the\s+)?fold)?\W*", re.IGNORECASE)
#: What stands behind a name in one line with it: `Front, cut 1 on fold`, `Strap (cut 2)`.
_BEHIND = re.compile(r"(?<=\w)[\s,;:(–-]+cut\s+\d.*", re.IGNORECASE)
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
_PAIR = {"yes": "yes", "true": "yes", "no": "no", "false": "no"}


@dataclass
class Said:
    """`name`, `size`, `quantity` and `pair` where words say them, and the other words.

    `spare` is the largest of these that may be a name.
    """

    fields: dict[str, str] = field(default_factory=dict)
    labels: list[tuple[Shape, Text]] = field(default_factory=list)
    spare: str = ""

    def take(self, name: str) -> None:
        """Take a line that is the piece's name from the labels."""
        for k, (shape, text) in enumerate(self.labels):
            lines = text.text.split("\n")
            at = next((i for i, w in enumerate(lines) if plain_name(w) == name), None)
            if at is not None:
                left = "\n".join(lines[:at] + lines[at + 1 :])
                self.labels[k : k + 1] = [(shape, text._replace(text=left))] if left else []
                return


def said_by(shapes: Sequence[Shape]) -> Said:
    """What the words in one piece say.

    Words and block attributes such as `SIZE: 12` are taken at their word, and so is a lone
    `cut 2`; of the others the largest (of equals the first) may be the name.
    """
    out = Said()
    for shape in shapes:
        for text in shape.texts:
            lines = [line.strip() for line in text.text.split("\n") if line.strip()]
            rest = [line for line in lines if not _take(line, text.tag, out.fields)]
            if rest:
                out.labels.append((shape, text._replace(text="\n".join(rest))))
    said = [
        m[1] for _, t in out.labels for line in t.text.split("\n") if (m := _CUT.fullmatch(line))
    ]
    if len(said) == 1:
        out.fields.setdefault("quantity", said[0])
    heads = ((t.height, name_in(t.text.split("\n")[0])) for _, t in out.labels)
    names = [(height, name) for height, name in heads if name]
    if names:
        out.spare = max(names, key=lambda one: round(one[0], 3))[1]
    return out


def name_in(words: str) -> str:
    """The name of a piece that words alone say, without how many to cut; "" for `cut 2` or `5 cm`.

    >>> name_in("Front, cut 1 on fold"), name_in("2 Back"), name_in("cut 1 on fold")
    ('Front', 'Back', '')
    """
    words = _NUMBERED.sub("", words, count=1) if _NUMBERED.match(words) else words
    return "" if _NO_NAME.fullmatch(words) else plain_name(_BEHIND.sub("", words))


def _take(line: str, tag: str, fields: dict[str, str]) -> bool:
    """Whether a line says one of the fields; it is noted then."""
    match = _SAID.fullmatch(line)
    key = _FIELDS.get(" ".join(re.split(r"[ _-]+", (match[1] if match else tag).casefold())))
    if key is None or key in fields:
        return False
    value = (match[2] if match else line).strip()
    if key == "name":
        value = plain_name(value)
    elif key == "quantity":
        try:
            parse_quantity(value)
        except InputError:
            return False
    elif key == "pair":
        value = _PAIR.get(value.casefold(), "")
    if value:
        fields[key] = value
    return bool(value)
