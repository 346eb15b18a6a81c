"""Steps made ready, with their settings read and checked, and operations carried out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from ..model import Pattern
from ..plugin import Check, Operation, Outcome, Values, Writer, apply_operation, check_settings
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


def operate(operation: Operation, pattern: Pattern, values: Values) -> Outcome:
    """What `apply_operation` gives; points that it made on the base have mixtures of rules.

    Only an operation that may run before grading makes such points.
    """
    if not operation.before_grading:
        return apply_operation(operation, pattern, values)
    from ..grading import with_mixtures, with_rule_weights

    weighed = with_rule_weights(pattern)
    outcome = apply_operation(operation, weighed, values)
    # What the operation left alone is as it was.
    untouched = {id(one): was for one, was in zip(weighed.pieces, pattern.pieces, strict=True)}
    after = outcome.pattern.replacing(lambda piece: untouched.get(id(piece), piece))
    return outcome._replace(pattern=with_mixtures(after))
