"""Tables of grade rules, size charts and point rules: what they hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Literal, NamedTuple

from ..errors import InputError, LookupFailed, UsageError
from ..geometry.types import Floats
from ..units import Unit
from .sizes import position

#: A piece's own axes, and the open standard's (x along the grade axis).
Axis = Literal["length", "width", "x", "y"]
AXES: tuple[Axis, ...] = ("length", "width", "x", "y")
#: An amount in mm for one body, or an array of them for many bodies.
Amount = float | Floats
#: What each rule gives along each axis.
Growth = Mapping[str, Mapping[str, Amount]]


class StepRule(NamedTuple):
    """What one rule gains along one axis, in mm, in going from the size before to each size.

    `steps` has one amount for each size of the table; the first is 0.
    """

    rule: str
    axis: Axis
    unit: Unit
    steps: tuple[float, ...]


class ShareRule(NamedTuple):
    """The share of each measure's growth that one rule takes along one axis."""

    rule: str
    axis: Axis
    shares: tuple[float, ...]


@dataclass(frozen=True)
class SizeChart:
    """Body measures in mm by size: `values[measure]` has one for each of `sizes`, in order."""

    sizes: tuple[str, ...]
    values: Mapping[str, tuple[float, ...]]
    units: Mapping[str, Unit]
    notes: tuple[str, ...] = ()
    name: str = ""

    @property
    def measures(self) -> tuple[str, ...]:
        """Names of the measures, in the table's order."""
        return tuple(self.values)

    def value(self, measure: str, size: str) -> float:
        """A measure of a size, mm. Raises LookupFailed with what there is."""
        if measure not in self.values:
            raise LookupFailed(
                f'no measure "{measure}"',
                where=self.name,
                cure=f"The chart has {', '.join(self.values)}.",
            )
        return self.at(measure, position(self.sizes, size, between=True, what=self.name))

    def at(self, measure: str, place: float) -> float:
        """A measure at a place in the order of sizes, mm: on a straight line between columns.

        Past an end its nearest step goes on.
        """
        column = self.values[measure]
        if place == int(place) and 0 <= place < len(column):
            return column[int(place)]
        k = min(max(int(place // 1), 0), max(len(column) - 2, 0))
        step = column[k + 1] - column[k] if len(column) > 1 else 0.0
        return column[k] + (place - k) * step

    def place_of(self, measure: str, value: float) -> float:
        """The place in the order of sizes at which a measure has `value` mm.

        Between two columns by proportion; past an end by its last step that is not nothing.
        Where several sizes share the value, the middle of them. Raises LookupFailed for a
        measure that is not there, InputError for one that does not grow with the sizes.
        """
        if measure not in self.values:
            self.value(measure, self.sizes[0])
        column = self.values[measure]
        steps = [b - a for a, b in pairwise(column)]
        if not any(steps) or min(steps) < 0:
            raise InputError(
                f'"{measure}" does not grow from size to size, so no size can be told by it',
                where=self.name,
                cure="Go by another measure.",
            )
        rising = [k for k, step in enumerate(steps) if step > 0]
        if value < column[0]:
            return rising[0] + (value - column[0]) / steps[rising[0]]
        if value > column[-1]:
            return rising[-1] + 1 + (value - column[-1]) / steps[rising[-1]]
        same = [k for k, one in enumerate(column) if one == value]
        if same:
            return (same[0] + same[-1]) / 2
        k = next(k for k in rising if column[k] < value < column[k + 1])
        return k + (value - column[k]) / steps[k]

    def changes(self, base: str, to: str) -> dict[str, float]:
        """How much each measure grows from one size to another, mm."""
        return {m: self.value(m, to) - self.value(m, base) for m in self.values}


@dataclass(frozen=True)
class RuleTable:
    """Grade rules, by steps between sizes or by shares of body measures.

    A `steps` table has `sizes`; a `shares` table has `measures` and needs a chart.
    """

    kind: Literal["steps", "shares"]
    rules: tuple[StepRule | ShareRule, ...]
    sizes: tuple[str, ...] = ()
    measures: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    name: str = ""

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Rule names, in the table's order."""
        return tuple(dict.fromkeys(r.rule for r in self.rules))

    def growth(
        self, base: str, to: str, *, chart: SizeChart | None = None, beyond: bool = False
    ) -> dict[str, dict[str, Amount]]:
        """What every rule gives along its axes, mm, in going from size `base` to `to`.

        Negative amounts make a smaller size. A number between two sizes gets its share of
        the step between them. With `beyond` a numbered size past the table's end repeats the
        last (or first) step. A `shares` table takes the growth of the measures from `chart`.
        """
        order = self.order(chart)
        first = position(order, base, between=True, what=self.name)
        last = position(order, to, between=True, beyond=beyond, what=self.name)
        return self.gained(first, last, chart=chart)

    def order(self, chart: SizeChart | None = None) -> tuple[str, ...]:
        """All sizes in order: the table's own, or those of the chart that shares need."""
        if self.kind == "steps":
            return self.sizes
        if chart is None:
            raise UsageError(
                "rules by shares need a size chart",
                where=self.name,
                cure="Give a chart with the measures that the rules name (--chart).",
            )
        return chart.sizes

    def gained(
        self,
        first: float,
        last: float,
        *,
        chart: SizeChart | None = None,
        body: Mapping[str, float] | None = None,
    ) -> dict[str, dict[str, Amount]]:
        """What every rule gives, mm, between two places in the order of sizes (see `order`).

        Places need not be whole: between two sizes amounts lie on a straight line, past an
        end its nearest step is repeated. Where shares are used, the measures of `body` (mm)
        stand in for those of the chart at `last`.
        """
        if self.kind == "shares":
            self.order(chart)
            assert chart is not None
            goal = {m: chart.at(m, last) for m in chart.values} | dict(body or {})
            return self.growth_of(
                {m: goal[m] - chart.at(m, first) for m in goal if m in chart.values}
            )
        out: dict[str, dict[str, Amount]] = {}
        for one in self.rules:
            if isinstance(one, StepRule):
                amount = _gained(one.steps, last) - _gained(one.steps, first)
                if first == int(first) and last == int(last):
                    amount = _between(one.steps, int(first), int(last))
                out.setdefault(one.rule, {})[one.axis] = amount
        return out

    def growth_of(self, changes: Mapping[str, Amount]) -> dict[str, dict[str, Amount]]:
        """What every rule of a `shares` table gives, mm, for these changes of measures in mm.

        Changes may be arrays (k,), one value for each of k bodies; so are the amounts then.
        """
        missing = [m for m in self.measures if m not in changes]
        if missing:
            raise LookupFailed(
                f"no measure {', '.join(missing)}",
                where=self.name,
                cure=f"There is {', '.join(changes) or 'none'}.",
            )
        out: dict[str, dict[str, Amount]] = {}
        for one in self.rules:
            if isinstance(one, ShareRule):
                pairs = zip(self.measures, one.shares, strict=True)
                total: Amount = 0.0
                for measure, share in pairs:
                    total = total + changes[measure] * share
                out.setdefault(one.rule, {})[one.axis] = total
        return out


def _between(steps: Sequence[float], first: int, last: int) -> float:
    """Sum of the steps from place `first` up to `last`; past an end its nearest step again."""
    if last < first:
        return -_between(steps, last, first)
    ends = len(steps) - 1
    total = 0.0
    for k in range(first + 1, last + 1):
        total += steps[min(max(k, 1), ends)] if ends else 0.0
    return total


def _gained(steps: Sequence[float], place: float) -> float:
    """Amount gained from the first size to a place that may lie between two sizes."""
    whole = int(place // 1)
    part = place - whole
    here = _between(steps, 0, whole)
    return here + part * (_between(steps, 0, whole + 1) - here)


class PointRule(NamedTuple):
    """The rule of one point of one piece; `where` is its place in the table."""

    piece: str
    point: str
    rule: str
    where: str = ""
