"""How much work, memory and cores may be used: a budget that every reader draws on.

Work is counted, not timed, so that a file is read or refused alike on every machine. One step
is about a microsecond on a small one; nothing that a person draws comes near the limits.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from .errors import InputError, UsageError

#: What one file may cost: steps of work, and bytes held at once.
STEPS, BYTES = 12_000_000, 400_000_000


class OverBudget(InputError):
    """The budget of the file is used up: nothing of it may be passed over to go on."""


class Budget:
    """What is left of the steps and bytes that one file may cost."""

    __slots__ = ("bytes", "steps")

    def __init__(self) -> None:
        self.steps, self.bytes = STEPS, BYTES


_current: ContextVar[Budget | None] = ContextVar("budget", default=None)


@contextmanager
def one_budget() -> Iterator[None]:
    """One budget for all that is done within; within another, that one goes on.

    Nothing made within is looked through for rings of dead objects: a reader keeps nearly all that
    it makes, and looking at that over and over took a third of the time of loading.
    """
    if _current.get() is not None:
        yield
        return
    token, sweeps = _current.set(Budget()), gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if sweeps:
            gc.enable()
        _current.reset(token)


def spend(steps: int, on: str, *, held: int = 0) -> None:
    """Take `steps` of work, and `held` bytes that are kept, from the budget of the file.

    `on` says what asks for them, for the message. Raises OverBudget when the budget is used
    up; where nothing is being read there is no limit.
    """
    budget = _current.get()
    if budget is None:
        return
    budget.steps -= steps
    budget.bytes -= held
    if budget.steps < 0 or budget.bytes < 0:
        what = "work" if budget.steps < 0 else "memory"
        raise OverBudget(
            f"the file asks for more {what} than any pattern needs ({on})",
            cure="Take out everything but the pieces, or save it anew as plain as can be.",
        )


def cores() -> int:
    """How many processes may work side by side: the cores that this one may use, at most so many
    as SIZEWRIGHT_CORES says. Raises UsageError where that is not a whole number above zero.
    """
    known = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    most = os.environ.get("SIZEWRIGHT_CORES", "").strip()
    if not most:
        return known or 1
    if not most.isdecimal() or int(most) < 1:
        raise UsageError(
            f'SIZEWRIGHT_CORES is "{most}", and that is no number of cores',
            cure="Set it to 1 or more, or leave it out for all of them.",
        )
    return min(known or 1, int(most))
