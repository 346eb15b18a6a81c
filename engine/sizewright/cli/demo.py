"""`sizewright demo`."""

from __future__ import annotations

from pathlib import Path

import click

from .options import debug_option
from .printing import say


@click.command()
@click.argument(
    "folder", metavar="[DIR]", type=click.Path(path_type=Path), default=Path("sizewright-demo")
)
@debug_option
def demo(folder: Path) -> int:
    """Do the whole job on an invented garment, into DIR (default: sizewright-demo).

    DIR also gets the drawing, the job file and the tables, to change and run again.
    """
    from ..jobs.demo import run_demo
    from ..jobs.show import exit_code
    from .progress import progress_bar

    with progress_bar() as progress:
        told = run_demo(folder, progress=progress)
    for line in told.lines:
        say(line)
    return exit_code(told.findings)
