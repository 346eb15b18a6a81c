"""Operations done to patterns as a job or `apply` does them, and laws that hold after each."""

from __future__ import annotations

from functools import cache
from typing import Any

import shapely

from sizewright.formats import read_svg
from sizewright.geometry import flatten
from sizewright.grading import grade, read_rules
from sizewright.jobs.operate import operate
from sizewright.model import Pattern, Piece, match_seam
from sizewright.plugin import Outcome, Plugins, check_settings
from sizewright.shipped import shipped


def do(pattern: Pattern, operation: str, /, **given: Any) -> Outcome:
    """What an operation makes of a pattern, with settings as a job has them (`from_` is `from`)."""
    found = Plugins.discover().operation(operation)
    settings = {name.removesuffix("_").replace("_", "-"): value for name, value in given.items()}
    return operate(found, pattern, check_settings(found.name, found.settings, settings))


@cache
def drawn(name: str) -> Pattern:
    """A shipped pattern in its base size: `supper-top`, `basic-set`."""
    return read_svg(shipped(f"examples/{name}/{name}.svg")).pattern


@cache
def nest(name: str) -> Pattern:
    """A shipped pattern in all sizes of its table."""
    rules = read_rules(shipped(f"grade_tables/{name}-steps.csv").read_text("utf-8"))
    return grade(drawn(name), rules, list(rules.sizes)).pattern


def off(pattern: Pattern, size: str | None = None) -> dict[str, float]:
    """By how much the sides of each seam differ from what is asked, mm."""
    return {s.name: match_seam(pattern, s, size).off for s in pattern.seams}


def polygon(piece: Piece) -> Any:
    """A piece's outline for shapely, within 0.002 mm."""
    return shapely.Polygon(flatten(piece.outline.path, 0.002))


def codes(outcome: Outcome) -> list[str]:
    """The codes of an outcome's findings."""
    return [f.code for f in outcome.findings]
