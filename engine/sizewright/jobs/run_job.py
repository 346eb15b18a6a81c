"""A job carried out: read, describe, grade, run the operations, make the outputs."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import Any

from ..budget import cores
from ..drafting import still_to_follow
from ..errors import SizewrightError, UsageError
from ..findings import Finding
from ..laying import spread_apart
from ..model import Pattern
from ..plugin import Making, Outcome, Plugins, Writer, look_over, run_check
from ..units import parse_unit
from .cloth_orders import FillOrder
from .describe import describe
from .drafts import Drafts
from .files import add_files, in_sizes, open_pattern, run_named, safe, some_piece, with_handed
from .filling import Span, Trial, check_fillable, fill
from .grade_order import graded, ordered_rules, pointed, sizes_made
from .job_file import Job, OutputOrder
from .job_lays import JobLays, SomeCloths
from .orders import Step
from .progress import Progress, silent
from .ready import Offered, Ready, operate, ready
from .rule_files import open_rules
from .side_by_side import Before, Made, in_order
from .toml_lines import Trail
from .write_out import check_out


@dataclass(frozen=True)
class Performed:
    """What a job gave: the pattern as it ended, all findings, and the files to write.

    `kept` are those that stay beside the job, by their whole paths.
    """

    pattern: Pattern
    findings: tuple[Finding, ...]
    files: Mapping[str, bytes]
    sources: tuple[Path, ...]
    kept: Mapping[Path, bytes]


@dataclass(frozen=True)
class _Plan:
    before: tuple[Ready, ...]
    steps: tuple[Ready, ...]
    checks: tuple[Ready, ...]
    outputs: tuple[tuple[OutputOrder, Ready], ...]
    tables: tuple[Path, ...]
    lays: JobLays


@dataclass(frozen=True)
class _Stage:
    """One stretch of the way from the drawing to the pattern, and what progress calls it."""

    words: str
    do: Callable[[Pattern, list[Finding]], Pattern]


def perform(
    job: Job,
    plugins: Plugins,
    *,
    write: bool = True,
    into: Path | None = None,
    look_further: bool = False,
    progress: Progress = silent,
) -> Performed:
    """Carry out a job. Nothing is written to disk: `files` holds the outputs by name.

    All settings, sizes and names of outputs are checked before anything runs, as far as the
    drawing need not be read for that; `into` is the folder that they are for. Checks that need
    no asking (`look_over`) run besides those that the job lists. `write` False leaves the
    outputs out and runs every check. `look_further`: look for better lays than the kept ones.
    """
    begun = time.monotonic()
    cores()  # a wrong wish for cores is told before the work
    plan = _plan(job, plugins, write, look_further)
    made = _sizes_made(job)
    if made is not None:
        _check_outputs(job, plan, made, into)
    stages = _stages(job, plan)
    total = 2 + len(stages) + len(job.fills) + len(plan.checks) + len(plan.outputs)
    done = 0

    def tell(what: str) -> None:
        nonlocal done
        progress(what, done, total)
        done += 1
        plan.lays.told = lambda words: progress(words, done, total)

    tell(f"reading {job.source.name}")
    reading = open_pattern(
        job.source,
        plugins=plugins,
        units=None if job.units is None else parse_unit(job.units),
        settings=job.reading,
        where=lambda name: job.where("reading", name),
    )
    findings = [*reading.findings, *plan.lays.findings]
    described = describe(some_piece(reading, str(job.source)).pattern, job, findings)
    for order in job.fills:
        tell(f"filling {order.cloth} by {order.step}.{order.setting}")
        with _located(job, order.trail):
            plan, told = _filled(job, plan, order, described)
        findings.append(told)
        stages = _stages(job, plan)
    pattern = described
    for stage in stages:
        tell(stage.words)
        pattern = stage.do(pattern, findings)
    findings = still_to_follow(findings, pattern)
    if made is None:
        _check_outputs(job, plan, pattern.sizes, into)
    pattern, moved = spread_apart(pattern, reading.pattern)
    findings += moved
    for one in plan.checks:
        tell(one.step.name)
        with _located(job, one.step.trail):
            findings += run_check(one.run, pattern, one.values)
    asked = {one.step.name for one in plan.checks}
    findings += look_over(plugins, pattern, "job" if write else "asked", but=asked)
    files = _written(job, plan, described, pattern, findings, begun, tell)
    progress("done", total, total)
    return Performed(pattern, tuple(findings), files, _sources(job, plan), plan.lays.kept)


def _stages(job: Job, plan: _Plan) -> list[_Stage]:
    """What is done to the drawing, in order: before grading, grading, the steps after it."""
    grade = job.grade
    drafts = Drafts()

    def point(pattern: Pattern, findings: list[Finding]) -> Pattern:
        nonlocal grade
        assert grade is not None
        with _located(job, ("grade",)):
            pattern, grade = pointed(pattern, grade, findings)
        return pattern

    def grade_all(pattern: Pattern, findings: list[Finding]) -> Pattern:
        assert grade is not None
        with _located(job, ("grade",)):
            pattern = graded(drafts.taken_out(pattern), grade, job.base, findings)
            return drafts.renewed(pattern, findings, graded=True)

    def step(one: Ready) -> _Stage:
        return _Stage(
            one.step.name, lambda pattern, found: _operate(job, one, pattern, found, drafts)
        )

    stages = [step(one) for one in plan.before]
    if grade:
        if stages:
            stages.insert(0, _Stage("pointing", point))
        stages.append(_Stage(f"grading to {grade.words}", grade_all))
    return [*stages, *(step(one) for one in plan.steps)]


def _filled(job: Job, plan: _Plan, order: FillOrder, described: Pattern) -> tuple[_Plan, Finding]:
    """The plan with the setting of a fill at the value that was found."""
    one, changed = _named(job, plan, order)
    setting = next((s for s in one.run.settings if s.name == order.setting), None)
    if setting is None:
        raise UsageError(
            f'"{order.step}" has no setting "{order.setting}"',
            cure=f"Its settings: {', '.join(s.name for s in one.run.settings)}.",
        )

    check_fillable(setting)

    def with_value(raw: Any) -> Ready:
        step = replace(one.step, settings={**one.step.settings, setting.name: raw})
        return ready(step, lambda _name: one.run)

    def read(raw: Any) -> float:
        return float(with_value(raw).values[setting.name])

    span = Span.of(order, setting, read(order.low), read(order.high))

    def make(raw: Any) -> Pattern:
        pattern = described
        for stage in _stages(job, changed(with_value(raw))):
            pattern = stage.do(pattern, [])
        return pattern

    cloth = next(c for c in plan.lays.cloths if c.name == order.cloth)
    value, told = fill(order, span, make, read, cloth, plan.lays, _trial(plan, order.cloth))
    return changed(with_value(value)), told


def _named(job: Job, plan: _Plan, order: FillOrder) -> tuple[Ready, Callable[[Ready], _Plan]]:
    """The step that a fill names, and the plan with another in its place."""
    every = [("before", k) for k in range(len(plan.before))]
    every += [("steps", k) for k in range(len(plan.steps))]
    steps = {at: getattr(plan, at[0])[at[1]] for at in every}
    found = [at for at, one in steps.items() if one.step.label == order.step]
    if len(found) != 1:
        what = "several steps are" if found else "no step is"
        labels = dict.fromkeys(one.step.label for one in steps.values())
        raise UsageError(
            f'{what} named "{order.step}"',
            cure=f'Give the step a name of its own, as name = "{order.step}". '
            f"Steps: {', '.join(labels) or 'none'}.",
        )
    table, k = found[0]

    def changed(other: Ready) -> _Plan:
        row = (*getattr(plan, table)[:k], other, *getattr(plan, table)[k + 1 :])
        return replace(plan, before=row) if table == "before" else replace(plan, steps=row)

    return steps[table, k], changed


def _trial(plan: _Plan, cloth: str) -> Trial:
    """How lays of a cloth are looked for: as the first output that shows them says."""
    for order, writer in plan.outputs:
        cloths = writer.values.get("cloths")
        if isinstance(cloths, SomeCloths) and any(c.name == cloth for c in cloths.cloths):
            values = writer.values
            return Trial(order.sizes, values.get("seconds", 20), values.get("seed", 1))
    return Trial((), 20.0, 1)


# --- the plan ---------------------------------------------------------------------


def _plan(job: Job, plugins: Plugins, write: bool, look_further: bool) -> _Plan:
    with _located(job, ("cloths",)):
        lays = JobLays(job.cloths, job.toml.path.parent, plugins, look_further=look_further)
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
        with _located(job, order.trail):
            settings = with_handed(
                writer,
                order.settings,
                order.file,
                rules=graded_by,
                deltas=job.grade.deltas if job.grade else None,
                cloths=SomeCloths(lays.cloths, lays) if lays.cloths else None,
            )
            together = any(s.kind == "cloths" and s.shape == "list" for s in writer.settings)
            _check_cloths(order, {} if together else settings, lays)
        step = Step(writer.name, settings, order.trail)
        outputs.append((order, made_ready(step, plugins.writer)))
    return _Plan(before, steps, checks, tuple(outputs), tuple(tables), lays)


def _check_cloths(order: OutputOrder, settings: Mapping[str, Any], lays: JobLays) -> None:
    """Refuse `{cloth}` in a name where no cloth is laid, and one file for several cloths."""
    laid = any(isinstance(value, SomeCloths) for value in settings.values())
    if "{cloth}" in order.file and not laid:
        raise UsageError(
            f'"{order.file}" is to name a cloth, and there is none',
            cure="Take {cloth} out of it, or add [[cloths]] and write a lay.",
        )
    if laid and "{cloth}" not in order.file and len(lays.cloths) > 1:
        raise UsageError(
            f'"{order.file}" is one file for {len(lays.cloths)} cloths',
            cure="Put {cloth} into its name, as lay-{cloth}.svg.",
        )


def _sources(job: Job, plan: _Plan) -> tuple[Path, ...]:
    return (job.toml.path, job.source, *plan.tables, *plan.lays.sources)


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
            files = [order.file.replace("{cloth}", c.name) for c in plan.lays.cloths]
            files = files if "{cloth}" in order.file else [order.file]
            names = {
                file.replace("{size}", safe(size)) for file in files for size in order.sizes or made
            }
            add_files(taken, dict.fromkeys(names or files, b""), job.where(*order.trail))
            if into is not None:
                check_out(into, names, _sources(job, plan))


# --- doing it ---------------------------------------------------------------------


@dataclass(frozen=True)
class _Part:
    """One file that an output asks for, with what is told of it."""

    order: OutputOrder
    writer: Writer
    name: str
    pattern: Pattern
    values: Mapping[str, Any]

    @property
    def laid(self) -> bool:
        """Whether it lays pieces on cloths, which takes all cores and is kept with the job."""
        return any(isinstance(value, SomeCloths) for value in self.values.values())

    @property
    def tells(self) -> bool:
        """Whether it tells what was found until then, in the outputs before it too."""
        return any(s.kind == "making" for s in self.writer.settings)

    def make(self, drawn: Pattern, found: Sequence[Finding], before: Before) -> Made:
        """The file, and what was found; `found` was there before any output was begun."""
        making = Making(drawn, lambda: (*found, *before()))
        handed = {s.name: making for s in self.writer.settings if s.kind == "making"}
        return run_named(self.writer, self.pattern, {**self.values, **handed}, self.name)


def _written(
    job: Job,
    plan: _Plan,
    drawn: Pattern,
    pattern: Pattern,
    findings: list[Finding],
    begun: float,
    tell: Callable[[str], None],
) -> dict[str, bytes]:
    """All files that the outputs ask for, by name; what is found comes to the findings."""
    parts: list[_Part] = []
    for order, writer in plan.outputs:
        with _located(job, order.trail):
            asked = _outputs(order, pattern, writer)
            parts += (_Part(order, writer.run, *one) for one in asked)
    files: dict[str, bytes] = {}
    at: OutputOrder | None = None
    # What lies on cloths is made by itself: others beside it would take its time.
    for _, some in groupby(parts, lambda part: id(part) if part.laid else None):
        row = list(some)
        tasks = [partial(part.make, drawn, tuple(findings)) for part in row]
        telling = [k for k, part in enumerate(row) if part.tells]
        with closing(in_order(tasks, begun, telling)) as made:
            for part in row:
                if part.order is not at:
                    at = part.order
                    tell(at.file)
                with _located(job, at.trail):
                    data, found = next(made)
                    add_files(files, data, job.where(*at.trail, "file"))
                findings += found
    return files


def _operate(
    job: Job, one: Ready, pattern: Pattern, findings: list[Finding], drafts: Drafts
) -> Pattern:
    def act(on: Pattern) -> Outcome:
        with _located(job, one.step.trail):
            return operate(one.run, on, one.values)

    outcome = act(pattern)
    findings += outcome.findings
    drafts.note(pattern, outcome, act)
    return drafts.renewed(outcome.pattern, findings)


def _outputs(
    order: OutputOrder, pattern: Pattern, writer: Ready
) -> Iterator[tuple[str, Pattern, Mapping[str, Any]]]:
    """Names and contents of what one output order asks for, with the writer's settings."""
    if order.sizes:
        pattern = pattern.with_pieces(p for p in pattern.pieces if p.size in (None, *order.sizes))
    for file, values in _on_cloths(order.file, writer.values):
        for name, part in in_sizes(pattern, file):
            if "{piece}" in name:
                for piece in part.names:
                    only = part.with_pieces(part.sizes_of(piece))
                    yield name.replace("{piece}", safe(piece)), only, values
            else:
                yield name, part, values


def _on_cloths(file: str, values: Mapping[str, Any]) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """A file's name and settings; with `{cloth}` in it, those for each cloth."""
    if "{cloth}" not in file:
        yield file, values
        return
    for name, some in values.items():
        if isinstance(some, SomeCloths):
            for cloth in some.cloths:
                one = SomeCloths((cloth,), some.lays)
                yield file.replace("{cloth}", cloth.name), {**values, name: one}


@contextmanager
def _located(job: Job, trail: Trail) -> Iterator[None]:
    """Puts the job's file and line before the trail of an error raised inside."""
    try:
        yield
    except SizewrightError as error:
        if job.toml.path.name not in error.where:
            error.at(job.where(*trail))
        raise
