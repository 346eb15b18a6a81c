"""Rule tables, size charts and point tables: read, refused, written, as spreadsheets leave them."""

from __future__ import annotations

import csv
import io
import re
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import InputError, LookupFailed, UsageError
from sizewright.grading import (
    PointRule,
    RuleTable,
    ShareRule,
    SizeChart,
    StepRule,
    read_chart,
    read_points,
    read_rules,
    write_chart,
    write_points,
    write_rules,
)
from sizewright.units import Unit

pytestmark = pytest.mark.release

HERE = Path(__file__).resolve().parents[1] / "fixtures" / "tables"
SAVED = ["comma", "quoted", "utf16tab", "xlsx", "ods", "desemi", "decomma"]


def plain(table: RuleTable) -> tuple[object, ...]:
    return table.kind, table.rules, table.sizes, table.measures


# --- files saved by a spreadsheet ------------------------------------------------------------


@pytest.mark.parametrize("saved", [*SAVED, "plain"])
def test_rules_saved_by_a_spreadsheet_read_the_same(saved: str) -> None:
    typed = read_rules(HERE / "rules.csv")
    assert plain(read_rules(HERE / f"rules-{saved}.csv")) == plain(typed)
    assert read_rules(HERE / f"rules-{saved}.csv").notes == typed.notes
    assert typed.sizes == ("6", "8", "10", "12", "14", "16")
    by_name = {(r.rule, r.axis): r for r in typed.rules if isinstance(r, StepRule)}
    # Quarter, quarter, three eighths, half, half inch.
    assert by_name["bust-side", "width"].steps == (0.0, 6.35, 6.35, 9.525, 12.7, 12.7)
    assert by_name["hem-side", "length"].steps == (0.0, 0.0, 0.0, -5.0, 0.0, 12.5)


@pytest.mark.parametrize("saved", SAVED)
def test_a_chart_saved_by_a_spreadsheet_reads_the_same(saved: str) -> None:
    typed, again = read_chart(HERE / "chart.csv"), read_chart(HERE / f"chart-{saved}.csv")
    assert (again.sizes, again.values, again.units) == (typed.sizes, typed.values, typed.units)
    assert typed.value("bust", "S") == 845.0
    assert typed.value("back-length", "xl") == 419.1
    assert typed.changes("S", "M")["waist"] == pytest.approx(55.0)


@pytest.mark.parametrize("saved", SAVED)
def test_fractions_that_a_spreadsheet_made_dates_are_refused(saved: str) -> None:
    with pytest.raises(InputError) as caught:
        read_rules(HERE / f"fractions-{saved}.csv")
    text = str(caught.value)
    assert "turned into a date" in text
    assert f"fractions-{saved}.csv, line 3, column E (8)" in text
    assert "0.25 for 1/4" in text


def test_fractions_as_typed_are_read() -> None:
    table = read_rules(HERE / "fractions.csv")
    steps = [r.steps for r in table.rules if isinstance(r, StepRule)]
    assert steps == [(0.0, 6.35, 12.7), (0.0, 38.1, 3.175)]
    for name in ("half-typed.csv", "half-typed-desemi.csv"):
        steps = [r.steps for r in read_rules(HERE / name).rules if isinstance(r, StepRule)]
        assert steps == [(0.0, 6.35, 12.7), (0.0, 12.5, 7.5)]


def test_a_spreadsheets_own_file_is_refused() -> None:
    with pytest.raises(InputError, match="not CSV"):
        read_rules(HERE / "rules.xlsx")


# --- ways to write one table -----------------------------------------------------------------

TABLE = """# Title: a, b
# Source: invented
rule,axis,unit,6,8,10
side,width,in,,1/4,1 1/2
side,length,mm,,-2,0.5
"""


def _with(separator: str, comma: bool) -> str:
    lines = []
    for line in TABLE.splitlines():
        if not line.startswith("#"):
            line = line.replace(",", separator)
            line = line.replace(".", ",") if comma else line
        lines.append(line)
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    "data",
    [
        _with(";", False).encode(),
        _with(";", True).encode(),
        _with("\t", True).encode("utf-16"),
        TABLE.encode("utf-8-sig"),
        TABLE.encode("utf-16"),
        TABLE.encode("utf-16-le"),
        TABLE.encode("utf-16-be"),
        TABLE.replace("\n", "\r\n").encode(),
        TABLE.replace("\n", "\r").encode(),
        ("sep=,\n" + TABLE).encode(),
        TABLE.replace("\n", ",,,\n").encode() + b",,,,,\n\n,,\n",
        TABLE.replace("side", ' "side" ').replace(' "side" ', '"side"').encode(),
        TABLE.replace("6,8,10", "6.0, 8 ,10.0").encode(),
        TABLE.replace("rule,axis,unit", "Rule,AXIS,Unit").replace("width", "Width").encode(),
        TABLE.replace("1 1/2", "1.5").replace("1/4", "0.25 in").encode(),
        TABLE.replace("1/4", "2.5E-01").encode(),
        TABLE.replace(",in,,", ",in,0,").encode(),
        TABLE.replace("in,,1/4", 'inch,,"1/4"').encode(),
    ],
)
def test_all_ways_of_writing_a_table_read_the_same(data: bytes) -> None:
    assert plain(read_rules(data)) == plain(read_rules(TABLE))


