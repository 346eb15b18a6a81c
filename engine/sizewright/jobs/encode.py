"""A pattern as the files that are written for it: most formats make one, interchange two."""

from __future__ import annotations

import os
from pathlib import PurePath
from typing import TYPE_CHECKING

from ..errors import SizewrightError
from ..findings import Finding
from .files import encode_pattern

if TYPE_CHECKING:
    from ..formats.interchange.rules import Deltas
    from ..grading import RuleTable
    from ..model import Pattern

INTERCHANGE = "interchange"


def encode_files(
    pattern: Pattern,
    out: str | os.PathLike[str],
    *,
    profile: str | None = None,
    rules: RuleTable | None = None,
    deltas: Deltas | None = None,
) -> tuple[dict[str, bytes], tuple[Finding, ...]]:
    """The files of a pattern by name, and what they cannot hold.

    With the profile `interchange` and `rules`, the rule table file comes beside `out` with
    the ending .rul, its numbers counted as `deltas` says; where the rules cannot be told that
    way, a finding says why and the drawing comes alone. Raises what `encode_pattern` raises.
    """
    name = os.fspath(out)
    if profile != INTERCHANGE or rules is None or PurePath(name).suffix.lower() != ".dxf":
        data, findings = encode_pattern(pattern, name, profile=profile)
        return {name: data}, findings
    from ..formats.interchange.writer import write_interchange
    from .rule_files import numbered

    try:
        marked, file, told = numbered(pattern, rules)
    except SizewrightError as error:
        data, findings = encode_pattern(pattern, name, profile=profile)
        text = f"no rule table file was written: {error.what}"
        why = Finding("no-rule-table", "warn", text, cure=error.cure)
        return {name: data}, (why, *(f for f in findings if f.code != "no-rule-table"))
    title = file.name or PurePath(name).stem
    made = write_interchange(marked, rules=file, deltas=deltas or "sample", name=title)
    files = {name: made.dxf}
    if made.rul is not None:
        files[os.fspath(PurePath(name).with_suffix(".rul"))] = made.rul
    return files, (*told, *made.findings)
