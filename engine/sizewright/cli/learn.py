"""`sizewright learn`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import debug_option, set_option, units_option
from .printing import tell

if TYPE_CHECKING:
    from ..units import Unit


@click.command()
@click.argument(
    "files", metavar="NEST [FILES...]", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option(
    "-o",
    "--out",
    required=True,
    type=click.Path(path_type=Path),
    metavar="RULES.csv",
    help="The table of rules to write.",
)
@click.option(
    "-p",
    "--points",
    type=click.Path(path_type=Path),
    metavar="POINTS.csv",
    help="The table of points to write, where one is needed (default: RULES-points.csv).",
)
@click.option(
    "--sizes",
    metavar="SIZE,SIZE...",
    help="The sizes from small to large; or the size of each file, where it does not say.",
)
@click.option("--base", metavar="SIZE", help="The size that grading will start from.")
@click.option(
    "--tolerance",
    metavar="LENGTH",
    help="How far the nest given back may be off (default: 0.01 mm). Larger for a nest traced "
    "or scanned: points that move alike within it share a rule.",
)
@click.option(
    "--align",
    multiple=True,
    metavar="POINT|PIECE:POINT",
    help="Where sizes that are drawn apart lie on each other. May be repeated.",
)
@click.option("--each", is_flag=True, help="Tell every point, its rule and how well it fits.")
@units_option
@set_option
@debug_option
def learn(
    files: tuple[Path, ...],
    out: Path,
    points: Path | None,
    sizes: str | None,
    base: str | None,
    tolerance: str | None,
    align: tuple[str, ...],
    each: bool,
    units: Unit | None,
    settings: tuple[str, ...],
) -> int:
    """Recover the grade rules of a nest: all sizes in one file, or a file for each.

    Points are matched by their names, else by the order of corners. The tables together
    give the nest back, and sizes that it does not have.
    """
    from ..jobs.commands import parse_sizes
    from ..jobs.learning import learn_files

    told = learn_files(
        files,
        out,
        points=points,
        sizes=parse_sizes(sizes) if sizes else (),
        base=base,
        tolerance=tolerance,
        align=align,
        each=each,
        units=units,
        settings=settings,
    )
    return tell(told.lines, told.findings)
