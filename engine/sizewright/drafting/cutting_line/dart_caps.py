"""The cutting line across a dart's mouth: a cap whose edge lies on the seam's when pressed."""

from __future__ import annotations

import numpy as np

from ...geometry import affine
from ...geometry.path import Path
from ...geometry.types import Floats
from .joins import Corner, Join, carried, ray_meets


def cap(corner: Corner, apex: Floats, mouth_a: Floats, mouth_b: Floats) -> Join | None:
    """The join of the parallels on both sides of a dart that is cut out of the outline.

    Sewn and pressed to one side, the dart's fold is the middle between its legs, and its
    fabric lies mirrored across a leg: so the cap's edge is the neighbouring cutting line
    mirrored there, up to the middle. The higher of both sides' peaks serves either way of
    pressing. None where a leg carried on does not meet the cutting line beside it.
    """
    reach = 6 * corner.width + 1.0
    leg_a, leg_b = _unit(mouth_a - apex), _unit(mouth_b - apex)
    middle = _unit(leg_a + leg_b)
    before, after = corner.before, corner.after
    a = ray_meets(mouth_a, leg_a, before.reversed(), reach)
    b = ray_meets(mouth_b, leg_b, after, reach)
    if a is None or b is None:
        return None
    end, begin = before.length - a[0], b[0]
    foot_a, foot_b = carried(before, end), carried(after, begin)
    peaks = [
        _peak(foot_a, -before.tangents(end), mouth_a, leg_a, apex, middle),
        _peak(foot_b, after.tangents(begin), mouth_b, leg_b, apex, middle),
    ]
    far = [float((p - apex) @ middle) for p in peaks if p is not None]
    # A leg that meets its seam very flat would send the peak far off: then no peak.
    limit = float((foot_a + foot_b - 2 * apex) @ middle) / 2 + reach
    far = [f for f in far if f < limit]
    points = [foot_a, foot_b]
    if far:
        points.insert(1, apex + middle * max(far))
    return Join(end, (Path.polyline(np.array(points)),), begin)


def _peak(
    foot: Floats, along: Floats, mouth: Floats, leg: Floats, apex: Floats, middle: Floats
) -> Floats | None:
    """Where the cutting line's direction `along` at `foot`, mirrored, meets the middle."""
    mirror = affine.mirror(mouth, mouth + leg)
    way = mirror[:, :2] @ along
    cross = way[0] * middle[1] - way[1] * middle[0]
    if abs(cross) < 1e-9:
        return None
    gap = apex - foot
    t = (gap[0] * middle[1] - gap[1] * middle[0]) / cross
    return None if t < 0 else foot + t * way


def _unit(v: Floats) -> Floats:
    unit: Floats = v / np.hypot(*v)
    return unit
