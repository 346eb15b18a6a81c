"""Notches of a block: where on the outline they stand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from ...geometry.nearest import nearest, nearest_point
from ...model import Notch, NotchKind, Piece, Vec
from ..drawing.drafts import Draft
from .blocks_in import Block
from .layers import NOTCH_PITCH, NOTCHES
from .lines_in import ON_LINE

#: A notch farther than this from the boundary, in mm, belongs to nothing.
_REACH = 5.0
_PITCH_SLACK = 0.06


class _Cut(NamedTuple):
    kind: NotchKind
    depth: float
    s: float
    at: Vec


def notches_of(
    block: Block, piece: Piece, ruled: Sequence[tuple[Vec, str]], draft: Draft
) -> tuple[Notch, ...]:
    """The notches of a block on the outline of `piece`, `ruled` the rules at their places.

    Two or three of one kind and depth at a distance of 5 mm are one double or triple notch.
    """
    drawn = piece.drawn.path
    cuts: list[_Cut] = []
    found = [(k, *one) for layer, k in NOTCHES.items() for one in _places(block, layer, piece)]
    feet = nearest(drawn, np.array([at for _, at, _ in found]).reshape(-1, 2))
    for (kind, at, depth), s, off in zip(found, feet.s, feet.distance, strict=True):
        if off > _REACH:
            text = f"a notch is {off:.0f} mm from the boundary and was left out"
            draft.find("notch-nowhere", "warn", text, at=at)
        else:
            cuts.append(_Cut(kind, depth, float(s), at))
    groups = _groups(cuts, drawn.length)
    # Places count on from the first, also over the start of the line.
    along = [sum((c.s - g[0].s) % drawn.length for c in g) / len(g) for g in groups]
    middles = drawn.at(np.array([g[0].s for g in groups]) + along)
    places = nearest(piece.outline.path, middles).s.tolist()
    notches: list[Notch] = []
    for group, s in zip(groups, places, strict=True):
        rule = next((r for v, r in ruled for cut in group if _near(v, cut.at)), None)
        one = group[0]
        notches.append(Notch(piece.outline.spot(s), one.kind, one.depth, len(group), rule=rule))
    return tuple(notches)


def _places(block: Block, layer: int, piece: Piece) -> list[tuple[Vec, float]]:
    """Points of a layer with their depths; short lines count by their end at the boundary."""
    found = [*zip(block.points.get(layer, ()), block.depths.get(layer, ()), strict=True)]
    for path in block.paths.get(layer, []):
        ends = [(float(x), float(y)) for x, y in (path.start, path.end)]
        near = min(ends, key=lambda v: nearest_point(piece.drawn.path, v).distance)
        found.append((near, path.length))
    return found


def _groups(cuts: list[_Cut], total: float) -> list[list[_Cut]]:
    """Cuts one pitch apart on a closed line of `total` mm, together: three at most."""

    def follows(cut: _Cut, last: _Cut) -> bool:
        step = (cut.s - last.s) % total
        alike = cut.kind == last.kind and abs(cut.depth - last.depth) < 0.01
        return alike and abs(step - NOTCH_PITCH) <= _PITCH_SLACK

    out: list[list[_Cut]] = []
    left = sorted(cuts, key=lambda c: (c.kind, c.s))
    while left:
        # Begin at a cut that none goes before, so that no group is broken at the line's start.
        first = next((c for c in left if not any(follows(c, o) for o in left)), left[0])
        group = [first]
        left.remove(first)
        while len(group) < 3:
            onward = next((c for c in left if follows(c, group[-1])), None)
            if onward is None:
                break
            group.append(onward)
            left.remove(onward)
        out.append(group)
    return sorted(out, key=lambda g: (g[0].kind, g[0].s))


def _near(a: Vec, b: Vec) -> bool:
    return bool(np.hypot(a[0] - b[0], a[1] - b[1]) <= ON_LINE)
