"""What a grading is to reach: sizes, sizes between two, bodies, other sizes at levels."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from ..errors import InputError, LookupFailed, UsageError
from ..findings import Finding
from ..units import both
from .choose import HEIGHT, by_height
from .levels import LEVELS, level_name
from .sizes import moved_place, position, same_size, shown_size, size_at
from .tables import Growth, RuleTable, SizeChart

#: Measures that a size is told by, the first of them that is given. The upper chest comes
#: first: it goes with the frame, while a full bust would make neck and shoulders too wide.
MAIN = ("upper-chest", "bust", "chest", "hip", "waist")
#: What a graded body is called where no label is given.
BODY = "body"
#: Measures within this of the chart's ends are not beyond them, mm.
_AT_END = 0.05


@dataclass(frozen=True)
class Asked:
    """What is wanted besides plain sizes.

    `measures` in mm by name (they need a chart); `at` gives a size for a level or a piece;
    `label` is what the graded pieces are called, where they are of no plain size.
    """

    measures: Mapping[str, float] = field(default_factory=dict)
    at: Mapping[str, str] = field(default_factory=dict)
    label: str = ""

    def __bool__(self) -> bool:
        return bool(self.measures or self.at)


@dataclass(frozen=True)
class Target:
    """One size to make: its label, and its places in the order of sizes.

    `place` holds where nothing else is said, `levels` at the levels (or pieces) that it
    names; `asked` are those that must be there. `body` are the measures (mm) that stand in
    for those of the chart, `reach` the places that they would be sizes at.
    """

    label: str
    place: float
    levels: Mapping[str, float] = field(default_factory=dict)
    asked: tuple[str, ...] = ()
    body: Mapping[str, float] = field(default_factory=dict)
    reach: tuple[float, ...] = ()

    @property
    def mixed(self) -> bool:
        """Whether it is not the same size at every level."""
        return any(place != self.place for place in self.levels.values())

    def gains(self, rules: RuleTable, chart: SizeChart | None, start: float, to: float) -> Growth:
        """What the rules give from the base's place `start` to a place of this target."""
        return rules.gained(start, to, chart=chart, body=self.body)


class Tables(NamedTuple):
    """The rules, the chart, and the order of sizes that places count in."""

    rules: RuleTable
    chart: SizeChart | None
    beyond: bool = False

    @property
    def order(self) -> tuple[str, ...]:
        """All sizes in order."""
        return self.rules.order(self.chart)

    def place(self, size: str) -> float:
        """The place of a size that is asked for."""
        return position(self.order, size, between=True, beyond=self.beyond, what=self.rules.name)

    def place_of(self, measure: str, value: float) -> float:
        """The place at which the chart has a measure."""
        chart = self.need_chart()
        place = chart.place_of(measure, value)
        last = len(chart.sizes) - 1
        low, high = chart.at(measure, 0.0), chart.at(measure, float(last))
        # Shares go by the measure itself: of the chart they need only what is not given.
        within = low - _AT_END <= value <= high + _AT_END
        if not within and not self.beyond and self.rules.kind == "steps":
            raise UsageError(
                f"{measure} {both(value)} lies beyond the chart, "
                f"which goes from {both(low)} to {both(high)}",
                where=chart.name,
                cure="Take a chart that reaches so far, or allow going beyond (--beyond-table).",
            )
        if self.rules.kind == "shares":
            return place
        inside = min(max(place, 0.0), float(last))
        try:
            moved = moved_place(
                inside, chart.sizes, self.rules.sizes, beyond=self.beyond, what=self.rules.name
            )
        except (LookupFailed, UsageError) as error:
            error.cure += f" {measure} {both(value)} is size {size_at(chart.sizes, place)}."
            raise
        return moved + (place - inside)

    def need_chart(self) -> SizeChart:
        """The chart. Raises UsageError where there is none."""
        if self.chart is None:
            raise UsageError(
                "body measures need a size chart to be compared with",
                cure="Give one (--chart), such as shipped:grade_tables/misses-1967.csv.",
            )
        return self.chart


