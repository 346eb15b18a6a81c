"""Room for a fuller bust: a front slashed and turned, its neck, shoulder, armhole and side kept."""

from __future__ import annotations

from sizewright.model import Pattern
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl, piece_settings

api = 1


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `bust-room`."""
    return [
        Operation(
            "bust-room",
            "give a front more room at the bust, and keep neck, shoulder, armhole and side",
            bust_room,
            (
                *piece_settings("give room"),
                Setting(
                    "by",
                    "length",
                    "how far it opens level at the point, on the half as it is drawn",
                    required=True,
                    low=0,
                    high=150,
                    by_size=True,
                ),
                Setting(
                    "point",
                    "place",
                    "the bust point; without it the drill hole bust-point",
                ),
                Setting(
                    "dart",
                    "text",
                    "the dart in the side that takes what the side gains; without it the only one",
                ),
                Setting("new-dart", "place", "or the place on the side where a new one opens"),
                Setting(
                    "waist-dart",
                    "text",
                    "a dart below the point that takes what the waist gains",
                ),
                Setting(
                    "hinge",
                    "place",
                    "where the armhole turns; without it at the named point nearest to its "
                    "middle, else there",
                ),
                Setting(
                    "back-off",
                    "length",
                    "how far the dart's tip stays from the point; without it as it did, a new "
                    "one 1 in",
                    low=0,
                ),
                Setting("fair", "flag", "whether armhole and waist become smooth again", True),
            ),
            before_grading=True,
        )
    ]


def bust_room(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with the fronts opened at the bust as asked."""
    from .adjusted import adjusted

    return adjusted(pattern, values)
