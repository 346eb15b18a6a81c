"""Numbers in table cells, and what a spreadsheet may have made of them."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache

from ..errors import InputError, UnitError
from ..units import Unit, parse_length, parse_unit

_MONTH = (
    "jan|feb|fev|fév|mar|mär|mrz|mrt|apr|abr|avr|may|mai|mei|maj|mag|jun|juin|giu|jul|juil|lug|"
    "aug|ago|aoû|aou|sep|set|oct|okt|out|ott|nov|dec|dez|déc|dic|ene|gen"
)
_WORD = rf"(?:{_MONTH})[^\W\d_]*\.?"
_PART = r"[-/. ]+"
_DATES = (
    rf"\d{{1,2}}{_PART}{_WORD}(?:{_PART}\d{{2,4}})?",
    rf"{_WORD}{_PART}\d{{1,4}}(?:,? +\d{{4}})?",
    r"\d{4}([-/.])\d{1,2}\1\d{1,2}",
    r"\d{1,2}([-/.])\d{1,2}\2\d{2,4}",
    r"\d{1,2}\.\d{1,2}\.",
)
_DATE = re.compile(rf"(?:{'|'.join(_DATES)})(?:[T ]+\d{{1,2}}:\d{{2}}(?::\d{{2}})?)?", re.I)
_POWER = re.compile(r"[-+]?\d+(?:[.,]\d+)?e[-+]?\d{1,2}", re.I)
_SHARE = re.compile(r"([-+]?)\s*(?:(\d+)\s*/\s*(\d+)|(\d*[.,]?\d+|\d+[.,]))\s*(%?)")
#: Whole days counted from 1900 that a date of about 1990 to 2060 turns into.
_SERIAL = range(32874, 58440)

AS_DECIMAL = "Write it as a decimal, such as 0.25 for 1/4, so that no spreadsheet changes it."


def is_date(text: str) -> bool:
    """Whether a cell reads like a date: what a spreadsheet makes of `1/4`."""
    return _DATE.fullmatch(text.strip()) is not None


def refuse_date(text: str) -> None:
    """Raise InputError where a cell has turned into a date."""
    if is_date(text):
        raise InputError(f'"{text}" has turned into a date', cure=AS_DECIMAL)


@lru_cache(maxsize=1024)
def length(text: str, unit: Unit, *, most: float, decimal_comma: bool = False) -> float:
    """A cell's length in mm: a plain number in `unit`, or one that names its own.

    With `decimal_comma` a comma never parts thousands: `1,375` is 1.375.

    Raises InputError for a date, for what is no number, and beyond `most` mm.
    """
    refuse_date(text)
    if decimal_comma and text.count(",") == 1 and "." not in text:
        text = text.replace(",", ".")
    try:
        if _POWER.fullmatch(text):
            mm = float(Fraction(text.replace(",", ".")) * unit.exact)
        else:
            mm = parse_length(text, default=unit)
    except UnitError as error:
        what = f'"{text[:40]}" is not a number' if not any(map(str.isdigit, text)) else error.what
        raise InputError(what, cure=error.cure if what is error.what else AS_DECIMAL) from None
    if text.isdigit() and int(text) in _SERIAL:
        raise InputError(f"{text} looks like a date that was counted in days", cure=AS_DECIMAL)
    if abs(mm) > most:
        raise InputError(f"{text} {unit.symbol} is beyond all measure", cure="Check the unit.")
    return mm


def share(text: str) -> float:
    """A cell's share: `0.25`, `0,25`, `25%`, `1/4`, or blank for none. Raises InputError."""
    if not text:
        return 0.0
    refuse_date(text)
    match = _SHARE.fullmatch(text)
    if match is None or match[3] in ("0", "00"):
        raise InputError(f'"{text[:40]}" is not a share', cure="Write it like 0.25 or 25%.")
    if match[2]:
        value = Fraction(int(match[2]), int(match[3]))
    else:
        value = Fraction(match[4].replace(",", ".").rstrip("."))
    if match[5]:
        value /= 100
    if value > 2:
        raise InputError(
            f"a share of {text} is more than twice the measure",
            cure=f"Write {text}% where per cent is meant.",
        )
    return float(-value if match[1] == "-" else value)


def unit(text: str) -> Unit:
    """A unit cell: mm, cm or in. Raises InputError."""
    try:
        found = parse_unit(text)
    except UnitError:
        found = None
    if found not in (Unit.MM, Unit.CM, Unit.IN):
        raise InputError(f'"{text}" is not a unit of a table', cure="Write mm, cm or in.")
    return found
