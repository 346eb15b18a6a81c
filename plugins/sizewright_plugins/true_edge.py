"""Brings one side of a seam to the length that the other asks for, by an end that is named."""

from __future__ import annotations

from sizewright.model import Pattern
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl

api = 1


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `true-edge`."""
    return [
        Operation(
            "true-edge",
            "slide an end of one side of a seam until it has the length that the other asks for",
            true,
            (
                Setting("seam", "text", "the seam, or a dart as front:waist", required=True),
                Setting(
                    "move", "text", "the end that slides, as back:hem-side; or a cap, as sleeve:cap"
                ),
                Setting(
                    "share",
                    "flag",
                    "an end on each side takes half: the named one and the one that meets it",
                    False,
                ),
                Setting("limit", "length", "how far an end may slide", "2.5 cm", low=0.01),
            ),
            before_grading=True,
        )
    ]


def true(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with the seam true in every size, and a note of each slide."""
    from sizewright.drafting import true_edge

    done = true_edge(
        pattern,
        values["seam"],
        move=values["move"],
        share=values["share"],
        limit=values["limit"],
    )
    return Outcome(done.pattern, done.findings)
