"""Affine maps of the plane as (2, 3) float arrays: p -> M[:, :2] p + M[:, 2]."""

from __future__ import annotations

import math

import numpy as np

from .types import Floats


def affine(a: float, b: float, c: float, d: float, e: float, f: float) -> Floats:
    """The map (x, y) -> (a x + c y + e, b x + d y + f): SVG's order of `matrix()`."""
    return np.array([[a, c, e], [b, d, f]], dtype=np.float64)


def identity() -> Floats:
    """The map that changes nothing."""
    return affine(1, 0, 0, 1, 0, 0)


def translation(dx: float, dy: float) -> Floats:
    """Shift by (dx, dy)."""
    return affine(1, 0, 0, 1, dx, dy)


def scaling(sx: float, sy: float | None = None) -> Floats:
    """Scale about the origin; one factor serves both axes."""
    return affine(sx, 0, 0, sx if sy is None else sy, 0, 0)


def rotation(degrees: float, centre: tuple[float, float] = (0.0, 0.0)) -> Floats:
    """Turn counter-clockwise (y up) by `degrees` about `centre`; exact at quarter turns."""
    cos, sin = _quarter(degrees)
    x, y = centre
    return affine(cos, sin, -sin, cos, x - cos * x + sin * y, y - sin * x - cos * y)


def _quarter(degrees: float) -> tuple[float, float]:
    turns = degrees / 90.0
    if turns == int(turns):
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(turns) % 4]
    angle = math.radians(degrees)
    return math.cos(angle), math.sin(angle)


def mirror(start: Floats, end: Floats) -> Floats:
    """Reflection across the line through two different points.

    >>> across = mirror(np.array([0, 0]), np.array([0, 80]))
    >>> apply(across, np.array([[30, 20]])).tolist()
    [[-30.0, 20.0]]
    """
    ux, uy = (np.asarray(end, dtype=np.float64) - start) / np.hypot(*(np.asarray(end) - start))
    a, b = ux * ux - uy * uy, 2 * ux * uy
    x, y = float(start[0]), float(start[1])
    return affine(a, b, b, -a, x - a * x - b * y, y - b * x + a * y)


def compose(*maps: Floats) -> Floats:
    """One map for all: the last one acts first, as in matrix products and nested SVG groups."""
    result = identity()
    for m in maps:
        shift = result[:, :2] @ m[:, 2] + result[:, 2]
        result = np.column_stack([result[:, :2] @ m[:, :2], shift])
    return result


def apply(m: Floats, points: Floats) -> Floats:
    """`m` applied to an array of points of shape (..., 2)."""
    moved: Floats = np.asarray(points, dtype=np.float64) @ m[:, :2].T + m[:, 2]
    return moved


def determinant(m: Floats) -> float:
    """Signed area factor: negative where the map turns the plane over."""
    return float(m[0, 0] * m[1, 1] - m[0, 1] * m[1, 0])
