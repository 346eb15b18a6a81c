"""Jobs: what the command line does, and grade rules as the open standard tells them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .rule_files import numbered

__all__ = ["numbered"]


def __getattr__(name: str) -> Any:
    if name != "numbered":
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from .rule_files import numbered

    return numbered
