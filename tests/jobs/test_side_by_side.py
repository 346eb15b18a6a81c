"""Outputs on several cores: the same bytes, words and errors as on one, and no process left."""

from __future__ import annotations

import errno
import multiprocessing
import os
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.budget import cores
from sizewright.errors import PluginError, UsageError
from sizewright.findings import Finding
from sizewright.jobs import run_job, side_by_side
from sizewright.jobs.commands import run_job_file
from sizewright.jobs.side_by_side import Before, Made, Task, in_order
from sizewright.shipped import shipped

#: Outputs of all kinds: in each size, with findings, and one that tells the findings of others.
OUTPUTS = """
[[outputs]]
file = "early.html"
write = "card"

[[outputs]]
file = "all.dxf"
profile = "interchange"

[[outputs]]
file = "cutter.dxf"
profile = "cutter"

[[outputs]]
file = "card.html"
write = "card"
"""


pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="nothing is forked elsewhere")


@pytest.fixture(autouse=True)
def _forking(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    # Also where tests run beside each other, whose runner has a thread, and on one core.
    monkeypatch.setattr(threading, "active_count", lambda: 1)
    monkeypatch.setattr(side_by_side, "_LONG", -1.0)
    yield
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)


def on(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(side_by_side, "cores", lambda: count)


@dataclass(frozen=True)
class Some:
    """A task: how long it takes, what it finds, whether it asks and fails."""

    name: str
    pause: float
    found: int
    asks: bool
    fails: bool

    def __call__(self, before: Before) -> Made:
        time.sleep(self.pause)
        told = [f.text for f in before()] if self.asks else []
        if self.fails:
            raise UsageError(f"{self.name} after {told}")
        findings = tuple(Finding("x", "note", f"{self.name} {k}") for k in range(self.found))
        return {self.name: " ".join(told).encode()}, findings


def made_by(tasks: list[Some]) -> tuple[list[Made], str]:
    made: list[Made] = []
    asking = [k for k, task in enumerate(tasks) if task.asks]
    try:
        for one in in_order(tasks, time.monotonic(), asking):
            made.append(one)
    except UsageError as error:
        return made, str(error)
    return made, ""


@given(
    st.lists(
        st.tuples(st.integers(0, 2), st.integers(0, 2), st.booleans(), st.integers(0, 9)),
        max_size=6,
    ),
    st.integers(2, 3),
)
def test_any_tasks_give_what_they_give_one_after_another(
    told: list[tuple[int, int, bool, int]], count: int
) -> None:
    tasks = [
        Some(f"t{k}", pause / 500, found, asks, fails == 0)
        for k, (pause, found, asks, fails) in enumerate(told)
    ]
    with pytest.MonkeyPatch.context() as patched:
        on(1, patched)
        alone = made_by(tasks)
        on(count, patched)
        assert made_by(tasks) == alone


def test_they_are_made_by_other_processes_at_one_time(monkeypatch: pytest.MonkeyPatch) -> None:
    on(2, monkeypatch)

    def told(_before: Before) -> Made:
        time.sleep(0.2)
        return {str(os.getpid()): b""}, ()

    begun = time.monotonic()
    pids = [name for files, _ in in_order([told] * 4, begun) for name in files]
    assert len(set(pids)) == 2
    assert str(os.getpid()) in pids


def test_what_is_near_a_task_that_asks_is_made_where_that_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    on(2, monkeypatch)
    here = str(os.getpid())

    def told(_before: Before) -> Made:
        time.sleep(0.1)
        return {str(os.getpid()): b""}, ()

    made = in_order([told] * 15, time.monotonic(), [14], [0, 1])
    pids = [name for files, _ in made for name in files]
    assert [pids[k] for k in (0, 1, 14)] == [here] * 3
    assert pids[2] != here


def test_not_before_work_is_long(monkeypatch: pytest.MonkeyPatch) -> None:
    on(2, monkeypatch)
    monkeypatch.setattr(side_by_side, "_LONG", 60.0)

    def told(_before: Before) -> Made:
        return {str(os.getpid()): b""}, ()

    for files, _ in in_order([told] * 3, time.monotonic()):
        assert list(files) == [str(os.getpid())]


def test_what_has_other_threads_is_not_forked(monkeypatch: pytest.MonkeyPatch) -> None:
    on(2, monkeypatch)
    monkeypatch.setattr(threading, "active_count", lambda: 2)

    def told(_before: Before) -> Made:
        return {str(os.getpid()): b""}, ()

    assert [list(files) for files, _ in in_order([told] * 2, 0.0)] == [[str(os.getpid())]] * 2


def test_one_alone_is_made_here(monkeypatch: pytest.MonkeyPatch) -> None:
    on(2, monkeypatch)

    def told(_before: Before) -> Made:
        return {str(os.getpid()): b""}, ()

    assert [list(files) for files, _ in in_order([told], 0.0)] == [[str(os.getpid())]]


class Odd(Finding):
    """One that cannot be handed from process to process."""

    def __reduce__(self) -> str:
        raise TypeError


def test_a_process_that_dies_or_cannot_tell_loses_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    on(2, monkeypatch)
    here = os.getpid()

    def dies(_before: Before) -> Made:
        if os.getpid() != here:
            os._exit(9)
        return {"dies": b"1"}, ()

    def odd(_before: Before) -> Made:
        return {"odd": b"2"}, (Odd("odd", "note", "odd"),)

    def counts(before: Before) -> Made:
        return {"counts": str(len(before())).encode()}, ()

    tasks: list[Task] = [Some("a", 0.05, 2, False, False), odd, dies, counts]
    made = [files for files, _ in in_order(tasks, time.monotonic(), [3])]
    assert made == [{"a": b""}, {"odd": b"2"}, {"dies": b"1"}, {"counts": b"3"}]


def test_without_further_processes_all_is_made_here(monkeypatch: pytest.MonkeyPatch) -> None:
    on(3, monkeypatch)
    start, left = multiprocessing.Process.start, [1]

    def starts(self: multiprocessing.Process) -> None:
        if not left:
            raise OSError(errno.EAGAIN, "no more processes")
        left.pop()
        start(self)

    monkeypatch.setattr(multiprocessing.process.BaseProcess, "start", starts)

    def told(_before: Before) -> Made:
        return {str(os.getpid()): b""}, ()

    assert [list(files) for files, _ in in_order([told] * 3, 0.0)] == [[str(os.getpid())]] * 3


@pytest.fixture
def job(tmp_path: Path) -> Path:
    whole = shipped("examples/half-apron/half-apron.toml")
    for beside in whole.parent.iterdir():
        if beside.is_file():
            (tmp_path / beside.name).write_bytes(beside.read_bytes())
    path = tmp_path / "job.toml"
    path.write_text(whole.read_text(encoding="utf-8") + OUTPUTS, encoding="utf-8")
    return path


def test_a_job_gives_the_same_bytes_and_words_on_one_and_two_cores(
    job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    into = job.parent / "out"
    found = []
    for count in (1, 2):
        on(count, monkeypatch)
        said: list[object] = []
        told = run_job_file(job, into=into, notes=True, progress=lambda *a, to=said: to.append(a))
        written = {p.name: p.read_bytes() for p in into.iterdir()}
        found.append((told, said, written, list(written)))
        for path in into.iterdir():
            path.unlink()
    assert found[0] == found[1]
    assert len(found[0][2]["card.html"]) > len(found[0][2]["early.html"])


def test_an_error_in_one_output_is_told_as_on_one_core(
    job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = run_job.run_named

    def failing(writer: object, pattern: object, values: object, name: str) -> Made:
        if name in ("nest.svg", "all.dxf"):
            raise PluginError(f"{name} cannot be drawn")
        return plain(writer, pattern, values, name)  # type: ignore[arg-type]

    monkeypatch.setattr(run_job, "run_named", failing)
    told = []
    for count in (1, 2):
        on(count, monkeypatch)
        with pytest.raises(PluginError) as caught:
            run_job_file(job, into=job.parent / "out")
        told.append(str(caught.value))
        assert not (job.parent / "out").exists()
    assert told[0] == told[1]
    assert "nest.svg cannot be drawn" in told[0]
    assert "job.toml, line" in told[0]


def test_cores_are_limited_by_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SIZEWRIGHT_CORES", raising=False)
    assert cores() >= 1
    monkeypatch.setenv("SIZEWRIGHT_CORES", "1")
    assert cores() == 1
    for wrong in ("two", "0", "-1"):
        monkeypatch.setenv("SIZEWRIGHT_CORES", wrong)
        with pytest.raises(UsageError, match="SIZEWRIGHT_CORES"):
            cores()
