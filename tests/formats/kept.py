"""What each format keeps of a pattern, found by writing one that says everything and reading it.

`table()` is the table of docs/formats.md.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path as FilePath

from sizewright.findings import Finding
from sizewright.jobs.files import open_pattern, save_pattern
from sizewright.model import Pattern
from tests.formats.kept_facts import FACTS, Fact
from tests.formats.kept_pattern import telling_pattern

#: The columns: heading, ending and profile.
FORMATS = {
    "SVG": (".svg", None),
    "curves": (".dxf", "curves"),
    "interchange": (".dxf", "interchange"),
    "cutter": (".dxf", "cutter"),
}
#: What no format may make of a fact.
SILENT = "LOST IN SILENCE"
#: What counts as unchanged, mm (or degrees).
SAME = 1e-6
#: The bounds that the table tells, mm (or degrees).
BOUNDS = (0.001, 0.01, 0.05, 0.1)


@dataclass(frozen=True)
class Trip:
    """The pattern, what came back of it, and all that was found on the way."""

    before: Pattern
    after: Pattern
    findings: tuple[Finding, ...]

    def tells(self, words: str) -> Finding | None:
        """The first finding that matches, if any."""
        return next((f for f in self.findings if re.search(words, f.text, re.I)), None)


@cache
def trip(name: str) -> Trip:
    """The pattern through one format, by the doors that a user has."""
    ending, profile = FORMATS[name]
    before = telling_pattern()
    with tempfile.TemporaryDirectory() as folder:
        path = FilePath(folder) / f"trip{ending}"
        _, written = save_pattern(before, path, profile=profile)
        reading = open_pattern(path)
    return Trip(before, reading.pattern, (*written, *reading.findings))


def outcome(fact: Fact, name: str) -> str:
    """What a format makes of a fact, in the words of the table."""
    went = trip(name)
    off = fact.after(went.before, went.after)
    if off <= SAME:
        return "kept"
    for bound in BOUNDS:
        if off <= bound:
            return f"kept within {bound:g} mm"
    if fact.told and went.tells(fact.told) is not None:
        return "lost, with a finding"
    return SILENT


def table() -> str:
    """The tables of docs/formats.md."""
    parts: list[str] = []
    for group, facts in FACTS.items():
        rows = [["", *FORMATS], ["---"] * (1 + len(FORMATS))]
        rows += [[fact.what, *(outcome(fact, name) for name in FORMATS)] for fact in facts]
        parts.append(f"### {group}\n\n" + "\n".join(_row(row) for row in rows))
    return "\n\n".join(parts)


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"
