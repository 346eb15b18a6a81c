"""Units against published equalities.

Source: CSS Values and Units, absolute lengths: 1 in = 2.54 cm = 96 px = 72 pt = 6 pc,
1 cm = 96/2.54 px, 1 Q = 1/40 cm, 1 pt = 4/3 px, 1 pc = 16 px. The inch of 25.4 mm, the
foot of 12 in and the yard of 3 ft: international yard agreement of 1959. Roll widths and
sheet sizes in both systems: ISO 216 and ANSI/ASME Y14.1.
"""

from __future__ import annotations

import pytest

from sizewright.units import Unit, format_length, parse_css_length, parse_length


@pytest.mark.parametrize("text", ["1in", "2.54cm", "25.4mm", "96px", "96", "72pt", "6pc", "101.6Q"])
def test_one_inch_in_every_css_unit(text: str) -> None:
    assert parse_css_length(text) == 25.4


@pytest.mark.parametrize(
    ("one", "other"),
    [("40Q", "1cm"), ("1pt", "1.3333333333333333px"), ("1pc", "16px"), ("3pt", "4px")],
)
def test_css_units_against_each_other(one: str, other: str) -> None:
    assert parse_css_length(one) == pytest.approx(parse_css_length(other), rel=1e-15)


@pytest.mark.parametrize(
    ("unit", "pixels"), [(Unit.CM, 37.7953), (Unit.MM, 3.77953), (Unit.IN, 96.0), (Unit.PC, 16.0)]
)
def test_pixels_in_a_unit_as_printed(unit: Unit, pixels: float) -> None:
    """The printed figures have six digits."""
    assert Unit.PX.from_mm(unit.to_mm(1)) == pytest.approx(pixels, rel=2e-6)


def test_a_pixel_in_millimetres_as_printed() -> None:
    assert parse_css_length("1px") == pytest.approx(0.264583, abs=5e-7)


@pytest.mark.parametrize(
    ("inches", "mm"), [("24 in", 609.6), ("36 in", 914.4), ("42 in", 1066.8), ("1 yd", 914.4)]
)
def test_roll_widths_in_both_systems(inches: str, mm: float) -> None:
    """Published roll widths: 24 in is 609.6 mm, 36 in is 914.4 mm, 42 in is 1066.8 mm."""
    assert parse_length(inches) == mm
    assert parse_length(format_length(mm, Unit.IN)) == mm


@pytest.mark.parametrize(
    ("mm", "inches"), [(215.9, "8 1/2 in"), (279.4, "11 in"), (355.6, "14 in"), (431.8, "17 in")]
)
def test_sheet_sides_are_written_as_the_standard_names_them(mm: float, inches: str) -> None:
    """ANSI A is 8 1/2 by 11 in, B is 11 by 17 in; legal paper is 14 in long."""
    assert format_length(mm, Unit.IN) == inches
