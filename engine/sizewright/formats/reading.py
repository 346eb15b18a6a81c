"""What every reader returns, what it left out, and what a writer returns."""

from __future__ import annotations

from dataclasses import dataclass

from ..findings import Finding
from ..model import Pattern


@dataclass(frozen=True, slots=True)
class SetAside:
    """A shape that was seen and not taken for a piece.

    `name` is its id or label (may be empty), `kind` what it is (`path`, `rect`,
    `text`), `reason` why it was set aside.
    """

    name: str
    kind: str
    reason: str

    def as_dict(self) -> dict[str, str]:
        """The record as the JSON of the command line has it."""
        return {"name": self.name, "kind": self.kind, "reason": self.reason}


@dataclass(frozen=True, slots=True)
class Reading:
    """A pattern as read from a file, with what was set aside and what was found."""

    pattern: Pattern
    set_aside: tuple[SetAside, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Written:
    """The bytes of a file, and what of the pattern it could not hold as it was."""

    data: bytes
    findings: tuple[Finding, ...] = ()

    @property
    def text(self) -> str:
        """The file as text (UTF-8, as SVG is)."""
        return self.data.decode("utf-8")
