"""What lies free on a piece and moves with it: lines, marks, holes, labels, dart points."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ..geometry.path import Path
from ..geometry.types import Floats
from ..model.features import Axis, Grain
from ..model.piece import Piece
from ..model.vec import Vec

#: How a feature moves: each point for itself, a line parallel to itself, a curve kept smooth,
#: or with an outline vertex.
Kind = Literal["point", "line", "path", "vertex"]


@dataclass(frozen=True)
class Carried:
    """One feature's points (m, 2) on the base piece.

    `vertices` are those of the outline that it goes with (a dart's mouth or tip).
    """

    kind: Kind
    points: Floats
    path: Path | None = None
    vertices: tuple[int, ...] = ()


def carried(piece: Piece) -> tuple[Carried, ...]:
    """Everything free on a piece, in the order that `placed` takes it back in."""

    def line(one: Axis | Grain) -> Carried:
        return Carried("line", np.array([one.start, one.end]))

    def path(one: Path) -> Carried:
        return Carried("path", one.controls.reshape(-1, 2), one)

    parts: list[Carried] = []
    parts += [line(one) for one in (piece.axis, piece.grain) if one is not None]
    parts += [Carried("point", np.array([d.at])) for d in piece.drills]
    parts += [path(k.path) for k in piece.marks]
    parts += [path(c.path) for c in piece.cutouts]
    parts += [Carried("point", np.array([t.at])) for t in piece.labels]
    parts += [path(a.path) for a in piece.adjusts]
    for d in piece.darts:
        along = (d.a, d.b) if d.tip is None else (d.tip,)
        parts.append(Carried("vertex", np.array([d.apex]), None, along))
    return tuple(parts)


def placed(piece: Piece, points: Floats) -> Piece:
    """The piece with its free features at `points` (all of `carried`'s, one after another)."""
    left = iter(points)

    def vec() -> Vec:
        x, y = next(left)
        return float(x), float(y)

    def path(one: Path) -> Path:
        return one.with_controls(np.array(list(_take(left, 4 * len(one)))).reshape(-1, 4, 2))

    axis = piece.axis and replace(piece.axis, start=vec(), end=vec())
    grain = piece.grain and replace(piece.grain, start=vec(), end=vec())
    return replace(
        piece,
        axis=axis,
        grain=grain,
        drills=tuple(replace(d, at=vec()) for d in piece.drills),
        marks=tuple(replace(k, path=path(k.path)) for k in piece.marks),
        cutouts=tuple(replace(c, path=path(c.path)) for c in piece.cutouts),
        labels=tuple(replace(t, at=vec()) for t in piece.labels),
        adjusts=tuple(replace(a, path=path(a.path)) for a in piece.adjusts),
        darts=tuple(replace(d, apex=vec()) for d in piece.darts),
    )


def _take(source: Iterator[Floats], count: int) -> Iterator[Floats]:
    for _ in range(count):
        yield next(source)
