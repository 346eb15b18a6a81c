"""What a DXF writer returns."""

from __future__ import annotations

from dataclasses import dataclass

from ...findings import Finding


@dataclass(frozen=True, slots=True)
class Written:
    """The bytes of a DXF file, and what of the pattern it could not hold as it was."""

    data: bytes
    findings: tuple[Finding, ...] = ()
