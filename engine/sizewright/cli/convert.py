"""`sizewright convert`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import debug_option, profile_option, set_option, size_option, units_option
from .printing import tell

if TYPE_CHECKING:
    from ..formats.interchange.rules import Deltas
    from ..units import Unit


@click.command()
@click.argument("source", metavar="IN", type=click.Path(path_type=Path))
@click.argument("out", metavar="OUT", type=click.Path(path_type=Path))
@units_option
@set_option
@profile_option
@click.option(
    "--rules",
    type=click.Path(path_type=Path),
    metavar="TABLE",
    help="The grade rules to write beside an interchange drawing.",
)
@click.option(
    "--deltas",
    type=click.Choice(["sample", "neighbour"]),
    help="What the numbers of a rule table file (.rul) count from (default: sample).",
)
@size_option
@debug_option
def convert(
    source: Path,
    out: Path,
    units: Unit | None,
    settings: tuple[str, ...],
    profile: str | None,
    rules: Path | None,
    deltas: Deltas | None,
    size: str | None,
) -> int:
    """Write a pattern file anew, in the format that the ending names.

    IN is read as `show` reads it; OUT is replaced if it is there, and is never IN itself.
    A table of grade rules goes from CSV (.csv) to a rule table file (.rul) and back; --size is
    then the sample size.
    """
    from ..jobs.convert import convert as run

    findings, lines = run(
        source,
        out,
        units=units,
        settings=settings,
        profile=profile,
        size=size,
        rules=rules,
        deltas=deltas,
    )
    return tell(lines, findings)
