"""How features go along when their piece moves or its outline is renumbered.

Each kind of feature declares once, as its `CARRY`, which of its fields lie free on the piece
and which are vertices of the outline; everything here follows from that.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Literal, NamedTuple, TypeVar

import numpy as np

from ..geometry.path import Path
from ..geometry.types import Floats

#: Page points (m, 2) to page points (m, 2).
Move = Callable[[Floats], Floats]
#: A vertex of the old outline to its number on the new one.
To = Callable[[int], int]


class Carry(NamedTuple):
    """What of a feature lies where.

    `free`: fields that hold a point or a path on the piece. `stretch`: two fields that are
    the first and last vertex of a stretch of outline, counter-clockwise. `vertices`: other
    fields that hold a vertex, several, or None. `spots`: fields that hold a place on an edge.
    `angle`: a field in degrees that turns with the piece; `turns_over`: one that says left or
    right on the page, or None. `rides`: how grading moves what is
    free: each point for itself, a line parallel to itself, a path kept smooth, or with the
    stretch (a dart's point goes with its mouth).
    """

    rides: Literal["point", "line", "path", "stretch"] = "point"
    free: tuple[str, ...] = ()
    stretch: tuple[str, str] | tuple[()] = ()
    vertices: tuple[str, ...] = ()
    spots: tuple[str, ...] = ()
    angle: str = ""
    turns_over: str = ""


Feature = TypeVar("Feature")


def free_points(feature: Any) -> Floats:
    """The points (m, 2), mm, of all that lies free of a feature; control points of paths."""
    parts = []
    for name in feature.CARRY.free:
        value = getattr(feature, name)
        parts.append(
            value.controls.reshape(-1, 2) if isinstance(value, Path) else np.array([value])
        )
    return np.concatenate(parts) if parts else np.empty((0, 2))


def with_free_points(feature: Feature, points: Floats) -> Feature:
    """The feature with what lies free of it at `points`, as many as `free_points` gives."""
    at = 0
    new: dict[str, object] = {}
    for name in feature.CARRY.free:  # type: ignore[attr-defined]
        value = getattr(feature, name)
        if isinstance(value, Path):
            count = 4 * len(value)
            new[name] = value.with_controls(points[at : at + count].reshape(-1, 4, 2))
        else:
            count = 1
            new[name] = (float(points[at, 0]), float(points[at, 1]))
        at += count
    return replace(feature, **new) if new else feature  # type: ignore[type-var]


def moved(feature: Feature, move: Move) -> Feature:
    """The feature with all that lies free of it moved; it stays where it is on the outline."""
    points = free_points(feature)
    if not len(points):
        return feature
    new = with_free_points(feature, move(points))
    name = feature.CARRY.angle  # type: ignore[attr-defined]
    if name:
        angle = np.radians(getattr(feature, name))
        tip = points[:1] + np.array([[np.cos(angle), np.sin(angle)]])
        x, y = (move(tip) - move(points[:1]))[0]
        new = replace(new, **{name: float(np.degrees(np.arctan2(y, x)))})  # type: ignore[type-var]
    return new


def renumbered(feature: Feature, to: To, *, turned_over: bool = False) -> Feature:
    """The feature on an outline whose vertices are the old ones by `to`.

    `turned_over`: the new outline runs the other way round, so first and last of a stretch
    change places. Places on edges keep their distance: a caller that turned over mends them.
    """
    carry: Carry = feature.CARRY  # type: ignore[attr-defined]
    new: dict[str, object] = {}
    if carry.stretch:
        first, last = carry.stretch
        a, b = to(getattr(feature, first)), to(getattr(feature, last))
        new[first], new[last] = (b, a) if turned_over else (a, b)
    for name in carry.vertices:
        value = getattr(feature, name)
        if isinstance(value, tuple):
            new[name] = tuple(to(v) for v in (value[::-1] if turned_over else value))
        elif value is not None:
            new[name] = to(value)
    for name in carry.spots:
        spot = getattr(feature, name)
        new[name] = replace(spot, start=to(spot.start))
    if turned_over and carry.turns_over:
        way = getattr(feature, carry.turns_over)
        new[carry.turns_over] = {"left": "right", "right": "left"}.get(way, way)
    return replace(feature, **new) if new else feature  # type: ignore[type-var]
