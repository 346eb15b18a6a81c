"""The job of `convert`: a file in one format in, another out."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import UsageError
from ..findings import Finding, told
from .files import Given, is_rule_file, save_pattern, some_piece
from .show import look

if TYPE_CHECKING:
    from ..formats.interchange.rules import Deltas
    from ..units import Unit

_Told = tuple[tuple[Finding, ...], tuple[str, ...]]
_TABLES = (".csv", ".rul")


def convert(
    source: str | os.PathLike[str],
    out: str | os.PathLike[str],
    *,
    units: Unit | None = None,
    settings: Given = (),
    profile: str | None = None,
    size: str | None = None,
    rules: str | os.PathLike[str] | None = None,
    deltas: Deltas | None = None,
) -> _Told:
    """Read `source` and write it to `out`; the findings of both, and lines that tell of them.

    `settings` are the reader's; `profile` names the writer, with `rules` to write beside it.
    A table of grade rules is converted where `out` ends in .csv or .rul: `deltas` says what
    the numbers of a .rul file count from, `size` is its sample size. Raises what reading and
    writing raise, and UsageError for rules that the writer has no place for.
    """
    if Path(out).suffix.lower() in _TABLES:
        return _convert_table(source, out, units=units, size=size, deltas=deltas)
    from ..plugin import Making, Plugins, look_over

    plugins = Plugins.discover()
    writer = plugins.writer_of(os.fspath(out), profile)
    if is_rule_file(source):
        raise UsageError(
            "this is a table of grade rules, not a pattern",
            where=os.fspath(source),
            cure="Convert it to .csv, or grade a pattern with it (--rules).",
        )
    if rules is not None and not any(s.kind == "rules" for s in writer.settings):
        raise UsageError(
            "rules are written beside an interchange drawing only",
            where=os.fspath(out),
            cure="Add --profile interchange, or leave --rules out.",
        )
    reading = look(source, size=size, units=units, settings=settings, plugins=plugins)
    some_piece(reading, os.fspath(source))
    findings = (*reading.findings, *look_over(plugins, reading.pattern, "reading"))
    table = None
    sources = [source]
    if rules is not None:
        from .rule_files import open_rules

        read = open_rules(rules, deltas=deltas)
        table, findings = read.table, (*findings, *read.findings)
        sources.append(rules)
    names, written = save_pattern(
        reading.pattern,
        out,
        sources=sources,
        plugins=plugins,
        profile=profile,
        rules=table,
        deltas=deltas,
        making=Making(reading.pattern, lambda: findings),
        behind=reading.behind,
    )
    findings = (*findings, *written)
    count = len(reading.pattern.pieces)
    lines = [f"{' and '.join(names)}: {count} piece{'' if count == 1 else 's'}"]
    return findings, (*lines, *told(findings))


def _convert_table(
    source: str | os.PathLike[str],
    out: str | os.PathLike[str],
    *,
    units: Unit | None,
    size: str | None,
    deltas: Deltas | None,
) -> _Told:
    """A table of grade rules from a rule table file to CSV, or the other way."""
    from ..formats import write_rule_file
    from ..formats.safely import write_safely
    from ..grading import write_rules
    from .rule_files import as_file, open_rules

    from_file = is_rule_file(source)
    to_file = Path(out).suffix.lower() == ".rul"
    if from_file == to_file:
        raise UsageError(
            "a rule table is converted from .rul to .csv or from .csv to .rul",
            where=os.fspath(source),
            cure="Give the output the other ending.",
        )
    read = open_rules(source, deltas=deltas if from_file else None, units=units)
    findings = read.findings
    if to_file:
        file, more = as_file(read.table, size)
        findings = (*findings, *more)
        data: bytes | str = write_rule_file(file, deltas or "sample")
    else:
        data = write_rules(read.table)
    write_safely(os.fspath(out), data, sources=(os.fspath(source),))
    count = len(read.table.names)
    lines = [f"{os.fspath(out)}: {count} rule{'' if count == 1 else 's'}"]
    return findings, (*lines, *told(findings))
