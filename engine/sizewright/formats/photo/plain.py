"""A plain sheet of paper in a picture: found by its shape, its four edges to parts of a pixel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...geometry.types import Floats
from .profiles import edges_along
from .view import FOCAL, View, first_view

#: Long side of the picture in which sheets are looked for, px.
_SMALL = 1000
#: Smallest sheet, as a share of the picture.
_LEAST = 0.01
#: A sheet's shape may be so far off that of the paper which it should be, as a share.
_SHAPE = 0.06
#: Places along each edge, and how much of it is left out at either end.
_PLACES, _ENDS = 160, 0.04
#: A printed sheet's paper ends within so much of where its marks have its edge, mm; its width and
#: length were printed alike but for this share.
_PRINTED, _UNLIKE = 11.0, 0.005


@dataclass(frozen=True)
class Plain:
    """A sheet as found: a first view, places (n, 2) in pixels along its edges from the lower
    one counter-clockwise, and how far its shape is off the paper's."""

    view: View
    edges: list[Floats]
    misshape: float


def find_plain(grey: Floats, size: tuple[float, float]) -> list[Plain]:
    """Sheets of paper of a size in mm, the likeliest first."""
    found = []
    for corners in _four_sided(grey):
        edges = _edges(grey, corners)
        if edges is None:
            continue
        best = min(
            ((*_shape(grey, np.roll(corners, -turn, axis=0), size), turn) for turn in (0, 1)),
            key=lambda shape: shape[0],
        )
        if best[0] <= _SHAPE:
            turn = best[2]
            found.append(Plain(best[1], edges[turn:] + edges[:turn], best[0]))
    return sorted(found, key=lambda plain: plain.misshape)


def _four_sided(grey: Floats) -> list[Floats]:
    """Corners (4, 2) in pixels of bright four-sided areas, counter-clockwise from lower left."""
    import cv2

    shrink = min(1.0, _SMALL / max(grey.shape))
    small = cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), 1.2)
    levels = [float(np.quantile(small, q)) for q in (0.5, 0.7, 0.8, 0.88, 0.94)]
    otsu, _ = cv2.threshold(small.astype(np.uint8), 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    found: list[Floats] = []
    for level in (float(otsu), *levels, 200.0, 215.0):
        bright = (small > level).astype(np.uint8)
        bright = cv2.morphologyEx(bright, cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8))
        outlines, _ = cv2.findContours(bright, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
        for outline in outlines:
            area = cv2.contourArea(outline)
            if area < _LEAST * small.size or area > 0.9 * small.size:
                continue
            corners = cv2.approxPolyDP(outline, 0.03 * cv2.arcLength(outline, True), True)
            if len(corners) != 4 or not cv2.isContourConvex(corners):
                continue
            if abs(cv2.contourArea(corners) / area - 1) > 0.06:
                continue
            ring = (corners[:, 0].astype(np.float64) + 0.5) / shrink - 0.5
            if cv2.contourArea(corners, True) > 0:
                ring = ring[::-1]
            ring = np.roll(ring, -int((ring[:, 0] - ring[:, 1]).argmin()), axis=0)
            inner = (ring > 4) & (ring < np.array(grey.shape[::-1]) - 5)
            if inner.all() and all(np.abs(ring - r).max() > 12 / shrink for r in found):
                found.append(ring)
    return found


def printed_at(grey: Floats, view: View, paper: Floats) -> float | None:
    """At what share of its size a sheet was printed, by the edges of its paper.

    `view` is as its marks have it, and `paper` (4, 2) its paper's corners in mm there. None where
    an edge is not seen, or the sheet's width and length do not say the same.
    """
    reach = _PRINTED * float(view.scale(paper).mean())
    edges = _edges(grey, view.pixels(paper), (reach, 6.0, 5.0))
    if edges is None:
        return None
    low, right, high, left = (view.plane(edge) for edge in edges)
    ways = paper[[1, 3]] - paper[0]
    sizes = np.hypot(*ways.T)
    wide = float((right.mean(axis=0) - left.mean(axis=0)) @ ways[0]) / sizes[0]
    tall = float((high.mean(axis=0) - low.mean(axis=0)) @ ways[1]) / sizes[1]
    shares = sizes / np.array([wide, tall])
    return float(shares.mean()) if np.ptp(shares) < _UNLIKE else None


def _edges(
    grey: Floats, corners: Floats, reaches: Sequence[float] = (14.0, 6.0, 5.0)
) -> list[Floats] | None:
    """Places along the four edges; None where an edge is not seen for most of its length."""
    share = np.linspace(_ENDS, 1 - _ENDS, _PLACES)
    found = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        places = a + share[:, None] * (b - a)
        # Into the bright sheet: corners run counter-clockwise as seen, and y runs down.
        normal = np.array([b[1] - a[1], a[0] - b[0]]) / np.hypot(*(b - a))
        normals = np.repeat(normal[None], len(share), axis=0)
        clear = np.ones(len(share), dtype=bool)
        for reach in reaches:
            offset, clear = edges_along(grey, places, normals, reach, beside=2)
            # An edge is gently curved at most: by the lens.
            bend = np.polynomial.Polynomial.fit(share[clear], offset[clear], 3) if (
                clear.sum() > _PLACES / 2) else None  # fmt: skip
            if bend is None:
                return None
            clear &= np.abs(offset - bend(share)) < 1.0
            if clear.sum() < _PLACES / 2:
                return None
            places = places + np.where(clear, offset, bend(share))[:, None] * normals
        found.append(places[clear])
    return found


def _shape(grey: Floats, corners: Floats, size: tuple[float, float]) -> tuple[float, View]:
    """How far four corners are off a sheet of that size, as a share, and the view then."""
    height, width = grey.shape
    half = np.array(size) / 2
    view = first_view(width, height, np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half, corners)
    return view.skew((0.8 * FOCAL, 0.9 * FOCAL, FOCAL, 1.15 * FOCAL)), view
