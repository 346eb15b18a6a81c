"""`sizewright run`."""

from __future__ import annotations

from pathlib import Path

import click

from .options import debug_option, notes_option
from .printing import tell


@click.command()
@click.argument("job", metavar="JOB.toml", type=click.Path(path_type=Path))
@click.option(
    "--into",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="The folder for the outputs (made if need be). Default: where the job file is.",
)
@click.option(
    "--look-further",
    is_flag=True,
    help="Look for better lays than those that are kept beside the job.",
)
@notes_option
@debug_option
def run(job: Path, into: Path | None, look_further: bool, notes: bool) -> int:
    """Carry out a job file: read, grade, change, check, write.

    Everything in it is checked before anything runs, and the outputs are written
    together at the end: all of them, or none.
    """
    from ..jobs.commands import run_job_file
    from .progress import progress_bar

    with progress_bar() as progress:
        told = run_job_file(
            job, into=into, notes=notes, look_further=look_further, progress=progress
        )
    return tell(told.lines, told.findings)
