"""Interchange drawings out: `write_interchange`."""

from __future__ import annotations

import re
from typing import Literal, NamedTuple

from ...errors import InputError
from ...findings import Finding
from ...model import Pattern, Piece
from ...units import Unit
from ..drawing.losses import not_held
from ..drawing.names import clean, untaken
from ..dxf.places import bounds_of
from .layers import BOUNDARY
from .piece_out import HEIGHT, write_piece
from .r13 import R13
from .rules import Deltas, RuleFile
from .rules_out import SYSTEMS, size_word, write_rule_file
from .texts import ascii_only

_SYSTEM = {"metric": Unit.MM, "english": Unit.IN}
_LONGEST_BLOCK = 31


class Interchange(NamedTuple):
    """The bytes of a drawing and of its rule table file (None without rules), and findings."""

    dxf: bytes
    rul: bytes | None
    findings: tuple[Finding, ...] = ()


def write_interchange(
    pattern: Pattern,
    *,
    units: Literal["metric", "english"] = "metric",
    rules: RuleFile | None = None,
    deltas: Deltas = "sample",
    name: str = "",
    created: str = "",
    checks: bool = False,
) -> Interchange:
    """A pattern in the interchange format of ASTM D6673-10: a block for each piece and size.

    `units`: millimetres or inches. `rules` hold the numbers that points bear as their
    rules; their file counts as `deltas` says. Rules of points that are no numbers get one
    each, and a finding tells which. `name` names the style's rule table, `created` is the
    creation date to be told (none, so that the same pattern gives the same bytes). `checks`
    puts finer curves of both lines on layers 84 and 87, to judge a reader's own curves by.
    What the format has no place for is told in findings. Raises InputError for an empty
    pattern, or a rule that the table has not.
    """
    if not pattern.pieces:
        raise InputError("the pattern has no piece", cure="Give one with a closed outline.")
    unit = _SYSTEM[units]
    findings: list[Finding] = []
    numbers = _numbers(pattern, rules, findings)
    doc = R13(unit)
    names = _plain_names(pattern)
    for piece in pattern.pieces:
        plain = names[piece.name]
        sheet = doc.block(_block_name(plain, piece, pattern, doc))
        findings += write_piece(piece, plain, numbers, sheet, checks=checks)
    table = ascii_only(name or pattern.title or "STYLE").strip().upper()
    _sheet(doc, pattern, rules, table, created)
    for block in doc.blocks:
        doc.sheet.insert(block, BOUNDARY)
    if pattern.seams:
        text = f"the interchange format has no place for seams; {len(pattern.seams)} were left out"
        findings.append(Finding("not-held", "warn", text, cure="Keep the SVG drawing."))
    lost = {"page": pattern.page, "bodies that it was graded to": pattern.bodies}
    findings += not_held([what for what, there in lost.items() if there])
    dxf = doc.to_bytes(bounds_of(pattern), "ASTM D6673-10, ANSI/AAMA-292")
    rul = None
    if rules is not None:
        named = RuleFile(rules.sizes, rules.sample, rules.rules, unit, table)
        rul = write_rule_file(named, deltas)
    elif numbers:
        text = "points bear rule numbers, but there is no rule table to write beside the drawing"
        findings.append(Finding("no-rule-table", "warn", text, cure="Give the table (--rules)."))
    return Interchange(dxf, rul, tuple(findings))


def used_rules(pattern: Pattern) -> tuple[str, ...]:
    """All rules that points and notches of a pattern bear, each once."""
    used: dict[str, None] = {}
    for piece in pattern.pieces:
        lines = [piece.outline, *([piece.cut_line] if piece.cut_line is not None else [])]
        for rule in (*(p.rule for o in lines for p in o.points), *(n.rule for n in piece.notches)):
            if rule is not None:
                used[rule] = None
    return tuple(used)


def is_number(rule: str) -> bool:
    """Whether a rule's name is a number as the format wants it."""
    return re.fullmatch(r"[1-9]\d{0,8}", rule) is not None


def _numbers(pattern: Pattern, rules: RuleFile | None, findings: list[Finding]) -> dict[str, str]:
    """The number of each rule that is used."""
    used = used_rules(pattern)
    if rules is not None:
        missing = [rule for rule in used if rule not in rules.rules]
        if missing:
            raise InputError(
                f"the rule table has no rule {', '.join(missing[:10])}",
                where=rules.name,
                cure=f"It has {', '.join(list(rules.rules)[:40]) or 'none'}.",
            )
    numbers = {rule: rule for rule in used if is_number(rule)}
    free = 1
    named: list[str] = []
    for rule in used:
        if rule not in numbers:
            while str(free) in numbers.values():
                free += 1
            numbers[rule] = str(free)
            named.append(f"{free} is {rule}")
    if named:
        text = f"rules bear numbers in this format: {', '.join(named)}"
        findings.append(Finding("rules-numbered", "note", text))
    return numbers


def _plain_names(pattern: Pattern) -> dict[str, str]:
    """Each piece's name in plain letters, all of them different."""
    names: dict[str, str] = {}
    for name in pattern.names:
        names[name] = untaken(clean(ascii_only(name)) or "piece", names.values())
    return names


def _block_name(plain: str, piece: Piece, pattern: Pattern, doc: R13) -> str:
    """A block's name: letters, figures, $, - and _, with the size where there are several."""
    words = f"{plain}_{piece.size}" if piece.size and len(pattern.sizes) > 1 else plain
    base = re.sub(r"[^A-Z0-9$_-]+", "_", ascii_only(words).upper()).strip("_") or "PIECE"
    name, count = base[:_LONGEST_BLOCK], 1
    while name in doc.blocks:
        count += 1
        name = f"{base[: _LONGEST_BLOCK - 1 - len(str(count))]}_{count}"
    return name


def _sheet(doc: R13, pattern: Pattern, rules: RuleFile | None, table: str, created: str) -> None:
    """The texts of the style as a whole, below the pieces."""
    sizes = [p.size for p in pattern.pieces if p.size is not None]
    sample = rules.sample if rules is not None else pattern.base_size or (sizes[0] if sizes else "")
    said = [
        ("ASTM D6673 VERSION", "10"),
        ("AUTHOR", "SIZEWRIGHT"),
        ("CREATION DATE", created),
        ("STYLE NAME", ascii_only(pattern.title) or table),
        ("SAMPLE SIZE", size_word(sample) if sample else ""),
        ("GRADE RULE TABLE", table if rules is not None else ""),
        ("UNITS", SYSTEMS[doc.unit]),
    ]
    x0, y0, _, _ = bounds_of(pattern)
    for k, (label, value) in enumerate((la, v) for la, v in said if v):
        doc.sheet.text(f"{label}: {value}", (x0, y0 - (k + 2) * 1.5 * HEIGHT), HEIGHT, BOUNDARY)
