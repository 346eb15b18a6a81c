"""Which size of a chart a body is."""

from __future__ import annotations

import pytest

from sizewright.errors import LookupFailed, UsageError
from sizewright.grading import by_height, fit_measures, garment_size, read_chart
from sizewright.shipped import shipped

CHART = read_chart(
    "measure,unit,10,12,14\nbust,cm,84,88,94\nupper-chest,cm,82,85,88\nhip,cm,90,94,100\n"
)
RANGES = read_chart(
    "measure,unit,88,92\nbust,cm,88,92\nbust-from,cm,86,90\nbust-to,cm,90,94\nwaist,cm,72,76\n"
)


@pytest.mark.parametrize(
    ("bust", "size", "beyond"),
    [
        (840, "10", False),
        (859, "10", False),
        (860, "12", False),
        (861, "12", False),
        (909, "12", False),
        (911, "14", False),
        (945, "14", True),
        (700, "10", True),
    ],
)
def test_the_nearest_column(bust: float, size: str, beyond: bool) -> None:
    (fit,) = fit_measures(CHART, {"bust": bust})
    assert (fit.size, fit.beyond) == (size, beyond)


@pytest.mark.parametrize(
    ("bust", "size", "beyond"),
    [
        (859, "88", True),
        (860, "88", False),
        (899.9, "88", False),
        (900, "92", False),
        (940, "92", False),
        (941, "92", True),
    ],
)
def test_ranges_settle_it_where_the_chart_has_them(bust: float, size: str, beyond: bool) -> None:
    (fit,) = fit_measures(RANGES, {"bust": bust})
    assert (fit.size, fit.beyond) == (size, beyond)


def test_a_garment_goes_by_its_own_measure() -> None:
    fits = fit_measures(CHART, {"bust": 940, "upper-chest": 850, "hip": 900})
    assert garment_size(fits, "upper").size == "12"
    assert garment_size(fits, "full").measure == "upper-chest"
    assert garment_size(fits, "lower").size == "10"
    assert garment_size(fits[:1], "upper").size == "14"
    with pytest.raises(UsageError, match="told by hip or waist"):
        garment_size(fits[:2], "lower")
    with pytest.raises(LookupFailed, match=r"has no knee.*bust, upper-chest, hip"):
        fit_measures(CHART, {"knee": 400})
    with pytest.raises(LookupFailed, match="It has bust, waist"):
        fit_measures(RANGES, {"hip": 900})


def test_children_go_by_their_height() -> None:
    chart = read_chart(shipped("grade_tables/children-height.csv"))
    assert by_height(chart)
    assert not by_height(read_chart(shipped("grade_tables/misses-1967.csv")))
    fits = fit_measures(chart, {"chest": 580.0, "height": 1220.0})
    assert garment_size(fits, "upper", height=True).size == "122"
    assert garment_size(fits, "upper").size == "110"  # by chest alone it would be this
    with pytest.raises(UsageError, match="sizes of this chart are heights"):
        garment_size(fits[:1], "upper", height=True)
