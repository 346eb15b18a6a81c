"""A neck that is redrawn alone: the check's step for its facing is pasted, and mends it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from sizewright.jobs.job_file import read_job
from sizewright.jobs.run_job import perform
from sizewright.model import is_facing
from tests.operations import plugins

JOB = """source = "shipped:examples/supper-top/supper-top.svg"
base = "12"

[[steps]]
do = "redraw"
pieces = ["front"]
from = "2 cm down fold from neck-centre"
to = "1 cm along shoulder from neck-side"
line = "curve"
"""


def test_the_step_for_a_facing_drafts_it_anew(tmp_path: Path) -> None:
    def failed(job: str) -> dict[str, str]:
        file = tmp_path / "job.toml"
        file.write_text(job, encoding="utf-8")
        done = perform(read_job(file), plugins(), write=False)
        return {f.place: f.cure for f in done.findings if f.level == "fail"}

    before = failed(JOB)
    _, steps, cure = before["neck-front"].partition("In a job:\n")
    assert steps
    assert 'do = "facing"' in cure
    assert "neck-front" not in failed(f"{JOB}\n{cure}\n")


def test_a_facing_is_known_by_what_it_finishes(tmp_path: Path) -> None:
    # The same with a facing that bears another name: its story tells what it is.
    drafted = JOB.replace(
        "[[steps]]",
        '[[steps]]\ndo = "facing"\nalong = ["front:neck"]\nwidth = "4 cm"\none-piece = true\n'
        'name = "inside-front"\n\n[[steps]]',
        1,
    )
    file = tmp_path / "job.toml"
    file.write_text(drafted, encoding="utf-8")
    pattern = perform(read_job(file), plugins(), write=False).pattern
    assert is_facing(pattern.piece("inside-front"))
    assert not is_facing(pattern.piece("front"))
    interfacing = replace(pattern.piece("front"), name="front-interfacing")
    assert not is_facing(interfacing)
