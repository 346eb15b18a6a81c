"""Drawn entities as paths in mm: arcs and splines stay curves, whatever carries them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from ...errors import GeometryError
from ...geometry import bezier
from ...geometry.arcs import bulge_to_cubics, circular_arc
from ...geometry.path import Path
from ...geometry.splines import spline_path
from ...geometry.types import Bools, Floats
from ...model import Vec
from ..drawing.loops import NO_LENGTH, cleaned

if TYPE_CHECKING:
    from ezdxf.entities.dxfentity import DXFEntity

#: How far a cubic may lie from the arc that it stands for, mm.
TOLERANCE = 1e-5
#: Coordinates beyond this, in mm, are out of all reach.
FARTHEST = 1e9
#: A height that changes by less than this share of the entity's size, or mm, is none.
_FLAT = 1e-6
_ORIGIN = np.zeros(3)


class Frame(NamedTuple):
    """An affine map of space (4, 4) from an entity's coordinates to mm."""

    matrix: Floats

    @classmethod
    def scaling(cls, mm: float) -> Frame:
        """`mm` to one unit, nothing moved."""
        return cls(np.diag([mm, mm, mm, 1.0]))

    def within(self, inner: Floats) -> Frame:
        """The frame of what `inner` (4, 4) maps into this one's coordinates."""
        return Frame(self.matrix @ inner)

    @property
    def scale(self) -> float:
        """The most that a length grows."""
        return float(np.linalg.norm(self.matrix[:3, :3], 2))

    def place(self, points: Floats) -> Floats:
        """Points (..., 3) in mm, (..., 3). GeometryError where one is out of reach."""
        placed: Floats = points @ self.matrix[:3, :3].T + self.matrix[:3, 3]
        if not (np.abs(placed) <= FARTHEST).all():
            raise GeometryError("a coordinate is out of all reach")
        return placed

    def spot(self, x: float, y: float, z: float) -> Vec:
        """One point on the plane, in mm. GeometryError where it is out of reach."""
        rows = self.matrix.tolist()[:3]
        placed = [a * x + b * y + c * z + d for a, b, c, d in rows]
        if not all(abs(v) <= FARTHEST for v in placed):
            raise GeometryError("a coordinate is out of all reach")
        return placed[0], placed[1]


class Curve(NamedTuple):
    """The path of one entity, and whether it leaves the plane (its height was dropped)."""

    path: Path
    tilted: bool = False


class NoCurve(Exception):
    """The entity draws no line of a pattern; the message says why."""


def curve_of(entity: DXFEntity, frame: Frame) -> Curve | None:
    """The line that an entity draws, in mm; None where it has no length.

    LINE, ARC, CIRCLE, ELLIPSE, LWPOLYLINE, POLYLINE (bulges, both 2D and 3D), SPLINE.
    Widths are left out of account and heights dropped. Raises NoCurve for other kinds and
    GeometryError for what cannot be drawn.
    """
    read = _READERS.get(entity.dxftype())
    if read is None:
        raise NoCurve(f"{entity.dxftype().lower()} is no line of a pattern")
    # Infinite numbers are found out once all is in place.
    with np.errstate(all="ignore"):
        return read(entity, frame)


def _axes(entity: Any) -> tuple[Floats, Floats, Floats]:
    """The axes of the entity's own plane (arbitrary axis algorithm of the DXF reference)."""
    ocs = entity.ocs()
    return tuple(np.array(tuple(v)) for v in (ocs.ux, ocs.uy, ocs.uz))  # type: ignore[return-value]


def _xyz(value: Any) -> Floats:
    return np.array((*value, 0.0)[:3], dtype=np.float64)


def _places(values: Iterable[Any]) -> Floats:
    """Places (n, 3) that may lack their heights."""
    return np.array([(*value, 0.0)[:3] for value in values], dtype=np.float64).reshape(-1, 3)


def _made(space: Floats, lines: Sequence[bool] | Bools, frame: Frame, closed: bool) -> Curve | None:
    """A curve of control points (n, 4, 3) in the entity's coordinates."""
    placed = frame.place(space)
    size = float(np.ptp(placed.reshape(-1, 3), axis=0).max())
    tilted = float(np.ptp(placed[..., 2])) > max(_FLAT, _FLAT * size)
    return _cleaned(placed[..., :2], np.array(lines, dtype=bool), closed, tilted)


def _cleaned(controls: Floats, lines: Any, closed: bool, tilted: bool) -> Curve | None:
    path = cleaned(controls, lines, closed)
    return None if path is None else Curve(path, tilted)


def _line(entity: Any, frame: Frame) -> Curve | None:
    ends = _xyz(entity.dxf.start), _xyz(entity.dxf.end)
    return _made(bezier.line_controls(*ends)[None], [True], frame, False)


def _arc(entity: Any, frame: Frame) -> Curve | None:
    radius = abs(float(entity.dxf.radius))
    if entity.dxftype() == "CIRCLE":
        first, last = 0.0, 360.0
    else:
        first = float(entity.dxf.start_angle)
        turn = (float(entity.dxf.end_angle) - first) % 360.0
        last = first + (turn or 360.0)
    if not (radius > 0 and math.isfinite(radius)):
        return None
    ux, uy, uz = _axes(entity)
    x, y, z = _xyz(entity.dxf.center)
    centre = x * ux + y * uy + z * uz
    return _round(centre, radius * ux, radius * uy, first, last, frame)


