"""The job of `size`: which size a body is, as lines to print."""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import UsageError
from ..findings import told
from ..shipped import found_file
from ..units import Unit, both, format_length
from .bodies import doubting

if TYPE_CHECKING:
    from ..grading import Fit, Garment, SizeChart

#: The measure of the command is printed at least so exactly, decimals of a cm.
_DECIMALS = 2


def size_lines(
    chart: str | os.PathLike[str],
    measures: Mapping[str, float],
    garment: Garment | None = None,
) -> tuple[str, ...]:
    """What `size` prints: each measure's own size, the garment's size, how much the measures
    differ from it, and the command that grades to this body.

    `measures` in mm. Without `garment` each kind that the measures can tell is told. Raises
    what reading the chart raises, LookupFailed for a measure that the chart has not, and
    UsageError where no measure is given or none tells the garment's size.
    """
    from ..grading import (
        GARMENTS,
        GOES_BY,
        doubtful_tables,
        fit_measures,
        garment_size,
        read_chart,
    )

    if not measures:
        raise UsageError("no measure is given", cure="As in --measure bust=92cm waist=74cm.")
    table = read_chart(found_file(Path(chart)))
    doubts = doubtful_tables(chart=table, measures=measures)
    with doubting(doubts):
        fits = fit_measures(table, measures)
    kinds = [garment] if garment else [g for g in GARMENTS if set(GOES_BY[g]) & set(measures)]
    if garment is None and not {"hip", "waist"} & set(measures):
        kinds = [g for g in kinds if g != "full"]
    lines = [f"{Path(chart).name}: sizes {table.sizes[0]} to {table.sizes[-1]}", ""]
    lines += _table([("measure", "you", "size by itself"), *map(_row, fits)])
    by_measure: dict[str, list[Garment]] = {}
    for kind in kinds:
        by_measure.setdefault(garment_size(fits, kind).measure, []).append(kind)
    for alike in by_measure.values():
        lines += ["", *_whole(table, fits, alike, garment_size(fits, alike[0]))]
    if kinds:
        by = garment_size(fits, kinds[0])
        lines += ["", "To grade a pattern to this body:", _command(chart, fits, by.size)]
    if doubts:
        lines += ["", *told(doubts)]
    return tuple(lines)


def _row(fit: Fit) -> tuple[str, str, str]:
    size = f"beyond {fit.size}" if fit.beyond else fit.size
    return fit.measure, both(fit.value), size


def _whole(chart: SizeChart, fits: tuple[Fit, ...], kinds: list[Garment], by: Fit) -> Iterator[str]:
    article = "an" if kinds[0] == "upper" else "a"
    what = f"{article} {' or a '.join(kinds)} garment"
    yield f"For {what}: size {by.size}, by {by.measure}. Against that size you have"
    rows = []
    for fit in fits:
        column = chart.value(fit.measure, by.size)
        rows.append((fit.measure, _difference(fit.value - column), f"it has {both(column)}"))
    yield from _table(rows)


def _difference(mm: float) -> str:
    if abs(mm) < 0.05:
        return "just as much"
    return f"{both(abs(mm))} {'more' if mm > 0 else 'less'}"


def _table(rows: list[tuple[str, str, str]]) -> Iterator[str]:
    widths = [max(len(row[k]) for row in rows) for k in range(2)]
    for a, b, c in rows:
        yield f"  {a:<{widths[0]}}  {b:<{widths[1]}}  {c}".rstrip()


def _command(chart: str | os.PathLike[str], fits: tuple[Fit, ...], size: str) -> str:
    """The command for a pattern and rules of one's own; the chart and the body are these."""
    measures = [f"{fit.measure}={_exact(fit.value)}" for fit in fits]
    words = ["--chart", os.fspath(chart), "--to", size, "--measure", *measures]
    words += ["--beyond-table"] if any(fit.beyond for fit in fits) else []
    said = " ".join(shlex.quote(word) for word in words)
    return f"  sizewright grade IN.svg OUT.svg --rules RULES.csv {said}"


def _exact(mm: float) -> str:
    """A length without a blank that reads back as it was, to 0.001 mm."""
    for decimals in range(_DECIMALS, 5):
        text = format_length(mm, Unit.CM, decimals=decimals)
        if abs(float(text.split()[0]) * 10 - mm) < 5e-4:
            break
    return text.replace(" ", "")
