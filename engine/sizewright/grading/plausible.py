"""Tables and measures that can be read and hardly be meant, with what was probably meant."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from pathlib import PurePath
from statistics import median

from ..findings import Finding
from ..units import both
from .sizes import same_size
from .tables import RuleTable, SizeChart, StepRule
from .target import MAIN

#: A step so many times as large as those beside it is odd, where it is larger than this, mm.
_TIMES, _STEP = 5.0, 20.0
#: No girth of a body is less, mm: a newborn's chest is about 33 cm.
_GIRTH = 250.0
#: Bodies lie well within these shares of one measure in another; past them one is mistaken.
_SHARES = {
    ("waist", "bust"): (0.5, 1.3),
    ("waist", "chest"): (0.5, 1.3),
    ("waist", "hip"): (0.5, 1.3),
    ("bust", "hip"): (0.65, 1.5),
    ("chest", "hip"): (0.65, 1.5),
    ("upper-chest", "bust"): (0.65, 1.2),
    ("chest", "height"): (0.35, 0.8),
    ("bust", "height"): (0.35, 1.1),
}
#: What a number grows by when its unit is taken for another.
_SLIPS = (10.0, 2.54, 25.4, 0.1, 1 / 2.54, 1 / 25.4)


def doubtful_tables(
    rules: RuleTable | None = None,
    chart: SizeChart | None = None,
    measures: Mapping[str, float] | None = None,
) -> tuple[Finding, ...]:
    """Warnings for sizes out of order, steps and measures that stand out, a body of no size.

    `measures` of a body in mm.
    """
    found: list[Finding] = []
    if rules is not None:
        found += [*_order(rules.sizes, rules.name), *_odd_steps(rules)]
    if chart is not None:
        found += [*_order(chart.sizes, chart.name), *_odd_measures(chart)]
        found += _odd_body(measures or {}, chart)
    return tuple(found)


def _found(code: str, table: str, text: str, place: str, cure: str) -> Finding:
    file = PurePath(table).name
    return Finding(code, "warn", f"{text} ({file})" if file else text, place=place, cure=cure)


def _numbers(sizes: Sequence[str]) -> list[float]:
    """Numbered sizes as numbers; none where one has no number."""
    try:
        return [float(same_size(size)) for size in sizes]
    except ValueError:
        return []


def _order(sizes: Sequence[str], table: str) -> Iterator[Finding]:
    numbers = _numbers(sizes)
    ups = [b > a for a, b in pairwise(numbers) if a != b]
    if all(ups) or not any(ups):
        return
    down = sum(ups) * 2 < len(ups)
    right = [size for _, size in sorted(zip(numbers, sizes, strict=True), reverse=down)]
    yield _found(
        "sizes-out-of-order",
        table,
        f"the sizes stand as {', '.join(sizes)}, and each counts from the one before it",
        "",
        f"{', '.join(right)} was probably meant: put the columns in that order.",
    )


def _odd_steps(rules: RuleTable) -> Iterator[Finding]:
    rows = [rule for rule in rules.rules if isinstance(rule, StepRule)]
    usual = {row: _usual(row.steps[1:]) for row in rows}
    for row in rows:
        place = f"{row.rule} {row.axis}"
        rest = [mm for other, mm in usual.items() if other is not row and mm]
        # Three rows at least say what is usual.
        if len(rest) > 2 and usual[row] > max(_STEP, _TIMES * max(rest)):
            text = f"its steps of {both(usual[row])} are more than {_TIMES:.0f} times all others"
            meant = f"{both(usual[row] / 10)} was probably meant."
            cure = f"Look at its unit ({row.unit.symbol}): {meant}"
            yield _found("odd-step", rules.name, text, place, cure)
        else:
            yield from _stands_out(rules.name, rules.sizes, row.steps, place)


def _usual(steps: Sequence[float]) -> float:
    """The usual size of steps that are not nothing, mm."""
    return median([abs(step) for step in steps if step] or [0.0])


def _stands_out(
    table: str, sizes: Sequence[str], steps: Sequence[float], place: str
) -> Iterator[Finding]:
    """Steps (the first is no step) that are several times those beside them."""
    numbers = _numbers(sizes)
    gaps = [abs(b - a) or 1.0 for a, b in pairwise(numbers)] or [1.0] * len(steps[1:])
    rates = [step / gap for step, gap in zip(steps[1:], gaps, strict=True)]
    for k, rate in enumerate(rates):
        others = [abs(one) for i, one in enumerate(rates) if i != k and one]
        if len(others) > 1 and abs(steps[k + 1]) > _STEP and abs(rate) > _TIMES * median(others):
            step = abs(steps[k + 1])
            yield _found(
                "odd-step",
                table,
                f"the step to size {sizes[k + 1]} is {both(step)}, "
                f"{abs(rate) / median(others):.0f} times those beside it",
                place,
                f"{both(step / 10)} was probably meant.",
            )


def _odd_measures(chart: SizeChart) -> Iterator[Finding]:
    numbers = _numbers(chart.sizes)
    sign = -1 if len(numbers) > 1 and numbers[-1] < numbers[0] else 1
    for measure, column in chart.values.items():
        steps = [0.0, *(b - a for a, b in pairwise(column))]
        fallen = [k for k, step in enumerate(steps) if sign * step < 0]
        for k in fallen:
            after = column[k + 1] if k + 1 < len(column) else None
            between = after is not None and sign * (after - column[k - 1]) >= 0
            cure = "Look at the sizes beside it too."
            if between:
                assert after is not None
                cure = f"Something from {both(column[k - 1])} to {both(after)} was probably meant."
            yield _found(
                "measure-falls",
                chart.name,
                f"it falls from {both(column[k - 1])} to {both(column[k])} "
                f"in size {chart.sizes[k]}",
                measure,
                cure,
            )
        if not fallen:
            yield from _stands_out(chart.name, chart.sizes, steps, measure)
        if measure in MAIN and column[0] < _GIRTH:
            unit = chart.units[measure]
            yield _found(
                "small-girth",
                chart.name,
                f"it is {both(column[0])} in size {chart.sizes[0]}, too little for a body",
                measure,
                f"Look at its unit ({unit.symbol}): {both(10 * column[0])} was probably meant.",
            )


def _odd_body(measures: Mapping[str, float], chart: SizeChart) -> Iterator[Finding]:
    odd = set()
    for measure, value in measures.items():
        column = chart.values.get(measure, ())
        if not column or min(column) / 2 <= value <= max(column) * 2:
            continue
        odd.add(measure)
        meant = [value * slip for slip in _SLIPS]
        likely = [mm for mm in meant if 0.8 * min(column) <= mm <= 1.25 * max(column)]
        cure = f"{both(likely[0])} was probably meant." if likely else "Check it and its unit."
        yield _found(
            "odd-measure",
            chart.name,
            f"it is said to be {both(value)}, and the chart goes from "
            f"{both(min(column))} to {both(max(column))}",
            measure,
            cure,
        )
    for (one, other), (least, most) in _SHARES.items():
        if {one, other} <= measures.keys() - odd:
            share = measures[one] / measures[other]
            if not least <= share <= most:
                yield Finding(
                    "odd-body",
                    "warn",
                    f"{one} {both(measures[one])} and {other} {both(measures[other])} hardly "
                    "belong to one body",
                    place=one,
                    cure="Take both again, and look at their units.",
                )
