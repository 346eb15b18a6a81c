"""`sizewright check`."""

from __future__ import annotations

from pathlib import Path

import click

from .options import SpreadOptions, debug_option, measure_option, set_option, stretch_option
from .printing import tell


@click.command(cls=SpreadOptions)
@click.argument("file", metavar="FILE|JOB", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON and no text.")
@click.option(
    "--chart",
    type=click.Path(path_type=Path),
    metavar="CHART",
    help="A size chart: the ease of each size on the body of its column is told.",
)
@measure_option
@stretch_option
@set_option
@debug_option
def check(
    file: Path,
    as_json: bool,
    chart: Path | None,
    measures: tuple[str, ...],
    stretch: bool,
    settings: tuple[str, ...],
) -> int:
    """Run every check on a pattern file, or on what a job makes, and write nothing.

    Tells what was found: notes, warnings, and failures (exit code 1). With --chart or
    --measure also the finished measures and the ease that they leave on a body.
    """
    from ..jobs.bodies import parse_measures
    from ..jobs.commands import check_file
    from ..model import Body
    from ..shipped import found_file
    from .progress import progress_bar

    with progress_bar() as progress:
        told = check_file(
            file,
            as_json=as_json,
            settings=settings,
            chart=chart and found_file(chart),
            body=Body(parse_measures(measures), stretch),
            progress=progress,
        )
    return tell(told.lines, told.findings)
