"""Where a drawn notch stands: the shape's own points on the line say it exactly."""

from __future__ import annotations

import numpy as np

from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...geometry.types import Floats

#: A point of a notch this close to the line, in mm, lies on it.
ON_LINE = 0.2


def place_on(path: Path, points: Floats) -> float | None:
    """Arc length along closed `path` where a notch of own `points` (m, 2) stands.

    It is halfway, the shorter way round, between the first and the last of them that lie
    on the line; None where none does. So it holds for a slit (one point), for the two feet
    of a V, a castle or a U, and for a pair of slits.
    """
    near = nearest(path, points)
    return place_between(near.s, near.distance, path.length)


def place_between(s: Floats, distance: Floats, total: float) -> float | None:
    """As `place_on`, of the nearest places of the points on a line of `total` mm."""
    on = s[distance <= ON_LINE]
    if len(on) == 0:
        return None
    first, last = float(on[0]), float(on[-1])
    step = float(np.remainder(last - first + total / 2, total)) - total / 2
    return (first + step / 2) % total
