"""Sizes between two columns and past the last; which size a measure tells."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import interp1d

from sizewright.errors import InputError, LookupFailed, UsageError
from sizewright.grading import grade, read_chart, read_rules, size_at
from sizewright.grading.sizes import moved_place, position
from sizewright.model import Pattern

from .outlines import bodice_half

CHART = read_chart("measure,unit,10,12,14,18\nbust,cm,80,84,90,100\nhead,cm,54,55,55,56\n")
RULES = read_rules(
    "rule,axis,unit,10,12,14,18\nhem-side,width,mm,,4,8,12\nwaist,width,mm,,4,8,12\n"
    "underarm,width,mm,,4,8,12\nunderarm,length,mm,,1,2,3\nhem-centre,width,mm,,0,0,0\n"
    "shoulder,width,mm,,2,3,4\nneck,width,mm,,1,1,1\nneck-centre,length,mm,,1,1,1\n"
)


@pytest.mark.parametrize(
    ("size", "place"),
    [("10", 0), ("12", 1), ("11", 0.5), ("13.5", 1.75), ("15", 2.25), ("17", 2.75)],
)
def test_a_number_between_two_stands_by_its_share(size: str, place: float) -> None:
    assert position(CHART.sizes, size, between=True) == place
    assert size_at(CHART.sizes, place) == size


def test_labels_that_are_no_numbers_have_nothing_between() -> None:
    with pytest.raises(LookupFailed, match="no size M"):
        position(("10", "12"), "M", between=True)
    with pytest.raises(LookupFailed, match="no size 11"):
        position(("S", "M", "L"), "11", between=True, beyond=True)
    assert size_at(("S", "M", "L"), 1.4) == "M to L (40% on)"
    assert size_at(("S", "M", "L"), 1.0) == "M"
    # 00 stays a size of its own before 0.
    assert position(("00", "0", "2"), "1", between=True) == 1.5
    for odd in ("nan", "inf", "-inf"):
        with pytest.raises(LookupFailed):
            position(("10", "12"), odd, between=True, beyond=True)


def test_past_the_end_only_when_asked_for() -> None:
    with pytest.raises(UsageError, match="goes from 10 to 18"):
        position(CHART.sizes, "20", between=True)
    assert position(CHART.sizes, "20", between=True, beyond=True) == 3.5
    assert position(CHART.sizes, "9", between=True, beyond=True) == -0.5
    assert size_at(CHART.sizes, 3.5) == "20"
    assert size_at(CHART.sizes, -0.5) == "9"


@given(st.floats(75, 110))
def test_the_chart_between_columns_is_a_straight_line(bust: float) -> None:
    # Against scipy's own interpolation and extrapolation.
    column = CHART.values["bust"]
    line = interp1d(range(4), column, fill_value="extrapolate")  # type: ignore[arg-type]
    place = CHART.place_of("bust", bust * 10)
    assert float(line(place)) == pytest.approx(bust * 10, abs=1e-9)
    assert CHART.at("bust", place) == pytest.approx(bust * 10, abs=1e-9)


def test_measures_that_stand_still_or_fall() -> None:
    assert CHART.place_of("head", 550.0) == 1.5
    assert CHART.place_of("head", 545.0) == 0.5
    assert CHART.place_of("head", 570.0) == 4.0
    with pytest.raises(LookupFailed, match="no measure"):
        CHART.place_of("hip", 900.0)
    for column in ("54,54", "54,53"):
        flat = read_chart(f"measure,unit,8,10\nhead,cm,{column}\n")
        with pytest.raises(InputError, match="does not grow"):
            flat.place_of("head", 540.0)


def test_places_move_from_chart_to_table_by_their_labels() -> None:
    assert moved_place(2.5, ("8", "10", "12", "14"), ("12", "14", "16"), what="") == 0.5
    assert moved_place(1.0, ("8", "10"), ("10", "12"), what="") == 0.0
    # A table whose columns lie wider apart has the chart's size between two of its own.
    assert moved_place(1.0, ("8", "10"), ("8", "12"), what="") == 0.5
    with pytest.raises(UsageError, match="size 8 lies beyond"):
        moved_place(0.5, ("8", "10"), ("10", "12"), what="")
    assert moved_place(0.5, ("8", "10"), ("10", "12"), beyond=True) == -0.5
    with pytest.raises(LookupFailed, match="no size M"):
        moved_place(0.5, ("S", "M"), ("S", "L"))


def test_a_size_between_is_half_of_both_and_said_so() -> None:
    pattern = Pattern((bodice_half(),), "12")
    out = grade(pattern, RULES, ["12", "13", "14"])
    ends = [p.outline.path.controls for p in out.pattern.pieces]
    # The map is linear, so half a step lies half-way: to rounding.
    np.testing.assert_allclose(ends[1], (ends[0] + ends[2]) / 2, rtol=0, atol=1e-9)
    (said,) = [f for f in out.findings if f.code == "between-sizes"]
    assert "lies between 12 and 14: it takes 50% of that step" in said.text


def test_beyond_the_table_is_said() -> None:
    pattern = Pattern((bodice_half(),), "12")
    out = grade(pattern, RULES, ["20"], allow_far=True)
    (said,) = [f for f in out.findings if f.code == "beyond-table"]
    assert said.level == "warn"
    half = grade(pattern, RULES, ["18"]).pattern.pieces[0].outline.vertex_at(3)
    far = out.pattern.pieces[0].outline.vertex_at(3)
    np.testing.assert_allclose(far - half, [6.0, 1.5], rtol=0, atol=1e-9)
