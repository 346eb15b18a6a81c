"""Outputs that do not wait for each other: made on all cores, told as if one after another.

Processes are forked, so nothing is read, imported or handed over anew. That is safe on Linux
alone, and while this process has no other thread; elsewhere all is made here.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Generator, Sequence
from contextlib import suppress
from functools import cache
from typing import TYPE_CHECKING, Any, NoReturn

from ..budget import cores
from ..findings import Finding

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

#: Files by name, and what was found in making them.
Made = tuple[dict[str, bytes], tuple[Finding, ...]]
#: Tells the findings of all outputs before one, once they are known.
Before = Callable[[], tuple[Finding, ...]]
Task = Callable[[Before], Made]

#: Work that has gone on for so long, s, is worth processes of its own.
_LONG = 1.0
_ASKS = "before?"


def in_order(tasks: Sequence[Task], begun: float) -> Generator[Made]:
    """What each task makes, in order; side by side once `begun` (`time.monotonic`) is long ago.

    Raises what the first task that fails raises. A task that fails in another process is done
    again in this one, and so is one whose process came to its end.
    """
    made: list[Made] = []
    workers: _Workers | None = None
    try:
        for k, task in enumerate(tasks):
            if workers is None and time.monotonic() - begun > _LONG:
                count = min(cores(), len(tasks) - k)
                if count > 1 and sys.platform == "linux" and threading.active_count() == 1:
                    workers = _Workers(tasks, made, count)
            found = workers.made_of(k) if workers else None
            made.append(found or task(lambda: _findings(made)))
            yield made[-1]
    finally:
        if workers:
            workers.end()


def _findings(made: Sequence[Made]) -> tuple[Finding, ...]:
    return tuple(finding for _, findings in made for finding in findings)


class _Workers:
    """Processes that do the tasks after those that are `done`, a list that grows."""

    def __init__(self, tasks: Sequence[Task], done: list[Made], count: int) -> None:
        self._tasks, self._done = tasks, done
        self._made: dict[int, Made] = {}
        self._todo = iter(range(len(done), len(tasks)))
        self._pids: dict[Connection, int] = {}
        # The task that each is at, and who waits for the findings before it.
        self._busy: dict[Connection, int] = {}
        self._asking: set[Connection] = set()
        with suppress(OSError):  # no more processes: then those that there are, or none
            for _ in range(count):
                self._start()

    def made_of(self, k: int) -> Made | None:
        """What task `k` made, waited for; None where it failed."""
        while k not in self._made and k in self._busy.values():
            self._hear()
        return self._made.pop(k, None)

    def end(self) -> None:
        """End all processes, whatever they are at."""
        for pipe, pid in self._pids.items():
            pipe.close()
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)

    def _start(self) -> None:
        from multiprocessing import Pipe

        ours, theirs = Pipe()
        _flush()
        gc.freeze()  # else the first sweep in there copies all that is shared
        pid = os.fork()
        if pid == 0:
            _serve(theirs, [*self._pids, ours], self._tasks)
        gc.unfreeze()
        theirs.close()
        self._pids[ours] = pid
        self._give(ours)

    def _give(self, pipe: Connection) -> None:
        k = next(self._todo, None)
        if k is not None:
            self._busy[pipe] = k
            self._send(pipe, k)

    def _hear(self) -> None:
        """Wait until one of them tells something, and answer."""
        from multiprocessing.connection import wait

        known = list(self._done)
        while len(known) in self._made:
            known.append(self._made[len(known)])
        for pipe in [p for p in self._asking if self._busy[p] <= len(known)]:
            self._asking.remove(pipe)
            self._send(pipe, _findings(known[: self._busy[pipe]]))
        ready = wait(list(self._busy))
        for pipe in [p for p in self._busy if p in ready]:
            try:
                told = pipe.recv()
            except Exception:  # it has ended
                told = None
                self._asking.discard(pipe)
            if told == _ASKS:
                self._asking.add(pipe)
                continue
            k = self._busy.pop(pipe)
            if told is None:
                self._todo = iter(())  # what comes after a failure is not begun
            else:
                self._made[k] = told
                self._give(pipe)

    def _send(self, pipe: Connection, what: Any) -> None:
        with suppress(OSError):  # it has ended: heard next
            pipe.send(what)


def _serve(pipe: Connection, others: Sequence[Connection], tasks: Sequence[Task]) -> NoReturn:
    """In a process of its own: do what the pipe asks for, until that is closed."""
    try:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        for other in others:
            other.close()

        while True:
            k = pipe.recv()

            @cache
            def before() -> tuple[Finding, ...]:
                pipe.send(_ASKS)
                told: tuple[Finding, ...] = pipe.recv()
                return told

            try:
                made: Made | None = tasks[k](before)
                _flush()
                pipe.send(made)
            except BaseException:
                pipe.send(None)
    finally:
        os._exit(0)


def _flush() -> None:
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            stream.flush()
