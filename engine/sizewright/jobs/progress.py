"""Telling how far long work is, to whoever wants to know."""

from __future__ import annotations

from collections.abc import Callable

#: Called with what is being done, how many steps are done, and how many there are.
Progress = Callable[[str, int, int], None]


def silent(_what: str, _done: int, _total: int) -> None:
    """Tells nobody."""
