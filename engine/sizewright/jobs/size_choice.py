"""The job of `size`: which size a body is, as lines to print."""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import UsageError
from ..findings import told
from ..shipped import found_file
from ..units import Unit, both, format_length
from .bodies import doubting
from .charts import rules_for

if TYPE_CHECKING:
    from ..grading import Fit, Garment, RuleTable, SizeChart

#: The measure of the command is printed at least so exactly, decimals of a cm.
_DECIMALS = 2


def size_lines(
    chart: str | os.PathLike[str],
    measures: Mapping[str, float],
    garment: Garment | None = None,
) -> tuple[str, ...]:
    """What `size` prints: each measure's own size, the garment's size, how much the measures
    differ from it, and the command that grades to this body.

    `measures` in mm. Without `garment` each kind that the measures can tell is told. Raises
    what reading the chart raises, LookupFailed for a measure that the chart has not, and
    UsageError where no measure is given or none tells the garment's size.
    """
    from ..grading import (
        FRAME_BUST,
        GARMENTS,
        GOES_BY,
        by_height,
        doubtful_tables,
        fit_measures,
        frame_fit,
        garment_size,
        read_chart,
    )

    if not measures:
        raise UsageError("no measure is given", cure="As in --measure bust=92cm waist=74cm.")
    table = read_chart(found_file(Path(chart)))
    doubts = doubtful_tables(chart=table, measures=measures)
    frame = frame_fit(table, measures)
    missing = [m for m in measures if m not in table.values]
    known = {m: mm for m, mm in measures.items() if m not in missing}
    with doubting(doubts):
        # A chart that can tell nothing is refused with the names that it has.
        fits = fit_measures(table, known or measures)
    shown = fits if frame is None or frame in fits else (*fits, frame)
    tall = by_height(table)
    tell = {fit.measure for fit in shown}
    kinds = [garment] if garment else [g for g in GARMENTS if set(GOES_BY[g]) & tell]
    if garment is None and not {"hip", "waist"} & set(measures):
        kinds = [g for g in kinds if g != "full"]
    if tall and garment is None:
        kinds = list(GARMENTS)
    lines = [f"{Path(chart).name}: sizes {table.sizes[0]} to {table.sizes[-1]}"]
    if any("recalled" in note.casefold() for note in table.notes):
        lines.append("(recalled from memory, in whole or in part: its first lines tell how surely)")
    lines.append("")
    lines += _table([("measure", "you", "size by itself"), *map(_row, shown)])
    has = ", ".join(m for m in table.measures if not m.endswith(("-from", "-to")))
    lines += [
        f"  {m} {both(measures[m])} is not in this chart, so it tells no size (the chart has {has})"
        for m in missing
        if frame is None or m != frame.measure
    ]
    by_measure: dict[str, list[Garment]] = {}
    for kind in kinds:
        by_measure.setdefault(garment_size(shown, kind, height=tall).measure, []).append(kind)
    for alike in by_measure.values():
        by = garment_size(shown, alike[0], height=tall)
        lines += ["", *_whole(table, fits, alike, by)]
        if by is frame and by.measure in missing:
            lines.append(
                f"  (the chart has no upper chest: a bust of {both(FRAME_BUST)} more goes with "
                "it, by common practice)"
            )
    if kinds:
        by = garment_size(shown, kinds[0], height=tall)
        lines += ["", *_orders(Path(os.fspath(chart)), table, fits, by, frame)]
    if tall:
        lines += ["", *_CHILD]
    if doubts:
        lines += ["", *told(doubts)]
    return tuple(lines)


#: What is said with every size of a child.
_CHILD = (
    "A child outgrows a size as it grows 6 cm. Room to grow goes into deep hems, tucks and straps,",
    "or into the next size up; not into the neck, nor into sleepwear that must stay close.",
    "No cord or drawstring at hood or neck, and none tied behind the neck (EN 14682, to 7 years or",
    "134 cm; to 14 years none with free ends there). Local law may ask for more.",
)


def _row(fit: Fit) -> tuple[str, str, str]:
    size = f"beyond {fit.size}" if fit.beyond else fit.size
    return fit.measure, both(fit.value), size


def _whole(chart: SizeChart, fits: tuple[Fit, ...], kinds: list[Garment], by: Fit) -> Iterator[str]:
    article = "an" if kinds[0] == "upper" else "a"
    what = f"{article} {' or a '.join(kinds)} garment"
    yield f"For {what}: size {by.size}, by {by.measure}. Against that size you have"
    rows = []
    for fit in fits:
        column = chart.value(fit.measure, by.size)
        rows.append((fit.measure, _difference(fit.value - column), f"it has {both(column)}"))
    yield from _table(rows)


def _difference(mm: float) -> str:
    if abs(mm) < 0.05:
        return "just as much"
    return f"{both(abs(mm))} {'more' if mm > 0 else 'less'}"


def _table(rows: list[tuple[str, str, str]]) -> Iterator[str]:
    widths = [max(len(row[k]) for row in rows) for k in range(2)]
    for a, b, c in rows:
        yield f"  {a:<{widths[0]}}  {b:<{widths[1]}}  {c}".rstrip()


