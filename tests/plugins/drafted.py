"""Operations done to patterns as a user does them, for the tests of several of them."""

from __future__ import annotations

from functools import cache

from sizewright.formats import read_svg
from sizewright.geometry import Path
from sizewright.grading import grade, read_rules
from sizewright.model import Grain, Outline, Pattern, Piece, Point, Run
from sizewright.plugin import Outcome, Plugins, apply_operation, check_settings
from sizewright.shipped import shipped


@cache
def _plugins() -> Plugins:
    return Plugins.discover()


def do(pattern: Pattern, operation: str, **given: object) -> Outcome:
    """An operation with its settings; `from_` stands for `from`, `by_to` for `by-to`."""
    declared = _plugins().operation(operation)
    named = {name.rstrip("_").replace("_", "-"): value for name, value in given.items()}
    return apply_operation(declared, pattern, check_settings(operation, declared.settings, named))


def panel(wide: float = 200.0, tall: float = 600.0, **more: object) -> Piece:
    """A rectangle with hem, waist and two sides named; the grain up its middle."""
    path = Path.polyline([(0, 0), (wide, 0), (wide, tall), (0, tall)], closed=True)
    runs = [Run(0, 1, "hem"), Run(1, 2, "right"), Run(2, 3, "waist"), Run(3, 0, "left")]
    points = [Point(v, n) for v, n in enumerate(("low-left", "low-right", "right", "left"))]
    grain = Grain((wide / 2, tall / 6), (wide / 2, tall * 2 / 3))
    outline = Outline.of(path, points=points, runs=runs)
    return Piece("panel", outline, kind="sew", grain=grain, **more)  # type: ignore[arg-type]


@cache
def basic_set() -> Pattern:
    """The basic set in all sizes of its table."""
    pattern = read_svg(shipped("examples/basic-set/basic-set.svg")).pattern
    rules = read_rules(shipped("grade_tables/basic-set-steps.csv"))
    return grade(pattern, rules, ["6", "8", "10", "12", "14", "16", "18", "20"]).pattern


@cache
def supper_top() -> Pattern:
    """The demo in five sizes."""
    pattern = read_svg(shipped("examples/supper-top/supper-top.svg")).pattern
    rules = read_rules(shipped("grade_tables/supper-top-steps.csv"))
    return grade(pattern, rules, ["8", "10", "12", "14", "16"]).pattern


def lengths(piece: Piece) -> dict[str, float]:
    """The sewn length of each named run, mm."""
    return {r.name: piece.sewn_length(r) for r in piece.outline.runs if r.name}
