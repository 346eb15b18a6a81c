"""Fullness put in: a piece is slashed from one run to another and spread, for flare, gathers
or pleats."""

from __future__ import annotations

from sizewright.model import Pattern
from sizewright.plugin import (
    Operation,
    Outcome,
    Setting,
    Values,
    hookimpl,
    piece_settings,
)

api = 1


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `spread`."""
    return [
        Operation(
            "spread",
            "put fullness in: flare, gathers or pleats",
            spread,
            (
                *piece_settings("spread"),
                Setting("from", "run", "the run that is opened, as a hem", required=True),
                Setting("to", "run", "the run where the cuts end, as a waist", required=True),
                Setting(
                    "cuts",
                    "count",
                    "how many; without it as many as let none turn by more than 3 degrees",
                    low=1,
                    high=300,
                ),
                Setting(
                    "by",
                    "length",
                    "how far all cuts together open at from, on the piece as it is drawn",
                    low=0,
                    by_size=True,
                ),
                Setting(
                    "by-to",
                    "length",
                    "how far they open at to; without it 0 for a flare, else as by",
                    low=0,
                    by_size=True,
                ),
                Setting(
                    "to-length",
                    "length",
                    "instead of by: how long from is to be afterwards",
                    low=1,
                    by_size=True,
                ),
                Setting(
                    "kind",
                    "choice",
                    "what the fullness is for",
                    "flare",
                    choices=("flare", "gather", "pleat"),
                ),
                Setting(
                    "pleat",
                    "choice",
                    "pressed to one side, with two folds away from each other, or towards "
                    "each other",
                    "knife",
                    choices=("knife", "box", "inverted"),
                ),
                Setting(
                    "towards",
                    "choice",
                    "which way knife pleats are pressed",
                    "centre",
                    choices=("centre", "side"),
                ),
                Setting("depth", "length", "how deep a pleat is, fold to fold", low=0.1),
                Setting(
                    "grain",
                    "choice",
                    "as it was, or anew through the middle of a flared panel",
                    "kept",
                    choices=("kept", "middle"),
                ),
                Setting(
                    "fair",
                    "flag",
                    "whether the opened edges become smooth curves; the mouths of pleats never do",
                    True,
                ),
            ),
            before_grading=True,
        )
    ]


def spread(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with the pieces spread as asked. Amounts are of the pieces as they are drawn."""
    from .asked import Asked
    from .spreading import spread_out

    return spread_out(pattern, Asked.of(pattern, values))
