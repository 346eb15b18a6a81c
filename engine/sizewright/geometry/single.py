"""One cubic at a time, in plain numbers: arrays so small would take many times as long."""

from __future__ import annotations

from collections.abc import Sequence


def point_and_way(p: Sequence[float], t: float) -> tuple[float, float, float, float]:
    """Point and derivative (x, y, dx, dy) of a cubic at `t`, by the steps of `bezier`.

    `p`: its control points' coordinates one after another, mm.
    """
    s = 1.0 - t
    a, b, c, d = s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t
    e, f, g = s * s, 2 * s * t, t * t
    x0, y0, x1, y1, x2, y2, x3, y3 = p
    return (
        a * x0 + b * x1 + c * x2 + d * x3,
        a * y0 + b * y1 + c * y2 + d * y3,
        3 * (e * (x1 - x0) + f * (x2 - x1) + g * (x3 - x2)),
        3 * (e * (y1 - y0) + f * (y2 - y1) + g * (y3 - y2)),
    )
