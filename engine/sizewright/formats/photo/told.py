"""How wrong a straightened outline may be: what its fit leaves open, and how high pieces lie.

How far observations are off their fit says little of that, and is not what is told.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...geometry.types import Floats
from .fitting import Fit
from .view import View

#: So many cases are drawn, always the same; this share of them keeps within what is told.
_DRAWN, _WITHIN = 400, 0.95
#: A piece lies higher than the sheet by at most so much, mm.
_THICK = 0.5
#: How well an outline is found in the picture, px.
_SEEN = 0.25
#: Paper is cut to size within this share; where a sheet's edges say more, its print is off.
_CUT = 0.0006


def error_of(fit: Fit, outlines: Sequence[Floats]) -> float:
    """The largest error, mm, that outlines (n, 2) on the plane have in 19 of 20 cases.

    Not counted is a shift or turn of a whole outline: where it lies on the table is no matter.
    """
    view = fit.view
    dice = np.random.default_rng(1)
    camera = view.camera()
    shown = [o[:: max(1, len(o) // 200)] for o in outlines]
    slopes = [_slopes(view, view.pixels(o)) for o in shown]
    values, axes = np.linalg.eigh(fit.own)
    root = axes * np.sqrt(np.maximum(values, 0.0))
    worst = []
    for _ in range(_DRAWN):
        off = root @ dice.normal(size=len(root))
        high = dice.uniform(-_THICK, _THICK)
        moved = [
            s @ off + high * (o - camera[:2]) / camera[2]
            for s, o in zip(slopes, shown, strict=True)
        ]
        worst.append(max(_misfit(o, m) for o, m in zip(shown, moved, strict=True)))
    blur = max(_SEEN / float(view.scale(o).min()) for o in shown)
    broad = max(float(np.hypot(*(o - o.mean(axis=0)).T).max()) for o in shown)
    size = max(abs(fit.printed - 1) - _CUT, 0.0) * broad
    return float(np.quantile(worst, _WITHIN)) + blur + size


def _slopes(view: View, pixels: Floats) -> Floats:
    """How places of the plane move with each number of the view (n, 2, 10)."""
    found = np.zeros((len(pixels), 2, len(view.numbers)))
    for k in range(len(view.numbers)):
        step = np.zeros(len(view.numbers))
        step[k] = 1e-6
        more = View(view.width, view.height, view.numbers + step).plane(pixels)
        less = View(view.width, view.height, view.numbers - step).plane(pixels)
        found[..., k] = (more - less) / 2e-6
    return found


def _misfit(places: Floats, moved: Floats) -> float:
    """The largest of displacements (n, 2), once a shift and a turn are taken out of them."""
    arms = places - places.mean(axis=0)
    moved = moved - moved.mean(axis=0)
    across = np.stack([-arms[:, 1], arms[:, 0]], axis=1)
    turn = float((across * moved).sum() / max(float((across**2).sum()), 1e-12))
    rest = moved - turn * across
    return float(np.hypot(rest[:, 0], rest[:, 1]).max())
