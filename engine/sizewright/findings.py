"""What a reader or a check found: notes, warnings and failures, as plain records."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

#: For knowing, for checking, for mending.
Level = Literal["note", "warn", "fail"]
_RANK = {"note": 0, "warn": 1, "fail": 2}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found.

    `code` is a short stable word (`few-corners`, `seam-short`); `place` is a point,
    edge or seam name, or coordinates in mm; `cure` is what would mend it.

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
        return f"{head.rstrip('.')}. {self.cure}" if self.cure else head


def worst(findings: Iterable[Finding]) -> Level | None:
    """The gravest level among `findings`; None when there are none."""
    ranked = sorted((f.level for f in findings), key=_RANK.__getitem__)
    return ranked[-1] if ranked else None
