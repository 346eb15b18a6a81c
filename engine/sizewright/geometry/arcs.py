"""Circular and elliptic arcs as cubics.

An arc of angle a on a unit circle takes handles 4/3 tan(a/4) long. That cubic is
never inside the circle and leaves it by at most
sqrt(1 + 4/27 sin^6(a/4) / cos^2(a/4)) - 1 of the radius, the maximum of its squared
radius in closed form (checked against published figures: 2.7253e-4 for a quarter).
Arcs are cut into as few equal pieces as keep that below the tolerance; an ellipse is
a squeezed circle, so its larger radius bounds the error.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from ..errors import GeometryError
from . import affine, bezier
from .path import Path
from .types import Floats

#: Largest radial error of an arc, mm.
TOLERANCE = 1e-4


def radial_error(degrees: float) -> float:
    """Largest radial error, as a share of the radius, of one cubic for such an arc."""
    quarter = math.radians(abs(degrees)) / 4
    square = 4 / 27 * math.sin(quarter) ** 6 / math.cos(quarter) ** 2
    return square / (math.sqrt(1 + square) + 1)


def piece_count(radius: float, degrees: float, tolerance: float = TOLERANCE) -> int:
    """Least number of equal cubics that keep an arc within `tolerance` mm of its radius."""
    count = max(1, math.ceil(abs(degrees) / 90 - 1e-9))
    while radius * radial_error(degrees / count) > tolerance:
        count += 1
    return count


def circular_arc(
    centre: tuple[float, float] | Floats,
    radius: float,
    start_degrees: float,
    end_degrees: float,
    tolerance: float = TOLERANCE,
) -> list[Floats]:
    """Cubics (4, 2) along a circle between two angles, counted from +x counter-clockwise.

    An end angle below the start angle runs clockwise; 360 degrees apart is a whole
    circle whose end is its start to the bit.
    """
    _check(radius)
    turn = end_degrees - start_degrees
    count = piece_count(radius, turn, tolerance)
    frame = affine.affine(radius, 0, 0, radius, float(centre[0]), float(centre[1]))
    return _pieces(frame, start_degrees, turn, count)


def ellipse(cx: float, cy: float, rx: float, ry: float, tolerance: float = TOLERANCE) -> Path:
    """A whole ellipse as a closed counter-clockwise path that starts at (cx + rx, cy).

    Its number of segments is a multiple of 4, so its extremes are vertices.
    """
    _check(rx)
    _check(ry)
    count = 4 * piece_count(max(rx, ry), 90, tolerance)
    return Path.of(_pieces(affine.affine(rx, 0, 0, ry, cx, cy), 0.0, 360.0, count), closed=True)


def arc_to_cubics(
    start: tuple[float, float] | Floats,
    rx: float,
    ry: float,
    rotation_degrees: float,
    large: bool,
    sweep: bool,
    end: tuple[float, float] | Floats,
    tolerance: float = TOLERANCE,
) -> list[Floats]:
    """SVG's elliptic arc command as cubics (4, 2), by SVG 1.1, appendix F.6.

    All is taken in the coordinates given: `sweep` means growing angles there. Equal
    ends give no segment; a zero radius gives the straight one; radii too small to
    reach are scaled up; signs of radii do not matter. Ends are kept to the bit.
    """
    p0, p1 = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    if np.array_equal(p0, p1):
        return []
    rx, ry = abs(rx), abs(ry)
    if rx == 0 or ry == 0:
        return [bezier.line_controls(p0, p1)]
    turn = affine.rotation(rotation_degrees)[:, :2]
    # F.6.5.1: half the chord in the ellipse's own axes, here in units of its radii.
    half = turn.T @ ((p0 - p1) / 2) / (rx, ry)
    reach = float(half @ half)
    if reach > 1:  # F.6.6.2
        rx, ry = rx * math.sqrt(reach), ry * math.sqrt(reach)
        half = half / math.sqrt(reach)
        reach = 1.0
    # F.6.5.2: the centre stands on the chord's perpendicular.
    side = math.sqrt(max(0.0, 1 / reach - 1)) * (1 if large != sweep else -1)
    centre = side * np.array([half[1], -half[0]])
    a0 = math.atan2(*(half - centre)[::-1])
    a1 = math.atan2(*(-half - centre)[::-1])
    angle = math.degrees(a1 - a0) % 360.0
    if not sweep:
        angle -= 360.0
    middle = turn @ (centre * (rx, ry)) + (p0 + p1) / 2
    frame = np.column_stack([turn * (rx, ry), middle])
    count = piece_count(max(rx, ry), angle, tolerance)
    return _tied(_pieces(frame, math.degrees(a0), angle, count), p0, p1)


def bulge_to_cubics(
    start: tuple[float, float] | Floats,
    end: tuple[float, float] | Floats,
    bulge: float,
    tolerance: float = TOLERANCE,
) -> list[Floats]:
    """A DXF polyline's bulge as cubics (4, 2): bulge = tan(a / 4), positive counter-clockwise.

    A bulge of zero gives the straight segment. Ends are kept to the bit.
    """
    p0, p1 = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    chord = p1 - p0
    size = float(np.hypot(*chord))
    if bulge == 0 or size == 0:
        return [bezier.line_controls(p0, p1)]
    turn = 4 * math.degrees(math.atan(bulge))
    radius = size * (1 + bulge * bulge) / (4 * abs(bulge))
    # The centre is left of the chord by chord/2 * cot(a/2) = chord (1 - b^2) / 4b.
    offset = (1 - bulge * bulge) / (4 * bulge)
    centre = (p0 + p1) / 2 + offset * np.array([-chord[1], chord[0]])
    first = math.degrees(math.atan2(*(p0 - centre)[::-1]))
    frame = affine.affine(radius, 0, 0, radius, float(centre[0]), float(centre[1]))
    count = piece_count(radius, turn, tolerance)
    return _tied(_pieces(frame, first, turn, count), p0, p1)


def _check(radius: float) -> None:
    if not (radius > 0 and math.isfinite(radius)):
        raise GeometryError(f"a radius of {radius} mm is not above zero")


def _pieces(frame: Floats, start: float, turn: float, count: int) -> list[Floats]:
    """Cubics along the unit circle from `start` over `turn` degrees, moved by `frame`."""
    return list(affine.apply(frame, _along_unit_circle(start, turn, count)))


@lru_cache(maxsize=64)
def _along_unit_circle(start: float, turn: float, count: int) -> Floats:
    angles = start + turn * np.arange(count + 1) / count
    radial = np.array([affine.rotation(float(a))[:, 0] for a in angles])
    if abs(turn) == 360.0:
        radial[-1] = radial[0]
    forward = np.column_stack([-radial[:, 1], radial[:, 0]])
    handle = 4 / 3 * math.tan(math.radians(turn / count) / 4)
    return np.stack(
        [
            radial[:-1],
            radial[:-1] + handle * forward[:-1],
            radial[1:] - handle * forward[1:],
            radial[1:],
        ],
        axis=1,
    )


def _tied(pieces: list[Floats], start: Floats, end: Floats) -> list[Floats]:
    pieces[0][0] = start
    pieces[-1][3] = end
    return pieces
