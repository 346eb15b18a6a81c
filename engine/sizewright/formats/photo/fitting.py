"""One least-squares fit: the view in which the sheets that are seen lie as sheets do.

Paper that bows or lifts a little at a corner is seen nearly as well as flat paper, and leads far
astray. So the fit has numbers for that too, each held near zero by how much paper does it, and
what they leave open is part of the error that is told.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ...geometry.types import Bools, Floats
from .squares import Seen
from .view import FOCAL, VIEW, View, first_view

#: One standard deviation of each: what lenses do at the picture's corner, as shares (k1, k2);
_LENS = (0.04, 0.01)
#: how high a sheet bows across and along, and how high each of its corners is lifted, mm;
_BENDS = (0.5, 0.5, 1.0, 1.0, 1.0, 1.0)
#: how much larger a printer prints across and along, as shares;
_PRINT = (0.0006, 0.0006)
#: how far out a cut edge bows in its middle, and lies as a whole, mm, for each of four.
_EDGES = (0.2, 0.2, 0.2, 0.2, 0.15, 0.15, 0.15, 0.15)
#: how much longer or shorter than usual a camera's lens is, as a share (logarithm).
_LONGER = 0.2
#: Bends are held nearer to zero where a first round shows none: by no less than this, mm.
_LEAST = 0.05
#: Places are seen no better than this, px.
_FINEST = 0.03
#: A lifted corner's height falls off over the sheet by this power.
_CURL = 3


@dataclass(frozen=True)
class Fit:
    """A view as fitted. `own` (10, 10) is what stays open in its numbers (a covariance),
    `noise` how far observations are off, px, `bent` how high the sheet rises, mm, and `printed`
    at what share of its size it was printed."""

    view: View
    own: Floats
    noise: float
    used: Bools
    bent: float
    printed: float = 1.0


def fit_marks(width: int, height: int, sheets: Sequence[Seen]) -> tuple[Fit, list[Floats]]:
    """The view that all squares of all sheets fit best, and the outlines of their papers.

    The middle of the first sheet is the plane's origin; each other one was laid down anyhow,
    and is moved and turned to fit.
    """
    flat = [seen.places - np.array(seen.sheet.size) / 2 for seen in sheets]
    shapes = [_shapes(p, seen.sheet.size) for p, seen in zip(flat, sheets, strict=True)]
    start = first_view(width, height, flat[0], sheets[0].pixels)
    pixels = np.concatenate([seen.pixels for seen in sheets])
    moves = [_laid(p, start.plane(s.pixels)) for p, s in zip(flat[1:], sheets[1:], strict=True)]
    several = 3 * len(moves)
    bends = np.array(_BENDS * len(sheets))
    spread = np.concatenate([_LENS, np.full(several, np.inf), _PRINT, [_LONGER], bends])
    numbers = np.concatenate([start.numbers, *moves, np.zeros(3 + len(bends))])
    first = VIEW + several + 3

    def lying(numbers: Floats, papers: Sequence[Floats]) -> list[Floats]:
        laid = [np.zeros(3), *numbers[VIEW : VIEW + several].reshape(-1, 3)]
        return [_moved(p, m) for p, m in zip(papers, laid, strict=True)]

    def off(numbers: Floats) -> Floats:
        view = View(width, height, numbers[:VIEW])
        camera = view.camera(FOCAL * float(np.exp(numbers[first - 1])))
        printed = 1 + numbers[first - 3 : first - 1]
        heights = numbers[first:].reshape(len(sheets), -1)
        places = np.concatenate(lying(numbers, [p * printed for p in flat]))
        high = np.concatenate([s @ h for s, h in zip(shapes, heights, strict=True)])
        places = places + high[:, None] * (places - camera[:2]) / camera[2]
        missed: Floats = (view.pixels(places) - pixels).ravel()
        return missed

    fit, numbers = _fitted(width, height, off, numbers, spread, 2, first)
    heights = numbers[first:].reshape(len(sheets), -1)
    bent = max(float(np.ptp(s @ h)) for s, h in zip(shapes, heights, strict=True))
    papers = [_corners(seen.sheet.size) for seen in sheets]
    return Fit(fit.view, fit.own, fit.noise, fit.used, bent), lying(numbers, papers)


def fit_edges(
    width: int, height: int, size: tuple[float, float], start: View, pixels: Sequence[Floats]
) -> Fit:
    """The view in which the pixels seen of a plain sheet's four edges lie on its sides.

    Edges from the lower one counter-clockwise; the sheet's middle is the plane's origin.
    """
    which = np.repeat(np.arange(4), [len(p) for p in pixels])
    every = np.concatenate(pixels)
    half = np.array(size) / 2
    normal = np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])[which]
    reach = half[[1, 0, 1, 0]][which]
    places = start.plane(every)
    scale = start.scale(places)
    shapes = _shapes(places, size)
    along = (places / half)[np.arange(len(every)), which % 2]
    edges = np.zeros((len(every), 8))
    edges[np.arange(len(every)), which] = 1 - np.clip(along, -1, 1) ** 2
    edges[np.arange(len(every)), which + 4] = 1.0
    spread = np.array([*_LENS, *_BENDS, *_EDGES])
    numbers = np.concatenate([start.numbers, np.zeros(len(spread) - 2)])

    camera = start.camera()

    def off(numbers: Floats) -> Floats:
        places = View(width, height, numbers[:VIEW]).plane(every)
        bends = numbers[VIEW : VIEW + len(_BENDS)]
        raised = (shapes @ bends)[:, None] * (places - camera[:2]) / camera[2]
        out = ((places - raised) * normal).sum(axis=1) - reach
        missed: Floats = (out - edges @ numbers[VIEW + len(_BENDS) :]) * scale
        return missed

    return _fitted(width, height, off, numbers, spread, 1, VIEW)[0]


def _fitted(
    width: int,
    height: int,
    off: Callable[[Floats], Floats],
    numbers: Floats,
    spread: Floats,
    each: int,
    bends: int,
) -> tuple[Fit, Floats]:
    """Least squares over places of `each` numbers; those far off count in the first rounds only.

    `spread` are the standard deviations of all numbers but the projection's, infinite for
    those that may be anything.
    """
    from scipy.optimize import least_squares

    held = np.flatnonzero(np.isfinite(spread)) + VIEW - 2
    usual = spread[np.isfinite(spread)]
    spread = usual
    kept = np.ones(len(off(numbers)) // each, dtype=bool)
    noise = 0.2

    def all_off(numbers: Floats) -> Floats:
        own = off(numbers).reshape(-1, each)[kept].ravel() / noise
        return np.append(own, numbers[held] / spread)

    for last in (False, False, True):
        done = least_squares(
            all_off,
            numbers,
            loss="linear" if last else "soft_l1",
            f_scale=3.0,
            x_scale="jac",
            max_nfev=12,
            ftol=1e-5,
            xtol=1e-7,
        )
        numbers = np.asarray(done.x, dtype=np.float64)
        missed = off(numbers).reshape(-1, each)
        if last:
            break
        bent = np.hypot(numbers[held], _LEAST)
        spread = np.where(held >= bends, np.minimum(bent, usual), usual)
        noise = max(1.4826 * float(np.median(np.abs(missed[kept]))), _FINEST)
        kept = np.sqrt((missed**2).mean(axis=1)) <= 4 * noise
    jac = np.asarray(done.jac)
    found = max(float(np.sqrt((missed[kept] ** 2).mean())), _FINEST)
    seen = jac[: -len(held)]
    known = seen.T @ seen * (noise / max(found, noise)) ** 2
    spread = np.where(held >= bends, np.minimum(2 * spread + 0.1, usual), usual)
    known[held, held] += 1 / spread**2
    own = np.linalg.pinv(known)[:VIEW, :VIEW]
    return Fit(View(width, height, numbers[:VIEW]), own, found, kept, 0.0), numbers


def _shapes(own: Floats, size: tuple[float, float]) -> Floats:
    """The shapes (n, 6) that a sheet rises in: bows across and along, and its four corners."""
    x, y = np.clip(2 * own / np.array(size), -1, 1).T
    corners = [((1 + i * x) * (1 + j * y) / 4) ** _CURL for i in (-1, 1) for j in (-1, 1)]
    return np.stack([1 - x * x, 1 - y * y, *corners], axis=1)


def _corners(size: tuple[float, float]) -> Floats:
    corners: Floats = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array(size) / 2
    return corners


def _laid(places: Floats, there: Floats) -> Floats:
    """The move (x, y, turn) that brings `places` (n, 2) nearest to others, rigidly."""
    a, b = places.mean(axis=0), there.mean(axis=0)
    p, q = places - a, there - b
    turn = float(np.arctan2((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum(), (p * q).sum()))
    return np.array([*(b - _moved(a[None], np.array([0.0, 0.0, turn]))[0]), turn])


def _moved(places: Floats, move: Floats) -> Floats:
    sine, cosine = np.sin(move[2]), np.cos(move[2])
    moved: Floats = places @ np.array([[cosine, sine], [-sine, cosine]]) + move[:2]
    return moved
