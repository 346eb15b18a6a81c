"""A line of progress on a terminal, for work that takes longer than a second."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

from ..jobs.progress import Progress, silent
from .printing import printable

_PATIENCE = 1.0
_WIDTH = 24


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """Progress told on standard error once a second has passed; nothing in a pipe."""
    if not sys.stderr.isatty():
        yield silent
        return
    begun = time.monotonic()
    shown = False

    def tell(what: str, done: int, total: int) -> None:
        nonlocal shown
        if time.monotonic() - begun < _PATIENCE:
            return
        shown = True
        full = round(_WIDTH * done / max(total, 1))
        bar = "#" * full + "." * (_WIDTH - full)
        print(f"\r[{bar}] {printable(what[:44]):<44}", end="", file=sys.stderr, flush=True)

    try:
        yield tell
    finally:
        if shown:
            print("\r" + " " * (_WIDTH + 48) + "\r", end="", file=sys.stderr, flush=True)
