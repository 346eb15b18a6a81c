"""A job carried out: read, describe, grade, run the operations, make the outputs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from ..errors import SizewrightError, UsageError
from ..findings import Finding
from ..laying import spread_apart
from ..model import Pattern
from ..plugin import (
    Check,
    Operation,
    Plugins,
    Setting,
    Writer,
    apply_operation,
    check_settings,
    run_check,
    run_writer,
)
from ..units import parse_unit
from .describe import describe
from .encode import encode_files
from .files import FORMATS, open_pattern, unknown_ending
from .grade_order import grade_pattern, ordered_rules
from .job_file import Job, OutputOrder, Step
from .progress import Progress, silent

Named = TypeVar("Named", Operation, Writer, Check)


@dataclass(frozen=True)
class Ready:
    """An operation, writer or check with its settings read and checked."""

    step: Step
    run: Any
    values: Mapping[str, Any]


@dataclass(frozen=True)
class Performed:
    """What a job gave: the pattern as it ended, all findings, and the files to write."""

    pattern: Pattern
    findings: tuple[Finding, ...]
    files: Mapping[str, bytes]
    sources: tuple[Path, ...]


@dataclass(frozen=True)
class _Plan:
    before: tuple[Ready, ...]
    steps: tuple[Ready, ...]
    checks: tuple[Ready, ...]
    outputs: tuple[tuple[OutputOrder, Ready | None], ...]


def perform(
    job: Job, plugins: Plugins, *, write: bool = True, progress: Progress = silent
) -> Performed:
    """Carry out a job. Nothing is written to disk: `files` holds the outputs by name.

    All settings are checked before anything runs. `write` False leaves the outputs out
    and runs every check, not only those that the job lists.
    """
    plan = _plan(job, plugins, write)
    total = 3 + len(plan.before) + len(plan.steps) + len(plan.checks) + len(plan.outputs)
    done = 0

    def tell(what: str) -> None:
        nonlocal done
        progress(what, done, total)
        done += 1

    tell(f"reading {job.source.name}")
    reading = open_pattern(job.source, units=None if job.units is None else parse_unit(job.units))
    findings = list(reading.findings)
    pattern = describe(reading.pattern, job)

    for ready in plan.before:
        tell(ready.step.name)
        pattern = _operate(job, ready, pattern, findings)
    if job.grade:
        tell(f"grading to {job.grade.words}")
        pattern = grade_pattern(job, job.grade, pattern, findings)
    for ready in plan.steps:
        tell(ready.step.name)
        pattern = _operate(job, ready, pattern, findings)
    pattern, moved = spread_apart(pattern, reading.pattern)
    findings += moved
    for ready in plan.checks:
        tell(ready.step.name)
        with _located(job, ready.step):
            findings += run_check(ready.run, pattern, ready.values)
    files: dict[str, bytes] = {}
    for order, writer in plan.outputs:
        tell(order.file)
        for name, part in _outputs(job, order, pattern):
            for made, data in _encode(job, order, writer, name, part, findings).items():
                if made in files:
                    raise UsageError(
                        f'two outputs are named "{made}"',
                        where=job.where(*order.trail, "file"),
                        cure="Give one of them another name.",
                    )
                files[made] = data
    progress("done", total, total)
    tables = job.grade.sources if job.grade else ()
    sources = (job.toml.path, job.source, *tables)
    return Performed(pattern, tuple(findings), files, sources)


# --- the plan ---------------------------------------------------------------------


def _plan(job: Job, plugins: Plugins, write: bool) -> _Plan:
    before = tuple(_ready(job, step, plugins.operation) for step in job.before)
    for ready in before:
        if not ready.run.before_grading:
            raise UsageError(
                f'"{ready.step.name}" cannot run before grading',
                where=job.where(*ready.step.trail),
                cure="Put it under [[steps]].",
            )
    checks = [_ready(job, step, plugins.check) for step in job.checks]
    if not write:
        asked = {ready.step.name for ready in checks}
        for check in plugins.checks:
            if check.name not in asked and not any(s.required for s in check.settings):
                checks.append(_ready(job, Step(check.name, {}, ("checks",)), plugins.check))
    outputs = []
    for order in job.outputs if write else ():
        outputs.append((order, _output_writer(job, order, plugins)))
    return _Plan(
        before,
        tuple(_ready(job, step, plugins.operation) for step in job.steps),
        tuple(checks),
        tuple(outputs),
    )


def _output_writer(job: Job, order: OutputOrder, plugins: Plugins) -> Ready | None:
    """The plugin writer for an output; None where the engine's own formats write it."""
    suffix = Path(order.file).suffix.lower()
    step = order.step
    if step is None or not step.name:
        by_ending = [w for w in plugins.writers if suffix in w.suffixes]
        settings = step.settings if step else {}
        if not by_ending:
            if settings:
                if all(suffix not in known.endings for known in FORMATS):
                    raise unknown_ending(order.file).at(job.where(*order.trail, "file"))
                check_settings(
                    suffix or order.file, (), settings, where=lambda n: job.where(*order.trail, n)
                )
            return None
        if len(by_ending) > 1:
            raise UsageError(
                f'several writers make "{suffix}": {", ".join(w.name for w in by_ending)}',
                where=job.where(*order.trail),
                cure='Say which, as write = "NAME".',
            )
        step = Step(by_ending[0].name, settings, order.trail)
    return _ready(job, step, plugins.writer)


