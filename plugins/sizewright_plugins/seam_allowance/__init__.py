"""Adds seam allowance: a width for each edge, corners shaped for how they are pressed."""

from __future__ import annotations

from sizewright.model import Pattern
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl

api = 1

CORNERS = ("mitre", "square", "fold-back", "bevel")


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `seam-allowance`."""
    return [
        Operation(
            "seam-allowance",
            "add seam allowance: sewing line and cutting line are both kept",
            add_allowance,
            (
                Setting(
                    "width",
                    "length",
                    "the width of every edge that is not named below",
                    "1.5 cm",
                    low=0,
                    high=300,
                ),
                Setting(
                    "widths",
                    "length",
                    "widths by edge, run or piece; the fold never has any",
                    default={},
                    low=0,
                    high=300,
                    shape="table",
                ),
                Setting(
                    "changing",
                    "text",
                    "widths that change evenly along an edge, each as "
                    "front: 3 cm at hem-side to 1.5 cm at underarm",
                    default=(),
                    shape="list",
                ),
                Setting(
                    "corners", "choice", "the kind of every other corner", "mitre", choices=CORNERS
                ),
                Setting(
                    "corner-kinds",
                    "choice",
                    "kinds of corner by point",
                    default={},
                    choices=CORNERS,
                    shape="table",
                ),
                Setting(
                    "mitre-limit",
                    "count",
                    "a mitre longer than so many widths is cut off there",
                    3,
                    low=1,
                    high=20,
                ),
                Setting("pieces", "text", "only these pieces", default=(), shape="list"),
                Setting(
                    "inward",
                    "flag",
                    "the outline is the cutting line: draw the sewing line inside it",
                    False,
                ),
            ),
        )
    ]


def add_allowance(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with a cutting line on each piece, in every size."""
    from .allowance import allow

    return allow(pattern, values)