def test_comments_keep_their_commas() -> None:
    assert read_rules(TABLE).notes == ("Title: a, b", "Source: invented")


def test_a_comma_with_three_digits_after_it() -> None:
    """`1,375` may part thousands only where commas part the cells and nothing else tells."""
    steps = read_rules("rule;axis;unit;6;8\na;width;in;;1,375\n").rules[0]
    assert isinstance(steps, StepRule)
    assert steps.steps[1] == pytest.approx(1.375 * 25.4)
    assert read_chart("measure;unit;6;8\na;in;1,375;2\n").value("a", "6") == 1.375 * 25.4
    with pytest.raises(InputError, match="thousands"):
        read_chart('measure,unit,6\nheight,mm,"1,640"\n')


# --- what is refused --------------------------------------------------------------------------

HEAD = "rule,axis,unit,6,8,10\n"
REFUSED = [
    ("", "is empty", ""),
    (" \n,,\n", "is empty", ""),
    ("# only notes\n", "no header", ""),
    ("just words\n", "no header", ""),
    ("a,b,c\n1,2,3\n", "no header", "line 1"),
    (HEAD, "no rows", "line 1"),
    ("measure,unit,6\nbust,cm,80\n", "this is a size chart", "line 1"),
    ("piece,point,rule\na,b,c\n", "this is a table of points", "line 1"),
    ("rule,axis,6,8\na,width,1,2\n", "is no measure", "column C"),
    ("rule,axis,unit\na,width,cm\n", "has no sizes", "column D"),
    ("rule,axis,unit,6,,10\na,width,cm,,1,2\n", "a size is missing", "column E"),
    ("rule,axis,unit,6,6.0\na,width,cm,,1\n", 'size "6.0" is there twice', "column E"),
    ("rule,axis,unit,s,S\na,width,cm,,1\n", "twice", "column E"),
    ("rule,axis,unit,08-Oct,12\na,width,cm,,1\n", "turned into a date", "column D"),
    (HEAD + "a,width,cm,,1\n", "no width step to size 10", "line 2, column F (10)"),
    (HEAD + "a,width,cm,,,2\n", "no width step to size 8", "line 2, column E (8)"),
    (HEAD + "a,width,cm,3,1,2\n", "no size before it", "line 2, column D (6)"),
    (HEAD + "a,width,cm,,1,2,3\n", "without a size above", "line 2, column G"),
    (HEAD + ",width,cm,,1,2\n", "the rule is missing", "line 2, column A"),
    (HEAD + "a,,cm,,1,2\n", "the axis is missing", "line 2, column B"),
    (HEAD + "a,up,cm,,1,2\n", "not an axis", "line 2, column B"),
    (HEAD + "a,width,furlong,,1,2\n", "not a unit", "line 2, column C"),
    (HEAD + "a,width,px,,1,2\n", "not a unit", "line 2, column C"),
    (HEAD + "a,width,,,1,2\n", "not a unit", "line 2, column C"),
    (HEAD + "a,width,cm,,nan,2\n", "not a number", "line 2, column E"),
    (HEAD + "a,width,cm,,1,inf\n", "not a number", "line 2, column F"),
    (HEAD + "a,width,cm,,x,2\n", "not a number", "line 2, column E"),
    (HEAD + "a,width,cm,,1 2,2\n", "not a length", "line 2, column E"),
    (HEAD + "a,width,cm,,1/0,2\n", "divides by zero", "line 2, column E"),
    (HEAD + "a,width,cm,,#REF!,2\n", "not a number", "line 2, column E"),
    (HEAD + "a,width,cm,,400,2\n", "beyond all measure", "line 2, column E"),
    (HEAD + "a,width,mm,,46026,2\n", "counted in days", "line 2, column E"),
    (HEAD + "a,width,cm,,1,2\na,width,cm,,1,2\n", "two rows for width", "line 3"),
    (HEAD + "a,width,cm,,1,2\na,x,cm,,1,2\n", "mixes x and y", "line 3"),
    (HEAD + '"a,width,cm,,1,2\n', "over the end of its line", "line 2"),
    (HEAD + "a\0,width,cm,,1,2\n", "no text", ""),
]


