"""How much two outlines look alike: corner by corner, whatever their place, turn and size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..geometry import affine
from ..geometry.types import Floats
from .outline import Outline

#: Corners that are alike turn the same way, and by as much within this, degrees.
_TURN = 40.0
#: Edges that are alike take the same share of the whole way round within this.
_SHARE = 0.08
#: Points on each edge that are compared.
_POINTS = 8


@dataclass(frozen=True, slots=True)
class Likeness:
    """One way to lay `other` on an outline.

    `vertices` are the other's vertices that meet the outline's corners, in corner order.
    `off` is the root mean square distance of the two lines when the other is moved, turned
    and scaled for the best fit, as a share of the outline's own (about its centre); `scale`
    is how much larger the outline is; `over` tells whether the other was turned over.
    """

    vertices: tuple[int, ...]
    off: float
    scale: float
    over: bool


def likenesses(outline: Outline, other: Outline) -> tuple[Likeness, ...]:
    """All ways to lay `other` on `outline`, turned over too, the best first.

    Only those where as many corners follow each other with about the same turns and
    distances; none for an outline without corners. The best fit is the closed form for plane
    points taken as complex numbers (least squares).
    """
    n = len(outline.corners)
    if n == 0 or n != len(other.corners):
        return ()
    found = []
    turned = other.transformed(affine.affine(-1.0, 0.0, 0.0, 1.0, 0.0, 0.0))
    mine = _described(outline)
    for over, one in ((False, other), (True, turned)):
        theirs = _described(one)
        for shift in range(n):
            turns, shares, points = (np.roll(x, -shift, axis=0) for x in theirs)
            if (np.abs(mine[0] - turns) > _TURN).any() or (mine[0] * turns <= 0).any():
                continue
            if (np.abs(mine[1] - shares) > _SHARE).any():
                continue
            off, scale = _fit(mine[2].ravel(), points.ravel())
            corners = np.roll(one.corners, -shift)
            if over:
                corners = (len(one.path) - corners) % len(one.path)
            found.append(Likeness(tuple(int(v) for v in corners), off, scale, over))
    return tuple(sorted(found, key=lambda x: x.off))


def _described(outline: Outline) -> tuple[Floats, Floats, np.ndarray]:
    """For each corner: its turn in degrees, the share of its edge, points along that edge."""
    path = outline.path
    lengths = np.array([edge.length for edge in outline.edges])
    starts = np.array([edge.offset for edge in outline.edges])
    along = starts[:, None] + lengths[:, None] * (np.arange(_POINTS) / _POINTS)
    places = path.at(np.mod(along.ravel(), path.length)).reshape(*along.shape, 2)
    turns: Floats = path.turns[list(outline.corners)]
    return turns, lengths / path.length, places[..., 0] + 1j * places[..., 1]


def _fit(mine: np.ndarray, theirs: np.ndarray) -> tuple[float, float]:
    p, q = mine - mine.mean(), theirs - theirs.mean()
    ratio = np.vdot(q, p) / np.vdot(q, q).real
    rest = p - ratio * q
    off = np.sqrt(np.vdot(rest, rest).real / np.vdot(p, p).real)
    return float(off), float(abs(ratio))
