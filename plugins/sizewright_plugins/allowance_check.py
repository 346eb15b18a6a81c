"""Checks that each cutting line is as far from its sewing line as its allowance says."""

from __future__ import annotations

from sizewright.findings import Finding
from sizewright.model import Pattern
from sizewright.plugin import Check, Values, hookimpl

api = 1


@hookimpl
def add_checks() -> list[Check]:
    """The check `allowances`."""
    return [
        Check(
            "allowances",
            "every cutting line outside its sewing line and as far from it as is meant",
            check_allowances,
        )
    ]


def check_allowances(pattern: Pattern, values: Values) -> list[Finding]:
    """What is wrong with the cutting lines, in every size.

    Where a file does not say what is meant, each edge is held to the width in its middle.
    """
    from sizewright.drafting import allowance_faults, measured_allowances

    findings: list[Finding] = []
    for piece in pattern.pieces:
        measured = None if piece.allowances else measured_allowances(piece)
        findings += allowance_faults(piece, measured)
    return findings
