"""How sure an outline is, place by place: by the paper's own colour beside it, and by its shape."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from ...geometry.types import Bools, Floats, Ints
from .profiles import sampled

#: The paper's own colour is seen so far within an outline, and its edge looked for so far inwards
#: and outwards, mm; each so far apart.
_OWN, _INWARDS, _OUTWARDS, _STEP = (2.5, 8.0), 16.0, 6.0, 0.25
#: Along an outline colours are evened out over so much on either side, mm: the paper's own, others.
_ALONG, _BESIDE = 12.0, 1.0
#: What differs from the paper's own colour by this share of what its ground does is not of it, and
#: by no less and need be no more (of 255) either.
_ALIKE, _LEAST, _MOST = 0.35, 7.0, 40.0
#: Shares of blue, green and red differ by more than this on what is no paper.
_HUE = 0.02
#: An edge has so much paper within it, and so much ground without, mm: a printed line is narrower.
_PAPER, _GROUND = 1.0, 2.0
#: What rises or falls by more than this share of half its width is a spur or a bite, from where it
#: rises by that; and shapes are told by that.
_RISES, _FROM, _ROUGH = 0.1, 0.03, 0.01
#: Two sides meet in a corner, not by chance, at more than this (sine), and are no longer by that.
_CORNER, _LONGER = 0.3, 2.0


def walked(part: Any, line: Floats, normals: Floats, fine: float, *, hole: bool) -> Floats:
    """How far out of a closed line (n, 2) the paper ends, mm; nan where that cannot be seen.

    `normals` point outwards, `part` is the picture, of `fine` pixels a mm. From the line inwards
    to what has the paper's own colour, or outwards as far as all has it.
    """
    import cv2
    from scipy.ndimage import uniform_filter1d

    area = np.zeros(part.shape[:2], np.uint8)
    cv2.fillPoly(area, [np.rint(line).astype(np.int32)], 1)
    if hole:
        area, normals = 1 - area, -normals
    deep = cv2.distanceTransform(area, cv2.DIST_L2, 3) / fine
    depths = np.arange(-_INWARDS, _OUTWARDS + _STEP / 2, _STEP)
    places = line[:, None] + (depths * fine)[:, None] * normals[:, None]
    seen = np.stack(
        [sampled(np.ascontiguousarray(part[..., k]), places) for k in range(3)], axis=-1
    )
    apart = float(np.hypot(*(np.roll(line, -1, axis=0) - line).T).mean()) / fine
    within: Any = sampled(deep, places) > 0.7 * -depths
    own = within & (-depths > _OWN[0]) & (-depths < _OWN[1])
    at = np.flatnonzero(own.any(axis=1))
    paper = np.nanmedian(np.where(own[at, :, None], seen[at], np.nan), axis=1)
    # Light makes paper brighter or darker, and leaves its colour.
    hue = paper / paper.sum(axis=1, keepdims=True).clip(1.0)
    same = np.abs(hue - np.median(hue, axis=0)).max(axis=1) < _HUE
    if not same.any():
        return np.full(len(line), np.nan)
    every = np.arange(len(line))
    paper = np.stack(
        [np.interp(every, at[same], v[same], period=len(line)) for v in paper.T], axis=1
    )
    paper = uniform_filter1d(paper, 2 * round(_ALONG / apart) + 1, axis=0, mode="wrap")
    off = np.sqrt(((seen - paper[:, None]) ** 2).sum(axis=-1))
    off = uniform_filter1d(off, 2 * round(_BESIDE / apart) + 1, axis=0, mode="wrap")
    ground = float(np.median(off[:, (depths > 1.0) & (depths < 4.0)]))
    other = off > np.clip(_ALIKE * ground, _LEAST, _MOST)
    here = int(np.abs(depths).argmin())
    many = round(_PAPER / _STEP)
    # Inwards: the first place with paper only, `many` steps deep, within it.
    only: Any = ~sliding_window_view(other, many, axis=1).any(axis=2)
    inwards = only[:, : here + 1][:, ::-1]
    ends = np.where(inwards.any(axis=1), here + 1 - inwards.argmax(axis=1), 0) + many - 1
    # Outwards from there: the last place before anything else.
    wide = round(_GROUND / _STEP)
    beyond = np.zeros_like(other)
    beyond[:, : 1 - wide] = sliding_window_view(other, wide, axis=1).all(axis=2)
    beyond &= np.arange(len(depths)) >= ends[:, None]
    first = beyond.argmax(axis=1)
    known = inwards.any(axis=1) & beyond.any(axis=1)
    return np.where(known, (depths[first] - _STEP / 2) * (-1 if hole else 1), np.nan)


def odd(line: Floats, narrow: float) -> Bools:
    """Where a closed line (n, 2) goes out and back, or in and back, within twice `narrow`.

    Corners of 12 degrees and more are none.
    """
    import shapely

    area = whole(line).simplify(_ROUGH * narrow)
    points = shapely.points(line)
    found = np.zeros(len(line), dtype=bool)
    for way in (-narrow, narrow):
        shape = area
        for by in (way, -way):
            shape = shape.buffer(by, join_style="mitre", mitre_limit=10.0)
        far = shapely.distance(shape.boundary, points) / narrow
        far[shapely.contains(shape, points) != (way > 0)] = 0.0
        for there in _runs(far > _FROM):
            found[there] |= far[there].max() > _RISES
    return found


def _runs(marked: Bools) -> list[Ints]:
    """The numbers of the places in each run of marked ones along a closed line."""
    if marked.all():
        return [np.arange(len(marked))]
    start = int(marked.argmin())
    edges = np.flatnonzero(np.diff(np.append(np.roll(marked, -start), False).astype(int)))
    return [(np.arange(a + 1, b + 1) + start) % len(marked) for a, b in edges.reshape(-1, 2)]


def whole(line: Floats) -> Any:
    """The largest area within a closed line that may cross itself."""
    import shapely

    areas = shapely.get_parts(shapely.make_valid(shapely.Polygon(line)))
    return max(areas, key=lambda area: float(area.area))


def bridged(line: Floats, left_out: Bools, arm: int) -> Floats:
    """A closed line without some of its places: on from both sides to where they meet, or else
    straight across. The sides run as `arm` places before them do."""
    size = len(line)
    if (~left_out).sum() < 4 * arm:
        return line
    met = {}
    for there in _runs(left_out):
        before = line[(there[0] - 1 - np.arange(arm)) % size]
        after = line[(there[-1] + 1 + np.arange(arm)) % size]
        p, q = before[0], after[0]
        u, v = (
            (p - before[-1]) / np.hypot(*(p - before[-1])),
            (q - after[-1]) / np.hypot(*(q - after[-1])),
        )
        sine = float(u[0] * v[1] - u[1] * v[0])
        if abs(sine) > _CORNER:
            s, t = (float((q - p)[0] * w[1] - (q - p)[1] * w[0]) / sine for w in (v, u))
            if min(s, t) > 0 and s + t < _LONGER * float(np.hypot(*(q - p))):
                met[int(there[0])] = p + s * u
    left_out = left_out.copy()
    line = line.copy()
    for first, place in met.items():
        line[first], left_out[first] = place, False
    return line[~left_out]
