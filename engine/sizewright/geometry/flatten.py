"""Curves as chords within a stated deviation."""

from __future__ import annotations

import numpy as np

from ..errors import GeometryError
from . import bezier
from .path import Path
from .types import Floats, Ints


def chord_counts(path: Path, tolerance: float) -> Ints:
    """How many chords of equal parameter step each segment needs, (n,).

    A chord over a step h leaves its curve by at most h^2 / 8 of the largest second
    derivative (linear interpolation error), and a cubic's second derivative is at
    most 6 times its larger second difference of control points. Raises
    GeometryError for a tolerance that is not above zero.
    """
    if not tolerance > 0:
        raise GeometryError(
            f"a flattening tolerance of {tolerance} mm is not above zero",
            cure="Give the largest deviation allowed, such as 0.05 mm.",
        )
    step = path.controls[:, 1:] - path.controls[:, :-1]
    second = step[:, 1:] - step[:, :-1]
    largest = np.hypot(second[..., 0], second[..., 1]).max(axis=1)
    counts = np.maximum(np.ceil(np.sqrt(0.75 * largest / tolerance)), 1).astype(np.intp)
    return np.where(path.lines, 1, counts)


def flatten_located(path: Path, tolerance: float) -> tuple[Floats, Ints, Floats]:
    """Points (m, 2) as of `flatten`, with the segment (m,) and parameter (m,) of each.

    The end of an open path is its last segment at parameter 1.
    """
    counts = chord_counts(path, tolerance)
    segment = np.repeat(np.arange(len(path)), counts)
    first = np.cumsum(counts) - counts
    t = (np.arange(len(segment)) - first[segment]) / counts[segment]
    points = bezier.evaluate(path.controls[segment], t)
    points[first] = path.controls[:, 0]
    if not path.closed:
        points = np.vstack([points, path.end])
        segment = np.append(segment, len(path) - 1)
        t = np.append(t, 1.0)
    return points, segment, t


def flatten(path: Path, tolerance: float) -> Floats:
    """Points (m, 2) whose chords leave the path by at most `tolerance` mm.

    True deviation, both of the curve from its chords and of the chords from their
    curve. Every vertex is among the points, to the bit. The first point of a closed
    path is not repeated at the end.
    """
    if tolerance > 0 and path.lines.all():
        return path.vertices.copy()
    return flatten_located(path, tolerance)[0]


def flatten_marked(path: Path, tolerance: float) -> tuple[Floats, Ints]:
    """Points as of `flatten`, and the place of each of `path.vertices` among them."""
    points, _, _ = flatten_located(path, tolerance)
    counts = chord_counts(path, tolerance)
    first = np.cumsum(counts) - counts
    return points, first if path.closed else np.append(first, len(points) - 1)
