"""Patterns in from files and out to them, by whichever plugin reads or writes them."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import closing
from functools import partial
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any

from ..errors import InputError, SizewrightError, UsageError
from ..findings import Finding
from ..formats.source import read_bytes
from ..plugin import Making, Plugins, Writer, check_settings, run_reader, run_writer
from .side_by_side import Made, in_order
from .write_out import check_name

if TYPE_CHECKING:
    from ..formats import Behind, Reading
    from ..grading import RuleTable
    from ..laying import Cloths
    from ..model import Pattern
    from ..units import Unit

#: Settings as a job has them, or texts NAME=VALUE as the command line has them.
Given = Mapping[str, Any] | Sequence[str]
# So much of a file's start is looked at to tell what it is, bytes.
_HEAD = 4096
_READER = "reader"


def open_pattern(
    path: str | os.PathLike[str],
    *,
    plugins: Plugins | None = None,
    units: Unit | None = None,
    settings: Given = (),
    where: Callable[[str], str] = lambda _name: "",
) -> Reading:
    """The pattern in a file, read by whichever reader its content shows.

    `units`: what a bare number in the file means, where the file itself is wrong or silent.
    `settings` are the reader's own (`where` tells where one was said); the setting `reader`
    says which reader to take. Raises InputError for a file that is missing, empty, too large
    or of no known format, UsageError for a wrong setting, PluginError for a reader that
    fails, and whatever the reader finds wrong with the file.
    """
    data = read_bytes(path)
    name = os.fspath(path)
    plugins = plugins or Plugins.discover()
    chosen, given = _chosen(settings)
    try:
        reader = plugins.reader(chosen) if chosen else plugins.reader_of(data[:_HEAD], name)
    except SizewrightError as error:
        raise error if name in error.where else error.at(where(_READER) or name) from None
    if reader is None:
        broken = ", ".join(p.name for p in plugins.all if p.broken)
        raise InputError(
            f"this is not a format that sizewright reads{_looks_like(data)}",
            where=name,
            cure=f"It reads {', '.join(r.name for r in plugins.readers)}: save or export the "
            "drawing as that." + (f" (Plugins that cannot be used: {broken}.)" if broken else ""),
        )
    values = check_settings(reader.name, reader.settings, given, where=where)
    reading: Reading = run_reader(reader, data, name, units, values)
    return reading


def is_rule_file(path: str | os.PathLike[str]) -> bool:
    """Whether a file's content is a rule table file of the open standard."""
    from ..formats.claims import claims_rules

    return claims_rules(read_bytes(path)[:_HEAD])


def some_piece(reading: Reading, name: str) -> Reading:
    """The reading, if it has a piece to work on: else InputError with what was wrong."""
    if reading.pattern.pieces:
        return reading
    fault = next((f for f in reading.findings if f.level == "fail"), None)
    raise InputError(
        "no piece could be read" + (f": {fault.text}" if fault else ""),
        where=" ".join(part for part in (name, fault.piece if fault else "") if part),
        cure=(fault.cure if fault and fault.cure else "Look at it with sizewright show."),
    )


def _chosen(settings: Given) -> tuple[str | None, Given]:
    """The reader that the settings name, and the other settings."""
    if isinstance(settings, Mapping):
        return settings.get(_READER), {k: v for k, v in settings.items() if k != _READER}
    named = [text for text in settings if text.partition("=")[0].strip() == _READER]
    name = named[-1].partition("=")[2].strip() if named else None
    return name, [text for text in settings if text not in named]


def encode_pattern(
    pattern: Pattern,
    out: str | os.PathLike[str],
    *,
    plugins: Plugins | None = None,
    profile: str | None = None,
    rules: RuleTable | None = None,
    deltas: str | None = None,
    making: Making | None = None,
    behind: Behind | None = None,
) -> tuple[dict[str, bytes], tuple[Finding, ...]]:
    """The files of a pattern by name, and what they cannot hold.

    `profile` names the writer; without it the ending of `out` chooses. `{size}` in `out`
    makes a file for each size. `rules`, `deltas`, `making` and `behind` go to a writer that
    takes them.
    Raises what `Plugins.writer_of`, its settings and the writer raise.
    """
    name = os.fspath(out)
    check_name(PurePath(name).name)
    writer = (plugins or Plugins.discover()).writer_of(name, profile)
    handed = with_handed(writer, {}, name, rules=rules, deltas=deltas, making=making, behind=behind)
    values = check_settings(writer.name, writer.settings, handed)
    files: dict[str, bytes] = {}
    findings: list[Finding] = []

    def make(one: str, part: Pattern, _before: object) -> Made:
        return run_named(writer, part, values, one)

    tasks = [partial(make, *one) for one in in_sizes(pattern, name)]
    with closing(in_order(tasks, time.monotonic())) as made:
        for more, found in made:
            add_files(files, more, name)
            findings += found
    return files, tuple(findings)


