"""The settings of every operation that draws a line on a piece."""

from __future__ import annotations

from .settings import Setting


def line_settings() -> tuple[Setting, ...]:
    """The settings that `sizewright.drafting.LineAsked` reads: the places that a line goes
    through, or the run that it lies beside."""
    return (
        Setting(
            "through", "place", "places that the line goes through, in order", (), shape="list"
        ),
        Setting(
            "line",
            "choice",
            "straight from place to place, or one fair curve through all",
            "straight",
            choices=("straight", "curve"),
        ),
        Setting(
            "ends",
            "choice",
            "how a curve meets the edge at its start and its end; without it square on a fold "
            "or centre, else free",
            (),
            choices=("square", "free"),
            shape="list",
        ),
        Setting("beside", "run", "a run that the line lies beside, inside the piece"),
        Setting("by", "length", "how far beside it", low=0.1, by_size=True),
    )
