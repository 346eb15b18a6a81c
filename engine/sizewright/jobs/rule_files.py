"""Grade rules between the tables of grading and the rule table files of the open standard."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import InputError, UsageError
from ..findings import Finding
from ..formats.interchange.rules import Deltas, Move, RuleFile
from ..formats.source import read_bytes
from ..grading.sizes import same_size
from ..grading.tables import Amount, Growth, RuleTable, StepRule
from ..model.frame import Frame, axis_frame
from ..model.mixture import Mixture, Terms, format_mixture, is_mixture, parse_mixture
from ..units import Unit

if TYPE_CHECKING:
    from ..model import Outline, Pattern, Piece

_SAMPLE = re.compile(r"sample size:\s*(.+)", re.IGNORECASE)
_TITLE = re.compile(r"grade rule table:\s*(.+)", re.IGNORECASE)
#: A key of a rule as pieces take it: its name, and the sign that its width counts with.
_Key = tuple[str, int | None]


@dataclass(frozen=True)
class Rules:
    """A rule table, the size that it counts from where its file says so, and findings."""

    table: RuleTable
    sample: str | None = None
    findings: tuple[Finding, ...] = ()


def open_rules(
    path: str | os.PathLike[str], *, deltas: Deltas | None = None, units: Unit | None = None
) -> Rules:
    """A rule table, from CSV or from a rule table file, by its content.

    `deltas` says what the numbers of a rule table file count from (default: the sample
    size), `units` what they are in; a CSV table says both itself. Raises InputError as the
    readers do.
    """
    from ..formats.claims import claims_rules
    from ..grading import read_rules

    data = read_bytes(path)
    name = os.fspath(path)
    if not claims_rules(data[:4096]):
        table = read_rules(data, name=name)
        return Rules(table, _noted(table, _SAMPLE))
    from ..formats.interchange.rules_in import read_rule_file

    read = read_rule_file(data, deltas or "sample", name=name, units=units)
    return Rules(as_table(read.table, name), read.table.sample, read.findings)


def as_table(file: RuleFile, name: str = "") -> RuleTable:
    """A rule table file as a table of steps along x and y."""
    rules: list[StepRule] = []
    for number, moves in file.rules.items():
        for k, axis in enumerate(("x", "y")):
            places = [move[k] for move in moves]
            # A file has at most six decimals; what lies below is rounding.
            steps = [0.0, *(round(b - a, 9) for a, b in pairwise(places))]
            rules.append(StepRule(number, axis, file.unit, tuple(steps)))  # type: ignore[arg-type]
    notes = [f"grade rule table: {file.name}"] if file.name else []
    notes += [f"sample size: {file.sample}", "x along the grade reference line, y left of it"]
    return RuleTable("steps", tuple(rules), file.sizes, (), tuple(notes), name or file.name)


def as_file(table: RuleTable, sample: str | None = None) -> tuple[RuleFile, tuple[Finding, ...]]:
    """A table of steps along x and y as a rule table file, counted from the sample size.

    `sample` is the size to count from, where the table's own comment (`sample size: 12`) does
    not say it. Rules whose names are no numbers get one each, with a finding. Raises
    InputError where that cannot be: rules along length or width lie on each piece in their
    own way, and shares have no sizes.
    """
    sample = sample or _noted(table, _SAMPLE)
    _refuse_shares(table)
    if any(rule.axis not in ("x", "y") for rule in table.rules):
        raise InputError(
            "rules along length and width count on each piece in its own way",
            where=table.name,
            cure="Write the pattern with them: convert IN OUT.dxf --profile interchange --rules.",
        )
    if sample is None:
        raise UsageError(
            "a rule table file counts from a sample size, and none is said",
            where=table.name,
            cure="Say it with --size, or in the table as a line # sample size: 12",
        )
    numbers = _Numbers(table.names)
    for name in table.names:
        numbers.of((name, None))
    return _file(table, numbers.given, sample), numbers.findings()


def numbered(pattern: Pattern, table: RuleTable) -> tuple[Pattern, RuleFile, tuple[Finding, ...]]:
    """A pattern whose points bear rule numbers, and the rule table file that holds these.

    A rule along width counts away from the centre of each piece, the standard's y always
    to the left of its x: so one rule may become several numbers, and a finding tells which.
    Raises InputError or UsageError where the table cannot be told in the standard's way.
    """
    _refuse_shares(table)
    only = pattern.sizes[0] if len(pattern.sizes) == 1 else None
    sample = pattern.base_size or only or _noted(table, _SAMPLE)
    known = next((s for s in table.sizes if same_size(s) == same_size(sample or "")), None)
    if known is None:
        raise UsageError(
            f"the table does not have the size that the pattern is drawn in ({sample or 'none'})",
            where=table.name,
            cure=f"Its sizes are {', '.join(table.sizes)}.",
        )
    numbers = _Numbers(table.names)
    own = {rule.rule for rule in table.rules if rule.axis in ("x", "y")}
    pieces = [_renumbered(piece, own, numbers) for piece in pattern.pieces]
    file = _file(table, numbers.given, known)
    made = replace(pattern.with_pieces(pieces), base_size=pattern.base_size or sample)
    return made, file, numbers.findings()


class _Numbers:
    """Numbers given to rules: a rule named by a number keeps it the first time."""

    def __init__(self, names: Iterable[str]) -> None:
        from ..formats.interchange.writer import is_number

        self.is_number = is_number
        self.reserved = {name for name in names if is_number(name)}
        self.given: dict[_Key, str] = {}
        self.slanted = 0

    def held(self, rule: str) -> str:
        """What a number can hold of a rule: of a mixture, not the slant of curves beside it."""
        mixture = parse_mixture(rule)
        if mixture.before is None and mixture.after is None:
            return rule
        self.slanted += 1
        return format_mixture(replace(mixture, before=None, after=None))

    def of(self, key: _Key) -> str:
        """The number of a rule with a sign."""
        if key not in self.given:
            taken = set(self.given.values())
            if self.is_number(key[0]) and key[0] not in taken:
                self.given[key] = key[0]
            else:
                free = 1
                while str(free) in taken | self.reserved:
                    free += 1
                self.given[key] = str(free)
        return self.given[key]

    def findings(self) -> tuple[Finding, ...]:
        """Which number is which rule, where that is not plain."""
        side = {None: "", 1: "", -1: " (width to the other side)", 0: " (on the centre)"}
        changed = [f"{n} is {k[0]}{side[k[1]]}" for k, n in self.given.items() if n != k[0]]
        found = []
        if changed:
            text = f"rules bear numbers in the rule table file: {', '.join(changed)}"
            found.append(Finding("rules-numbered", "note", text))
        if self.slanted:
            text = (
                f"at {self.slanted} points the rule table file cannot say how the curves beside "
                "them, cut out of longer ones, keep their slant"
            )
            found.append(Finding("not-held", "note", text, cure="Keep the SVG drawing."))
        return tuple(found)


def _renumbered(piece: Piece, own: set[str], numbers: _Numbers) -> Piece:
    from ..model import Point

    frame, _ = axis_frame(piece)
    left = 1 if float(frame.out @ [-frame.up[1], frame.up[0]]) > 0 else -1

    def line(outline: Outline) -> Outline:
        signs = frame.signs(outline.path.vertices)
        points = []
        for p in outline.points:
            if p.rule is None:
                points.append(p)
                continue
            rule = numbers.held(p.rule)
            key = (rule, None if rule in own else left * int(signs[p.vertex]))
            points.append(Point(p.vertex, p.name, numbers.of(key)))
        return replace(outline, points=tuple(points))

    notches = []
    for notch in piece.notches:
        if notch.rule is not None:
            at = piece.outline.path.at(piece.outline.arc_length_of(notch.at))
            sign = left * _sign(frame, at)
            rule = numbers.held(notch.rule)
            key = (rule, None if rule in own else sign)
            notch = replace(notch, rule=numbers.of(key))
        notches.append(notch)
    return replace(
        piece,
        outline=line(piece.outline),
        cut_line=None if piece.cut_line is None else line(piece.cut_line),
        notches=tuple(notches),
    )


def _sign(frame: Frame, at: object) -> int:
    import numpy as np

    return int(frame.signs(np.asarray(at, dtype=np.float64)[None])[0])


def _file(table: RuleTable, numbers: dict[_Key, str], sample: str) -> RuleFile:
    """The moves of each numbered rule from the sample size to every size of the table."""
    known = next((s for s in table.sizes if same_size(s) == same_size(sample)), None)
    if known is None:
        raise UsageError(
            f"the sample size {sample} is not in the table",
            where=table.name,
            cure=f"Its sizes are {', '.join(table.sizes)}.",
        )
    growths = [table.growth(known, size) for size in table.sizes]
    rules: dict[str, tuple[Move, ...]] = {}
    for (name, sign), number in sorted(numbers.items(), key=lambda item: int(item[1])):
        moves: list[Move] = []
        for growth in growths:
            if is_mixture(name):
                moves.append(_mixed_move(parse_mixture(name), growth, sign or 0))
                continue
            x, y = _own_move(growth.get(name, {}), sign)
            moves.append((x, y + 0.0))
        rules[number] = tuple(moves)
    inches = all(isinstance(r, StepRule) and r.unit is Unit.IN for r in table.rules)
    title = _noted(table, _TITLE) or (Path(table.name).stem if table.name else "")
    return RuleFile(table.sizes, known, rules, Unit.IN if inches else Unit.MM, title)


def _own_move(gained: Mapping[str, Amount], sign: int | None) -> Move:
    """A rule's move along the standard's x and y; `sign` is that of its width there."""
    amount = {axis: float(value) for axis, value in gained.items()}
    x = amount.get("x", amount.get("length", 0.0))
    return x, amount.get("y", 0.0) if sign is None else sign * amount.get("width", 0.0)


def _mixed_move(mixture: Mixture, growth: Growth, sign: int) -> Move:
    """The same of a mixture, of what its rules give there together."""

    def total(terms: Terms, k: int) -> float:
        return sum(
            w * _own_move(growth.get(r, {}), None if "y" in growth.get(r, {}) else sign)[k]
            for r, w in terms
        )

    x = total(mixture.length, 0) + sign * total(mixture.length_from_width, 1)
    return x, total(mixture.width, 1) + sign * total(mixture.width_from_length, 0)


def _refuse_shares(table: RuleTable) -> None:
    if table.kind != "steps":
        raise InputError(
            "rules by shares have no sizes, and a rule table file is by sizes",
            where=table.name,
            cure="Grade to sizes first, or use a table of steps.",
        )


def _noted(table: RuleTable, form: re.Pattern[str]) -> str | None:
    found = (form.fullmatch(note.strip()) for note in table.notes)
    return next((match[1].strip() for match in found if match), None)
