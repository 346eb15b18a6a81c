"""Steps made ready: what a plugin offers under a name, with its settings read and checked."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from ..plugin import Check, Operation, Writer, check_settings
from .orders import Step

Offered = TypeVar("Offered", Operation, Writer, Check)


@dataclass(frozen=True)
class Ready:
    """An operation, writer or check with its settings."""

    step: Step
    run: Any
    values: Mapping[str, Any]


def ready(
    step: Step,
    find: Callable[[str], Offered],
    where: Callable[[str], str] = lambda _name: "",
    rules: Callable[[str], Any] | None = None,
) -> Ready:
    """What is called as a step is, with its settings; `where` and `rules` as for settings.

    Raises UsageError and PluginError as the finding and the settings do.
    """
    found = find(step.name)
    given = step.settings
    if isinstance(found, Operation) and all(s.name != "name" for s in found.settings):
        # It then names the step, for [[fill]].
        given = {k: v for k, v in given.items() if k != "name"}
    values = check_settings(step.name, found.settings, given, where=where, rules=rules)
    return Ready(step, found, values)
