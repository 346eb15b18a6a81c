"""Numbers and lengths in SVG attributes."""

from __future__ import annotations

import math
import re

from ...errors import InputError, UnitError
from ...units import Unit, parse_css_length

#: Millimetres further out than this are beyond any drawing.
FARTHEST = 1e8

NUMBER = r"[-+]?(?:[0-9]++(?:\.[0-9]*+)?|\.[0-9]++)(?:[eE][-+]?[0-9]++)?"
_NUMBER = re.compile(NUMBER)
_GAP = re.compile(r"[\s,]*")
_NOT_FINITE = re.compile(r"[-+]?(nan|inf)", re.IGNORECASE)


def finite(text: str) -> float:
    """A number; InputError when it is too large to hold."""
    value = float(text)
    if not math.isfinite(value):
        raise InputError(f"the number {text[:20]} is not finite", cure="Give a plain number.")
    return value


def within_reach(*mm: float) -> None:
    """InputError where a coordinate or radius in mm lies beyond any drawing."""
    if not all(abs(v) < FARTHEST for v in mm):
        raise InputError(
            "a coordinate lies more than 100 km from the page", cure="Draw the shape again."
        )


def refuse_not_finite(text: str) -> None:
    """InputError where `text` begins with NaN or infinity."""
    if _NOT_FINITE.match(text):
        raise InputError(
            f'a number "{re.split(r"[^a-zA-Z+-]", text)[0][:12]}" is not finite',
            cure="Give a plain number.",
        )


def numbers(text: str) -> tuple[list[float], str]:
    """Numbers parted by space or commas, and the rest that cannot be read ("" when none).

    Raises InputError for NaN and infinity.
    """
    found: list[float] = []
    at = _end(_GAP, text, 0)
    while at < len(text):
        match = _NUMBER.match(text, at)
        if match is None:
            refuse_not_finite(text[at:])
            return found, text[at:]
        found.append(finite(match[0]))
        at = _end(_GAP, text, match.end())
    return found, ""


def _end(pattern: re.Pattern[str], text: str, at: int) -> int:
    match = pattern.match(text, at)
    return match.end() if match else at


def user_length(text: str, *, percent_of: float | None = None) -> float:
    """A length of an attribute in user units; bare numbers are user units already.

    A unit counts as so many CSS pixels (SVG 1.1, 7.10). `percent_of` is in user units.
    Raises UnitError and InputError.
    """
    plain = text.strip()
    refuse_not_finite(plain)
    if _NUMBER.fullmatch(plain):
        return finite(plain)
    if plain.endswith("%"):
        if percent_of is None or not _NUMBER.fullmatch(plain[:-1].strip()):
            raise UnitError(f"{text[:40]!r} is a share of a size that is not given")
        return finite(plain[:-1]) * percent_of / 100.0
    return Unit.PX.from_mm(parse_css_length(plain))
