"""Pieces that have come to lie over each other, moved apart."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from ..findings import Finding
from ..geometry import affine
from ..geometry.flatten import flatten
from ..units import format_length
from .pixels import Taken, mask_of, runs_of

if TYPE_CHECKING:
    from ..model import Pattern

# Shapes that reach into each other by no more than this, mm, touch; chords leave out less.
_TOUCH, _CHORD = 0.1, 0.05
# Steps in which a piece is moved, mm, and about how many of them a sheet has at most.
_STEP, _STEPS = 5.0, 600


def overlapping(areas: Sequence[Any]) -> list[tuple[int, int]]:
    """Which shapely areas reach into each other by more than 0.1 mm: pairs of their indices."""
    from shapely import STRtree

    inner = [area.buffer(-_TOUCH) for area in areas]
    first, second = STRtree(inner).query(np.array(areas, dtype=object), "intersects")
    return sorted((int(a), int(b)) for a, b in zip(first, second, strict=True) if a < b)


def spread_apart(
    pattern: Pattern, before: Pattern | None = None, gap: float = 20.0
) -> tuple[Pattern, list[Finding]]:
    """The pattern with no piece over another, and a note for each piece that was moved.

    All sizes of a piece count as one shape and move alike, so that a nest stays one. Pieces
    that lie over each other in the pattern `before` were drawn so: they are left so, and
    move together. A piece moves as little as it can to where it is `gap` mm from all
    others, in steps of 5 mm (more where pieces are scattered over more than 3 m); of those
    that lie over each other, the one that lies over most moves first. All others stay.
    """
    from shapely import union_all
    from shapely.affinity import translate

    if not _boxes_meet(pattern):
        return pattern, []
    areas = _areas(pattern)
    blocks = _together(list(areas), _areas(before) if before else {})
    lying = [union_all([areas[name] for name in block]) for block in blocks]
    moves: dict[str, tuple[float, float]] = {}
    findings = []
    while pairs := overlapping(lying):
        count = np.bincount(np.ravel(pairs), minlength=len(lying))
        k = max(range(len(lying)), key=lambda i: (count[i], -lying[i].area, i))
        over = ", ".join(f'"{blocks[a + b - k][0]}"' for a, b in pairs if k in (a, b))
        dx, dy = _nearest(lying[k], union_all(lying[:k] + lying[k + 1 :]), gap)
        lying[k] = translate(lying[k], dx, dy)
        for name in blocks[k]:
            moves[name] = (dx, dy)
            far = format_length(float(np.hypot(dx, dy)))
            text = f"it had come to lie over {over}, and was moved aside by {far}"
            findings.append(Finding("piece-moved", "note", text, name))
    shifts = {name: affine.translation(*move) for name, move in moves.items()}
    moved = pattern.replacing(lambda p: p.transformed(shifts[p.name]) if p.name in shifts else p)
    return moved, findings


def _boxes_meet(pattern: Pattern) -> bool:
    """Whether the boxes of two pieces do; mostly they do not, which is soon found."""
    boxes = [(piece.name, piece.bounds) for piece in pattern.pieces]
    return any(
        a != b and x[0] < y[2] and y[0] < x[2] and x[1] < y[3] and y[1] < x[3]
        for (a, x), (b, y) in combinations(boxes, 2)
    )


def _areas(pattern: Pattern) -> dict[str, Any]:
    """What each piece covers in all its sizes, as shapely geometries by name."""
    from shapely import Polygon, union_all

    found: dict[str, list[Any]] = {}
    for piece in pattern.pieces:
        area = Polygon(flatten(piece.drawn.path, _CHORD)).buffer(0)
        found.setdefault(piece.name, []).append(area)
    return {name: union_all(parts) for name, parts in found.items()}


def _together(names: Sequence[str], drawn: Mapping[str, Any]) -> list[list[str]]:
    """The names in groups of those that lie over each other, one over the next, in `drawn`."""
    kept = [name for name in names if name in drawn]
    group = {name: [name] for name in names}
    for a, b in overlapping([drawn[name] for name in kept]):
        first, second = group[kept[a]], group[kept[b]]
        if first is not second:
            first += second
            group |= dict.fromkeys(second, first)
    return [group[name] for name in names if group[name][0] == name]


def _nearest(area: Any, others: Any, gap: float) -> tuple[float, float]:
    """The least move (dx, dy), mm, that brings an area to lie `gap` from all others."""
    x0, y0, x1, y1 = area.bounds
    wide, tall = x1 - x0, y1 - y0
    a, b, c, d = others.buffer(gap).union(area).bounds
    step = max(_STEP, max(c - a + 2 * wide, d - b + 2 * tall) / _STEPS)
    # Pixels left of the area and below it; the sheet has room for it beyond all others.
    left, low = math.ceil((x0 - a + wide) / step) + 1, math.ceil((y0 - b + tall) / step) + 1
    right, high = math.ceil((c - x0 + wide) / step) + 2, math.ceil((d - y0 + tall) / step) + 2
    corner, pixel = (x0 - left * step, y0 - low * step), (step, step)
    size = low + high, left + right
    taken = Taken(*size)
    taken.put(mask_of(others.buffer(gap), corner, pixel, size), 0, 0)
    own = mask_of(area, (x0, y0), pixel, (math.ceil(tall / step) + 1, math.ceil(wide / step) + 1))
    free = taken.free(own.shape, runs_of(own))
    up, across = (np.argwhere(free) - (low, left)).T
    # Of two that are as near, the one further up, then further to the right.
    k = np.lexsort((-across, -up, up**2 + across**2))[0]
    return float(across[k] * step), float(up[k] * step)
