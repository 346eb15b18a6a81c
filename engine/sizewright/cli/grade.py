"""`sizewright grade`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import (
    SpreadOptions,
    debug_option,
    measure_option,
    notes_option,
    profile_option,
    set_option,
    stretch_option,
    units_option,
)
from .printing import tell

if TYPE_CHECKING:
    from ..formats.interchange.rules import Deltas
    from ..units import Unit


@click.command(cls=SpreadOptions)
@click.argument("source", metavar="IN", type=click.Path(path_type=Path))
@click.argument("out", metavar="OUT", type=click.Path(path_type=Path))
@click.option(
    "--to",
    metavar="SIZE[,SIZE...]",
    help="The size or sizes to make; 13 is between 12 and 14.",
)
@click.option("--base", metavar="SIZE", help="The size that IN is drawn in.")
@click.option(
    "--rules",
    type=click.Path(path_type=Path),
    metavar="TABLE",
    help="The table of grade rules: CSV, or a rule table file (.rul) of the open standard. "
    "Without it IN must hold a nest of sizes.",
)
@click.option(
    "--chart",
    type=click.Path(path_type=Path),
    metavar="CHART",
    help="The size chart, for rules by shares and for --measure.",
)
@measure_option
@stretch_option
@click.option(
    "--at",
    "levels",
    multiple=True,
    metavar="LEVEL=SIZE",
    help="Another size at a level, as waist=14. Several may follow.",
)
@click.option("--label", metavar="NAME", default="", help="What to call a body or a blend.")
@click.option(
    "--deltas",
    type=click.Choice(["sample", "neighbour"]),
    help="What the numbers of a rule table file (.rul) count from (default: sample).",
)
@click.option(
    "--points",
    type=click.Path(path_type=Path),
    metavar="CSV",
    help="A list piece,point,rule for a drawing that is not marked up.",
)
@click.option(
    "--square",
    multiple=True,
    metavar="PIECE:POINT",
    help="A corner to square again after grading. May be repeated.",
)
@click.option(
    "--true-seams", is_flag=True, help="Bring seams to length: by a free end, a cap, or darts."
)
@click.option(
    "--true-up-to",
    metavar="LENGTH",
    help="How far an end may move for that (default: 3 mm). It means --true-seams too.",
)
@click.option(
    "--align",
    multiple=True,
    metavar="POINT|PIECE:POINT",
    help="Lay the sizes over each other at this point. May be repeated.",
)
@profile_option
@click.option("--beyond-table", is_flag=True, help="Go past the last size of the table.")
@notes_option
@units_option
@set_option
@debug_option
def grade(
    source: Path,
    out: Path,
    to: str | None,
    base: str | None,
    rules: Path | None,
    chart: Path | None,
    measures: tuple[str, ...],
    stretch: bool,
    levels: tuple[str, ...],
    label: str,
    deltas: Deltas | None,
    points: Path | None,
    square: tuple[str, ...],
    true_seams: bool,
    true_up_to: str | None,
    align: tuple[str, ...],
    profile: str | None,
    beyond_table: bool,
    notes: bool,
    units: Unit | None,
    settings: tuple[str, ...],
) -> int:
    """Grade a pattern to one size, or to several as a nest.

    Every point with a rule moves by it, the lines between follow. With {size} in OUT
    each size is written to a file of its own, as out-{size}.svg. With --measure it is
    graded to a body, with --at to another size at another level. CHART and TABLE may be
    shipped:grade_tables/NAME.csv.
    """
    from ..jobs.bodies import parse_levels, parse_measures
    from ..jobs.commands import brief_lines, parse_sizes
    from ..jobs.grade_order import grade_file
    from ..jobs.orders import GradeOrder, steps_after
    from ..shipped import found_file

    order = GradeOrder(
        to=parse_sizes(to) if to is not None else (),
        rules=rules and found_file(rules),
        points=points,
        square=square,
        beyond_table=beyond_table,
        deltas=deltas,
        chart=chart and found_file(chart),
        measures=parse_measures(measures),
        at=parse_levels(levels),
        label=label,
        stretch=stretch,
        after=steps_after(true_seams if true_up_to is None else true_up_to, align),
    )
    written, findings = grade_file(
        source, out, order, base=base, units=units, settings=settings, profile=profile
    )
    return tell((*written, *brief_lines(findings, notes=notes)), findings)
