"""`sizewright show`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import debug_option, set_option, size_option, units_option
from .printing import tell

if TYPE_CHECKING:
    from ..units import Unit


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@size_option
@units_option
@set_option
@click.option("--json", "as_json", is_flag=True, help="Print JSON (mm, mm2, y up) and no table.")
@click.option(
    "--picture",
    type=click.Path(path_type=Path),
    metavar="OUT.svg",
    help="Also draw the pieces with numbers, names and lengths.",
)
@click.option(
    "--points",
    type=click.Path(path_type=Path),
    metavar="OUT.csv",
    help="Also write the names that are suggested for corners as a table of points.",
)
@click.option(
    "--marked",
    type=click.Path(path_type=Path),
    metavar="OUT.svg",
    help="Also write the drawing with the corners named so.",
)
@debug_option
def show(
    file: Path,
    size: str | None,
    units: Unit | None,
    settings: tuple[str, ...],
    as_json: bool,
    picture: Path | None,
    points: Path | None,
    marked: Path | None,
) -> int:
    """What is in a pattern file: pieces, corners, edges, lengths.

    FILE is a drawing in SVG, DXF or any other format that a plugin reads. Everything is shown
    in centimetres and inches; corners are numbered from the lowest, then leftmost,
    counter-clockwise.
    """
    from ..jobs.show import (
        looked_over,
        summary_json,
        summary_table,
        write_picture,
    )

    reading = looked_over(file, size=size, units=units, settings=settings)
    names: tuple[str, ...] = ()
    if points is not None or marked is not None:
        from ..jobs.suggest import write_names

        names = write_names(reading, file, points=points, marked=marked)
    if picture is not None:
        write_picture(reading, picture, source=file)
    if as_json:
        return tell([summary_json(reading)], reading.findings)
    lines = [summary_table(reading, name=str(file))]
    if picture is not None:
        lines.append(f"\nPicture: {picture}")
    if names:
        lines.append("\n" + "\n".join(names))
    return tell(lines, reading.findings)
