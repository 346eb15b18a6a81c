"""Pieces made longer or shorter across their adjust lines, or at places."""

from __future__ import annotations

from sizewright.model import Pattern
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl, piece_settings

api = 1


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `lengthen`."""
    return [
        Operation(
            "lengthen",
            "make pieces longer or shorter across adjust lines, or level with places",
            lengthen,
            (
                *piece_settings("lengthen"),
                Setting(
                    "at",
                    "text",
                    "adjust lines by their names, or places, which are cut level by the axis; "
                    "a piece that has several is opened at each by its part",
                    required=True,
                    shape="list",
                ),
                Setting(
                    "by",
                    "length",
                    "how much longer each piece gets in all; a negative length shortens",
                    required=True,
                    by_size=True,
                ),
                Setting("fair", "flag", "whether edges that cross become smooth again", True),
            ),
            before_grading=True,
        )
    ]


def lengthen(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with its pieces longer by `by`; without pieces named, all that have the
    adjust lines."""
    from .lengthening import lengthened

    return lengthened(pattern, values)
