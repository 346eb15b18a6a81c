"""Grading as a job or the command line orders it."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import PurePath
from typing import TYPE_CHECKING

from ..errors import UsageError
from ..findings import Finding
from ..model import Body
from ..plugin import Making, Plugins, apply_operation, look_over
from .bodies import doubting
from .charts import charts_together
from .files import Given, open_pattern, save_pattern, some_piece
from .job_file import GradeOrder
from .ready import ready
from .show import refuse_unsaid
from .write_out import check_name

if TYPE_CHECKING:
    from ..grading import Asked, SizeChart
    from ..model import Pattern
    from ..units import Unit
    from .rule_files import Rules


def grade_file(
    source: str | os.PathLike[str],
    out: str | os.PathLike[str],
    order: GradeOrder,
    *,
    base: str | None = None,
    units: Unit | None = None,
    settings: Given = (),
    profile: str | None = None,
) -> tuple[tuple[str, ...], tuple[Finding, ...]]:
    """Grade a file to the ordered sizes and write them: the files written, and findings.

    Several sizes make one nest, unless `out` holds `{size}`. `settings` are the reader's;
    `profile` names the writer, and one that takes rules gets them. Nothing is written when
    anything stops on the way.
    """
    from ..laying import spread_apart

    plugins = Plugins.discover()
    check_name(PurePath(out).name)
    plugins.writer_of(os.fspath(out), profile)
    after = [ready(step, plugins.operation) for step in order.after]
    reading = open_pattern(source, plugins=plugins, units=units, settings=settings)
    findings = list(reading.findings)
    pattern = graded(some_piece(reading, os.fspath(source)).pattern, order, base, findings)
    for one in after:
        outcome = apply_operation(one.run, pattern, one.values)
        pattern = outcome.pattern
        findings += outcome.findings
    pattern, moved = spread_apart(pattern, reading.pattern)
    findings += [*moved, *look_over(plugins, pattern, "job")]
    names, written = save_pattern(
        pattern,
        out,
        sources=[source, *order.sources],
        plugins=plugins,
        profile=profile,
        rules=ordered_rules(order).table if order.rules else None,
        deltas=order.deltas,
        making=Making(reading.pattern, lambda: findings),
    )
    return names, (*findings, *written)


def ordered_rules(order: GradeOrder) -> Rules:
    """The rule table of an order, whatever kind of file it is. Raises UsageError for none."""
    from .rule_files import open_rules

    if order.rules is None:
        raise UsageError("no rules are given", cure="Give a table of rules (--rules).")
    return open_rules(order.rules, deltas=order.deltas)


def sizes_made(order: GradeOrder) -> tuple[str, ...] | None:
    """The labels of the sizes that an order makes; None where only the drawing can tell them.

    Raises what grading raises for sizes that are not in the tables.
    """
    from ..grading import read_chart, wanted_sizes

    if order.rules is None or order.measures or order.at:
        return None
    chart = read_chart(order.chart) if order.chart else None
    rules = ordered_rules(order).table
    return wanted_sizes(rules, order.to, chart=chart, beyond=order.beyond_table)


def _sizes_apart(pattern: Pattern, rules: Rules, base: str | None) -> list[Finding]:
    """Where the sizes of a drawing and of its rule table do not go together."""
    from ..grading import same_size

    found: list[Finding] = []
    if rules.sample is not None and base and same_size(rules.sample) != same_size(base):
        text = f"the rules count from size {rules.sample}, the pattern is drawn in {base}"
        cure = "Grading goes by the difference of the two; check that the rules belong to it."
        found.append(Finding("sample-differs", "warn", text, cure=cure))
    known = {same_size(size) for size in rules.table.sizes}
    odd = [size for size in pattern.sizes if same_size(size) not in known]
    if odd and rules.table.kind == "steps":
        text = f"the drawing has sizes that the rule table has not: {', '.join(odd)}"
        found.append(Finding("sizes-not-in-table", "note", text))
    return found


def pointed(
    pattern: Pattern, order: GradeOrder, findings: list[Finding]
) -> tuple[Pattern, GradeOrder]:
    """The pattern with every rule that the order gives its points, and the order without its
    table of points; `findings` gets what is found.

    For operations before grading: what they make of a point takes the point's rule along.
    """
    if order.rules is None:
        return pattern, order
    from ..grading import check_points, named_alike, read_points, with_points

    points = tuple(read_points(order.points)) if order.points else ()
    check_points(pattern.pieces, points)
    marked = [with_points(piece, points) for piece in pattern.pieces]
    pieces, found = named_alike(marked, ordered_rules(order).table)
    findings += found
    return pattern.with_pieces(pieces), replace(order, points=None)


def graded(
    pattern: Pattern, order: GradeOrder, base: str | None, findings: list[Finding]
) -> Pattern:
    """The pattern in the ordered sizes, before what comes after; `findings` gets what is found."""
    from ..grading import Asked, doubtful_tables, level_name, read_chart

    asked = Asked(order.measures, order.at, order.label)
    chart = read_chart(order.chart) if order.chart else None
    rules = ordered_rules(order) if order.rules else None
    if chart is not None and rules is not None:
        assert order.chart is not None
        findings += charts_together(rules.table, chart, order.chart, base or pattern.base_size)
    doubts = doubtful_tables(rules.table if rules else None, chart, order.measures)
    findings += doubts
    with doubting((*doubts, *(f for f in findings if f.level == "fail"))):
        if rules is None:
            made = _from_nest(pattern, order, asked, chart, findings)
        else:
            made = _by_rules(pattern, order, rules, chart, asked, base, findings)
    if not order.measures:
        return made
    body = Body({level_name(m): mm for m, mm in order.measures.items()}, order.stretch)
    return replace(made, bodies=dict.fromkeys(made.sizes, body))


def _by_rules(
    pattern: Pattern,
    order: GradeOrder,
    rules: Rules,
    chart: SizeChart | None,
    asked: Asked,
    base: str | None,
    findings: list[Finding],
) -> Pattern:
    from ..grading import Truing, grade, read_points

    findings += rules.findings
    base = base or pattern.base_size or (rules.sample if len(pattern.sizes) == 0 else None)
    findings += _sizes_apart(pattern, rules, base)
    made = grade(
        pattern,
        rules.table,
        order.to,
        base_size=base,
        points=read_points(order.points) if order.points else (),
        truing=Truing(square=order.square),
        allow_far=order.beyond_table,
        chart=chart,
        asked=asked,
    )
    findings += made.findings
    return made.pattern


def _from_nest(
    pattern: Pattern,
    order: GradeOrder,
    asked: Asked,
    chart: SizeChart | None,
    findings: list[Finding],
) -> Pattern:
    """Sizes out of a nest that is drawn, without rules."""
    from ..grading import size_from_nest

    if order.points or order.square:
        raise UsageError(
            "a table of points and corners to square go with rules",
            cure="Give rules, or leave these out: a drawn nest is taken as it is drawn.",
        )
    if ((asked.at and not asked.measures) or len(order.to) > 1) and asked and len(order.to) != 1:
        raise UsageError(
            "another size at a level goes with one size",
            cure="Ask for one, as in --to 12 --at waist=14.",
        )
    made = []
    for size in order.to or (None,):
        if size is not None:
            refuse_unsaid(pattern.sizes, findings, size)
        one = size_from_nest(pattern, size, asked, chart)
        findings += one.findings
        made.append(one.pattern)
    pieces = {p.key: p for part in made for p in part.pieces}
    return pattern.with_pieces(pieces.values())
