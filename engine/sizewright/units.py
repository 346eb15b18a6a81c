"""Lengths and shares as people write them, in and out.

Inside the program every length is a float in millimetres; this module is the edge
where units are met. An inch is 25.4 mm exactly (by definition since 1959), so
numbers are read as exact fractions and rounded to a float once, at the end: every
spelling of one length gives the same float.

A dot is always a decimal point. A comma is a decimal comma, and is refused where it
could as well part thousands (`1,500 mm`).
"""

from __future__ import annotations

import math
import re
import unicodedata
from enum import Enum
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from sizewright.errors import UnitError

_INCH = Fraction(254, 10)
_LONGEST = 80
_HOW = 'Write it like 1.5 cm, 15 mm, 5/8 in or 1 1/2"'
_HOW_SHARE = "Write it like 4%, 0.04 or 1/25"

# How far a length may be from a written fraction of an inch and still count as exact.
_EXACT_MM = 0.005


class Unit(Enum):
    """A unit of length: `symbol` as it is written, `exact` millimetres as a fraction.

    >>> Unit.IN.to_mm(2), Unit.CM.from_mm(15)
    (50.8, 1.5)
    """

    MM = ("mm", Fraction(1))
    CM = ("cm", Fraction(10))
    M = ("m", Fraction(1000))
    IN = ("in", _INCH)
    FT = ("ft", _INCH * 12)
    YD = ("yd", _INCH * 36)
    PX = ("px", _INCH / 96)
    PT = ("pt", _INCH / 72)
    PC = ("pc", _INCH / 6)
    Q = ("Q", Fraction(1, 4))

    def __init__(self, symbol: str, exact: Fraction) -> None:
        self.symbol = symbol
        self.exact = exact

    def to_mm(self, value: float) -> float:
        """Millimetres in `value` of this unit."""
        return value * self.exact.numerator / self.exact.denominator

    def from_mm(self, mm: float) -> float:
        """`mm` millimetres counted in this unit."""
        return mm * self.exact.denominator / self.exact.numerator


_METRIC = (Unit.MM, Unit.CM, Unit.M)
_IMPERIAL = (Unit.IN, Unit.FT, Unit.YD)
_CSS = (Unit.MM, Unit.CM, Unit.IN, Unit.PX, Unit.PT, Unit.PC, Unit.Q)

_SPELLINGS: dict[Unit, tuple[str, ...]] = {
    Unit.MM: ("millimetre", "millimetres", "millimeter", "millimeters"),
    Unit.CM: ("centimetre", "centimetres", "centimeter", "centimeters"),
    Unit.M: ("metre", "metres", "meter", "meters"),
    Unit.IN: ("inch", "inches", "ins", '"'),
    Unit.FT: ("foot", "feet", "'"),
    Unit.YD: ("yard", "yards", "yds"),
}
_BY_WORD = {word: unit for unit, words in _SPELLINGS.items() for word in (unit.symbol, *words)}
_CSS_BY_WORD = {unit.symbol.casefold(): unit for unit in _CSS}

# Signs that stand for a plainer one. Two single quotes are an inch mark.
_PLAIN = str.maketrans(
    {
        **dict.fromkeys("″”“„˝＂", '"'),
        **dict.fromkeys("′’‘ʹ", "'"),
        **dict.fromkeys("−–‑‐", "-"),
        **dict.fromkeys("⁄∕", "/"),
        **dict.fromkeys("\u00a0\u2007\u2008\u2009\u200a\u202f\t", " "),
    }
)

_DIGITS = "[0-9]+"
_DECIMAL = rf"(?:{_DIGITS}(?:[.,]{_DIGITS})?|[.,]{_DIGITS})"
_NUMBER = rf"(?:(?:{_DIGITS}(?: +(?:and +)?|-))?{_DIGITS} ?/ ?{_DIGITS}|{_DECIMAL})"
_MIXED = re.compile(rf"(?:({_DIGITS})(?: +(?:and +)?|-))?({_DIGITS}) ?/ ?({_DIGITS})")
_PART = re.compile(rf"({_NUMBER}) *(\"|'|[^\W\d_]+\.?)?")
_BETWEEN = re.compile(r" +|-(?=[0-9])|(?=[0-9])")
_SHARE = re.compile(rf"([+-]?) *({_NUMBER}) *(%|per ?cent)?")
_CSS_LENGTH = re.compile(
    r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))(?:e([+-]?[0-9]{1,3}))? *(%|[a-z]*)", re.IGNORECASE
)


def parse_unit(text: str) -> Unit:
    """The unit that `text` names (`cm`, `inches`, `"`), whatever its case.

    Units of screens and print (px, pt) are not lengths that people measure in and are
    refused. Raises UnitError.

    >>> parse_unit("inches").symbol
    'in'
    """
    unit = _BY_WORD.get(_plain(text).casefold().removesuffix("."))
    if unit is None:
        known = ", ".join(u.symbol for u in (*_METRIC, *_IMPERIAL))
        raise UnitError(f"{_shown(text)} is not a unit of length", cure=f"Use one of {known}")
    return unit