def _ready(job: Job, step: Step, find: Callable[[str], Named]) -> Ready:
    with _located(job, step):
        found = find(step.name)
    declared: tuple[Setting, ...] = found.settings
    values = check_settings(
        step.name,
        declared,
        step.settings,
        where=lambda name: job.where(*step.trail, *([name] if name else [])),
    )
    return Ready(step, found, values)


# --- doing it ---------------------------------------------------------------------


def _operate(job: Job, ready: Ready, pattern: Pattern, findings: list[Finding]) -> Pattern:
    with _located(job, ready.step):
        outcome = apply_operation(ready.run, pattern, ready.values)
    findings += outcome.findings
    return outcome.pattern


def _encode(
    job: Job,
    order: OutputOrder,
    writer: Ready | None,
    name: str,
    pattern: Pattern,
    findings: list[Finding],
) -> dict[str, bytes]:
    if writer is None:
        try:
            graded = job.grade if order.profile and job.grade and job.grade.rules else None
            rules, deltas = (ordered_rules(graded).table, graded.deltas) if graded else (None, None)
            files, more = encode_files(
                pattern, name, profile=order.profile, rules=rules, deltas=deltas
            )
        except SizewrightError as error:
            raise error.at(job.where(*order.trail)) from None
        findings += more
        return files
    with _located(job, writer.step):
        output = run_writer(writer.run, pattern, writer.values)
    findings += output.findings
    return {name: output.data}


def _outputs(job: Job, order: OutputOrder, pattern: Pattern) -> Iterator[tuple[str, Pattern]]:
    """Names and contents of what one output order asks for."""
    where = job.where(*order.trail)
    for size in order.sizes:
        if size not in pattern.sizes:
            raise UsageError(
                f'there is no size "{size}" to write',
                where=where,
                cure=f"Sizes made: {', '.join(pattern.sizes) or 'none'}.",
            )
    sizes = order.sizes or pattern.sizes
    if "{size}" in order.file:
        if not sizes:
            raise UsageError(
                "the pieces have no size to put in the name",
                where=where,
                cure="Take {size} out of it, or grade to a size.",
            )
        parts = [
            (order.file.replace("{size}", _safe(size)), pattern.in_size(size)) for size in sizes
        ]
    elif order.sizes:
        kept = pattern.with_pieces(p for p in pattern.pieces if p.size in (None, *order.sizes))
        parts = [(order.file, kept)]
    else:
        parts = [(order.file, pattern)]
    for name, part in parts:
        if "{piece}" in name:
            for piece in part.names:
                only = part.with_pieces(p for p in part.pieces if p.name == piece)
                yield name.replace("{piece}", _safe(piece)), only
        else:
            yield name, part


def _safe(text: str) -> str:
    """A size or piece name as part of a file name."""
    return "".join(c if c.isalnum() or c in " -_." else "-" for c in text).strip(". ") or "-"


@contextmanager
def _located(job: Job, step: Step) -> Iterator[None]:
    """Puts the job's file and line before the trail of an error raised inside."""
    try:
        yield
    except SizewrightError as error:
        if job.toml.path.name not in error.where:
            error.at(job.where(*step.trail))
        raise
