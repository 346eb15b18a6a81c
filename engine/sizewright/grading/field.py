"""How what lies on a piece moves with its outline: a smooth field of weights."""

from __future__ import annotations

import numpy as np

from ..geometry import bezier
from ..geometry.nearest import nearest
from ..geometry.path import Path
from ..geometry.regions import contains
from ..geometry.types import Floats
from . import meanvalue
from .carried import Carried

#: Points on each curve of the outline that the field is spanned between.
_PER_CURVE = 8
#: A mark's vertex that turns less than this, degrees, is smooth.
_SMOOTH = 3.0
_NO_HANDLE = 1e-9
#: A closed mark or cut-out up to this size, mm, moves whole and is not stretched.
SMALL = 60.0


class Field:
    """Weights of any point of a piece, from those of its outline's control points.

    `path` (n segments, closed, page coordinates) and `weights` (n, 3, 2, columns) in any
    axes of the plane. Inside it is spanned by mean value coordinates, so that a shift or a
    stretch of the whole outline carries everything exactly; a point outside goes with the
    nearest point of the outline.
    """

    def __init__(self, path: Path, weights: Floats) -> None:
        self.path = path
        ends = np.roll(weights[:, :1], -1, axis=0)
        self.controls = np.concatenate([weights, ends], axis=1)
        places, segments = [], []
        for k, line in enumerate(path.lines):
            t = np.array([0.0]) if line else np.arange(_PER_CURVE) / _PER_CURVE
            places.append(t)
            segments.append(np.full(len(t), k))
        self.t, self.segment = np.concatenate(places), np.concatenate(segments)
        self.polygon = bezier.evaluate(path.controls[self.segment], self.t)
        self.spanned = self.on_outline(self.segment, self.t)

    def on_outline(self, segment: np.ndarray, t: Floats) -> Floats:
        """Weights (m, 2, columns) of the outline's own points at parameters `t` (m,)."""
        s = 1.0 - t
        blend = np.stack([s**3, 3 * s * s * t, 3 * s * t * t, t**3], axis=1)
        mixed: Floats = np.einsum("mk,mkac->mac", blend, self.controls[segment])
        return mixed

    def at(self, points: Floats) -> Floats:
        """Weights (m, 2, columns) at page points (m, 2)."""
        points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        out = np.zeros((len(points), *self.controls.shape[2:]))
        if not len(points):
            return out
        near = nearest(self.path, points)
        inside = contains(self.path, points) & (near.distance > 1e-6)
        shares = meanvalue.weights(self.polygon, points[inside])
        out[inside] = np.einsum("mp,pac->mac", shares, self.spanned)
        beside = ~inside
        out[beside] = self.on_outline(near.segment[beside], near.t[beside])
        return out

    def of(self, part: Carried, vertices: Floats) -> Floats:
        """Weights (m, 2, columns) of a feature; `vertices` are the outline's vertex weights."""
        if part.kind == "vertex":
            mean: Floats = vertices[list(part.vertices)].mean(axis=0)[None]
            return mean
        if part.kind == "line":
            return self._parallel(part.points)
        if part.path is not None and (part.kind == "whole" or _small(part.path)):
            x0, y0, x1, y1 = part.path.bounds
            whole = self.at(np.array([[(x0 + x1) / 2, (y0 + y1) / 2]]))
            return np.repeat(whole, len(part.points), axis=0)
        if part.path is not None:
            return self._smooth(part.path)
        return self.at(part.points)

    def _parallel(self, points: Floats) -> Floats:
        """A straight line stays parallel to itself: it shifts and stretches along itself."""
        at = self.at(np.array([points[0], points[-1]]))
        middle, change = at.mean(axis=0), at[1] - at[0]
        step = points[-1] - points[0]
        square = float(step @ step)
        if square == 0.0:
            return np.repeat(middle[None], len(points), axis=0)
        along = np.einsum("a,b,bc->ac", step, step, change) / square
        share = (points - points[0]) @ step / square - 0.5
        rides: Floats = middle + share[:, None, None] * along
        return rides

    def _smooth(self, path: Path) -> Floats:
        """A mark's control points; at smooth vertices both handles turn as one."""
        out = self.at(path.controls.reshape(-1, 2)).reshape(len(path), 4, *self.controls.shape[2:])
        n = len(path)
        for v in range(n):
            if v == 0 and not path.closed:
                continue
            before = v - 1
            out[before, 3] = out[v, 0]
            if abs(path.turns[v]) > _SMOOTH or path.lines[before] or path.lines[v]:
                continue
            into = path.controls[before, 2] - path.controls[before, 3]
            outof = path.controls[v, 1] - path.controls[v, 0]
            a, b = float(np.hypot(*into)), float(np.hypot(*outof))
            size = _NO_HANDLE * max(path.length, 1.0)
            if min(a, b) <= size:
                continue
            tangent = outof / b - into / a
            tangent /= float(np.hypot(*tangent))
            here = out[v, 0]
            slope = ((out[v, 1] - here) - (out[before, 2] - here)) / (a + b)
            out[before, 2] = here + _turned(into, tangent, slope)
            out[v, 1] = here + _turned(outof, tangent, slope)
        flat = out.reshape(-1, *self.controls.shape[2:])
        for k in np.flatnonzero(path.lines):
            flat[4 * k + 1] = (2 * flat[4 * k] + flat[4 * k + 3]) / 3
            flat[4 * k + 2] = (flat[4 * k] + 2 * flat[4 * k + 3]) / 3
        return flat


def _small(path: Path) -> bool:
    """Whether a closed line is a thing of its own, such as a button, that keeps its shape."""
    x0, y0, x1, y1 = path.bounds
    return path.closed and max(x1 - x0, y1 - y0) <= SMALL


def _turned(handle: Floats, tangent: Floats, slope: Floats) -> Floats:
    """Weights of a handle where each mm along `tangent` changes by `slope` (2, columns)."""
    re = float(handle @ tangent)
    im = float(tangent[0] * handle[1] - tangent[1] * handle[0])
    return np.stack([re * slope[0] - im * slope[1], re * slope[1] + im * slope[0]])
