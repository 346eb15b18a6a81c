"""Printed squares in a picture, put together to sheets of marks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ...errors import InputError
from ...geometry.types import Floats, Ints
from .marks import SHEETS, Sheet
from .profiles import edges_along, sampled

#: Smallest and largest square that is looked for, px (side).
_LEAST, _MOST = 9.0, 400.0
#: How many squares a sheet must show.
_ENOUGH = 14
#: What a sheet must score, as a share of its squares: about two thirds of them, and no others.
_SURE = 0.5
#: Middle distance of the squares, in sides, and how far off a neighbour may be, in distances.
_PITCH, _STRAY = 3.75, 0.2
#: Squares of one sheet are alike in how dark they are against their paper, by this factor.
_ALIKE = 1.6
#: More squares than this in a picture are a pattern.
_MOST_QUADS = 20_000
_STEPS = ((1, 0), (0, 1), (-1, 0), (0, -1))


@dataclass(frozen=True)
class Seen:
    """A sheet of marks in a picture: its squares' middles on the paper, mm, and in pixels."""

    sheet: Sheet
    places: Floats
    pixels: Floats


def find_sheets(grey: Floats) -> list[Seen]:
    """The sheets of marks in a picture (h, w), those with most squares first.

    Raises InputError where one is seen in a mirror.
    """
    quads, depths = _quads(grey)
    if len(quads) < _ENOUGH:
        return []
    found = []
    for members, nodes in _grids(quads, depths):
        known, mirrored = _known(nodes), _known(nodes * np.array([-1, 1]))
        if mirrored is not None and (known is None or mirrored[3] > known[3]):
            raise InputError(
                "this photo is mirrored: the sheet of marks in it is the wrong way round",
                cure="Mirror it back in a photo program; some front cameras mirror what they take.",
            )
        if known is None:
            continue
        sheet, own, kept, _ = known
        pixels, good = _middles(grey, quads[members[kept]])
        if good.sum() >= _ENOUGH:
            found.append(Seen(sheet, sheet.places(own[good]), pixels[good]))
    return sorted(found, key=lambda seen: -len(seen.places))


