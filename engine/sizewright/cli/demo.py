"""`sizewright demo`."""

from __future__ import annotations

from pathlib import Path

import click

from .options import debug_option
from .printing import tell


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
    from .progress import progress_bar

    with progress_bar() as progress:
        told = run_demo(folder, progress=progress)
    return tell(told.lines, told.findings)
