"""Cutting and sewing line of one piece, where nothing but their distance says so."""

from __future__ import annotations

import math

import numpy as np

from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...geometry.types import Floats

#: A sewing line lies between these from the cutting line, in mm.
_ALLOWANCE = (0.9, 80.0)
#: Lines that are this near, mm, are one.
_MET = 0.6
#: The widest allowance of a piece is at most so many times the narrowest.
_EVENLY = 5.0
#: An allowance keeps its width within this, mm, along a stretch of at least this share; all such
#: stretches together are at least the other share of the line.
_KEPT, _STRETCH, _MOST = 0.05, 0.08, 0.6


def runs_round(inner: Path, outer: Path, *, offset: bool = False) -> bool:
    """Whether one line runs round within another at about an allowance's distance.

    Told from the outer line, since darts lead an inner one far from it. Along one straight
    stretch, a fold, they may be one. With `offset` the distance is the same all along longer
    stretches, as an allowance's is and the growth from size to size is not.
    """
    at = outer.at(np.linspace(0, 1, 129)[:-1] * outer.length)
    away = nearest(inner, at).distance
    met = away < _MET
    if met.any() and not (met.mean() < 0.5 and _on_a_line(at[met])):
        return False
    away = away[~met]
    low, high = float(np.quantile(away, 0.05)), float(np.quantile(away, 0.95))
    if not (_ALLOWANCE[0] <= low and high <= _ALLOWANCE[1] and high <= _EVENLY * low):
        return False
    alike = (np.abs(away[:, None] - away) <= _KEPT).mean(axis=1)
    return not offset or float((alike >= _STRETCH).mean()) >= _MOST


def _on_a_line(points: Floats) -> bool:
    """Whether points lie on one straight line."""
    d = points - points.mean(axis=0)
    return float(np.linalg.svd(d, compute_uv=False)[-1]) <= _MET * math.sqrt(len(points))