#: A bust that differs from that of the frame's size by more than this asks for room at the bust
#: rather than for a wider frame, mm: a cup is 1 in (common practice, no source).
_CUP = 25.4
#: Shares open the bust dart for no more than this: beyond it the sides come apart, mm.
_MOST_ROOM = 80.0
#: And they close it by no more than this: beyond it the front would fold over itself, mm.
_LEAST_ROOM = -60.0
#: More room than this, on the half, may not open in one place, mm.
_ONE_PLACE = 40.0
_SMALL_BUST = (
    "Sew the bust dart as much narrower, or take the fullness in at the side seam below it, in a "
    "trial garment first; bust-room only adds room."
)
#: A back waist that differs by more than this is met at the lines for lengthening, mm.
_LENGTH = 5.0
_BACK_WAIST = "back-waist-length"


def _orders(
    chart: Path, table: SizeChart, fits: tuple[Fit, ...], by: Fit, frame: Fit | None
) -> Iterator[str]:
    """The commands for this body: grading, room at the bust, length."""
    from ..grading import LEVELS, by_height, level_name

    given = {fit.measure: fit for fit in fits}
    room = 0.0
    if by is frame and "bust" in given:
        room = given["bust"].value - table.value("bust", by.size)
    framed = abs(room) > _CUP
    taken = [fit for fit in fits if level_name(fit.measure) in LEVELS]
    if by_height(table):
        taken = []  # a slight child's pattern is not another size at the chest
    if framed:
        taken = [fit for fit in taken if fit.measure != "bust"]
    shares = rules_for(found_file(chart), "shares")
    if shares:
        yield from _by_shares(chart, shares, fits, by, room if framed else 0.0)
        return
    rules = rules_for(found_file(chart), "steps")
    yield "To grade a pattern to this body, with rules whose steps were made for this chart"
    if rules:
        yield f"(shipped: {', '.join(Path(one).name for one in rules)}):"
    else:
        yield f"({chart.name}; none are shipped):"
    yield _command(chart, "RULES.csv", taken, by.size)
    file = "OUT.svg"
    if framed:
        yield from _room_at_bust(room, by.size)
        file = "OUT-bust.svg" if room > 0 else file
    if _BACK_WAIST in given:
        more_length = given[_BACK_WAIST].value - table.value(_BACK_WAIST, by.size)
        if abs(more_length) > _LENGTH:
            yield ""
            way = "longer" if more_length > 0 else "shorter"
            yield (
                f"Your back waist is {both(abs(more_length))} {way} than that of size {by.size}: "
                "lengthen front and back at their lines for that, by your pattern's names:"
            )
            yield (
                f"  sizewright apply lengthen {file} OUT-length.svg pieces=front pieces=back "
                f"at=lengthen-body by={_exact(more_length)}"
            )


def _bust_off(room: float, size: str) -> str:
    way = "more" if room > 0 else "less"
    return f"Your bust is {both(abs(room))} {way} than that of size {size}: "


def _room_at_bust(room: float, size: str) -> Iterator[str]:
    """What to do for a bust that differs from the frame's, mm."""
    yield ""
    yield (
        _bust_off(room, size)
        + "change the room at the bust, not the frame. "
        + ("Half of it on the half front:" if room > 0 else _SMALL_BUST)
    )
    if room > 0:
        by = _exact(room / 2)
        yield f"  sizewright apply bust-room OUT.svg OUT-bust.svg piece=front by={by}"
        if room / 2 > _ONE_PLACE:
            yield "(Much for one place: if it is refused, take the frame a size up and less room.)"


def _by_shares(
    chart: Path, tables: Mapping[str, RuleTable], fits: Sequence[Fit], by: Fit, room: float
) -> Iterator[str]:
    """The command where shares of this chart are shipped: every measure goes by itself."""
    used = {measure for rules in tables.values() for measure in rules.measures}
    names = ", ".join(Path(name).name for name in tables)
    yield "To grade a pattern to this body, with rules by shares of the measures in this chart"
    yield f"(shipped: {names}), what you did not measure from size {by.size}:"
    far = not _LEAST_ROOM <= room <= _MOST_ROOM
    taken = [fit for fit in fits if fit.measure in used and not (far and fit.measure == "bust")]
    yield _command(chart, "RULES.csv", taken, by.size, true=True)
    if far:
        yield from _room_at_bust(room, by.size)
    elif room:
        yield ""
        yield _bust_off(room, by.size) + "the front and its bust dart take all of it."


def _command(chart: Path, rules: str, fits: Sequence[Fit], size: str, *, true: bool = False) -> str:
    """The command for a pattern of one's own; rules, chart and body are these. Seams are
    trued where asked, and past the table's ends, where they come apart."""
    words = ["--to", size]
    if fits:
        measures = [f"{fit.measure}={_exact(fit.value)}" for fit in fits]
        words = ["--chart", os.fspath(chart), *words, "--measure", *measures]
    beyond = any(fit.beyond for fit in fits)
    words += ["--beyond-table"] if beyond else []
    words += ["--true-seams"] if beyond or true else []
    said = " ".join(shlex.quote(word) for word in words)
    return f"  sizewright grade IN.svg OUT.svg --rules {rules} {said}"


def _exact(mm: float) -> str:
    """A length without a blank that reads back as it was, to 0.001 mm."""
    for decimals in range(_DECIMALS, 5):
        text = format_length(mm, Unit.CM, decimals=decimals)
        if abs(float(text.split()[0]) * 10 - mm) < 5e-4:
            break
    return text.replace(" ", "")