def _quads(grey: Floats) -> tuple[Floats, Floats]:
    """Corners (n, 4, 2) in pixels of dark four-sided shapes, counter-clockwise as seen, and how
    bright each is within, as a share of what is around it (n,)."""
    import cv2

    small = cv2.GaussianBlur(grey, (0, 0), 0.8).astype(np.uint8)
    around = (max(small.shape) // 14) | 1
    dark = cv2.adaptiveThreshold(
        small, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY_INV, around, 18
    )
    outlines, _ = cv2.findContours(dark, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    found: list[Any] = []
    for outline in outlines:
        if not 2.5 * _LEAST <= len(outline) <= 5 * _MOST:
            continue
        area = cv2.contourArea(outline)
        if area < 0.6 * _LEAST**2 or area < 0.03 * len(outline) ** 2:
            continue
        for share in (0.06, 0.04, 0.09):
            corners = cv2.approxPolyDP(outline, share * len(outline), True)
            if len(corners) == 4:
                break
        if len(corners) != 4 or not cv2.isContourConvex(corners):
            continue
        ring = corners[:, 0].astype(np.float64)
        if abs(cv2.contourArea(corners) / area - 1) > 0.25:
            continue
        found.append(ring if cv2.contourArea(corners, True) < 0 else ring[::-1])
        if len(found) > _MOST_QUADS:
            break
    quads = np.array(found).reshape(-1, 4, 2)
    if not len(quads):
        return quads, np.zeros(0)
    middles = quads.mean(axis=1, keepdims=True)
    sides = (quads + np.roll(quads, -1, axis=1)) / 2
    inside = sampled(grey, middles + 0.5 * (sides - middles))
    outside = sampled(grey, middles + 1.6 * (sides - middles))
    dark = inside.max(axis=1) + 25 < outside.min(axis=1)
    depths = (inside.mean(axis=1) + 5.0) / outside.mean(axis=1).clip(1.0)
    return quads[dark], depths[dark]


def _grids(quads: Floats, depths: Floats) -> list[tuple[Ints, Ints]]:
    """Squares that lie on one grid: their numbers, and columns and rows on it."""
    from scipy.spatial import cKDTree

    middles = quads.mean(axis=1)
    # Along the sides, as seen with y up: first to second corner, and second to third.
    a, b, c, d = quads.swapaxes(0, 1)
    along = np.stack([b - a + c - d, c - b + d - a], axis=1) / 2
    tree = cKDTree(middles)
    free = np.ones(len(quads), dtype=bool)
    grids = []
    for seed in range(len(quads)):
        if not free[seed]:
            continue
        node = {seed: (0, 0)}
        way = {seed: _PITCH * along[seed]}
        taken = {(0, 0)}
        queue = [seed]
        while queue:
            one = queue.pop(0)
            for i, j in _STEPS:
                to = (node[one][0] + i, node[one][1] + j)
                if to in taken:
                    continue
                step = i * way[one][0] + j * way[one][1]
                off, nearest = tree.query(middles[one] + step)
                other = int(nearest)
                if off > _STRAY * np.hypot(*step) or other in node or not free[other]:
                    continue
                if not 1 / _ALIKE < depths[other] / depths[one] < _ALIKE:
                    continue
                turned = _turned(along[other], way[one])
                if turned is None:
                    continue
                node[other] = to
                way[other] = 0.5 * way[one] + 0.5 * _PITCH * turned
                true, axis = middles[other] - middles[one], 0 if i else 1
                way[other][axis] = (i + j) * true
                taken.add(to)
                queue.append(other)
        if len(node) >= _ENOUGH:
            members = np.array(list(node))
            free[members] = False
            grids.append((members, np.array(list(node.values()))))
        else:
            free[seed] = False
    return grids


def _turned(along: Floats, way: Floats) -> Floats | None:
    """The sides of a square named as those of another (`way`); None where they do not fit."""
    for _ in range(4):
        fits = (along * way).sum(axis=1) / np.hypot(*way.T) ** 2 * _PITCH
        if (np.abs(fits - 1) < 0.45).all():
            return along
        along = np.stack([along[1], -along[0]])
    return None


def _known(nodes: Ints) -> tuple[Sheet, Ints, Any, float] | None:
    """Which sheet's squares these are: the sheet, their nodes on it, and which are its own,
    and the score."""
    scored = []
    for turn in range(4):
        turned = nodes
        for _ in range(turn):
            turned = np.stack([-turned[:, 1], turned[:, 0]], axis=1)
        low, high = turned.min(axis=0), turned.max(axis=0)
        for sheet in SHEETS:
            own = sheet.nodes
            there = {(int(i), int(j)) for i, j in own}
            room = own.max(axis=0) - (high - low)
            if (room < -1).any():
                continue
            for dx in range(min(0, int(room[0])), max(0, int(room[0])) + 1):
                for dy in range(min(0, int(room[1])), max(0, int(room[1])) + 1):
                    moved = turned - low + (dx, dy)
                    kept = np.array([(int(i), int(j)) in there for i, j in moved])
                    hits = int(kept.sum())
                    score = hits - 2.0 * (len(nodes) - hits) - 0.5 * (len(own) - hits)
                    scored.append((score, turn, dx, dy, sheet, moved[kept], kept))
    scored.sort(key=lambda item: -item[0])
    if not scored:
        return None
    best = scored[0]
    other = next((s for s in scored if s[1:4] != best[1:4] or s[4].paper != best[4].paper), None)
    # A chequered cloth has squares on a grid too, but not with a frame's empty middle.
    if best[0] < _SURE * len(best[4].nodes) or (other is not None and other[0] > best[0] - 1.0):
        return None
    return best[4], best[5], best[6], best[0]


def _middles(grey: Floats, quads: Floats) -> tuple[Floats, Any]:
    """Where the diagonals of squares cross, to parts of a pixel, and which were found well."""
    share = np.linspace(0.2, 0.8, 13)
    good = np.ones(len(quads), dtype=bool)
    for _ in range(2):
        ends = np.roll(quads, -1, axis=1)
        way = ends - quads
        size = np.hypot(way[..., 0], way[..., 1])
        # Outward of a counter-clockwise square; y runs down.
        normal = np.stack([-way[..., 1], way[..., 0]], axis=-1) / size[..., None]
        start = quads[:, :, None] + share[:, None] * way[:, :, None]
        normals = np.repeat(normal[:, :, None], len(share), axis=2)
        reach = float(np.clip(0.25 * np.median(size), 2.5, 8.0))
        offset, clear = edges_along(grey, start.reshape(-1, 2), normals.reshape(-1, 2), reach)
        places = start + offset.reshape(*start.shape[:3], 1) * normals
        lines = [
            [_line(p, c) for p, c in zip(ps, cs, strict=True)]
            for ps, cs in zip(places, clear.reshape(start.shape[:3]), strict=True)
        ]
        newer = quads.copy()
        for k, four in enumerate(lines):
            if any(line is None for line in four):
                good[k] = False
                continue
            for c in range(4):
                newer[k, c] = _crossing(four[c - 1], four[c])  # type: ignore[arg-type]
        good &= np.abs(newer - quads).max(axis=(1, 2)) < reach + 2.0
        quads = np.where(good[:, None, None], newer, quads)
    middles = np.array([
        _crossing((q[0], q[2] - q[0]), (q[1], q[3] - q[1])) for q in quads
    ]).reshape(-1, 2)  # fmt: skip
    return middles, good


def _line(places: Floats, clear: Any) -> tuple[Floats, Floats] | None:
    """A line through places (m, 2), a few of them left out; None where there are too few."""
    kept = places[clear]
    for _ in range(2):
        if len(kept) < 5:
            return None
        middle = kept.mean(axis=0)
        _, _, axes = np.linalg.svd(kept - middle)
        off = np.abs((kept - middle) @ axes[1])
        kept = kept[off <= max(3 * float(np.median(off)), 0.15)]
    return middle, axes[0]


def _crossing(a: tuple[Floats, Floats], b: tuple[Floats, Floats]) -> Floats:
    """Where two lines, each a place and a direction, cross."""
    (p, u), (q, v) = a, b
    turn = u[0] * v[1] - u[1] * v[0]
    d = q - p
    place: Floats = p + u * ((d[0] * v[1] - d[1] * v[0]) / (turn if abs(turn) > 1e-12 else 1e-12))
    return place
