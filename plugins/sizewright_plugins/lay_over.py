"""Lays the sizes of each piece over each other at a place."""

from __future__ import annotations

from sizewright.model import Pattern
from sizewright.plugin import Operation, Setting, Values, hookimpl

api = 1


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `lay-over`."""
    return [
        Operation(
            "lay-over",
            "lay the sizes of each piece over each other at a place",
            lay,
            (
                Setting(
                    "at",
                    "place",
                    "places that lie on each other in all sizes, each for the piece that it names "
                    "or else for every piece that has it; pieces without stay as they lie",
                    required=True,
                    shape="list",
                ),
            ),
        )
    ]


def lay(pattern: Pattern, values: Values) -> Pattern:
    """The pattern with its sizes moved; the base size stays where it is."""
    from sizewright.pictures import laid_over

    return laid_over(pattern, values["at"])
