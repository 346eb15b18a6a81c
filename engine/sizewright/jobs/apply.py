"""The job of `apply`: one operation on a pattern file, without a job file."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .commands import Told, brief_lines
from .files import Given, save_pattern, some_piece
from .show import look

if TYPE_CHECKING:
    from ..units import Unit


def apply_file(
    name: str,
    source: Path,
    out: Path,
    texts: Sequence[str],
    *,
    size: str | None = None,
    units: Unit | None = None,
    settings: Given = (),
    profile: str | None = None,
    notes: bool = False,
) -> Told:
    """Run the operation `name` on the pattern in `source` and write what comes of it to `out`.

    `texts` are its settings as `NAME=VALUE` (see `check_settings`); `size` picks one size of
    a nest. `units` and `settings` are for reading, `profile` names the writer. Names and
    settings are checked before the file is read, and nothing is written when anything stops
    on the way. Raises UsageError for a wrong name or setting, PluginError for an operation
    that fails, and what reading and writing raise.
    """
    from ..laying import spread_apart
    from ..plugin import Making, Plugins, check_settings, look_over
    from ..shipped import found_file
    from .ready import operate
    from .rule_files import open_rules

    plugins = Plugins.discover()
    operation = plugins.operation(name)
    sources = [source]

    def rules(text: str) -> Any:
        sources.append(found_file(text))
        return open_rules(sources[-1]).table

    values = check_settings(name, operation.settings, texts, rules=rules)
    plugins.writer_of(os.fspath(out), profile)
    reading = look(source, size=size, units=units, settings=settings, plugins=plugins)
    some_piece(reading, os.fspath(source))
    outcome = operate(operation, reading.pattern, values)
    pattern, moved = spread_apart(outcome.pattern, reading.pattern)
    seen = look_over(plugins, pattern, "job")
    findings = (*reading.findings, *outcome.findings, *moved, *seen)
    making = Making(reading.pattern, lambda: findings)
    files, written = save_pattern(
        pattern, out, sources=sources, plugins=plugins, profile=profile, making=making
    )
    findings = (*findings, *written)
    return Told((*files, *brief_lines(findings, notes=notes)), findings)
