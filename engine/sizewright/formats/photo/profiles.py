"""Edges in a picture, found between pixels by profiles across them."""

from __future__ import annotations

import numpy as np

from ...geometry.types import Bools, Floats

#: Places on a profile, and parallel profiles, each so far apart, px.
_STEP = 0.5
#: Of a profile's steepest rise so much counts as the edge's.
_FOOT = 0.25
#: The edge lies within so much of the steepest place, px.
_HALF = 2.5


def sampled(grey: Floats, places: Floats) -> Floats:
    """Values of a picture (h, w) at places (..., 2) in pixels, x before y, between pixels too."""
    import cv2

    flat = np.ascontiguousarray(places.reshape(-1, 2), dtype=np.float32)
    # No more columns than the library's limit of a picture.
    wide = 4096
    rows = -(-len(flat) // wide)
    padded = np.zeros((rows * wide, 2), dtype=np.float32)
    padded[: len(flat)] = flat
    grid = padded.reshape(rows, wide, 2)
    found = cv2.remap(
        grey, grid[..., 0], grid[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    values: Floats = found.reshape(-1)[: len(flat)].reshape(places.shape[:-1])
    return values


def edges_along(
    grey: Floats, places: Floats, normals: Floats, reach: float, *, beside: int = 1
) -> tuple[Floats, Bools]:
    """How far along unit `normals` from each place (n, 2) the picture rises most steeply, px.

    Looked at within `reach` on either side, over 2 `beside` + 1 parallel profiles a pixel
    apart. The second result tells where an edge was found that stands clear of both ends.
    """
    t = np.arange(-reach, reach + _STEP / 2, _STEP)
    tangents = np.stack([-normals[:, 1], normals[:, 0]], axis=1)
    values = np.zeros((len(places), len(t)))
    for aside in range(-beside, beside + 1):
        start = places + aside * tangents
        values += sampled(grey, start[:, None] + t[:, None] * normals[:, None])
    rise = np.maximum(np.diff(values, axis=1), 0.0)
    middle = (t[:-1] + t[1:]) / 2
    # The steepest place is sought in the rise over about a pixel: single pixels are noisy.
    padded = np.pad(rise, ((0, 0), (1, 1)))
    broad = padded[:, :-2] + 2 * padded[:, 1:-1] + padded[:, 2:]
    top = broad.argmax(axis=1)
    peak = np.take_along_axis(broad, top[:, None], axis=1) / 4
    near = np.abs(middle - middle[top][:, None]) <= _HALF
    weight = np.where(near, np.maximum(rise - _FOOT * peak, 0.0), 0.0)
    total = weight.sum(axis=1)
    offset = (weight * middle).sum(axis=1) / np.where(total > 0, total, 1.0)
    clear = (np.abs(middle[top]) < reach - _HALF / 2) & (total > 0)
    return offset, clear
