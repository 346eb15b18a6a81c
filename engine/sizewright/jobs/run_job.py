"""A job carried out: read, describe, grade, run the operations, make the outputs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ..errors import SizewrightError, UsageError
from ..findings import Finding
from ..laying import spread_apart
from ..model import Pattern
from ..plugin import Outcome, Plugins, look_over, run_check
from ..units import parse_unit
from .describe import describe
from .drafts import Drafts
from .files import add_files, in_sizes, open_pattern, run_named, safe, some_piece, with_rules
from .grade_order import graded, ordered_rules, pointed, sizes_made
from .job_file import Job, OutputOrder, Step
from .operate import operate
from .progress import Progress, silent
from .ready import Offered, Ready, ready
from .rule_files import open_rules
from .toml_lines import Trail
from .write_out import check_out


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
    outputs: tuple[tuple[OutputOrder, Ready], ...]
    tables: tuple[Path, ...]


def perform(
    job: Job,
    plugins: Plugins,
    *,
    write: bool = True,
    into: Path | None = None,
    progress: Progress = silent,
) -> Performed:
    """Carry out a job. Nothing is written to disk: `files` holds the outputs by name.

    All settings, sizes and names of outputs are checked before anything runs, as far as the
    drawing need not be read for that; `into` is the folder that they are for. Checks that need
    no asking (`look_over`) run besides those that the job lists. `write` False leaves the
    outputs out and runs every check.
    """
    plan = _plan(job, plugins, write)
    made = _sizes_made(job)
    if made is not None:
        _check_outputs(job, plan, made, into)
    total = 3 + len(plan.before) + len(plan.steps) + len(plan.checks) + len(plan.outputs)
    done = 0

    def tell(what: str) -> None:
        nonlocal done
        progress(what, done, total)
        done += 1

    tell(f"reading {job.source.name}")
    reading = open_pattern(
        job.source,
        plugins=plugins,
        units=None if job.units is None else parse_unit(job.units),
        settings=job.reading,
        where=lambda name: job.where("reading", name),
    )
    findings = list(reading.findings)
    pattern = describe(some_piece(reading, str(job.source)).pattern, job)

    grade = job.grade
    if grade and plan.before:
        with _located(job, ("grade",)):
            pattern, grade = pointed(pattern, grade, findings)
    drafts = Drafts()
    for one in plan.before:
        tell(one.step.name)
        pattern = _operate(job, one, pattern, findings, drafts)
    if grade:
        tell(f"grading to {grade.words}")
        with _located(job, ("grade",)):
            pattern = graded(drafts.taken_out(pattern), grade, job.base, findings)
            pattern = drafts.renewed(pattern, findings, graded=True)
    if made is None:
        _check_outputs(job, plan, pattern.sizes, into)
    for one in plan.steps:
        tell(one.step.name)
        pattern = _operate(job, one, pattern, findings, drafts)
    pattern, moved = spread_apart(pattern, reading.pattern)
    findings += moved
    for one in plan.checks:
        tell(one.step.name)
        with _located(job, one.step.trail):
            findings += run_check(one.run, pattern, one.values)
    asked = {one.step.name for one in plan.checks}
    findings += look_over(plugins, pattern, "job" if write else "asked", but=asked)
    files: dict[str, bytes] = {}
    for order, writer in plan.outputs:
        tell(order.file)
        with _located(job, order.trail):
            for name, part in _outputs(order, pattern):
                data, told = run_named(writer.run, part, writer.values, name)
                add_files(files, data, job.where(*order.trail, "file"))
                findings += told
    progress("done", total, total)
    return Performed(pattern, tuple(findings), files, _sources(job, plan))


# --- the plan ---------------------------------------------------------------------


def _plan(job: Job, plugins: Plugins, write: bool) -> _Plan:
    tables = list(job.grade.sources) if job.grade else []

    def made_ready(step: Step, find: Callable[[str], Offered]) -> Ready:
        def rules(text: str) -> Any:
            tables.append(job.path(text, step.trail))
            return open_rules(tables[-1]).table

        with _located(job, step.trail):
            return ready(step, find, lambda name: job.where(*step.trail, name), rules)

    before = tuple(made_ready(step, plugins.operation) for step in job.before)
    for one in before:
        if not one.run.before_grading:
            raise UsageError(
                f'"{one.step.name}" cannot run before grading',
                where=job.where(*one.step.trail),
                cure="Put it under [[steps]].",
            )
    after = job.grade.after if job.grade else ()
    checks = tuple(made_ready(step, plugins.check) for step in job.checks)
    steps = tuple(made_ready(step, plugins.operation) for step in (*after, *job.steps))
    outputs = []
    graded_by = None
    if write and job.outputs and job.grade and job.grade.rules:
        with _located(job, ("grade",)):
            graded_by = ordered_rules(job.grade).table
    for order in job.outputs if write else ():
        with _located(job, (*order.trail, "file")):
            writer = plugins.writer_of(order.file, order.writer)
        deltas = job.grade.deltas if job.grade else None
        settings = with_rules(writer, order.settings, graded_by, deltas)
        step = Step(writer.name, settings, order.trail)
        outputs.append((order, made_ready(step, plugins.writer)))
    return _Plan(before, steps, checks, tuple(outputs), tuple(tables))


def _sources(job: Job, plan: _Plan) -> tuple[Path, ...]:
    return (job.toml.path, job.source, *plan.tables)


def _sizes_made(job: Job) -> tuple[str, ...] | None:
    """The sizes that the job makes; None where only the drawing can tell them."""
    if job.grade is None:
        return None
    with _located(job, ("grade",)):
        return sizes_made(job.grade)


def _check_outputs(job: Job, plan: _Plan, made: tuple[str, ...], into: Path | None) -> None:
    """Refuse outputs of sizes that are not made, and of one name, and what cannot be written.

    Pieces are not known yet: `{piece}` stays as it is.
    """
    taken: dict[str, bytes] = {}
    for order, _ in plan.outputs:
        with _located(job, order.trail):
            for size in order.sizes:
                if size not in made:
                    raise UsageError(
                        f'there is no size "{size}" to write',
                        cure=f"Sizes made: {', '.join(made) or 'none'}.",
                    )
            names = {order.file.replace("{size}", safe(size)) for size in order.sizes or made}
            add_files(taken, dict.fromkeys(names or {order.file}, b""), job.where(*order.trail))
            if into is not None:
                check_out(into, names, _sources(job, plan))


# --- doing it ---------------------------------------------------------------------


def _operate(
    job: Job, one: Ready, pattern: Pattern, findings: list[Finding], drafts: Drafts
) -> Pattern:
    def act(on: Pattern) -> Outcome:
        with _located(job, one.step.trail):
            return operate(one.run, on, one.values)

    outcome = act(pattern)
    findings += outcome.findings
    pattern = drafts.renewed(outcome.pattern, findings)
    drafts.note(replace(outcome, pattern=pattern), act)
    return pattern


def _outputs(order: OutputOrder, pattern: Pattern) -> Iterator[tuple[str, Pattern]]:
    """Names and contents of what one output order asks for."""
    if order.sizes:
        pattern = pattern.with_pieces(p for p in pattern.pieces if p.size in (None, *order.sizes))
    for name, part in in_sizes(pattern, order.file):
        if "{piece}" in name:
            for piece in part.names:
                only = part.with_pieces(p for p in part.pieces if p.name == piece)
                yield name.replace("{piece}", safe(piece)), only
        else:
            yield name, part


@contextmanager
def _located(job: Job, trail: Trail) -> Iterator[None]:
    """Puts the job's file and line before the trail of an error raised inside."""
    try:
        yield
    except SizewrightError as error:
        if job.toml.path.name not in error.where:
            error.at(job.where(*trail))
        raise
