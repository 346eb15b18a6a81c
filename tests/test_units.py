"""Lengths and shares, read and written as people write them."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import InputError, UnitError
from sizewright.units import (
    Unit,
    both,
    format_length,
    parse_css_length,
    parse_length,
    parse_share,
    parse_unit,
)

# Each row is one length in millimetres and many spellings of it.
SPELLINGS = [
    (
        15.0,
        ["15 mm", "15mm", "1.5 cm", "1,5 cm", "1.5cm", "1 1/2 cm", "0.015 m", "+15 mm", "15 MM"],
    ),
    (15.0, ["15 millimetres", "15 millimeters", "1.5 centimetres", "1,5 Centimeter", "15\u00a0mm"]),
    (
        38.1,
        ['1 1/2"', "1-1/2 in", "1½ in", "1 ½”", "1½″", "1.5 inches", "1,5 in.", "1 and 1/2 inch"],
    ),
    (38.1, ["1 1⁄2''", "1‑1/2 ins", "1 1 / 2 IN", "3/2 in", "1.50in"]),
    (15.875, ["5/8 in", '5/8"', "⅝ in", "⅝”", "0.625 in", ".625 in", ",625 in"]),
    (
        368.3,
        ["14.5in", "14 1/2 in", "1 ft 2½ in", "1' 2 1/2\"", "1′2½″", "1'-2 1/2\"", "1 foot 2.5 in"],
    ),
    (304.8, ["1 ft", "1'", "1’", "12 in", "1 feet", "1/3 yd"]),
    (990.6, ["1 yd 3 in", "1 yard 3 inches", "3 ft 3 in", "39 in"]),
    (1250.0, ["1 m 25 cm", "1 m 250 mm", "1.25 metres", "125 cm", "1 m 24 cm 10 mm"]),
    (-3.0, ["-3 mm", "−3 mm", "- 3 mm", "-0.3 cm", "-0,3cm"]),
    (-355.6, ["-1 ft 2 in", "-14 in"]),
    (0.5, ["0,500 mm", "0.500 mm", ".5 mm", "½ mm"]),
    (1500.0, ["1500 mm", "1500.000 mm", "1.5 m"]),
    (0.0, ["0 mm", "-0 mm", "0 in", "0/8 in"]),
]


@pytest.mark.parametrize(("mm", "text"), [(mm, text) for mm, texts in SPELLINGS for text in texts])
def test_every_spelling_is_the_same_float(mm: float, text: str) -> None:
    assert parse_length(text) == mm
    assert math.copysign(1, parse_length(text)) == math.copysign(1, mm)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "missing"),
        ("   ", "missing"),
        ("1.5", "does not say its unit"),
        ("5/8", "does not say its unit"),
        ("0", "does not say its unit"),
        ("1.500,2 cm", "not a length"),
        ("1,500.2 cm", "not a length"),
        ("1,500 mm", "1.500 or 1500"),
        ("12,345 cm", "12.345 or 12345"),
        ("1 2 cm", "not a length"),
        ("1 500 mm", "not a length"),
        ("1/0 in", "divides by zero"),
        ("1 1/0 in", "divides by zero"),
        ("1 3/2 in", "not less than one"),
        ("1.5 1/2 in", "not a length"),
        ("1/2.5 in", "not a length"),
        ("1/2/3 in", "not a length"),
        ("½½ in", "not a length"),
        ("½2 in", "not a length"),
        ("1 - 1/2 in", "not a length"),
        ("1 ft - 2 in", "not a length"),
        ("--3 mm", "not a length"),
        ("1 ft -2 in", "not a length"),
        ("5' 2", "does not say its unit"),
        ("2 in 1 ft", "mixes in and ft"),
        ("1 in 2 in", "mixes in and in"),
        ("1 ft 2 cm", "mixes ft and cm"),
        ("nan", "not a length"),
        ("nan mm", "not a length"),
        ("inf cm", "not a length"),
        ("-inf in", "not a length"),
        ("1e3 mm", "not a unit"),
        ("3 ells", "'ells'"),
        ("10 px", "'px'"),
        ("10 pt", "'pt'"),
        ("5 %", "not a length"),
        ("cm", "not a length"),
        ("5. mm", "not a length"),
        ("٣ mm", "not a length"),
        ("² mm", "not a length"),
        ("1_000 mm", "not a length"),
        ("9" * 500 + " mm", "too long"),
    ],
)
def test_missing_or_doubtful_is_refused_with_a_cure(text: str, says: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_length(text)
    assert says in str(caught.value)
    assert caught.value.cure
    assert len(str(caught.value)) < 250


def test_a_bare_number_is_read_in_the_default_unit_only() -> None:
    assert parse_length("1.5", default=Unit.CM) == 15
    assert parse_length("-5/8", default=Unit.IN) == -15.875
    assert parse_length("2 in", default=Unit.CM) == 50.8
    with pytest.raises(UnitError, match="does not say its unit"):
        parse_length("5' 2", default=Unit.IN)


def test_the_message_offers_both_readings_of_a_bare_number() -> None:
    with pytest.raises(UnitError, match=r"Write 1\.5 cm or 1\.5 in"):
        parse_length("1.5")
    assert issubclass(UnitError, InputError)


@pytest.mark.parametrize(
    ("text", "unit"),
    [("cm", Unit.CM), (" Inches ", Unit.IN), ('"', Unit.IN), ("FT", Unit.FT), ("yds.", Unit.YD)],
)
def test_units_by_name(text: str, unit: Unit) -> None:
    assert parse_unit(text) is unit


@pytest.mark.parametrize("text", ["", "px", "ell", "1 cm"])
def test_what_is_no_unit_is_refused_with_the_list(text: str) -> None:
    with pytest.raises(UnitError, match="Use one of mm, cm, m, in, ft, yd"):
        parse_unit(text)


@given(st.floats(-1e6, 1e6), st.sampled_from([Unit.MM, Unit.CM, Unit.M]))
def test_metric_text_reads_back_within_half_of_its_last_place(mm: float, unit: Unit) -> None:
    assert parse_length(format_length(mm, unit)) == pytest.approx(mm, abs=0.05 + 1e-9)
    exact = parse_length(format_length(mm, unit, decimals=9))
    assert exact == pytest.approx(mm, abs=0.5e-9 * unit.to_mm(1) + 1e-9)


@given(
    st.floats(-1e5, 1e5),
    st.sampled_from([Unit.IN, Unit.FT, Unit.YD]),
    st.sampled_from([2, 8, 16, 32, 10]),
)
def test_fractions_read_back_within_half_a_part_and_say_when_not_exact(
    mm: float, unit: Unit, denominator: int
) -> None:
    text = format_length(mm, unit, denominator=denominator)
    back = parse_length(text.removeprefix("≈ "))
    assert abs(back - mm) <= unit.to_mm(1) / denominator / 2 + 1e-9
    assert text.startswith("≈ ") == (abs(back - mm) > 0.005)
    assert format_length(mm, unit, denominator=denominator, mark="") == text.removeprefix("≈ ")


@given(st.integers(-4000, 4000), st.sampled_from([1, 2, 4, 8, 16]))
def test_whole_parts_of_an_inch_read_back_to_the_same_float(parts: int, denominator: int) -> None:
    mm = float(Fraction(parts, denominator) * Fraction(254, 10))
    text = format_length(mm, Unit.IN)
    assert not text.startswith("≈")
    assert parse_length(text) == mm


@given(
    st.integers(0, 99),
    st.integers(0, 63),
    st.sampled_from([2, 4, 8, 16, 32, 64]),
    st.sampled_from(["{w} {n}/{d} in", '{w}-{n}/{d}"', "{w} {n}⁄{d}″", "{w} and {n}/{d} inches"]),
)
def test_mixed_numbers_are_whole_and_part(w: int, n: int, d: int, shape: str) -> None:
    n %= d
    expected = float((w + Fraction(n, d)) * Fraction(254, 10))
    assert parse_length(shape.format(w=w, n=n, d=d)) == expected


@given(st.decimals(-10000, 10000, places=3, allow_nan=False))
def test_decimals_are_read_as_exact_fractions(value: object) -> None:
    assert parse_length(f"{value} in") == float(Fraction(str(value)) * Fraction(254, 10))


def _finite_or_refused(text: str) -> None:
    for parse in (parse_length, parse_css_length, parse_share):
        try:
            value = parse(text)
        except UnitError:
            continue
        assert math.isfinite(value)


@given(st.text(max_size=30))
def test_any_text_is_a_finite_number_or_a_unit_error(text: str) -> None:
    _finite_or_refused(text)


@given(st.lists(st.sampled_from([*"0123456789.,/-+ '\"", "in", "cm", "½", "ft", "%", "e"])))
def test_any_heap_of_marks_is_a_finite_number_or_a_unit_error(marks: list[str]) -> None:
    _finite_or_refused("".join(marks))


@pytest.mark.parametrize(
    ("mm", "unit", "text"),
    [
        (127.0, Unit.CM, "12.7 cm"),
        (15.0, Unit.CM, "1.5 cm"),
        (100.0, Unit.CM, "10 cm"),
        (0.04, Unit.CM, "0 cm"),
        (-0.04, Unit.CM, "0 cm"),
        (123.456, Unit.MM, "123.5 mm"),
        (1234.56, Unit.M, "1.2346 m"),
        (38.1, Unit.IN, "1 1/2 in"),
        (-38.1, Unit.IN, "-1 1/2 in"),
        (15.875, Unit.IN, "5/8 in"),
        (25.4 - 1e-9, Unit.IN, "1 in"),
        (15.0, Unit.IN, "≈ 9/16 in"),
        (0.4, Unit.IN, "≈ 0 in"),
        (0.0, Unit.IN, "0 in"),
        (1143.0, Unit.YD, "1 1/4 yd"),
        (25.4, Unit.PX, "96 px"),
    ],
)
def test_lengths_are_written_plainly(mm: float, unit: Unit, text: str) -> None:
    assert format_length(mm, unit) == text


def test_ways_of_writing_can_be_set() -> None:
    assert format_length(38.0, Unit.IN, decimals=3) == "1.496 in"
    assert format_length(15.0, Unit.IN, denominator=32, mark="about ") == "about 19/32 in"
    assert format_length(1234.0, Unit.CM, decimals=0) == "123 cm"
    with pytest.raises(ValueError, match="1 or more"):
        format_length(1.0, Unit.IN, denominator=0)


@pytest.mark.parametrize("mm", [math.nan, math.inf, -math.inf])
def test_what_is_not_finite_is_not_written(mm: float) -> None:
    with pytest.raises(UnitError):
        format_length(mm)


def test_both_systems_at_once() -> None:
    assert both(127.0) == "12.7 cm · 5 in"
    assert both(125.0) == "12.5 cm · ≈ 4 15/16 in"


@given(st.floats(-1e6, 1e6), st.sampled_from(list(Unit)))
def test_numbers_go_to_millimetres_and_back(value: float, unit: Unit) -> None:
    assert unit.from_mm(unit.to_mm(value)) == pytest.approx(value, rel=1e-15, abs=1e-300)


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("4%", 0.04),
        ("4 %", 0.04),
        ("4 per cent", 0.04),
        ("4 percent", 0.04),
        ("0.04", 0.04),
        ("0,04", 0.04),
        ("1/25", 0.04),
        ("-4%", -0.04),
        ("12,5%", 0.125),
        ("12½ %", 0.125),
        ("½", 0.5),
        ("150%", 1.5),
        ("3/2", 1.5),
        ("0", 0.0),
    ],
)
def test_shares(text: str, share: float) -> None:
    assert parse_share(text) == share


@pytest.mark.parametrize("text", ["", "4", "1", "1.5", "%", "4%%", "4 cm", "1/0", "nan", "inf%"])
def test_a_doubtful_share_is_refused_with_a_cure(text: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_share(text)
    assert "%" in caught.value.cure


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("420mm", 420.0),
        (" 29.7cm ", 297.0),
        ("10in", 254.0),
        ("96", 25.4),
        ("96px", 25.4),
        ("72PT", 25.4),
        ("6pc", 25.4),
        ("40q", 10.0),
        ("1e3px", 1000 * 25.4 / 96),
        ("1.e0in", 25.4),
        (".5in", 12.7),
        ("-5mm", -5.0),
        ("0", 0.0),
        ("210 mm", 210.0),
    ],
)
def test_css_lengths(text: str, mm: float) -> None:
    assert parse_css_length(text) == mm


def test_a_css_percentage_needs_something_to_take_it_of() -> None:
    assert parse_css_length("50%", percent_of=297.0) == 148.5
    with pytest.raises(UnitError, match="share of a size"):
        parse_css_length("50%")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "mm",
        "1em",
        "1ex",
        "10vw",
        "1 2mm",
        "1,5cm",
        "auto",
        "nan",
        "inf",
        "1e999mm",
        "1e9999999",
    ],
)
def test_other_css_lengths_are_refused(text: str) -> None:
    with pytest.raises(UnitError):
        parse_css_length(text)