def parse_length(text: str, *, default: Unit | None = None) -> float:
    """Millimetres of a length as a person writes it.

    Reads `1.5 cm`, `15mm`, `1,5 cm`, `5/8 in`, `1 1/2"`, `1-1/2 in`, `½ inch`,
    `1 ft 2 in`, `5' 2½"`, `-3 mm`. A mark `'` is feet, `"` or `''` inches. Several parts
    must run from the larger unit to the smaller within one system; a sign stands once, in
    front, for the whole. A number without a unit is read in `default`, and refused when
    there is none.

    Raises UnitError for anything missing, unknown or doubtful, with how to write it.

    >>> parse_length('1 1/2"'), parse_length("5/8 in"), parse_length("1,5 cm")
    (38.1, 15.875, 15.0)
    >>> parse_length("15", default=Unit.MM)
    15.0
    >>> parse_length("15")
    Traceback (most recent call last):
    sizewright.errors.UnitError: '15' does not say its unit. Write 15 cm or 15 in, whichever it is
    """
    plain = _plain(text)
    if not plain:
        raise UnitError("a length is missing", cure=_HOW)
    sign, body = _split_sign(plain)
    parts = _parts(text, body)
    total = Fraction(0)
    units: list[Unit] = []
    for number, word in parts:
        if word is None and (default is None or len(parts) > 1):
            raise UnitError(f"{_shown(text)} does not say its unit", cure=_missing_unit(number))
        unit = default if word is None else _BY_WORD.get(word.casefold().removesuffix("."))
        if unit is None:
            raise UnitError(f"{word!r} in {_shown(text)} is not a unit of length", cure=_HOW)
        units.append(unit)
        total += _number(text, number, _HOW) * unit.exact
    _check_descending(text, units)
    return float(sign * total)


def parse_css_length(text: str, *, percent_of: float | None = None) -> float:
    """Millimetres of a length in CSS or an SVG attribute.

    Units are mm, cm, in, px, pt, pc and Q in any case; a bare number is CSS pixels of
    1/96 in. A percentage is taken of `percent_of` (mm). Space before the unit is
    let pass. Source: CSS Values and Units, absolute lengths.

    Raises UnitError for other units (em, vw, ...), for a percentage without anything to
    take it of, and for what is no finite number.

    >>> parse_css_length("96px"), parse_css_length("50%", percent_of=210)
    (25.4, 105.0)
    """
    how = "Give it in mm, cm, in, px, pt or pc"
    match = _CSS_LENGTH.fullmatch(text.strip()) if len(text) <= _LONGEST else None
    if match is None:
        raise UnitError(f"{_shown(text)} is not a length", cure=how)
    digits, exponent, word = match[1], int(match[2] or 0), match[3].casefold()
    if abs(exponent) > 100:
        raise UnitError(f"{_shown(text)} is out of all measure", cure=how)
    value = Fraction(digits) * Fraction(10) ** exponent
    if word == "%":
        if percent_of is None:
            raise UnitError(f"{_shown(text)} is a share of a size that is not given", cure=how)
        return float(value * Fraction(percent_of) / 100)
    unit = _CSS_BY_WORD.get(word) if word else Unit.PX
    if unit is None:
        raise UnitError(f"the unit of {_shown(text)} has no fixed length", cure=how)
    return float(value * unit.exact)


def parse_share(text: str) -> float:
    """A share as a plain ratio: `4%`, `4 per cent`, `0.04` and `1/25` are all 0.04.

    A bare whole number is refused, since `4` may mean 4% or four times. Raises UnitError.

    >>> parse_share("4%"), parse_share("1/4")
    (0.04, 0.25)
    """
    plain = _plain(text)
    match = _SHARE.fullmatch(plain)
    if match is None:
        raise UnitError(f"{_shown(text)} is not a share", cure=_HOW_SHARE)
    value = _number(text, match[2], _HOW_SHARE)
    if match[3]:
        value /= 100
    elif value >= 1 and "/" not in match[2]:
        raise UnitError(
            f"{_shown(text)} does not say whether it is per cent",
            cure=f"Write {match[2]}%, or {float(value * 100):g}% for {float(value):g} times",
        )
    return float(-value if match[1] == "-" else value)


def format_length(
    mm: float,
    unit: Unit = Unit.CM,
    *,
    decimals: int | None = None,
    denominator: int = 16,
    mark: str = "≈ ",
) -> str:
    """`mm` written in `unit`, to the nearest tenth of a millimetre or 1/16 of an inch.

    Inches, feet and yards are mixed fractions to the nearest 1/`denominator`, with `mark`
    in front when that is more than 0.005 mm off; all else, and those too when `decimals`
    is given, are decimals without trailing zeros, rounded to `decimals` places (by
    default: mm 1, cm 2, m 4, others 3). Without the mark, parse_length reads all but the
    CSS units back.

    Raises UnitError when `mm` is not finite, ValueError when `denominator` is below 1.

    >>> format_length(38.1, Unit.IN), format_length(15), format_length(100, Unit.IN)
    ('1 1/2 in', '1.5 cm', '≈ 3 15/16 in')
    """
    if not math.isfinite(mm):
        raise UnitError(f"{mm} is not a length")
    if denominator < 1:
        raise ValueError(f"denominator must be 1 or more, not {denominator}")
    if decimals is None and unit in _IMPERIAL:
        return _in_fractions(mm, unit, denominator, mark)
    places = {Unit.MM: 1, Unit.CM: 2, Unit.M: 4}.get(unit, 3) if decimals is None else decimals
    return f"{_decimal(unit.from_mm(mm), places)} {unit.symbol}"


