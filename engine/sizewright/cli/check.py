"""`sizewright check`."""

from __future__ import annotations

from pathlib import Path

import click

from .options import debug_option, set_option
from .printing import say


@click.command()
@click.argument("file", metavar="FILE|JOB", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON and no text.")
@set_option
@debug_option
def check(file: Path, as_json: bool, settings: tuple[str, ...]) -> int:
    """Run every check on a pattern file, or on what a job makes, and write nothing.

    Tells what was found: notes, warnings, and failures (exit code 1).
    """
    from ..jobs.commands import check_file
    from ..jobs.show import exit_code
    from .progress import progress_bar

    with progress_bar() as progress:
        told = check_file(file, as_json=as_json, settings=settings, progress=progress)
    for line in told.lines:
        say(line)
    return exit_code(told.findings)
