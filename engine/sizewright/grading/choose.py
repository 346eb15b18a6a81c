"""Which size of a chart a body is, at each measure and on the whole."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal, NamedTuple, get_args

from ..errors import LookupFailed, UsageError
from .sizes import same_size
from .tables import SizeChart

#: What part of the body a garment covers.
Garment = Literal["upper", "lower", "full"]
GARMENTS: tuple[Garment, ...] = get_args(Garment)
#: Measures that a garment's size is told by, the first that is given. An upper or a full
#: garment goes by the upper chest: it tells the frame, and a full bust oversizes that. A
#: lower one goes by the hip, since a waist is altered more easily.
GOES_BY: Mapping[Garment, tuple[str, ...]] = {
    "upper": ("upper-chest", "bust", "chest"),
    "lower": ("hip", "waist"),
    "full": ("upper-chest", "bust", "chest"),
}
#: Rows of a chart that give the range of a measure in each size: `bust-from`, `bust-to`.
FROM, TO = "-from", "-to"
#: The bust that goes with an upper chest, more by so much, mm: common practice, no source.
FRAME_BUST = 50.8
#: The measure that the sizes of children's charts are named by.
HEIGHT = "height"
_ROUNDING = 1e-6


class Fit(NamedTuple):
    """One measure of a body (mm) against a chart.

    `place` is where it stands in the order of sizes, between columns by proportion; `size`
    is the size it falls in; `beyond` is that it lies past the chart's end.
    """

    measure: str
    value: float
    place: float
    size: str
    beyond: bool


def fit_measures(chart: SizeChart, measures: Mapping[str, float]) -> tuple[Fit, ...]:
    """Each measure of a body by itself.

    The size is the one whose range holds the measure, where the chart has ranges (rows
    such as `bust-from` and `bust-to`, the upper end belonging to the next size), else the
    nearest column, of two equally near ones the larger. Raises LookupFailed for a measure
    that the chart has not.
    """
    missing = [m for m in measures if m not in chart.values]
    if missing:
        named = ", ".join(m for m in chart.values if not m.endswith((FROM, TO)))
        raise LookupFailed(
            f"the chart has no {', '.join(missing)}", where=chart.name, cure=f"It has {named}."
        )
    return tuple(_fit(chart, m, value) for m, value in measures.items())


def frame_fit(chart: SizeChart, measures: Mapping[str, float]) -> Fit | None:
    """The size of a body's frame by its upper chest; None where that is not given or the chart
    can tell nothing by it.

    A chart without the row tells it by the bust that goes with it (`FRAME_BUST`).
    """
    if "upper-chest" not in measures:
        return None
    if "upper-chest" in chart.values:
        return _fit(chart, "upper-chest", measures["upper-chest"])
    if "bust" not in chart.values:
        return None
    fit = _fit(chart, "bust", measures["upper-chest"] + FRAME_BUST)
    return fit._replace(measure="upper-chest", value=measures["upper-chest"])


def by_height(chart: SizeChart) -> bool:
    """Whether the sizes of a chart are heights, as those of children: size 122 is 122 cm tall."""
    heights = chart.values.get(HEIGHT, ())
    return bool(heights) and all(
        same_size(size) == same_size(f"{mm / 10:g}")
        for size, mm in zip(chart.sizes, heights, strict=True)
    )


def garment_size(fits: tuple[Fit, ...], garment: Garment, *, height: bool = False) -> Fit:
    """The measure that settles a garment's size; the height, where the chart goes `by_height`.

    Raises UsageError where none is given.
    """
    by_name = {fit.measure: fit for fit in fits}
    if height and HEIGHT not in by_name:
        raise UsageError(
            "the sizes of this chart are heights, and no height is given",
            cure="Give it, as in height=122cm: children of one height differ in chest.",
        )
    for measure in (HEIGHT,) if height else GOES_BY[garment]:
        if measure in by_name:
            return by_name[measure]
    raise UsageError(
        f"the size of a garment of the kind {garment} is told by {' or '.join(GOES_BY[garment])}",
        cure="Give one of these measures that the chart has.",
    )


def _fit(chart: SizeChart, measure: str, value: float) -> Fit:
    place = chart.place_of(measure, value)
    last = len(chart.sizes) - 1
    k = min(max(math.floor(place + 0.5 + _ROUNDING), 0), last)
    low, high = chart.values[measure][0], chart.values[measure][-1]
    if measure + FROM in chart.values and measure + TO in chart.values:
        starts, ends = chart.values[measure + FROM], chart.values[measure + TO]
        held = [
            j
            for j, (a, b) in enumerate(zip(starts, ends, strict=True))
            if a - _ROUNDING <= value < b - _ROUNDING
        ]
        k = held[0] if held else k
        low, high = starts[0], ends[-1]
    beyond = not low - _ROUNDING <= value <= high + _ROUNDING
    return Fit(measure, value, place, chart.sizes[k], beyond)