def both(mm: float, *, denominator: int = 16) -> str:
    """`mm` in centimetres and in inches: `12.7 cm · 5 in`.

    >>> both(127)
    '12.7 cm · 5 in'
    """
    inches = format_length(mm, Unit.IN, denominator=denominator)
    return f"{format_length(mm, Unit.CM)} · {inches}"


def _plain(text: str) -> str:
    """`text` with typographic fractions, quotes, dashes and spaces made plain."""
    if len(text) > _LONGEST:
        raise UnitError(f"{_shown(text)} is too long for a length or share", cure=_HOW)
    out: list[str] = []
    for char in text:
        # '⅝' decomposes to '5⁄8'; spaces keep it apart from digits on either side.
        spelt = unicodedata.normalize("NFKC", char)
        if "⁄" in spelt and spelt != char:
            apart = " " if out and out[-1].isdigit() else ""
            out.append(f"{apart}{spelt} ")
        else:
            out.append(char)
    return "".join(out).translate(_PLAIN).replace("''", '"').strip()


def _split_sign(plain: str) -> tuple[int, str]:
    if plain[:1] in ("+", "-"):
        return (-1 if plain[0] == "-" else 1), plain[1:].lstrip()
    return 1, plain


def _parts(text: str, body: str) -> list[tuple[str, str | None]]:
    """The (number, unit word) pairs that make up `body`, all of it."""
    parts: list[tuple[str, str | None]] = []
    at = 0
    while at < len(body):
        if parts:
            between = _BETWEEN.match(body, at)
            if between is None:
                raise UnitError(f"{_shown(text)} is not a length", cure=_HOW)
            at = between.end()
        match = _PART.match(body, at)
        if match is None or (match[2] is None and match.end() < len(body)):
            raise UnitError(f"{_shown(text)} is not a length", cure=_HOW)
        parts.append((match[1], match[2]))
        at = match.end()
    if not parts:
        raise UnitError(f"{_shown(text)} is not a length", cure=_HOW)
    return parts


def _number(text: str, number: str, how: str) -> Fraction:
    """The exact value of a decimal, fraction or mixed number without sign."""
    mixed = _MIXED.fullmatch(number)
    if mixed is None:
        whole, comma, after = number.partition(",")
        if comma and len(after) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0"):
            raise UnitError(
                f"the comma in {_shown(text)} may be a decimal comma or part thousands",
                cure=f"Write {whole}.{after} or {whole}{after}",
            )
        return Fraction(number.replace(",", "."))
    units, top, bottom = int(mixed[1] or 0), int(mixed[2]), int(mixed[3])
    if bottom == 0:
        raise UnitError(f"{_shown(text)} divides by zero", cure=how)
    if mixed[1] is not None and top >= bottom:
        raise UnitError(f"{top}/{bottom} in {_shown(text)} is not less than one", cure=how)
    return units + Fraction(top, bottom)


def _missing_unit(number: str) -> str:
    return f"Write {number} cm or {number} in, whichever it is"


def _check_descending(text: str, units: list[Unit]) -> None:
    for before, after in pairwise(units):
        same_system = any(before in s and after in s for s in (_METRIC, _IMPERIAL))
        if not same_system or after.exact >= before.exact:
            raise UnitError(
                f"{_shown(text)} mixes {before.symbol} and {after.symbol}",
                cure="Write it in one unit, or the larger first, like 1 ft 2 in",
            )


@lru_cache(maxsize=1024)
def _in_fractions(mm: float, unit: Unit, denominator: int, mark: str) -> str:
    pieces = round(Fraction(mm) / unit.exact * denominator)
    near = Fraction(pieces, denominator)
    whole, rest = divmod(abs(near), 1)
    words = [str(whole)] if whole or not rest else []
    if rest:
        words.append(f"{rest.numerator}/{rest.denominator}")
    sign = "-" if near < 0 else ""
    inexact = abs(Fraction(mm) - near * unit.exact) > _EXACT_MM
    return f"{mark if inexact else ''}{sign}{' '.join(words)} {unit.symbol}"


def _decimal(value: float, places: int) -> str:
    """`value` with at most `places` decimals, no trailing zeros, no minus zero."""
    text = f"{value:.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _shown(text: str) -> str:
    """`text` quoted for a message, cut when it is long."""
    return repr(text if len(text) <= 40 else f"{text[:37]}...")
