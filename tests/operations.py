"""Shipped patterns, and what plugins make of a pattern as a job or `apply` has them do it."""

from __future__ import annotations

from functools import cache
from typing import Any

import shapely

from sizewright.findings import Finding
from sizewright.formats import read_svg
from sizewright.geometry import flatten
from sizewright.grading import RuleTable, grade, read_rules
from sizewright.jobs.ready import operate
from sizewright.model import Pattern, Piece, match_seam
from sizewright.plugin import Outcome, Output, Plugins, check_settings, run_check, run_writer
from sizewright.shipped import shipped


@cache
def plugins() -> Plugins:
    """The plugins that are installed, looked for once."""
    return Plugins.discover()


def _settings(declared: Any, given: dict[str, Any]) -> dict[str, Any]:
    """Settings as a job has them: `from_` is `from`, `by_to` is `by-to`."""
    named = {name.removesuffix("_").replace("_", "-"): value for name, value in given.items()}
    return check_settings(declared.name, declared.settings, named)


def do(pattern: Pattern, operation: str, /, **given: Any) -> Outcome:
    """What an operation makes of a pattern."""
    found = plugins().operation(operation)
    return operate(found, pattern, _settings(found, given))


def judge(pattern: Pattern, check: str, /, **given: Any) -> tuple[Finding, ...]:
    """What a check finds in a pattern."""
    found = plugins().check(check)
    return run_check(found, pattern, _settings(found, given))


def write(pattern: Pattern, writer: str, /, **given: Any) -> Output:
    """What a writer makes of a pattern."""
    found = plugins().writer(writer)
    return run_writer(found, pattern, _settings(found, given))


@cache
def drawn(name: str) -> Pattern:
    """A shipped pattern in its base size: `supper-top`, `basic-set`."""
    return read_svg(shipped(f"examples/{name}/{name}.svg")).pattern


@cache
def steps(name: str) -> RuleTable:
    """How a shipped pattern grows from size to size."""
    return read_rules(shipped(f"grade_tables/{name}-steps.csv"))


@cache
def nest(name: str, *sizes: str) -> Pattern:
    """A shipped pattern in some sizes of its table; in all of them where none are said."""
    return grade(drawn(name), steps(name), sizes or steps(name).sizes).pattern


def off(pattern: Pattern, size: str | None = None) -> dict[str, float]:
    """By how much the sides of each seam differ from what is asked, mm."""
    return {s.name: match_seam(pattern, s, size).off for s in pattern.seams}


def polygon(piece: Piece) -> Any:
    """A piece's outline for shapely, within 0.002 mm."""
    return shapely.Polygon(flatten(piece.outline.path, 0.002))


def codes(outcome: Outcome) -> list[str]:
    """The codes of an outcome's findings."""
    return [f.code for f in outcome.findings]
