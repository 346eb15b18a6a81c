"""Tables read from CSV and written as CSV."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path
from typing import TypeVar

from ..errors import InputError
from ..model.mixture import is_mixture, parse_mixture
from ..spreadsheets import cells
from ..spreadsheets.csvtext import Row, Sheet, as_text, read_sheet
from ..units import Unit
from .sizes import same_size, shown_size
from .tables import AXES, Axis, PointRule, RuleTable, ShareRule, SizeChart, StepRule

#: No step between two sizes is larger, and no body measure, in mm.
LARGEST_STEP = 1000.0
LARGEST_MEASURE = 5000.0
#: Decimals tried in turn when a number is written.
_PLACES = (6, 9, 12, 15, 18, 24, 40)
_KINDS = {
    "steps": "rule,axis,unit,<size>,<size>,...",
    "shares": "rule,axis,<measure>,<measure>,...",
    "chart": "measure,unit,<size>,<size>,...",
    "points": "piece,point,rule",
}
_SAID = {
    "steps": "a table of grade rules",
    "shares": "a table of grade rules by shares",
    "chart": "a size chart",
    "points": "a table of points",
}
_T = TypeVar("_T")

#: Where a note would begin a cell with what a spreadsheet runs.
_FORMULA = re.compile(r"([,;\t])(?=[-+=@])")


def read_rules(source: Path | str | bytes, *, name: str = "") -> RuleTable:
    """A rule table (`steps` or `shares`) from a CSV file (Path), its text or its bytes.

    Raises InputError with file, line and column for anything missing, double or unreadable.

    >>> table = read_rules("rule,axis,unit,8,10,12\\nside,width,mm,,5,6\\n")
    >>> table.sizes, table.growth("8", "12")
    (('8', '10', '12'), {'side': {'width': 11.0}})
    """
    sheet = read_sheet(source, name=name)
    kind = _kind(sheet, ("steps", "shares"))
    if kind == "steps":
        return _steps(sheet)
    measures = _names(sheet, 2, "measure")
    for k, measure in enumerate(measures, start=2):
        if same_size(measure).replace(".", "").isdigit():
            sheet.fail(
                sheet.header,
                k,
                f'"{measure}" is no measure',
                "A table of steps by size needs a unit column: rule,axis,unit,<size>,...",
            )
    rules: list[ShareRule] = []
    for row in sheet.rows:
        rule, axis = _rule_and_axis(sheet, row, rules)
        shares = []
        for k in range(2, 2 + len(measures)):
            shares.append(_cell(sheet, row, k, cells.share))
        _no_more(sheet, row, 2 + len(measures), "measure")
        rules.append(ShareRule(rule, axis, tuple(shares)))
    _some(sheet, rules)
    return RuleTable("shares", tuple(rules), (), measures, sheet.notes, sheet.name)


def read_chart(source: Path | str | bytes, *, name: str = "") -> SizeChart:
    """A size chart from a CSV file (Path), its text or its bytes. Raises InputError."""
    sheet = read_sheet(source, name=name)
    _kind(sheet, ("chart",))
    sizes = _sizes(sheet, 2)
    values: dict[str, tuple[float, ...]] = {}
    units: dict[str, Unit] = {}
    for row in sheet.rows:
        measure = _needed(sheet, row, 0, "measure")
        if measure in values:
            sheet.fail(row, 0, f'the measure "{measure}" is there twice', "Keep one of them.")
        unit = _cell(sheet, row, 1, cells.unit)
        found = []
        for k, size in enumerate(sizes, start=2):
            if not _at(row, k):
                sheet.fail(row, k, f'"{measure}" has no value for size {size}', "Fill it in.")
            mm = _cell(sheet, row, k, _length(unit, LARGEST_MEASURE, sheet.decimal_commas))
            if mm <= 0:
                sheet.fail(row, k, f"{_at(row, k)} is no body measure", "Give more than 0.")
            found.append(mm)
        _no_more(sheet, row, 2 + len(sizes), "size")
        values[measure], units[measure] = tuple(found), unit
    _some(sheet, values)
    return SizeChart(sizes, values, units, sheet.notes, sheet.name)


def read_points(source: Path | str | bytes, *, name: str = "") -> tuple[PointRule, ...]:
    """Rules of points (`piece,point,rule`) from a CSV file (Path), its text or its bytes."""
    sheet = read_sheet(source, name=name)
    _kind(sheet, ("points",))
    found: dict[tuple[str, str], PointRule] = {}
    for row in sheet.rows:
        piece, point, rule = (
            _needed(sheet, row, k, what) for k, what in enumerate(("piece", "point", "rule"))
        )
        _no_more(sheet, row, 3, "column")
        _cell(sheet, row, 2, parse_mixture)
        key = (piece, point)
        if key in found:
            sheet.fail(row, 1, f'the point "{piece}:{point}" is there twice', "Keep one of them.")
        found[key] = PointRule(piece, point, rule, sheet.where(row))
    _some(sheet, found)
    return tuple(found.values())


def write_rules(table: RuleTable) -> str:
    """A rule table as CSV text with commas and decimals; the same table, the same text."""
    if table.kind == "steps":
        rows = [["rule", "axis", "unit", *table.sizes]]
    else:
        rows = [["rule", "axis", *table.measures]]
    for one in table.rules:
        if isinstance(one, StepRule):
            steps = [written(mm, one.unit) for mm in one.steps[1:]]
            rows.append([one.rule, one.axis, one.unit.symbol, "", *steps])
        else:
            rows.append([one.rule, one.axis, *map(_decimal, one.shares)])
    return _as_csv(table.notes, rows)


def write_chart(chart: SizeChart) -> str:
    """A size chart as CSV text with commas and decimals."""
    rows = [["measure", "unit", *chart.sizes]]
    for measure, values in chart.values.items():
        unit = chart.units[measure]
        rows.append([measure, unit.symbol, *(written(mm, unit) for mm in values)])
    return _as_csv(chart.notes, rows)


def write_points(points: Iterable[PointRule], notes: Iterable[str] = ()) -> str:
    """Point rules as CSV text."""
    rows = [["piece", "point", "rule"], *([p.piece, p.point, p.rule] for p in points)]
    return _as_csv(tuple(notes), rows)


def written(mm: float, unit: Unit) -> str:
    """`mm` as a plain decimal in `unit` that reads back as the same number."""
    exact = Fraction(mm) / unit.exact
    for places in _PLACES:
        text = _trim(exact, places)
        if float(Fraction(text) * unit.exact) == mm:
            break
    return text


def _decimal(value: float) -> str:
    for places in _PLACES:
        text = _trim(Fraction(value), places)
        if float(text) == value:
            break
    return text


def _trim(value: Fraction, places: int) -> str:
    """A fraction with at most `places` decimals, no idle zeros, no minus zero."""
    scaled = round(abs(value) * 10**places)
    whole, rest = divmod(scaled, 10**places)
    text = f"{whole}.{rest:0{places}d}".rstrip("0").rstrip(".")
    return f"-{text}" if value < 0 and scaled else text


def _as_csv(notes: Iterable[str], rows: Iterable[list[str]]) -> str:
    # A note is cut into cells where a table is opened: none of them may run either.
    lines = ["# " + _FORMULA.sub(r"\1 ", note) for note in notes]
    return "\n".join([*lines, *(",".join(map(_quoted, row)) for row in rows)]) + "\n"


def _quoted(cell: str) -> str:
    cell = as_text(cell)
    if any(c in cell for c in ',;"\t\n'):
        return '"' + cell.replace('"', '""') + '"'
    return cell


# --- reading ------------------------------------------------------------------------


def _steps(sheet: Sheet) -> RuleTable:
    sizes = _sizes(sheet, 3)
    rules: list[StepRule] = []
    for row in sheet.rows:
        rule, axis = _rule_and_axis(sheet, row, rules)
        unit = _cell(sheet, row, 2, cells.unit)
        steps = [0.0]
        first = _at(row, 3)
        if first and _cell(sheet, row, 3, _length(unit, LARGEST_STEP, True)) != 0.0:
            sheet.fail(
                row,
                3,
                f"the first size, {sizes[0]}, has no size before it to gain {first} from",
                "Leave its cell blank; each other cell holds the gain from the size before.",
            )
        for k, size in enumerate(sizes[1:], start=4):
            if not _at(row, k):
                sheet.fail(
                    row,
                    k,
                    f'rule "{rule}" has no {axis} step to size {size}',
                    "Write 0 where nothing is gained.",
                )
            steps.append(_cell(sheet, row, k, _length(unit, LARGEST_STEP, True)))
        _no_more(sheet, row, 3 + len(sizes), "size")
        rules.append(StepRule(rule, axis, unit, tuple(steps)))
    _some(sheet, rules)
    return RuleTable("steps", tuple(rules), sizes, (), sheet.notes, sheet.name)


def _kind(sheet: Sheet, wanted: tuple[str, ...]) -> str:
    """Which kind of table the header tells; InputError when it is none of those wanted."""
    head = [cell.casefold() for cell in sheet.header.cells]
    found = ""
    if head[:2] == ["rule", "axis"]:
        found = "steps" if head[2:3] == ["unit"] else "shares"
    elif head[:2] == ["measure", "unit"]:
        found = "chart"
    elif head[:3] == ["piece", "point", "rule"]:
        found = "points"
    if found in wanted:
        return found
    needs = " or ".join(_KINDS[k] for k in wanted)
    head_text = ",".join(sheet.header.cells[:3])
    what = f"this is {_SAID[found]}" if found else f'"{head_text}" is no header'
    text = f"{what}, not {_SAID[wanted[0]]}"
    raise sheet.error(sheet.header, None, text, f"Its header is {needs}.")


def _sizes(sheet: Sheet, first: int) -> tuple[str, ...]:
    return tuple(shown_size(size) for size in _names(sheet, first, "size"))


def _names(sheet: Sheet, first: int, what: str) -> tuple[str, ...]:
    """The header's cells from column `first`: sizes or measures, none blank or double."""
    names = sheet.header.cells[first:]
    if not names:
        sheet.fail(
            sheet.header, first, f"the table has no {what}s", f"Add a column for each {what}."
        )
    seen: dict[str, int] = {}
    for k, label in enumerate(names, start=first):
        if not label:
            sheet.fail(sheet.header, k, f"a {what} is missing in the header", "Fill it in.")
        if cells.is_date(label):
            cure = f"Write the {what} as text, with a ' before it in the spreadsheet."
            sheet.fail(sheet.header, k, f'the {what} "{label}" has turned into a date', cure)
        if same_size(label) in seen:
            sheet.fail(sheet.header, k, f'the {what} "{label}" is there twice', "Keep one of them.")
        seen[same_size(label)] = k
    return tuple(names)