def targets(
    tables: Tables, base: str, sizes: Sequence[str], asked: Asked
) -> tuple[tuple[Target, ...], tuple[Finding, ...]]:
    """The targets of a grading, each once, and what is to be said of them.

    Raises UsageError where nothing is asked for or several sizes for one body, LookupFailed
    for sizes and measures that are not there.
    """
    order = tables.order
    try:
        position(order, base, what=tables.rules.name)
    except LookupFailed as error:
        error.what = f"the base size {base}, in which the pattern is drawn, is not in the table"
        error.cure = f"{error.cure} Say which of them was drawn (--base, or `base` in a job)."
        raise
    if not asked:
        if not sizes:
            raise UsageError("no size is asked for", cure=f"Name some (--to): {', '.join(order)}.")
        plain = [_plain(tables, size) for size in sizes]
        made = tuple({one.label: one for one in plain}.values())
        return made, tuple(f for one in made for f in _off_columns(tables, one))
    if len(sizes) > 1:
        raise UsageError(
            "a body, or another size at a level, goes with one size",
            cure=f"Ask for one of {', '.join(sizes)}.",
        )
    return _body(tables, sizes[0] if sizes else None, asked)


def wanted_sizes(
    rules: RuleTable, sizes: Sequence[str], *, chart: SizeChart | None = None, beyond: bool = False
) -> tuple[str, ...]:
    """Plain sizes as `grade` will label them. Raises what it raises for one that is not there."""
    tables = Tables(rules, chart, beyond)
    return tuple(dict.fromkeys(_plain(tables, size).label for size in sizes))


def main_measure(measures: Iterable[str]) -> str:
    """The measure that tells the size: the first of `MAIN`, else the first given."""
    names = list(measures)
    return next((m for m in MAIN if m in names), names[0])


def _plain(tables: Tables, size: str) -> Target:
    order = tables.order
    place = tables.place(size)
    known = place == int(place) and 0 <= place < len(order)
    return Target(order[int(place)] if known else shown_size(size), place)


def _off_columns(tables: Tables, one: Target) -> Iterator[Finding]:
    """What is said of a size that has no column of its own."""
    order = tables.order
    last = len(order) - 1
    if not 0 <= one.place <= last:
        end = order[last] if one.place > last else order[0]
        yield Finding(
            "beyond-table",
            "warn",
            f"size {one.label} lies beyond the table's end; the step at {end} is repeated",
            size=one.label,
            cure="Sew a trial garment before cutting the cloth.",
        )
    elif one.place != int(one.place):
        a, b = order[int(one.place)], order[int(one.place) + 1]
        part = one.place - int(one.place)
        yield Finding(
            "between-sizes",
            "note",
            f"size {one.label} lies between {a} and {b}: it takes {part * 100:.0f}% of that step",
            size=one.label,
        )


