"""Paths as DXF entities that hold each cubic exactly."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...geometry.path import Path
from ...geometry.types import Floats

#: A turn of less than this, in degrees, goes on smoothly within one spline.
_SMOOTH = 3.0
_CLOSED, _PLANAR = 1, 8


def add_path(layout: Any, path: Path, scale: float, **dxf: Any) -> list[Any]:
    """The path as entities of `layout`, in the order of its segments.

    Straight runs are a LINE or an LWPOLYLINE; each smooth chain of cubics is one SPLINE of
    degree 3 whose inner knots are threefold, so that its control points are the cubics' own.
    `scale` is units of the drawing to one mm; `dxf` goes to every entity.
    """
    controls = path.controls * scale
    chains = _chains(path)
    whole = path.closed and len(chains) == 1
    made = []
    for first, last in chains:
        part = controls[first:last]
        if not path.lines[first]:
            made.append(_spline(layout, part, whole, dxf))
        elif len(part) == 1 and not whole:
            made.append(layout.add_line(tuple(part[0, 0]), tuple(part[0, 3]), dxfattribs=dxf))
        else:
            points = part[:, 0] if whole else np.vstack([part[:, 0], part[-1:, 3]])
            xy = [tuple(p) for p in points]
            made.append(layout.add_lwpolyline(xy, close=whole, dxfattribs=dxf))
    return made


def _chains(path: Path) -> list[tuple[int, int]]:
    """First and past-the-last segment of each run that is one entity."""
    cuts = [0]
    for i in range(1, len(path)):
        kind = path.lines[i] != path.lines[i - 1]
        corner = not path.lines[i] and abs(float(path.turns[i])) > _SMOOTH
        if kind or corner:
            cuts.append(i)
    return list(zip(cuts, [*cuts[1:], len(path)], strict=True))


def _spline(layout: Any, cubics: Floats, closed: bool, dxf: dict[str, Any]) -> Any:
    n = len(cubics)
    points = np.vstack([cubics[:, :3].reshape(-1, 2), cubics[-1:, 3]])
    knots = np.concatenate([[0.0], np.repeat(np.arange(n + 1.0), 3), [float(n)]])
    spline = layout.add_spline(degree=3, dxfattribs=dxf)
    spline.control_points = [(float(x), float(y), 0.0) for x, y in points]
    spline.knots = knots.tolist()
    spline.dxf.flags = _PLANAR | (_CLOSED if closed else 0)
    return spline
