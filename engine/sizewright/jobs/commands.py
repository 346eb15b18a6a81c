"""The commands that carry out jobs: `run` and `check`, with the lines that they tell."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..errors import UsageError
from ..findings import Finding, told
from ..model import Body
from .progress import Progress, silent

#: Notes that tell how the size was come by, and how it lies on the cloth.
_SHOWN = ("between-sizes", "size-by-measure", "measures-filled", "ease-on-body", "lay", "fill")


@dataclass(frozen=True)
class Told:
    """What a command prints, and the findings that settle its exit code."""

    lines: tuple[str, ...]
    findings: tuple[Finding, ...]


def run_job_file(
    path: Path,
    *,
    into: Path | None = None,
    notes: bool = False,
    look_further: bool = False,
    progress: Progress = silent,
) -> Told:
    """Carry out the job in a file and write its outputs, all or none.

    `into` is the folder for them, made if need be; by default the job's own. `notes`:
    tell every note, not only how many there are. `look_further`: look for better lays than
    the kept ones. Raises whatever stops the job, with file and line; then nothing is written.
    """
    from ..plugin import Plugins
    from .job_file import read_job
    from .run_job import perform
    from .write_out import write_out

    job = read_job(path)
    folder = path.parent if into is None else into
    done = perform(
        job, Plugins.discover(), into=folder, look_further=look_further, progress=progress
    )
    write_out(folder, done.files, sources=done.sources, kept=done.kept)
    lines = [f"{folder / name}" for name in done.files]
    lines += [str(path) for path in done.kept]
    return Told((*lines, *brief_lines(done.findings, notes=notes)), done.findings)


def check_file(
    path: Path,
    *,
    as_json: bool = False,
    settings: Sequence[str] = (),
    chart: Path | None = None,
    body: Body | None = None,
    progress: Progress = silent,
) -> Told:
    """Run every check on a pattern file, or on what a job (`.toml`) makes; writes nothing.

    `settings` are those of the file's reader. `body` is whom a file's sizes are for; without
    one, `chart` gives a body for each of its sizes. Before the findings come tables of all
    seams, and of the edges that run on across them, in every size.
    """
    from ..plugin import Plugins, look_over
    from .charts import with_bodies
    from .files import open_pattern
    from .joint_table import joint_data, joint_lines
    from .seam_table import seam_data, seam_lines

    plugins = Plugins.discover()
    if path.suffix.lower() == ".toml":
        if chart or (body and body.measures):
            raise UsageError(
                "a job says itself whom it is for",
                where=str(path),
                cure="Put chart and measure into its table [grade].",
            )
        if settings:
            raise UsageError(
                "a job says itself how its source is read",
                where=str(path),
                cure="Put the settings into its table [reading].",
            )
        from .job_file import read_job
        from .run_job import perform

        done = perform(read_job(path), plugins, write=False, progress=progress)
        pattern, findings = done.pattern, done.findings
    else:
        reading = open_pattern(path, plugins=plugins, settings=settings)
        pattern = with_bodies(reading.pattern, chart, body)
        findings = (*reading.findings, *look_over(plugins, pattern, "asked"))
    if as_json:
        each = [f.as_dict() for f in findings]
        data = {
            "schema": 1,
            "findings": each,
            "seams": seam_data(pattern),
            "joints": joint_data(pattern),
        }
        return Told((json.dumps(data, indent=2),), findings)
    lines = told(findings) or ("nothing to report",)
    return Told((*seam_lines(pattern), *joint_lines(pattern), *lines), findings)


def brief_lines(findings: Iterable[Finding], *, notes: bool = False) -> tuple[str, ...]:
    """Failures, then warnings, alike ones together, and how many notes there are besides.

    Notes on how the size was come by and on the lay are told too.
    """
    findings = tuple(findings)
    if notes:
        return told(findings)
    grave = [f for f in findings if f.level != "note" or f.code in _SHOWN]
    count = len(told(f for f in findings if f not in grave))
    hidden = (f"({count} note{'s' * (count != 1)}: --notes tells them)",) if count else ()
    return (*told(grave), *hidden)


def parse_sizes(text: str) -> tuple[str, ...]:
    """Sizes as the command line has them: `10,12,14`. Raises UsageError where one is empty."""
    sizes = tuple(part.strip() for part in text.split(","))
    if not all(sizes):
        raise UsageError(f'"{text}" does not name sizes', cure="Write them like 10,12,14.")
    return sizes
