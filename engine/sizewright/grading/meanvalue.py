"""Mean value coordinates: how a point inside a polygon goes along with its corners.

Weights w_i = (tan(a_{i-1} / 2) + tan(a_i / 2)) / |v_i - x|, where a_i is the signed angle
at x between v_i and v_{i+1}, scaled to sum to 1 (Floater, Mean value coordinates, 2003;
for any simple polygon: Hormann and Floater, 2006; recalled). They give back every affine
map of the corners exactly and vary smoothly inside.
"""

from __future__ import annotations

import numpy as np

from ..geometry.types import Floats

#: A point this near to an edge, as a share of the polygon's size, lies on it.
_ON = 1e-9


def weights(polygon: Floats, points: Floats) -> Floats:
    """Weights (m, n) of the corners `polygon` (n, 2) at `points` (m, 2); rows sum to 1.

    A point on an edge takes its two ends by linear interpolation.
    """
    out = np.zeros((len(points), len(polygon)))
    size = float(np.ptp(polygon, axis=0).max())
    ends = np.roll(polygon, -1, axis=0)
    for k, x in enumerate(points):
        edge, place, gap = _nearest_edge(polygon, ends, x)
        if gap <= _ON * size:
            out[k, edge] += 1 - place
            out[k, (edge + 1) % len(polygon)] += place
            continue
        d, e = polygon - x, ends - x
        r = np.hypot(d[:, 0], d[:, 1])
        s = np.hypot(e[:, 0], e[:, 1])
        cross = d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0]
        dot = (d * e).sum(axis=1)
        # tan(a / 2) = sin a / (1 + cos a), sound as long as x is on no edge.
        half = cross / (r * s + dot)
        w = (np.roll(half, 1) + half) / r
        out[k] = w / w.sum()
    return out


def _nearest_edge(starts: Floats, ends: Floats, x: Floats) -> tuple[int, float, float]:
    """Nearest edge to `x`, the place on it in [0, 1], and the distance."""
    step = ends - starts
    square = (step**2).sum(axis=1)
    along = ((x - starts) * step).sum(axis=1)
    t = np.clip(np.divide(along, square, out=np.zeros_like(along), where=square > 0), 0.0, 1.0)
    gap = starts + t[:, None] * step - x
    distance = np.hypot(gap[:, 0], gap[:, 1])
    k = int(distance.argmin())
    return k, float(t[k]), float(distance[k])
