"""`sizewright apply`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import (
    debug_option,
    notes_option,
    profile_option,
    set_option,
    size_option,
    units_option,
)
from .printing import tell

if TYPE_CHECKING:
    from ..units import Unit


@click.command()
@click.argument("operation")
@click.argument("source", metavar="IN", type=click.Path(path_type=Path))
@click.argument("out", metavar="OUT", type=click.Path(path_type=Path))
@click.argument("values", metavar="[SETTING=VALUE ...]", nargs=-1)
@size_option
@units_option
@set_option
@profile_option
@notes_option
@debug_option
def apply(
    operation: str,
    source: Path,
    out: Path,
    values: tuple[str, ...],
    size: str | None,
    units: Unit | None,
    settings: tuple[str, ...],
    profile: str | None,
    notes: bool,
) -> int:
    """Do one operation on a pattern file, and write the pattern anew.

    `sizewright plugins OPERATION` tells the settings. Quote what holds blanks; give a list
    entry by entry, at="front: middle of hem" at=back:#2; give a table key by key,
    widths.hem=4cm. With {size} in OUT each size is written to a file of its own.
    """
    from ..jobs.apply import apply_file

    told = apply_file(
        operation,
        source,
        out,
        values,
        size=size,
        units=units,
        settings=settings,
        profile=profile,
        notes=notes,
    )
    return tell(told.lines, told.findings)
