"""Which part of a piece stays where it is when it is cut."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..geometry.nearest import nearest
from ..geometry.path import Path
from ..geometry.regions import contains
from ..geometry.types import Floats
from ..model.frame import CENTRES
from ..model.outline import Run
from ..model.piece import Piece


def staying(piece: Piece, regions: Sequence[Path]) -> int:
    """The number of the part that stays, of those that the closed lines `regions` tell.

    It holds the fold; else the centre edge or line; else the middle of the grain; else it is
    the largest.
    """
    for point in _anchors(piece):
        for k, region in enumerate(regions):
            if contains(region, point[None])[0]:
                return k
            if float(nearest(region, point[None]).distance[0]) < 1e-6:
                return k
    return int(np.argmax([region.area for region in regions]))


def _anchors(piece: Piece) -> list[Floats]:
    """The points that tell it, the weightiest first."""
    outline = piece.outline
    runs = [Run(piece.fold.start, piece.fold.end)] if piece.fold else []
    runs += [r for r in outline.runs if r.name and r.name.lower() in CENTRES]
    lines = [outline.run_path(run) for run in runs]
    for mark in piece.marks:
        if {(mark.name or "").lower(), mark.kind.lower()} & set(CENTRES):
            lines.append(mark.path)
    points = [line.at(line.length / 2) for line in lines]
    if piece.grain is not None:
        points.append((np.array(piece.grain.start) + np.array(piece.grain.end)) / 2)
    return points
