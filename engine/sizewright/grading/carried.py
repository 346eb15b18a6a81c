"""What lies free on a piece and moves with it: lines, marks, holes, labels, dart points."""

from __future__ import annotations

from typing import Any, Literal, NamedTuple

import numpy as np

from ..geometry.path import Path
from ..geometry.types import Floats
from ..model.carrying import free_points, with_free_points
from ..model.eye_darts import is_eye_dart
from ..model.features import Dart, Mark
from ..model.frame import is_centre
from ..model.piece import Piece

#: How a feature moves: each point for itself, a line parallel to itself, a curve kept smooth,
#: all of it alike, or with an outline vertex.
Kind = Literal["point", "line", "path", "whole", "vertex"]


class Carried(NamedTuple):
    """One feature's points (m, 2) on the base piece.

    `vertices` are those of the outline that it goes with (a dart's mouth or tip).
    """

    kind: Kind
    points: Floats
    path: Path | None = None
    vertices: tuple[int, ...] = ()


def carried(piece: Piece) -> tuple[Carried, ...]:
    """Everything free on a piece, in the order that `placed` takes it back in."""
    parts = map(carried_by, piece.features)
    return tuple(part for part in parts if len(part.points))


def carried_by(feature: Any) -> Carried:
    """How one feature moves; with no points where nothing of it lies free."""
    points = free_points(feature)
    if isinstance(feature, Dart):
        along = (feature.a, feature.b) if feature.tip is None else (feature.tip,)
        return Carried("vertex", points, None, along)
    if isinstance(feature, Mark) and is_eye_dart(feature):
        return Carried("whole", points, feature.path)
    if isinstance(feature, Mark) and is_centre(feature):
        # A centre that leans would turn the way that all widths are measured.
        return Carried("line", points)
    return Carried(feature.CARRY.rides, points, getattr(feature, "path", None))


def placed(piece: Piece, points: Floats) -> Piece:
    """The piece with its free features at `points` (all of `carried`'s, one after another)."""
    at = 0

    def put(one: Any) -> Any:
        nonlocal at
        count = len(free_points(one))
        at += count
        return with_free_points(one, np.asarray(points[at - count : at])) if count else one

    return piece.with_features(put)
