"""Which chart the steps of a rule table were made for, and whether another will do."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from ..errors import SizewrightError, UsageError
from ..findings import Finding
from ..model import Body
from ..shipped import PREFIX, found_file, shipped, shipped_names
from ..units import both

if TYPE_CHECKING:
    from ..grading import RuleTable, SizeChart
    from ..model import Pattern

_CHART = re.compile(r"chart:\s*(\S+)", re.IGNORECASE)
#: Girths by which charts are compared, and how far they may be apart, mm.
_GIRTHS = ("bust", "chest", "waist", "hip")
_ALIKE = 5.0


def chart_of(rules: RuleTable) -> str | None:
    """The file name of the chart that a table of rules was made for, from its comment
    `# Chart: NAME.csv`; None where it does not say."""
    found = (_CHART.fullmatch(note.strip()) for note in rules.notes)
    return next((Path(m[1]).name for m in found if m), None)


def rules_for(chart: Path, kind: Literal["steps", "shares"]) -> dict[str, RuleTable]:
    """The shipped tables of a kind that were made for a chart, by the names that commands take."""
    from ..grading import read_rules

    names = shipped_names("grade_tables", suffix=f"-{kind}.csv")
    tables = {PREFIX + name: read_rules(shipped(name)) for name in names}
    return {name: rules for name, rules in tables.items() if chart_of(rules) == chart.name}


def charts_together(
    rules: RuleTable, chart: SizeChart, path: Path, base: str | None
) -> tuple[Finding, ...]:
    """What is to be said of a chart with a table of steps.

    Raises UsageError, with the girths of both, where the steps were made for a chart that has
    other bodies under the same sizes: a body would get a size that does not fit it.
    """
    if rules.kind != "steps":
        return ()
    wanted = chart_of(rules)
    if wanted is None:
        return (
            Finding(
                "chart-not-named",
                "note",
                f"the rules do not say which chart their steps were made for; {path.name} is "
                "taken for it",
                place=Path(rules.name).name,
                cure=f"Check that, and say so in the table: # Chart: {path.name}",
            ),
        )
    if wanted == path.name:
        return ()
    own = _chart(wanted, rules)
    if own is not None:
        apart = _apart(own, chart, base)
        if apart is None:
            return ()
        size, measure, ours, theirs = apart
        raise UsageError(
            f"the steps of these rules were made for {wanted}, where size {size} has "
            f"{measure} {both(ours)}; in {path.name} it has {both(theirs)}",
            where=rules.name,
            cure="Give the chart that belongs to the rules, or rules that belong to the chart.",
        )
    return (
        Finding(
            "chart-differs",
            "warn",
            f"the steps of these rules were made for {wanted}, and {path.name} is used",
            place=Path(rules.name).name,
            cure="Check that a size is the same body in both.",
        ),
    )


def _chart(name: str, rules: RuleTable) -> SizeChart | None:
    """The chart of that name, beside the table of rules or shipped; None where it is nowhere."""
    from ..grading import read_chart

    for place in (Path(rules.name).parent / name, Path(f"shipped:grade_tables/{name}")):
        try:
            return read_chart(found_file(place))
        except SizewrightError:
            continue
    return None


def _apart(
    own: SizeChart, other: SizeChart, base: str | None
) -> tuple[str, str, float, float] | None:
    """A size (the base first) and a girth that two charts do not have alike, with both."""
    from ..grading import same_size

    labels = {same_size(s): s for s in other.sizes}
    common = [s for s in own.sizes if same_size(s) in labels]
    common.sort(key=lambda s: same_size(s) != same_size(base or ""))
    for size in common:
        for measure in _GIRTHS:
            if measure in own.values and measure in other.values:
                ours, theirs = own.value(measure, size), other.value(measure, size)
                if abs(ours - theirs) > _ALIKE:
                    return size, measure, ours, theirs
    return None


def with_bodies(pattern: Pattern, chart: Path | None, body: Body | None) -> Pattern:
    """A pattern whose sizes are for `body`, or without one each for its column of a chart.

    Of measures that the body does not have, the chart's column of its size gives none.
    """
    from ..grading import read_chart, same_size

    sizes = pattern.sizes or ((pattern.base_size,) if pattern.base_size else ("",))
    if body is not None and body.measures:
        return replace(pattern, bodies=dict.fromkeys(sizes, body))
    if chart is None:
        return pattern
    table = read_chart(chart)
    labels = {same_size(s): s for s in table.sizes}
    stretch = body is not None and body.stretch
    known = {s: labels[same_size(s)] for s in sizes if same_size(s) in labels}
    if not known:
        raise UsageError(
            f"no size of the pattern is in {chart.name}",
            cure="Give the body too (--measure bust=92cm).",
        )
    bodies = {
        size: Body({m: table.value(m, column) for m in table.measures}, stretch)
        for size, column in known.items()
    }
    return replace(pattern, bodies=bodies)
