"""Size labels: one spelling for each, and where a size stands in a table's order."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import pairwise

from ..errors import LookupFailed, UsageError

_NUMBER = re.compile(r"([-+]?\d+)(?:[.,](\d*))?")


def same_size(label: str) -> str:
    """A label as sizes are compared: `10.0` and `10,0` are `10`, `XS` is `xs`.

    `00` and `0` stay two sizes.

    >>> same_size("10,0"), same_size("XS")
    ('10', 'xs')
    """
    text = " ".join(label.split())
    match = _NUMBER.fullmatch(text)
    if match is None:
        return text.casefold()
    parts = (match[1], (match[2] or "").rstrip("0"))
    return ".".join(part for part in parts if part)


def shown_size(label: str) -> str:
    """A label as it is kept and shown: a number without idle decimals, else as written."""
    text = " ".join(label.split())
    match = _NUMBER.fullmatch(text)
    if match is None:
        return text
    parts = (match[1], (match[2] or "").rstrip("0"))
    return ".".join(part for part in parts if part)


def position(
    sizes: Sequence[str],
    size: str,
    *,
    between: bool = False,
    beyond: bool = False,
    what: str = "",
) -> float:
    """Where a size stands in the order of `sizes`, counted from 0.

    With `between`, a number between two numbered neighbours is placed by its share of the
    way: 13 between 12 and 14 stands half-way. With `beyond`, a number past either end is
    placed by the nearest step of the labels: 24 after 18, 20 stands two past the end.
    Raises LookupFailed for a size that is not there, UsageError for one past the end when
    that is not asked for.
    """
    wanted = same_size(size)
    for k, one in enumerate(sizes):
        if same_size(one) == wanted:
            return float(k)
    place = _by_number(sizes, wanted)
    last = len(sizes) - 1
    if place is not None and 0 < place < last and between:
        return place
    if place is None or 0 < place < last or (not between and place != int(place)):
        raise LookupFailed(f"no size {size}", where=what, cure=f"The sizes are {', '.join(sizes)}.")
    if not beyond:
        raise UsageError(
            f"size {size} lies beyond the table, which goes from {sizes[0]} to {sizes[-1]}",
            where=what,
            cure="Ask for sizes of the table, or allow going beyond its end (--beyond-table).",
        )
    return place


def size_at(sizes: Sequence[str], place: float) -> str:
    """A place in the order of `sizes` as a label: `14`, `13.4`, else `M to L (40% on)`.

    Numbers are rounded to two decimals.

    >>> size_at(["10", "12", "14"], 1.25), size_at(["S", "M", "L"], 1.4)
    ('12.5', 'M to L (40% on)')
    """
    nearest = round(place)
    if abs(place - nearest) < 0.005 and 0 <= nearest < len(sizes):
        return sizes[nearest]
    before = min(max(int(place // 1), 0), max(len(sizes) - 2, 0))
    part = place - before
    try:
        a, b = (float(same_size(s)) for s in sizes[before : before + 2])
    except ValueError:
        if len(sizes) < 2:
            return sizes[0]
        first, second = sizes[before : before + 2]
        return f"{first} to {second} ({part * 100:.0f}% on)"
    return shown_size(f"{a + part * (b - a):.2f}")


def moved_place(
    place: float,
    sizes: Sequence[str],
    onto: Sequence[str],
    *,
    beyond: bool = False,
    what: str = "",
) -> float:
    """A place in one order of sizes as the place in another that has the same labels there.

    Raises LookupFailed where `onto` lacks a size that is needed, UsageError where that lies
    past its end and `beyond` does not allow it.
    """
    before = min(max(int(place // 1), 0), max(len(sizes) - 2, 0))
    if place == int(place) and 0 <= place < len(sizes):
        before = int(place)
    part = place - before
    first = position(onto, sizes[before], between=True, beyond=beyond, what=what)
    if part == 0.0:
        return first
    second = position(onto, sizes[before + 1], between=True, beyond=beyond, what=what)
    return first + part * (second - first)


def _by_number(sizes: Sequence[str], wanted: str) -> float | None:
    """The place of a numbered size among numbered sizes; None where it has none."""
    try:
        numbers = [float(same_size(s)) for s in sizes]
        number = float(wanted)
    except ValueError:
        return None
    if len(numbers) < 2 or not math.isfinite(number):
        return None
    for k, (a, b) in enumerate(pairwise(numbers)):
        if min(a, b) < number < max(a, b):
            return k + (number - a) / (b - a)
    first, last = numbers[1] - numbers[0], numbers[-1] - numbers[-2]
    for step, end, at, sign in (
        (last, numbers[-1], len(numbers) - 1, 1),
        (-first, numbers[0], 0, -1),
    ):
        past = (number - end) / step if step else 0.0
        if past > 0:
            # Sizes such as 2.4 may miss a whole step by rounding.
            past = round(past) if abs(past - round(past)) < 1e-9 else past
            return float(at + sign * past)
    return None
