"""Findings about one piece."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from ...findings import Finding, Level
from ...model import Vec


@dataclass
class Told:
    """What was found about the piece `name` in `size`."""

    name: str
    size: str | None
    findings: list[Finding] = field(default_factory=list)

    def find(
        self, code: str, level: Level, text: str, cure: str = "", *, at: Vec | None = None
    ) -> None:
        """Add a finding, at a place in mm."""
        place = "" if at is None else f"({at[0]:.1f}, {at[1]:.1f}) mm"
        self.findings.append(Finding(code, level, text, self.name, self.size or "", place, cure))

    def take(self, findings: Iterable[Finding]) -> None:
        """Add findings that do not say the piece yet."""
        self.findings += [replace(f, piece=self.name, size=self.size or "") for f in findings]
