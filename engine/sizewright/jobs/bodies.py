"""Body measures and sizes at levels as the command line has them: `bust=92cm`, `waist=14`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager

from ..errors import SizewrightError, UsageError
from ..findings import Finding
from ..units import parse_length

#: No measure of a body is smaller or larger, mm.
_LEAST, _MOST = 10.0, 5000.0


def parse_measures(texts: Iterable[str]) -> dict[str, float]:
    """Measures in mm by name, from texts such as `bust=92cm` or `waist=29 1/2 in`.

    Raises UsageError for what is no NAME=LENGTH, for a name that is there twice, and for
    a length that no body has; a bare number is refused, as its unit is not known.
    """
    return {
        name: read_measure(name, text)
        for name, text in _pairs(texts, "a measure", "bust=92cm").items()
    }


def read_measure(name: str, text: str) -> float:
    """One measure of a body in mm. Raises UsageError that names it."""
    try:
        mm = parse_length(text)
    except SizewrightError as error:
        raise error.at(f"measure {name}") from None
    if not _LEAST <= mm <= _MOST:
        raise UsageError(
            f"{text.strip()} is no measure of a body",
            where=f"measure {name}",
            cure="Check the number and its unit, as in 92cm.",
        )
    return mm


@contextmanager
def doubting(doubts: Iterable[Finding]) -> Iterator[None]:
    """An error raised inside tells the doubts too: it may well come from what they speak of."""
    try:
        yield
    except SizewrightError as error:
        told = ((f"{d.place}: " if d.place else "", d.text, d.cure) for d in doubts)
        said = (f"{place}{text}. {cure}" for place, text, cure in told)
        error.cure = " ".join((error.cure, *said)).strip()
        raise


def parse_levels(texts: Iterable[str]) -> Mapping[str, str]:
    """Sizes by level, from texts such as `waist=14`. Raises UsageError as for measures."""
    return _pairs(texts, "a size at a level", "waist=14")


def _pairs(texts: Iterable[str], what: str, example: str) -> dict[str, str]:
    found: dict[str, str] = {}
    for text in texts:
        name, equals, value = (part.strip() for part in text.partition("="))
        if not name or not equals or not value:
            raise UsageError(f'"{text}" is not {what}', cure=f"Write it like {example}.")
        key = name.casefold()
        if key in found:
            raise UsageError(f'"{name}" is given twice', cure="Give it once.")
        found[key] = value
    return found