def save_pattern(
    pattern: Pattern,
    out: str | os.PathLike[str],
    *,
    sources: Iterable[str | os.PathLike[str]] = (),
    **options: Any,
) -> tuple[tuple[str, ...], tuple[Finding, ...]]:
    """Write what `encode_pattern` gives, all or none; the names of the files, and findings.

    `options` are those of `encode_pattern`.
    Existing files are replaced; `sources` are never overwritten. Raises UsageError where
    that cannot be done.
    """
    from ..formats.safely import write_all

    files, findings = encode_pattern(pattern, out, **options)
    write_all({Path(name): data for name, data in files.items()}, sources=[*map(Path, sources)])
    return tuple(files), findings


def with_handed(
    writer: Writer,
    given: Mapping[str, Any],
    out: str,
    *,
    rules: RuleTable | None = None,
    deltas: str | None = None,
    cloths: Cloths | None = None,
    making: Making | None = None,
    behind: Behind | None = None,
) -> dict[str, Any]:
    """`given`, with what is handed to a writer that has a setting for it.

    That is the ending of the file `out`, the rules that a pattern was graded by, the cloths
    of a job, how the pattern came about, and the picture behind it.
    """
    ending = PurePath(out).suffix.lower()
    offered = {
        "rules": rules,
        "cloths": cloths,
        "ending": ending,
        "making": making,
        "behind": behind,
    }
    handed = {s.name: offered[s.kind] for s in writer.settings if s.kind in offered}
    if rules is not None and any(s.name == "deltas" for s in writer.settings):
        handed["deltas"] = deltas
    for setting in writer.settings:
        if setting.kind in ("cloths", "ending", "making", "behind") and setting.name in given:
            raise UsageError(
                f'"{setting.name}" of "{writer.name}" is not set by hand', cure="Leave it out."
            )
    return {k: v for k, v in handed.items() if v is not None} | dict(given)


def run_named(
    writer: Writer, pattern: Pattern, values: Mapping[str, Any], name: str
) -> tuple[dict[str, bytes], tuple[Finding, ...]]:
    """What a writer makes of a pattern, by name: the file `name`, and those beside it."""
    output = run_writer(writer, pattern, values)
    files = {name: output.data}
    for ending, data in output.beside.items():
        files[os.fspath(PurePath(name).with_suffix(ending))] = data
    return files, output.findings


def add_files(files: dict[str, bytes], more: Mapping[str, bytes], where: str) -> None:
    """Files added to others by name; UsageError where a name is there already."""
    for name, data in more.items():
        if name in files:
            raise UsageError(
                f'two outputs are named "{name}"', where=where, cure="Give one another name."
            )
        files[name] = data


def in_sizes(pattern: Pattern, name: str) -> tuple[tuple[str, Pattern], ...]:
    """The names and contents of the files that `name` asks for: with `{size}`, one a size."""
    if "{size}" not in name:
        return ((name, pattern),)
    if not pattern.sizes:
        raise UsageError(
            "the pieces have no size to put in the name",
            where=name,
            cure="Take {size} out of it, or grade to a size.",
        )
    return tuple((name.replace("{size}", safe(s)), pattern.in_size(s)) for s in pattern.sizes)


def safe(text: str) -> str:
    """A size or piece name as part of a file name."""
    plain = "".join(c if c.isalnum() or c in " -_." else "-" for c in text).strip(". ") or "-"
    from .write_out import is_device

    return f"-{plain}" if is_device(plain) else plain


def _looks_like(data: bytes) -> str:
    """A hint at what a refused file is, from its first bytes."""
    signs = (
        (b"\x1f\x8b", "a compressed file"),
        (b"PK\x03\x04", "a ZIP archive"),
        (b"AC10", "a DWG drawing"),
        (b"<", "XML or a web page, but no SVG drawing"),
    )
    return next((f" (it looks like {what})" for sign, what in signs if data.startswith(sign)), "")
