"""Pieces and patterns for the tests of several operations."""

from __future__ import annotations

from sizewright.geometry import Path
from sizewright.model import Grain, Outline, Pattern, Piece, Point, Run
from tests.operations import nest


def panel(wide: float = 200.0, tall: float = 600.0, **more: object) -> Piece:
    """A rectangle with hem, waist and two sides named; the grain up its middle."""
    path = Path.polyline([(0, 0), (wide, 0), (wide, tall), (0, tall)], closed=True)
    runs = [Run(0, 1, "hem"), Run(1, 2, "right"), Run(2, 3, "waist"), Run(3, 0, "left")]
    points = [Point(v, n) for v, n in enumerate(("low-left", "low-right", "right", "left"))]
    grain = Grain((wide / 2, tall / 6), (wide / 2, tall * 2 / 3))
    outline = Outline.of(path, points=points, runs=runs)
    return Piece("panel", outline, kind="sew", grain=grain, **more)  # type: ignore[arg-type]


def basic_set() -> Pattern:
    """The basic set in all sizes of its table."""
    return nest("basic-set")


def supper_top() -> Pattern:
    """The demo in five sizes."""
    return nest("supper-top", "8", "10", "12", "14", "16")


def lengths(piece: Piece) -> dict[str, float]:
    """The sewn length of each named run, mm."""
    return {r.name: piece.sewn_length(r) for r in piece.outline.runs if r.name}
