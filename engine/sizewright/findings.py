"""What a reader or a check found: notes, warnings and failures, as plain records."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Literal

#: For knowing, for checking, for mending.
Level = Literal["note", "warn", "fail"]
_RANK = {"note": 0, "warn": 1, "fail": 2}
#: So many pieces, sizes or places are told by name.
_FEW = 8


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found.

    `code` is a short stable word (`few-corners`, `seam-short`); `place` is a point,
    edge or seam name, or coordinates in mm; `cure` is what would mend it. `at` is where it
    lies in the drawing, mm, for pictures.

    >>> Finding("no-grain", "warn", "it has no grain", "front", cure="Draw one.").line()
    'warn: front: it has no grain. Draw one.'
    """

    code: str
    level: Level
    text: str
    piece: str = ""
    size: str = ""
    place: str = ""
    cure: str = ""
    at: tuple[float, float] | None = field(default=None, compare=False)

    def as_dict(self) -> dict[str, str]:
        """The finding as the JSON of the command line has it."""
        return {
            "code": self.code,
            "level": self.level,
            "piece": self.piece,
            "size": self.size,
            "place": self.place,
            "text": self.text,
            "cure": self.cure,
        }

    def line(self) -> str:
        """One line for a terminal: level, where, text, cure."""
        where = " ".join(part for part in (self.piece, self.size, self.place) if part)
        head = f"{self.level}: {where}: {self.text}" if where else f"{self.level}: {self.text}"
        line = f"{head.rstrip('.')}. {self.cure}" if self.cure else head
        # Only the steps that a cure shows have lines of their own.
        return _BREAK.sub(" ", line)


def told(findings: Iterable[Finding]) -> tuple[str, ...]:
    """Findings as lines for a terminal, `grouped`."""
    return tuple(one.line() for one in grouped(findings))


def grouped(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings that are alike as one, the gravest first.

    Those that say the same, but for their numbers or for what they list after a colon, are
    one, with all their pieces, sizes and places. Where numbers differ the largest stand
    for all, and the text says so.
    """
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for finding in findings:
        same = _NUMBER.sub("#", finding.text.partition(": ")[0])
        # What is told of one cloth is never that of another.
        cloth = finding.place if finding.code.startswith("lay") else ""
        key = (finding.level, finding.code, same, finding.cure, cloth)
        groups.setdefault(key, []).append(finding)
    alike = sorted(groups.values(), key=lambda group: -_RANK[group[0].level])
    return tuple(_as_one(list(dict.fromkeys(group))) for group in alike)


_BREAK = re.compile(r"\n(?!    \S)")
_NUMBER = re.compile(r"(?:≈ )?\d+(?:\.\d+)?(?: \d+/\d+|/\d+)?")


def _as_one(group: list[Finding]) -> Finding:
    """One finding that stands for all of a group."""
    if len(group) == 1:
        return group[0]
    texts = list(dict.fromkeys(finding.text for finding in group))
    pieces = _each(part for finding in group for part in finding.piece.split(", "))
    sizes = _each(finding.size for finding in group)
    # Coordinates say nothing of many places together.
    places = _each(f.place for f in group if not f.place.endswith(" mm"))
    text = max(texts, key=_numbers)
    if len(texts) > 1 and len({_NUMBER.sub("#", t) for t in texts}) > 1:
        head = text.partition(": ")[0]
        items = (item for t in texts for item in t.partition(": ")[2].split(", "))
        text = f"{head}: {', '.join(dict.fromkeys(items))}"
    elif len(texts) > 1:
        text += f" (the most of {len(group)})"
    return replace(
        group[0],
        text=text,
        piece=_few(pieces, "pieces"),
        size=("in " if sizes else "") + _few(sizes, "sizes"),
        place=_few(places, "places"),
    )


def _each(words: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(word for word in words if word))


def _few(words: list[str], what: str) -> str:
    return ", ".join(words) if len(words) <= _FEW else f"{len(words)} {what}"


def _numbers(text: str) -> list[float]:
    """The numbers in a text, to tell which of two texts alike says the most."""
    return [float(found.lstrip("≈ ").split()[0].split("/")[0]) for found in _NUMBER.findall(text)]


def worst(findings: Iterable[Finding]) -> Level | None:
    """The gravest level among `findings`; None when there are none."""
    ranked = sorted((f.level for f in findings), key=_RANK.__getitem__)
    return ranked[-1] if ranked else None
