"""Rule table files in."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

from ...errors import InputError
from ...findings import Finding, Level
from ...units import Unit
from ..source import Source, content
from .rules import Deltas, Move, RuleFile, RuleReading, doubtful, from_neighbours
from .units import unit_of

#: A rule table file is at most this large, in bytes, and no delta larger than this, in mm.
LARGEST = 4_000_000
LARGEST_DELTA = 5000.0
_MOST_SIZES, _MOST_RULES = 500, 20_000
_LABEL = re.compile(r"\s*+([A-Za-z][A-Za-z ./-]*+)\s*+[:=]\s*+(.*)")
_RULE = re.compile(
    r"\s*+RULE\s*+[:=]?\s*+(?:DELTA)?\s*+[:=#]?\s*+([\w.-]+)\s*+:?\s*+", re.IGNORECASE
)
_NUMBER = re.compile(r"[-+]?(?:\d++(?:\.\d*+)?|\.\d++)(?:e[-+]?\d{1,2})?", re.IGNORECASE)
_CURE = "A rule is a line RULE: DELTA 1, then a line like 2.5, -1.0 for each size."


def read_rule_file(
    source: Source, deltas: Deltas = "sample", *, name: str = "", units: Unit | None = None
) -> RuleReading:
    """The grade rules in a rule table file, in mm.

    `source` is a file (its name or path) or its bytes; `name` names it in messages.
    `deltas` says what the file's numbers count from; the standard's text could not be
    consulted on that, so it is for the caller to say, with a finding where the numbers look
    like the other kind. `units` is the unit of its numbers, whatever it says.

    Raises InputError, with file and line, for what is no such file or cannot be meant.
    """
    data, where = content(source, name, "rule table")
    try:
        return _Reader(deltas, units).read(_text(data))
    except InputError as error:
        raise error.at(where) from None


def _text(data: bytes) -> str:
    if len(data) > LARGEST:
        raise InputError("the file is too large for a rule table", cure="Check the file.")
    if b"\0" in data[:2000]:
        raise InputError("this is no text file of grade rules", cure="Name the .rul file.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


@dataclass
class _Rule:
    number: str
    line: int
    numbers: list[float] = field(default_factory=list)


class _Reader:
    def __init__(self, deltas: Deltas, units: Unit | None) -> None:
        self.deltas: Deltas = deltas
        self.units = units
        self.said: dict[str, tuple[str, int]] = {}
        self.rules: dict[str, _Rule] = {}
        self.findings: list[Finding] = []
        self.unit = Unit.MM

    def read(self, text: str) -> RuleReading:
        self._lines(text)
        self.unit = self._unit()
        sizes = self._sizes()
        sample = self._sample(sizes)
        if not self.rules:
            raise InputError("the file holds no grade rule", cure=_CURE)
        base = sizes.index(sample)
        rows = {rule.number: self._moves(rule, sizes, base) for rule in self.rules.values()}
        found = doubtful(rows, base, self.deltas)
        if found is not None:
            self.findings.append(found)
        if self.deltas == "neighbour":
            rows = {number: from_neighbours(row, base) for number, row in rows.items()}
        title = self.said.get("graderuletable", ("", 0))[0]
        table = RuleFile(sizes, sample, rows, self.unit, title)
        return RuleReading(table, tuple(self.findings))

    # --- lines --------------------------------------------------------------------------

    def _lines(self, text: str) -> None:
        rule: _Rule | None = None
        lines = text.splitlines()
        commas = _decimal_commas(lines)
        ended = False
        for at, line in enumerate(lines, start=1):
            plain = line.strip().strip("\x1a")
            if not plain:
                continue
            if ended:
                self._find("after-end", "note", f"line {at} and what follows stands after END")
                break
            if plain.casefold().rstrip(":.") == "end":
                ended = True
            elif match := _RULE.fullmatch(plain):
                rule = self._begin(match[1], at)
            elif rule is not None and _NUMBER.match(plain.replace(",", ".")):
                rule.numbers += _numbers(plain, at, commas)
                if len(rule.numbers) > 2 * _MOST_SIZES:
                    raise InputError(f"rule {rule.number} has too many deltas", where=f"line {at}")
            elif match := _LABEL.fullmatch(plain):
                rule = None
                key = re.sub(r"[^a-z]", "", match[1].casefold())
                self.said.setdefault(key, (match[2].rstrip(), at))
            elif rule is not None:
                raise InputError(
                    f'"{plain[:40]}" is no pair of deltas', where=f"line {at}", cure=_CURE
                )
            elif len(self.said) + len(self.rules) == 0 and at > 20:
                raise InputError("this is no rule table file", cure=_CURE)
        if not ended and (self.rules or self.said):
            self._find(
                "no-end",
                "warn",
                "the file has no END, it may be cut short",
                "Check that the last rule is complete.",
            )

    def _begin(self, number: str, at: int) -> _Rule:
        number = str(int(number)) if number.isascii() and number.isdigit() else number
        if number in self.rules:
            raise InputError(
                f"rule {number} is there twice (first on line {self.rules[number].line})",
                where=f"line {at}",
                cure="Keep one of them.",
            )
        if len(self.rules) >= _MOST_RULES:
            raise InputError(f"there are more than {_MOST_RULES} rules", where=f"line {at}")
        rule = self.rules[number] = _Rule(number, at)
        return rule

    # --- what they say ------------------------------------------------------------------

    def _unit(self) -> Unit:
        said, at = self.said.get("units", self.said.get("unit", ("", 0)))
        found = unit_of(said) if said else None
        if self.units is not None:
            return self.units
        if said and found is None:
            raise InputError(
                f'"{said[:40]}" is no unit of a rule table',
                where=f"line {at}",
                cure="Write UNITS: METRIC or UNITS: ENGLISH, or say the unit (--units).",
            )
        if found is None:
            text = "the rule table does not say its unit; millimetres were assumed"
            cure = "Write UNITS: METRIC or UNITS: ENGLISH in it, or say the unit (--units)."
            self._find("units-assumed", "warn", text, cure)
        return found or Unit.MM

    def _sizes(self) -> tuple[str, ...]:
        text, at = self.said.get("sizelist", self.said.get("sizes", ("", 0)))
        parts = re.split(r"\s*[,;\t]\s*", text.strip(" ,;")) if re.search(r"[,;\t]", text) else []
        sizes = tuple(p for p in (parts or text.split()) if p)
        if not sizes:
            raise InputError(
                "the file has no list of sizes",
                where=f"line {at}" if at else "",
                cure="Write a line like SIZE LIST: 8 10 12 14.",
            )
        if len(sizes) > _MOST_SIZES:
            raise InputError(f"there are more than {_MOST_SIZES} sizes", where=f"line {at}")
        twice = next((s for s in sizes if sizes.count(s) > 1), None)
        if twice is not None:
            raise InputError(
                f'the size "{twice}" is there twice', where=f"line {at}", cure="Keep one of them."
            )
        count, line = self.said.get("numberofsizes", ("", 0))
        if count and count != str(len(sizes)):
            self._find(
                "sizes-miscounted",
                "warn",
                f'line {line} says "{count[:20]}" sizes, but {len(sizes)} are listed',
                "Check the list of sizes.",
            )
        return sizes

    def _sample(self, sizes: tuple[str, ...]) -> str:
        text, at = self.said.get("samplesize", self.said.get("basesize", ("", 0)))
        if text:
            for size in sizes:
                if size.casefold() == text.casefold():
                    return size
            raise InputError(
                f'the sample size "{text[:20]}" is not in the list of sizes',
                where=f"line {at}",
                cure=f"The sizes are {', '.join(sizes[:40])}.",
            )
        if self.deltas == "sample" and self.rules:
            still = [k for k in range(len(sizes)) if self._still(k)]
            if len(still) == 1:
                size = sizes[still[0]]
                self._find(
                    "sample-assumed",
                    "warn",
                    f"the file does not say its sample size; {size} was taken, where no rule moves",
                    "Write a line like SAMPLE SIZE: 12.",
                )
                return size
        raise InputError("the file has no sample size", cure="Write a line like SAMPLE SIZE: 12.")

    def _still(self, k: int) -> bool:
        return all(r.numbers[2 * k : 2 * k + 2] == [0.0, 0.0] for r in self.rules.values())

    def _moves(self, rule: _Rule, sizes: tuple[str, ...], base: int) -> tuple[Move, ...]:
        where = f"line {rule.line}"
        if len(rule.numbers) != 2 * len(sizes):
            pairs = len(rule.numbers) / 2
            raise InputError(
                f"rule {rule.number} has {pairs:g} pairs of deltas for {len(sizes)} sizes",
                where=where,
                cure="Give one pair for each size of the list.",
            )
        moves = [
            (self.unit.to_mm(x), self.unit.to_mm(y))
            for x, y in zip(rule.numbers[::2], rule.numbers[1::2], strict=True)
        ]
        if any(abs(v) > LARGEST_DELTA for pair in moves for v in pair):
            raise InputError(
                f"rule {rule.number} moves a point by more than {LARGEST_DELTA / 1000:g} m",
                where=where,
                cure="Check the number and the unit.",
            )
        if moves[base] != (0.0, 0.0):
            x, y = rule.numbers[2 * base : 2 * base + 2]
            raise InputError(
                f"rule {rule.number} moves the sample size {sizes[base]} itself, by ({x:g}, {y:g})",
                where=where,
                cure="At the sample size a delta is 0, 0; check the order of the sizes.",
            )
        return tuple(moves)

    def _find(self, code: str, level: Level, text: str, cure: str = "") -> None:
        self.findings.append(Finding(code, level, text, cure=cure))


def _decimal_commas(lines: list[str]) -> bool:
    """Whether some line shows that its commas are decimal: `0,5, 0,25` or `0,5;0,25`."""
    shows = re.compile(r"\s*+[-+]?\d++,\d++(?:\s*+[,;]\s*+|\s++)[-+]?\d++,\d++\s*+[,;]?\s*+")
    return any(shows.fullmatch(line) for line in lines)


def _numbers(plain: str, at: int, commas: bool) -> list[float]:
    """The numbers on one line, an even count of them.

    A comma parts numbers where there are decimal points; without these, commas inside what
    blanks or semicolons part are decimal ones.
    """
    body = plain.strip(",; \t")
    if "." in body:
        tokens = re.split(r"\s*[,;]\s*|\s+", body)
    else:
        tokens = [t.strip(",") for t in re.split(r"\s*;\s*|\s*,\s+|\s+,?", body)]
        alone = tokens[0].split(",") if len(tokens) == 1 else []
        if len(alone) == 4:
            tokens = [f"{alone[0]}.{alone[1]}", f"{alone[2]}.{alone[3]}"]
        elif len(alone) == 2 and not (commas and set(body) - set("+-0,")):
            tokens = alone
        elif all(t.count(",") <= 1 for t in tokens):
            tokens = [t.replace(",", ".") for t in tokens]
    values = [float(t) if _NUMBER.fullmatch(t) else math.nan for t in tokens]
    if not all(map(math.isfinite, values)):
        raise InputError(f'"{plain[:40]}" is no pair of deltas', where=f"line {at}", cure=_CURE)
    if len(values) % 2:
        raise InputError(
            f'"{plain[:40]}" holds {len(values)} numbers, no pair',
            where=f"line {at}",
            cure="Write x and y parted by a comma and a blank: 2.5, -1.0",
        )
    return values
