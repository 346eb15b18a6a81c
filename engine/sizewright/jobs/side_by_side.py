"""Outputs that do not wait for each other: made on all cores, told as if one after another.

Processes are forked, so nothing is read, imported or handed over anew. That is safe on Linux
alone, and while this process has no other thread; elsewhere all is made here.
"""

from __future__ import annotations

import gc
import signal
import sys
import threading
import time
from collections.abc import Callable, Collection, Generator, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, suppress
from functools import partial
from typing import TYPE_CHECKING

from ..budget import cores
from ..findings import Finding

if TYPE_CHECKING:
    from concurrent.futures import Future

#: Files by name, and what was found in making them.
Made = tuple[dict[str, bytes], tuple[Finding, ...]]
#: Tells the findings of all outputs before one, once they are known.
Before = Callable[[], tuple[Finding, ...]]
Task = Callable[[Before], Made]

#: Work that has gone on for so long, s, is worth processes of its own.
_LONG = 1.0

#: What a process of ours does, by number; empty in the first one.
_tasks: list[Task] = []


def in_order(
    tasks: Sequence[Task],
    begun: float,
    asking: Collection[int] = (),
    near: Collection[int] = (),
) -> Generator[Made, None, None]:
    """What each task makes, in order; side by side once `begun` (`time.monotonic`) is long ago.

    One alone is made in this process, where a lay is kept.
    Those numbered in `asking` ask for the findings before them, and are made in this process.
    Those in `near` work out some of the same, and are made here before them unless another
    process has begun with them; while it waits this process makes others too.
    Raises what the first task that fails raises. A task that fails while others are under way
    is done again when its turn comes, and so is one whose process came to its end.
    """
    made: list[Made] = []
    early: dict[int, Made] = {}
    under_way: Mapping[int, Future[Made]] | None = None
    waiting: list[int] = []

    def before(k: int) -> tuple[Finding, ...]:
        others = map(result, range(len(made), k))
        return tuple(finding for _, findings in (*made, *others) for finding in findings)

    def make(k: int) -> Made:
        return tasks[k](partial(before, k))

    def take(k: int) -> None:
        """Make one here, unless another process has begun with it."""
        if k in waiting:
            waiting.remove(k)
            if not (under_way or {})[k].cancel():
                return
        with suppress(Exception):  # told when its turn comes
            early[k] = make(k)

    def result(k: int) -> Made:
        one = (under_way or {}).get(k)
        while one is not None and not one.done() and waiting:
            take(waiting[-1])
        if k in early:
            return early[k]
        known = one is not None and not one.cancelled() and not one.exception()
        return one.result() if one is not None and known else make(k)

    with ExitStack() as stack:
        for k in range(len(tasks)):
            left = range(k, len(tasks))
            if under_way is None and len(left) > 1 and time.monotonic() - begun > _LONG:
                # Others come to those that are near after all else.
                apart = [j for j in left if j not in asking]
                waiting = sorted(apart, key=lambda j: -j if j in near else -len(tasks) - 1)
                under_way = stack.enter_context(_forked(tasks, waiting))
                for j in sorted({*near, *asking} & {*left}) if under_way else ():
                    take(j)
            made.append(result(k))
            yield made[-1]


@contextmanager
def _forked(tasks: Sequence[Task], numbers: Sequence[int]) -> Iterator[Mapping[int, Future[Made]]]:
    """Some of the tasks by number, begun in processes of their own; none where that is no use."""
    count = min(cores() - 1, len(numbers))
    if count < 1 or sys.platform != "linux" or threading.active_count() > 1:
        yield {}
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import active_children, get_context

    others = set(active_children())
    pool = ProcessPoolExecutor(count, get_context("fork"), _begin, (tasks,))
    begun: dict[int, Future[Made]] = {}
    gc.freeze()  # else the first sweep in there copies all that is shared
    try:
        try:
            begun |= {k: pool.submit(_do, k) for k in numbers}
        except OSError:  # no more processes: all is made here
            _end(others)
        gc.unfreeze()
        yield begun
    except BaseException:
        _end(others)
        raise
    finally:
        pool.shutdown(cancel_futures=True)


def _end(others: Collection[object]) -> None:
    """End our processes, whatever they are at; not the others."""
    from multiprocessing import active_children

    for child in active_children():
        if child not in others:
            child.kill()
            child.join()


def _begin(tasks: Sequence[Task]) -> None:
    """In a process of its own: a key that stops the command ends it without a word."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    _tasks.extend(tasks)


def _do(k: int) -> Made:
    return _tasks[k](tuple)
