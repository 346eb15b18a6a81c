"""Straight lines drawn within a piece that end at its outline, where grading moves that."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..geometry.crossings import crossings
from ..geometry.nearest import nearest
from ..geometry.path import Path
from ..model.features import Mark
from ..model.piece import Piece

#: An end this near to the outline of the base ends there, mm.
_THERE = 1.0
#: So little off is there already, mm.
_SAME = 1e-6
#: An end is looked for this share of the line's length to each side of where it was moved.
_REACH = 0.25


def lines_ended(base: Piece, piece: Piece) -> Piece:
    """The piece with each straight inner line that ended at the outline of `base` ending there
    again: it is drawn out or cut off in its own direction, so it never leans."""
    marks = tuple(
        _ended(was, mark, base.outline.path, piece.outline.path)
        for was, mark in zip(base.marks, piece.marks, strict=True)
    )
    return piece if marks == piece.marks else replace(piece, marks=marks)


def _ended(was: Mark, mark: Mark, before: Path, now: Path) -> Mark:
    straight = len(was.path) == 1 and not was.path.closed and was.path.lines[0]
    if not straight or mark.path.length <= _SAME:
        return mark
    gaps = nearest(before, np.stack([was.path.start, was.path.end])).distance
    ends = np.stack([mark.path.start, mark.path.end])
    moved = ends.copy()
    for k in np.flatnonzero(gaps <= _THERE):
        step = ends[k] - ends[1 - k]
        reach = _REACH * step
        found = crossings(Path.polyline([ends[k] - reach, ends[k] + reach]), now)
        if found:
            points = np.array([cross.point for cross in found])
            met = points[int(np.hypot(*(points - ends[k]).T).argmin())]
            moved[k] = met - (gaps[k] if gaps[k] > _SAME else 0.0) * step / np.hypot(*step)
    if np.abs(moved - ends).max() <= _SAME:
        return mark
    return replace(mark, path=Path.polyline(moved))
