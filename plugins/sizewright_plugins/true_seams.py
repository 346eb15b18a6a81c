"""Brings the seams of a graded pattern to length, where an end of one side is free to move."""

from __future__ import annotations

from sizewright.model import Pattern
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl

api = 1


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `true-seams`."""
    return [
        Operation(
            "true-seams",
            "bring seams to length after grading, where an end is free",
            true,
            (
                Setting(
                    "up-to",
                    "length",
                    "how far an end may move (by default an eightieth of its seam at least, and a "
                    "cap's top a tenth of its height); a seam that needs more is left, and told",
                    "3 mm",
                    low=0.01,
                    high=100,
                ),
            ),
        )
    ]


def true(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with its seams trued, and a finding for each that was or could not be."""
    from sizewright.grading import true_seams

    return Outcome(*true_seams(pattern, values["up-to"]))