@pytest.mark.parametrize(("text", "what", "where"), REFUSED)
def test_a_bad_rule_table_is_refused_with_its_place(text: str, what: str, where: str) -> None:
    with pytest.raises(InputError) as caught:
        read_rules(text, name="rules.csv")
    message = str(caught.value)
    assert what in message
    assert where in message
    assert message.startswith("rules.csv")
    assert caught.value.cure


DATES = [
    "4-Jan", "04-Jan", "Jan-04", "Jan 4", "4. Jan", "04. Jan. 26", "1-Apr-2026", "Apr-2026",
    "2026-01-04", "2026-01-04 00:00:00", "2026-01-04T00:00", "01/04/2026", "1/4/26", "01.04.2026",
    "04.01.", "04.01.26", "1-4-2026", "4 janv.", "4-mars", "1. Mai", "04. Mrz", "4-ene", "Okt 26",
    "January 4, 2026", "4 May",
]  # fmt: skip


@pytest.mark.parametrize("date", DATES)
def test_dates_are_told_from_amounts(date: str) -> None:
    buffer = io.StringIO()
    csv.writer(buffer).writerows([HEAD.strip().split(","), ["a", "width", "in", "", date, "1"]])
    with pytest.raises(InputError, match="turned into a date") as caught:
        read_rules(buffer.getvalue())
    assert "line 2, column E" in str(caught.value)


@pytest.mark.parametrize("text", ["1/4", "1 1/2", "-3/8", "0.25", "1-1/2", "3 mm", ".5", "½", "2"])
def test_amounts_are_no_dates(text: str) -> None:
    assert read_rules(f"rule,axis,unit,6,8\na,width,in,,{text}\n").rules


def test_charts_and_points_are_refused_too() -> None:
    head = "measure,unit,6,8\n"
    for text, what in [
        (head + "bust,cm,80,\n", "no value for size 8"),
        (head + "bust,cm,80,0\n", "no body measure"),
        (head + "bust,cm,80,-3\n", "no body measure"),
        (head + "bust,cm,80,84\nbust,cm,80,84\n", "twice"),
        (head + "bust,cm,80,4-Jan\n", "date"),
        (head + "bust,in,80,900\n", "beyond all measure"),
        ("rule,axis,unit,6\na,x,mm,\n", "this is a table of grade rules"),
    ]:
        with pytest.raises(InputError, match=what):
            read_chart(text)
    for text, what in [
        ("piece,point,rule\nfront,,a\n", "the point is missing"),
        ("piece,point,rule\nfront,hem,a\nfront,hem,b\n", "twice"),
        ("piece,point,rule\nfront,hem,a,b\n", "without a column"),
        ("piece,point,rule\n", "no rows"),
    ]:
        with pytest.raises(InputError, match=what):
            read_points(text)


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(InputError, match="cannot be read"):
            read_rules(path)


@given(st.binary(max_size=300))
def test_any_bytes_end_in_a_table_or_one_error(data: bytes) -> None:
    for read in (read_rules, read_chart, read_points):
        with suppress(InputError):
            read(data)


@given(st.text(alphabet='rule,axunit;68\n"/1- 0.,#\tJan', max_size=120))
def test_any_table_like_text_ends_in_a_table_or_one_error(text: str) -> None:
    with suppress(InputError):
        assert read_rules("rule,axis,unit,6,8\n" + text).rules


# --- what the tables say --------------------------------------------------------------------


def test_growth_between_any_two_sizes() -> None:
    table = read_rules(
        "rule,axis,unit,6,8,10,12\na,width,cm,,1,2,4\nb,x,mm,,1,1,1\nb,y,mm,,2,2,2\n"
    )
    assert table.growth("8", "12") == {"a": {"width": 60.0}, "b": {"x": 2.0, "y": 4.0}}
    assert table.growth("12", "8") == {"a": {"width": -60.0}, "b": {"x": -2.0, "y": -4.0}}
    assert table.growth("10.0", "10") == {"a": {"width": 0.0}, "b": {"x": 0.0, "y": 0.0}}
    with pytest.raises(LookupFailed, match=r"no size M\. The sizes are 6, 8, 10, 12"):
        table.growth("8", "M")
    assert table.growth("8", "11")["a"]["width"] == 40.0
    with pytest.raises(UsageError, match="beyond the table"):
        table.growth("8", "14")
    assert table.growth("12", "16", beyond=True)["a"]["width"] == 80.0
    assert table.growth("6", "2", beyond=True)["a"]["width"] == -20.0
    assert table.growth("12", "13", beyond=True)["a"]["width"] == 20.0