def _ellipse(entity: Any, frame: Frame) -> Curve | None:
    major = _xyz(entity.dxf.major_axis)
    normal = _xyz(entity.dxf.extrusion)
    normal = normal / np.linalg.norm(normal)
    minor = np.cross(normal, major) * float(entity.dxf.ratio)
    first = math.degrees(float(entity.dxf.start_param))
    turn = math.degrees(float(entity.dxf.end_param)) - first
    turn = 360.0 if abs(turn) >= 360.0 - 1e-9 else turn % 360.0 or 360.0
    return _round(_xyz(entity.dxf.center), major, minor, first, first + turn, frame)


def _round(
    centre: Floats, u: Floats, v: Floats, first: float, last: float, frame: Frame
) -> Curve | None:
    """The image of a unit circle's arc between two angles in degrees."""
    reach = float(max(np.linalg.norm(u), np.linalg.norm(v))) * frame.scale
    if not (0 < reach < FARTHEST):
        return None
    # Counted on the circle that the arc grows into, so that it is as true there.
    turn = last - first
    whole = abs(turn) >= 360.0
    # A whole one in quarters, so that its extremes are vertices.
    steps = np.linspace(first, last, 5 if whole else 2)
    arcs = [circular_arc(_ORIGIN, 1.0, a, b, TOLERANCE / reach) for a, b in pairwise(steps)]
    unit = np.array([cubic for arc in arcs for cubic in arc])
    space = centre + unit[..., :1] * u + unit[..., 1:] * v
    return _made(space, [False] * len(unit), frame, whole)


def _lwpolyline(entity: Any, frame: Frame) -> Curve | None:
    points = np.array(entity.get_points("xyb"), dtype=np.float64).reshape(-1, 3)
    z = float(entity.dxf.elevation)
    return _bulged(points, z, bool(entity.closed), _axes(entity), frame)


def _polyline(entity: Any, frame: Frame) -> Curve | None:
    if entity.is_poly_face_mesh or entity.is_polygon_mesh:
        raise NoCurve("a mesh is no line of a pattern")
    # Of a polyline made smooth, the frame that it was made from is not drawn.
    every = (v.dxf.all_existing_dxf_attribs() for v in entity.vertices)
    vertices = [v for v in every if not int(v.get("flags", 0)) & 16]
    closed = bool(entity.is_closed)
    places = _places(v["location"] for v in vertices)
    if entity.is_3d_polyline:
        if len(places) < 2:
            return None
        ends = np.roll(places, -1, axis=0)
        space = (
            bezier.line_controls(places, ends)
            if closed
            else bezier.line_controls(places[:-1], ends[:-1])
        )
        return _made(space, [True] * len(space), frame, closed)
    z = float(_xyz(entity.dxf.elevation)[2]) if entity.dxf.hasattr("elevation") else 0.0
    # Heights give way to the bulge of what comes after each vertex.
    places[:, 2] = [v.get("bulge", 0.0) for v in vertices]
    return _bulged(places, z, closed, _axes(entity), frame)


def _bulged(
    points: Floats,
    z: float,
    closed: bool,
    axes: tuple[Floats, Floats, Floats],
    frame: Frame,
) -> Curve | None:
    if len(points) < 2:
        return None
    reach = max(frame.scale, 1e-12)
    every = np.vstack([points, points[:1]]) if closed else points
    ends, bulges = every[:, :2], every[:-1, 2]
    xy = bezier.line_controls(ends[:-1], ends[1:])
    lines = (bulges == 0) | (ends[:-1] == ends[1:]).all(axis=1)
    if not lines.all():
        parts = [
            xy[i : i + 1]
            if lines[i]
            else np.array(
                bulge_to_cubics(ends[i], ends[i + 1], float(bulges[i]), TOLERANCE / reach)
            )
            for i in range(len(xy))
        ]
        xy, lines = np.concatenate(parts), np.repeat(lines, [len(part) for part in parts])
    ux, uy, uz = axes
    space = xy[..., :1] * ux + xy[..., 1:] * uy + z * uz
    return _made(space, lines, frame, closed)


def _spline(entity: Any, frame: Frame) -> Curve | None:
    degree = int(entity.dxf.degree)
    knots = np.array(entity.knots, dtype=np.float64)
    points = _places(entity.control_points)
    weights = np.array(entity.weights, dtype=np.float64)
    if len(points) == 0:
        degree, knots, points = _through(entity)
        weights = np.zeros(0)
    placed = frame.place(points)
    size = float(np.ptp(placed, axis=0).max())
    tilted = float(np.ptp(placed[:, 2])) > max(_FLAT, _FLAT * size)
    if size <= NO_LENGTH:
        return None
    path = spline_path(knots, placed[:, :2], degree, weights)
    closed = bool(entity.closed) and float(np.hypot(*(path.end - path.start))) <= 1e-6
    return _cleaned(path.controls, path.lines.copy(), closed, tilted)


def _through(entity: Any) -> tuple[int, Floats, Floats]:
    """Degree, knots and control points of a spline that is given by points on it alone."""
    from ezdxf.math import fit_points_to_cad_cv

    points = list(entity.fit_points)
    if len(points) < 2:
        raise GeometryError("a spline has no points")
    tangents = None
    if entity.dxf.hasattr("start_tangent") and entity.dxf.hasattr("end_tangent"):
        tangents = [entity.dxf.start_tangent, entity.dxf.end_tangent]
    made = fit_points_to_cad_cv(points, tangents)
    controls = _places(made.control_points)
    return made.degree, np.array(made.knots()), controls


_READERS: dict[str, Callable[[Any, Frame], Curve | None]] = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _arc,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
}
