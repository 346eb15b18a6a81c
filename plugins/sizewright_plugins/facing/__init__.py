"""Drafts facings from the edges that they finish."""

from __future__ import annotations

from sizewright.model import Pattern
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl

api = 1


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `facing`."""
    return [
        Operation(
            "facing",
            "draft facings for edges, from the pieces that have them",
            draft,
            (
                Setting(
                    "along",
                    "run",
                    "the edges that they finish, as front:neck",
                    required=True,
                    shape="list",
                ),
                Setting("width", "length", "how wide they are", required=True, low=5, by_size=True),
                Setting("name", "text", "what they are called: PIECE-NAME", "facing"),
                Setting(
                    "shorter",
                    "length",
                    "by how much they end short of the edge at each free end",
                    "0 mm",
                    low=0,
                ),
                Setting(
                    "roll",
                    "length",
                    "how far their sewn edge lies within the edge that they finish, so that the "
                    "seam rolls inwards",
                    "0 mm",
                    low=0,
                ),
                Setting("one-piece", "flag", "one facing for all, joined at the seams", False),
                Setting(
                    "replaces",
                    "text",
                    "pieces whose place and names they take, in the order of the edges",
                    (),
                    shape="list",
                ),
            ),
            before_grading=True,
        )
    ]


def draft(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with the facings, their seams with the edges and with each other."""
    from .made import drafted

    return drafted(pattern, values)