def test_shares_take_their_part_of_each_measure() -> None:
    chart = read_chart("measure,unit,10,12\nbust,cm,88,92\nback,cm,40,41\n")
    shares = read_rules("rule,axis,bust,back\nside,width,0.25,\nside,length,,50%\nneck,length,,1\n")
    assert shares.kind == "shares"
    assert shares.growth("10", "12", chart=chart) == {
        "side": {"width": 10.0, "length": 5.0},
        "neck": {"length": 10.0},
    }
    with pytest.raises(UsageError, match="size chart"):
        shares.growth("10", "12")
    with pytest.raises(LookupFailed, match="no measure back"):
        shares.growth_of({"bust": 40.0})
    for bad, what in [("25", "per cent|twice"), ("a", "not a share"), ("4-Jan", "date")]:
        with pytest.raises(InputError, match=what):
            read_rules(f"rule,axis,bust\nside,width,{bad}\n")


def test_points() -> None:
    found = read_points("piece;point;rule\nfront;hem-side;side\nback;#3;neck\n", name="p.csv")
    assert found[1] == PointRule("back", "#3", "neck", "p.csv, line 3")
    again = read_points(write_points(found), name="p.csv")
    assert again == tuple(found[k] for k in (0, 1))


# --- written and read again -------------------------------------------------------------------

NAMES = st.text(alphabet='ab-1é"; ', min_size=1, max_size=6).map(
    lambda s: "n" + " ".join(s.split())
)
UNITS = st.sampled_from([Unit.MM, Unit.CM, Unit.IN])
AMOUNTS = st.one_of(
    st.fractions(-4, 4, max_denominator=64),
    st.integers(-4000, 4000).map(lambda k: Fraction(k, 1000)),
)


@st.composite
def step_tables(draw: st.DrawFn) -> RuleTable:
    sizes = draw(st.sampled_from([("6",), ("6", "8", "10"), ("XS", "S", "M L"), ("00", "0", "2")]))
    rules = []
    for name in draw(st.lists(NAMES, min_size=1, max_size=4, unique=True)):
        unit = draw(UNITS)
        steps = tuple(float(draw(AMOUNTS) * unit.exact) for _ in sizes[1:])
        rules.append(StepRule(name, draw(st.sampled_from(["length", "x"])), unit, (0.0, *steps)))
    notes = tuple(draw(st.lists(st.sampled_from(["Title: a, b", 'Source: "c"; d']), max_size=2)))
    return RuleTable("steps", tuple(rules), sizes, (), notes)


@given(step_tables())
def test_a_step_table_reads_back_as_written(table: RuleTable) -> None:
    text = write_rules(table)
    assert read_rules(text) == table
    assert write_rules(read_rules(text)) == text
    assert "/" not in text.split("\nrule", 1)[-1]


@given(st.lists(st.tuples(NAMES, st.fractions(0, 1, max_denominator=40)), min_size=1, max_size=5,
                unique_by=lambda p: p[0]))  # fmt: skip
def test_a_share_table_reads_back_as_written(rows: list[tuple[str, Fraction]]) -> None:
    rules = tuple(ShareRule(n, "width", (float(s), 0.0)) for n, s in rows)
    table = RuleTable("shares", rules, (), ("bust", "hip"))
    assert read_rules(write_rules(table)) == table


@given(st.lists(st.fractions(1, 60, max_denominator=64), min_size=2, max_size=2), UNITS)
def test_a_chart_reads_back_as_written(values: list[Fraction], unit: Unit) -> None:
    mm = tuple(float(v * unit.exact) for v in values)
    chart = SizeChart(("6", "8"), {"bust, full": mm}, {"bust, full": unit}, ("Source: none",))
    assert read_chart(write_chart(chart)) == chart


@pytest.mark.parametrize("name", ["=cmd()", "@sum", "-waist", "+side", "'-waist", "''=x", "'tis"])
def test_cells_that_a_spreadsheet_would_run_are_text_and_come_back(name: str) -> None:
    table = read_rules("# about it,=HYPERLINK(1);-x\nrule,axis,unit,10,12\nside,width,cm,,-0.5\n")
    table = replace(table, rules=tuple(r._replace(rule=name) for r in table.rules))
    text = write_rules(table)
    cells = [cell for row in csv.reader(text.splitlines()) for cell in row]
    assert not [c for c in cells if c[:1] in tuple("=@+") or re.match(r"-[^\d]", c)]
    assert "-0.5" in cells
    again = read_rules(text)
    assert [r.rule for r in again.rules] == [name]
    assert write_rules(again) == text
