"""Places made exact: all shapes slide a little, until none is nearer to another than the gap."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from scipy.ndimage import distance_transform_edt
from scipy.optimize import minimize
from scipy.spatial import cKDTree
from shapely import contains_xy, prepare

from ...geometry.types import Floats, Ints
from .ground import Ground, Place, Shape

# Grids of signed distances, mm: their step, and how near a line they are exact.
_STEP, _NEAR = 1.5, 7.0
_ROUND = 24.0
# Points on the outlines, mm apart, by which shapes push each other.
_POINTS, _SAMPLES = 4.0, 0.5
# More room than is asked for, mm, in the last steps; what is left is given up above these.
_MORE = (0.08, 0.25, 0.5)
_GIVE_UP = ((12, 1500.0), (25, 190.0))
_LAST = 150


class Field:
    """Signed distance to the edge of an area, mm, on a grid: positive outside of it."""

    def __init__(self, area: Any, around: float) -> None:
        x0, y0, x1, y1 = area.bounds
        self.x0, self.y0 = x0 - around, y0 - around
        self.columns = int((x1 - x0 + 2 * around) / _STEP) + 2
        self.rows = int((y1 - y0 + 2 * around) / _STEP) + 2
        x = self.x0 + np.arange(self.columns) * _STEP
        y = self.y0 + np.arange(self.rows) * _STEP
        gx, gy = np.meshgrid(x, y)
        prepare(area)
        inside = contains_xy(area, gx, gy)
        far = distance_transform_edt(~inside) * _STEP
        deep = distance_transform_edt(inside) * _STEP
        values = np.where(inside, -deep, far)
        near = np.abs(values) <= _NEAR
        values[near] = _exact(area, np.stack([gx[near], gy[near]], axis=1)) * np.where(
            inside[near], -1.0, 1.0
        )
        self.values = values.astype(np.float32)


def _exact(area: Any, points: Floats) -> Floats:
    """Distances of points to the edge of an area."""
    starts, ends = [], []
    for part in getattr(area, "geoms", [area]):
        for ring in (part.exterior, *part.interiors):
            line = np.array(ring.segmentize(4.0).coords)
            starts.append(line[:-1])
            ends.append(line[1:])
    a, b = np.concatenate(starts), np.concatenate(ends)
    # The nearest edge is among those whose middles are nearest, which are short.
    tree = cKDTree((a + b) / 2)
    _, index = tree.query(points, k=min(6, len(a)))
    index = index.reshape(len(points), -1)
    p, q = a[index], (b - a)[index]
    size = np.maximum((q * q).sum(axis=-1), 1e-18)
    t = np.clip(((points[:, None] - p) * q).sum(axis=-1) / size, 0.0, 1.0)
    found: Floats = np.hypot(*(points[:, None] - p - t[..., None] * q).transpose(2, 0, 1)).min(
        axis=1
    )
    return found


class Polish:
    """Slides shapes apart and onto the cloth; all grids are one array, for one look-up."""

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self._numbers: dict[tuple[int, int], int] = {}
        self._points: list[Floats] = []
        fields = [Field(ground.whole, _ROUND)]
        fields[0].values = -fields[0].values
        self._cloth = 0
        for shape in dict.fromkeys(ground.shapes):
            for turn in range(len(shape.turns)):
                self._numbers[id(shape), turn] = len(fields)
                fields.append(Field(shape.polygons[turn], ground.gap + 8.0))
                self._points.append(_points(shape, turn))
        self._flat = np.concatenate([f.values.ravel() for f in fields])
        counts = np.array([f.values.size for f in fields])
        self._start = np.cumsum(counts) - counts
        self._shape = np.array([(f.rows, f.columns) for f in fields])
        self._origin = np.array([(f.x0, f.y0) for f in fields])

    def __call__(
        self, places: Mapping[int, Place], *, force: bool = False
    ) -> dict[int, Place] | None:
        """The places after sliding; None where that is given up, unless `force`."""
        members = sorted(places)
        shapes = [self.ground.shapes[i] for i in members]
        number = np.array(
            [self._numbers[id(s), places[i].turn] for i, s in zip(members, shapes, strict=True)]
        )
        at = np.array([(places[i].x, places[i].y) for i in members])
        task = _Task(self, number, at)

        def slid(more: float, steps: int) -> float:
            nonlocal at
            found = minimize(
                task.cost, at.ravel(), args=(more,), jac=True, method="L-BFGS-B",
                options={"maxiter": steps, "maxcor": 12, "ftol": 1e-14, "gtol": 1e-7},
            )  # fmt: skip
            at = found.x.reshape(-1, 2)
            return float(found.fun)

        for steps, most in _GIVE_UP:
            if slid(_MORE[0], steps) > most and not force:
                return None
        for more in _MORE:
            slid(more, _LAST)
            now = {
                i: Place(places[i].turn, float(x), float(y))
                for i, (x, y) in zip(members, at, strict=True)
            }
            if len(self.ground.sound(now)) == len(now):
                return now
        return now if force else None

    def look_up(self, field: Ints, points: Floats) -> tuple[Floats, Floats]:
        """Signed distances (m,) of points (m, 2) in the fields of those numbers; slopes (m, 2).

        Off a grid there is room enough.
        """
        at = (points - self._origin[field]) / _STEP
        rows, columns = self._shape[field].T
        inside = (at >= 0).all(axis=1) & (at[:, 0] < columns - 1) & (at[:, 1] < rows - 1)
        x = np.clip(at[:, 0], 0, columns - 1.001)
        y = np.clip(at[:, 1], 0, rows - 1.001)
        i, j = x.astype(np.intp), y.astype(np.intp)
        u, v = x - i, y - j
        base = self._start[field] + j * columns + i
        a, b = self._flat[base], self._flat[base + 1]
        c, d = self._flat[base + columns], self._flat[base + columns + 1]
        value = (a * (1 - u) + b * u) * (1 - v) + (c * (1 - u) + d * u) * v
        dx = ((b - a) * (1 - v) + (d - c) * v) / _STEP
        dy = ((c - a) * (1 - u) + (d - b) * u) / _STEP
        outside = ~inside & (field != self._cloth)
        value = np.where(outside, 1e3, value)
        slope = np.stack([dx, dy], axis=1)
        slope[outside] = 0.0
        # Far off the cloth the way back is the way to the grid's edge.
        return value, slope


class _Task:
    def __init__(self, polish: Polish, number: Ints, at: Floats) -> None:
        self.polish = polish
        self.gap = polish.ground.gap
        self.points = [polish._points[k - 1] for k in number]
        n = len(number)
        boxes = np.array([(*p.min(axis=0), *p.max(axis=0)) for p in self.points])
        low, high = at + boxes[:, :2] - 20.0, at + boxes[:, 2:] + 20.0
        owner, against, own = [], [], []
        for i in range(n):
            near = [
                j
                for j in range(n)
                if j != i and (low[i] <= high[j]).all() and (low[j] <= high[i]).all()
            ]
            for j in [-1, *near]:
                points = self.points[i]
                if j >= 0:
                    world = points + at[i]
                    points = points[((world >= low[j]) & (world <= high[j])).all(axis=1)]
                own.append(points)
                owner.append(np.full(len(points), i))
                against.append(np.full(len(points), j))
        self.own = np.concatenate(own)
        self.owner, self.against = np.concatenate(owner), np.concatenate(against)
        self.cloth = self.against < 0
        self.field = np.where(self.cloth, polish._cloth, number[self.against])

    def cost(self, flat: Floats, more: float) -> tuple[float, Floats]:
        """What is too near, squared, and its slope by the places."""
        at = flat.reshape(-1, 2)
        points = self.own + at[self.owner]
        points = points - np.where(self.cloth[:, None], 0.0, at[self.against])
        value, slope = self.polish.look_up(self.field, points)
        lack = np.where(self.cloth, more, self.gap + more) - value
        bad = lack > 0
        push = -2.0 * lack[bad, None] * slope[bad]
        change = np.zeros_like(at)
        np.add.at(change, self.owner[bad], push)
        other = bad & ~self.cloth
        np.add.at(change, self.against[other], -push[other[bad]])
        return float((lack[bad] ** 2).sum()), change.ravel()


def _points(shape: Shape, turn: int) -> Floats:
    """Points on a shape's edge, 4 mm apart and at its corners, (m, 2)."""
    ring = np.array(shape.polygons[turn].simplify(0.05).exterior.segmentize(_POINTS).coords)
    return ring[:-1]