def _body(
    tables: Tables, size: str | None, asked: Asked
) -> tuple[tuple[Target, ...], tuple[Finding, ...]]:
    measures = {_plain_name(k): v for k, v in asked.measures.items()}
    told: list[Finding] = []
    known = (
        {
            m: v
            for m, v in measures.items()
            if m in tables.need_chart().values or m in tables.rules.measures
        }
        if measures
        else {}
    )
    if known:
        # Where the chart can tell nothing at all, the first measure says so.
        told += not_in_chart([m for m in measures if m not in known])
        measures = known
    places = dict(_places(tables, measures))
    by = ""
    if size is not None:
        main = _plain(tables, size)
    elif measures:
        by = main_measure(places or measures)
        if HEIGHT in places and by_height(tables.need_chart()):
            by = HEIGHT
        place = places[by] if places else tables.place_of(by, measures[by])
        if tables.rules.kind == "shares":
            last = len(tables.order) - 1
            place = float(min(max(round(place), 0), last))
        main = Target(size_at(tables.order, place), place)
        told.append(
            Finding(
                "size-by-measure",
                "note",
                f"the size is taken from {by} {both(measures[by])}: {main.label}",
            )
        )
    else:
        raise UsageError(
            "another size at a level needs the size for all the rest",
            cure="Say it too, as in --to 12 --at waist=14.",
        )
    told += [] if size is None else _off_columns(tables, main)
    levels: dict[str, float] = {}
    if tables.rules.kind == "steps":
        levels |= {m: places[m] for m in measures if level_name(m) in LEVELS}
        told += _idle(measures, levels, by)
    else:
        told += _filled(tables, measures, main.label)
    given: dict[str, float] = {}
    for level, wanted in asked.at.items():
        # The levels of the measures give way to what is said of them by name.
        levels.pop(level_name(level), None)
        given[level] = tables.place(wanted)
    label = asked.label or _label(main.label, asked)
    own = any(same_size(label) == same_size(s) for s in tables.order)
    if own and (measures or given):
        raise UsageError(
            f'"{label}" is the name of a plain size', cure="Give this one another label."
        )
    body = measures if tables.rules.kind == "shares" else {}
    # Of sizes that a body reaches, girths tell: an arm a little longer is no size larger.
    reach = tuple(place for m, place in places.items() if m in MAIN) if body else ()
    target = Target(label, main.place, levels | given, tuple(given), body, reach)
    return (target,), (*told, *_past_ends(tables, places, measures, label))


def not_in_chart(missing: Sequence[str]) -> Iterator[Finding]:
    """A note of the measures that a chart has not."""
    if missing:
        yield Finding(
            "measures-not-in-chart",
            "note",
            f"the chart has no {', '.join(missing)}: no size is told by it",
        )


def _places(tables: Tables, measures: Mapping[str, float]) -> Iterator[tuple[str, float]]:
    """The places that measures tell; shares can do with one that tells none, as a height that
    is the same in all sizes."""
    for measure, value in measures.items():
        try:
            yield measure, tables.place_of(measure, value)
        except InputError:
            if tables.rules.kind != "shares":
                raise


def _plain_name(measure: str) -> str:
    return "-".join(measure.casefold().replace("_", " ").split())


def _label(main: str, asked: Asked) -> str:
    if asked.measures:
        return BODY
    return "-".join([main, *(f"{level}-{shown_size(s)}" for level, s in asked.at.items())])


def _filled(tables: Tables, measures: Mapping[str, float], size: str) -> Iterator[Finding]:
    """Which measures of the rules come from the chart, and which of the body are not used."""
    used = tables.rules.measures
    filled = [m for m in used if m not in measures]
    if measures and filled:
        yield Finding(
            "measures-filled",
            "note",
            f"not given, so taken from size {size} of the chart: {', '.join(filled)}",
        )
    idle = [m for m in measures if m not in used]
    if idle:
        yield Finding(
            "measures-unused",
            "warn",
            f"no rule takes a share of {', '.join(idle)}, so it changes nothing",
            cure=f"The rules take shares of {', '.join(used)}.",
        )


def _idle(
    measures: Mapping[str, float], levels: Mapping[str, float], main: str
) -> Iterator[Finding]:
    """Measures that no level of a table of steps can take up; `main` told the size."""
    idle = [m for m in measures if m not in levels and m != main]
    if idle:
        yield Finding(
            "measures-unused",
            "warn",
            f"a table of steps has no place for {', '.join(idle)}, so it changes nothing",
            cure=f"It goes by sizes at levels: {', '.join(LEVELS)}.",
        )


def _past_ends(
    tables: Tables, places: Mapping[str, float], measures: Mapping[str, float], label: str
) -> Iterator[Finding]:
    last = len(tables.order) - 1
    past = [m for m, p in places.items() if not -1e-9 <= p <= last + 1e-9]
    shares = tables.rules.kind == "shares"
    goes_on = "the same shares go on" if shares else "the last step is repeated"
    if past:
        yield Finding(
            "beyond-table",
            "warn",
            f"beyond the chart's sizes, where {goes_on}: "
            + ", ".join(f"{m} {both(measures[m])}" for m in past),
            size=label,
            cure="Sew a trial garment before cutting the cloth.",
        )
