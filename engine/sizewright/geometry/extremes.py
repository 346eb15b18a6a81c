"""True extremes of cubic segments."""

from __future__ import annotations

import numpy as np

from . import bezier
from .types import Floats


def quadratic_roots(a: Floats, b: Floats, c: Floats) -> Floats:
    """Real roots of a t^2 + b t + c, shape (2, ...), nan where there is none.

    The form that does not cancel (Numerical Recipes, section 5.6; recalled). It
    serves a vanishing `a` as well: the far root is then infinite or nan.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        discriminant = b * b - 4 * a * c
        q = -(b + np.copysign(np.sqrt(discriminant), b)) / 2
        roots: Floats = np.stack([q / a, c / q])
    return roots


def turning_points(controls: Floats) -> Floats:
    """Parameters at which x or y of each segment turns: (n, 2 roots, 2 axes), nan elsewhere.

    Only those strictly between 0 and 1 are kept.
    """
    p0, p1, p2, p3 = (controls[:, i] for i in range(4))
    d0, d1, d2 = p1 - p0, p2 - p1, p3 - p2
    roots = np.moveaxis(quadratic_roots(d0 - 2 * d1 + d2, 2 * (d1 - d0), d0), 0, 1)
    with np.errstate(invalid="ignore"):
        inside: Floats = np.where((roots > 0) & (roots < 1), roots, np.nan)
    return inside


def bounds(controls: Floats) -> tuple[float, float, float, float]:
    """Tight box (x0, y0, x1, y1) of segments (n, 4, 2): ends and turning points of each axis."""
    low, high = controls[:, [0, 3]].min(axis=(0, 1)), controls[:, [0, 3]].max(axis=(0, 1))
    # Only segments whose handles leave the box of the ends can widen it.
    wide = controls[((controls < low) | (controls > high)).any(axis=(1, 2))]
    if len(wide):
        t = np.nan_to_num(turning_points(wide).reshape(len(wide), 4), nan=0.0)
        reached = bezier.evaluate(wide[:, None], t)
        low = np.minimum(low, reached.min(axis=(0, 1)))
        high = np.maximum(high, reached.max(axis=(0, 1)))
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