def _rule_and_axis(
    sheet: Sheet, row: Row, before: Iterable[StepRule | ShareRule]
) -> tuple[str, Axis]:
    rule = _needed(sheet, row, 0, "rule")
    if cells.is_date(rule):
        sheet.fail(row, 0, f'the rule name "{rule}" has turned into a date', "Give it a word.")
    if is_mixture(rule):
        sheet.fail(row, 0, f'"{rule}" is a mixture of rules, not a name', "Give it one word.")
    word = _needed(sheet, row, 1, "axis").casefold()
    for axis in AXES:
        if axis == word:
            break
    else:
        sheet.fail(row, 1, f'"{word}" is not an axis', f"Write {', '.join(AXES)}.")
    for one in before:
        if one.rule != rule:
            continue
        if one.axis == axis:
            sheet.fail(row, 0, f'rule "{rule}" has two rows for {axis}', "Keep one of them.")
        if (one.axis in ("x", "y")) != (axis in ("x", "y")):
            sheet.fail(
                row,
                1,
                f'rule "{rule}" mixes x and y with length and width',
                "Use one pair of axes.",
            )
    return rule, axis


def _at(row: Row, column: int) -> str:
    return row.cells[column] if column < len(row.cells) else ""


def _needed(sheet: Sheet, row: Row, column: int, what: str) -> str:
    text = _at(row, column)
    if not text:
        sheet.fail(row, column, f"the {what} is missing", "Fill it in, or clear the whole row.")
    return text


def _cell(sheet: Sheet, row: Row, column: int, read: Callable[[str], _T]) -> _T:
    try:
        return read(_at(row, column))
    except InputError as error:
        sheet.fail(row, column, error.what, error.cure)


def _length(unit: Unit, most: float, comma: bool) -> Callable[[str], float]:
    return lambda text: cells.length(text, unit, most=most, decimal_comma=comma)


def _no_more(sheet: Sheet, row: Row, columns: int, what: str) -> None:
    if len(row.cells) > columns:
        sheet.fail(
            row,
            columns,
            f'"{row.cells[columns]}" stands in a column without a {what} above',
            "Look for a decimal comma in a table parted by commas, or complete the header.",
        )


def _some(sheet: Sheet, rows: object) -> None:
    if not rows:
        sheet.fail(sheet.header, None, "the table has a header and no rows", "Add a row.")
