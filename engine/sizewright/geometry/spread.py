"""Where lines that run beside each other lie furthest apart."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .nearest import nearest
from .path import Path
from .types import Floats

# Places that are looked at along the outer line.
_STEPS = 60
# A turn by more than this, degrees, is a corner.
_CORNER = 10.0
# As far from a corner as this, mm, is far enough; each mm up to it counts for so many of gap.
_FAR, _WORTH = 40.0, 0.05


def widest_apart(paths: Sequence[Path], outer: Path) -> Floats:
    """Arc lengths on the closed path `outer`, two, far from each other, widest gap first, (2,).

    There the smallest gap between neighbours among the closed `paths` is large, and corners
    are not near. Empty for fewer than two paths.
    """
    if len(paths) < 2:
        return np.empty(0)
    s = np.linspace(0.0, outer.length, _STEPS, endpoint=False)
    gaps = []
    at = outer.at(s)
    for path in sorted(paths, key=lambda p: -p.area)[1:]:
        near = nearest(path, at)
        gaps.append(near.distance)
        at = near.point
    # Rounded, so that noise in the last bits does not choose between equal places.
    worth: Floats = np.round(np.min(gaps, axis=0), 4)
    corners = outer.cumulative[np.flatnonzero(np.abs(outer.turns) > _CORNER)]
    if len(corners):
        apart = np.abs(s[:, None] - corners[None])
        apart = np.minimum(apart, outer.length - apart).min(axis=1)
        worth = np.round(worth + np.minimum(apart, _FAR) * _WORTH, 4)
    first = int(worth.argmax())
    off = np.abs(s - s[first])
    far = np.minimum(off, outer.length - off) > outer.length / 4
    second = int(np.where(far, worth, -1.0).argmax())
    return s[[first, second]]
