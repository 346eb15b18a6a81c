"""`sizewright size`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import SpreadOptions, debug_option, file_option, measure_option
from .printing import say

if TYPE_CHECKING:
    from ..grading import Garment


@click.command(cls=SpreadOptions)
@file_option(
    "--chart", "CHART", "The size chart, as shipped:grade_tables/misses-1967.csv.", required=True
)
@measure_option
@click.option(
    "--garment",
    type=click.Choice(["upper", "lower", "full"]),
    help="What the size is for (default: all that the measures tell).",
)
@debug_option
def size(chart: Path, measures: tuple[str, ...], garment: Garment | None) -> int:
    """Which size of a chart a body is, at each measure and on the whole.

    An upper or a full garment goes by the upper chest where it is given, else by bust or
    chest; a lower one by the hip. The last line is the command that grades a pattern to
    this body.
    """
    from ..jobs.bodies import parse_measures
    from ..jobs.size_choice import size_lines

    for line in size_lines(chart, parse_measures(measures), garment):
        say(line)
    return 0
