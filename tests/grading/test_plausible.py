"""Tables that can hardly be meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from sizewright.errors import InputError
from sizewright.grading import doubtful_tables, read_chart, read_rules
from sizewright.shipped import shipped

HEAD = "rule,axis,unit,8,10,12,14,16\n"
OTHERS = "\nb,width,mm,,4,4,4,4\nc,width,mm,,6,6,6,6\nd,width,mm,,5,5,5,5"


@pytest.mark.parametrize(
    "file",
    sorted(shipped("grade_tables/misses-1967.csv").parent.glob("*.csv")),
    ids=lambda f: f.name,
)
def test_shipped_tables_raise_no_eyebrow(file: Path) -> None:
    try:
        assert doubtful_tables(rules=read_rules(file)) == ()
    except InputError:
        assert doubtful_tables(chart=read_chart(file)) == ()


@pytest.mark.parametrize(
    ("sizes", "meant"),
    [
        ("8,10,14,12,16", "8, 10, 12, 14, 16"),
        ("16,12,14,10,8", "16, 14, 12, 10, 8"),
        ("8,10,12,14,16", None),
        ("16,14,12,10,8", None),
        ("00,0,2,4,6", None),
        ("S,M,L,XL,XXL", None),
    ],
)
def test_sizes_out_of_order(sizes: str, meant: str | None) -> None:
    found = doubtful_tables(read_rules(f"rule,axis,unit,{sizes}\nside,width,mm,,5,5,5,5\n"))
    assert [f.code for f in found] == ["sizes-out-of-order"] * (meant is not None)
    assert all(f.cure.startswith(f"{meant} was") for f in found)


@pytest.mark.parametrize(
    ("rows", "place", "meant"),
    [
        ("a,width,mm,,5,50,5,5", "a width", "0.5 cm"),
        ("a,width,mm,,5,8,5,12", "", ""),
        ("a,width,cm,,12,12,12,12" + OTHERS, "a width", "1.2 cm"),
        ("a,width,cm,,2,2,2,2" + OTHERS, "", ""),
    ],
)
def test_steps_that_stand_out(rows: str, place: str, meant: str) -> None:
    found = doubtful_tables(read_rules(f"{HEAD}{rows}\n", name="my/rules.csv"))
    assert [f.place for f in found] == [place] * bool(place)
    assert all(f.code == "odd-step" and meant in f.cure for f in found)
    assert all("(rules.csv)" in f.text for f in found)


def test_steps_over_several_sizes_at_once_do_not_stand_out() -> None:
    rows = "rule,axis,unit,8,10,12,22\na,width,mm,,5,5,30\n"
    assert doubtful_tables(read_rules(rows)) == ()


def test_measures_that_fall_and_girths_of_no_body() -> None:
    chart = read_chart(
        "measure,unit,8,10,12\nbust,cm,88,83,98\nwaist,mm,72,73,75\nheight,cm,168,168,168"
    )
    falls, small = doubtful_tables(chart=chart)
    assert (falls.code, falls.place) == ("measure-falls", "bust")
    assert "from 88 cm" in falls.cure
    assert "to 98 cm" in falls.cure
    assert (small.code, small.place) == ("small-girth", "waist")
    assert "72 cm" in small.cure
    fallen = read_chart("measure,unit,12,10,8\nbust,cm,98,93,88")
    assert doubtful_tables(chart=fallen) == ()


@pytest.mark.parametrize(
    ("mm", "meant"), [(92.0, "92 cm"), (36.0, "91.44 cm"), (9200.0, "92 cm"), (1100.0, None)]
)
def test_a_body_that_no_chart_has(mm: float, meant: str | None) -> None:
    chart = read_chart("measure,unit,8,10,12\nbust,cm,88,92,96")
    found = doubtful_tables(chart=chart, measures={"bust": mm})
    assert [f.code for f in found] == ["odd-measure"] * (meant is not None)
    assert all(f.cure.startswith(str(meant)) for f in found)


@pytest.mark.parametrize(
    ("body", "odd"),
    [
        ({"bust": 920.0, "waist": 740.0, "hip": 990.0}, []),
        ({"bust": 860.0, "waist": 700.0, "hip": 1120.0}, []),
        ({"bust": 1040.0, "waist": 1030.0, "hip": 1060.0}, []),
        ({"bust": 920.0, "waist": 1300.0, "hip": 600.0}, ["waist", "waist", "bust"]),
        ({"bust": 920.0, "upper-chest": 1200.0}, ["upper-chest"]),
        ({"height": 1220.0, "chest": 1020.0}, ["chest"]),
    ],
)
def test_measures_that_contradict_each_other(body: dict[str, float], odd: list[str]) -> None:
    chart = read_chart("measure,unit,8,10,12\nbust,cm,88,92,96")
    found = doubtful_tables(chart=chart, measures=body)
    assert [(f.code, f.place) for f in found] == [("odd-body", place) for place in odd]
    # A slip of the unit is told as that alone.
    slipped = doubtful_tables(chart=chart, measures=body | {"bust": 92.0})
    assert "odd-measure" in {f.code for f in slipped}
    assert not any("bust" in f.text for f in slipped if f.code == "odd-body")
