"""From the working outline of a piece to the outermost line that is drawn round it.

Where a piece has only one line the two are the same. Where it has a sewing line within a
cutting line, names, notches and the fold belong to the sewing line; here they are found on
the cutting line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from ..geometry.nearest import nearest
from .outline import Edge, Outline, Point, Run
from .piece import Piece


@lru_cache(maxsize=64)
def drawn_notches(piece: Piece) -> tuple[tuple[Edge, float], ...]:
    """The edge of `piece.drawn` that each notch falls on, and mm along it.

    On a cutting line the nearest point of that line is meant.
    """
    outline, cut = piece.outline, piece.cut_line
    spots = [notch.at for notch in piece.notches]
    if cut is None or not spots:
        return tuple((outline.edge_from(spot.start), spot.distance) for spot in spots)
    s = np.array([outline.arc_length_of(spot) for spot in spots])
    feet = nearest(cut.path, outline.path.at(s))
    return tuple(cut.edge_along(float(foot)) for foot in feet.s)


@lru_cache(maxsize=64)
def drawn_fold(piece: Piece) -> tuple[Edge, int | None, int | None] | None:
    """The edge of `piece.drawn` on the fold, with the corner numbers where the fold ends.

    A fold that ends between corners takes the corner where its edge ends. None without a
    fold.
    """
    if piece.fold is None:
        return None
    start, end = piece.fold.start, piece.fold.end
    outline = piece.outline
    if piece.cut_line is not None:
        a = float(outline.path.cumulative[start])
        middle = np.array([a + outline.run_length(Run(start, end)) / 2])
        foot = nearest(piece.cut_line.path, outline.path.at(middle))
        edge, _ = piece.cut_line.edge_along(float(foot.s[0]))
        return edge, edge.from_corner, edge.to_corner
    # Inside the fold, not at its start, where the edge before it ends.
    inside = float(outline.path.cumulative[start]) + outline.path.segment_lengths[start] / 2
    edge, _ = outline.edge_along(float(inside))
    before = (end - 1) % len(outline.path)
    last, _ = outline.edge_along(
        float(outline.path.cumulative[before]) + float(outline.path.segment_lengths[before]) / 2
    )
    first = outline.corner_number(start) or edge.from_corner
    return edge, first, outline.corner_number(end) or last.to_corner


def drawn_named(piece: Piece) -> Outline:
    """`piece.drawn` with the names and rules that the sewing line bears.

    They are carried over where both lines have the same number of corners and these match
    one to one in order; names on the cutting line itself stay.
    """
    sewn, cut = piece.outline, piece.cut_line
    if cut is None:
        return sewn
    to = _matching_corners(sewn, cut)
    if not to:
        return cut
    taken = {p.name for p in cut.points}
    for point in sewn.points:
        if point.vertex in to and point.name not in taken:
            cut = cut.with_point(to[point.vertex], name=point.name, rule=point.rule)
    there = {(r.start, r.end) for r in cut.runs} | {r.name for r in cut.runs}
    extra = [
        Run(to[r.start], to[r.end], r.name)
        for r in sewn.runs
        if r.name not in there and r.start in to and r.end in to
    ]
    extra = [r for r in extra if (r.start, r.end) not in there]
    return replace(cut, runs=(*cut.runs, *extra))


def drawn_sewn(piece: Piece, runs: Sequence[Run]) -> list[float]:
    """Lengths of runs of `piece.drawn` with the dart and pleat mouths within them closed, mm.

    On a cutting line a mouth lies between the places that are nearest to its ends.
    """
    cut = piece.cut_line
    if cut is None:
        return [piece.sewn_length(run) for run in runs]
    mouths = [(mouth.start, mouth.end) for mouth in piece.every_mouth]
    if not mouths:
        return [cut.run_length(run) for run in runs]
    total = cut.path.length
    ends = nearest(cut.path, piece.outline.path.vertices[np.array(mouths).ravel()]).s
    found = []
    for run in runs:
        length = cut.run_length(run)
        starts, stops = ((ends - cut.path.cumulative[run.start]) % total).reshape(-1, 2).T
        inside = (starts < stops) & (stops <= length + 1e-6) & (stops - starts < total / 2)
        found.append(length - float((stops - starts)[inside].sum()))
    return found


def named_points(piece: Piece) -> tuple[tuple[Point, float, float], ...]:
    """Named points that are no corner of `piece.drawn`, with their x and y in mm.

    Smooth points of the drawn line, then points that only the sewing line within it bears.
    """
    drawn = drawn_named(piece)
    found = [(p, drawn) for p in drawn.points if p.name and drawn.corner_number(p.vertex) is None]
    if piece.cut_line is not None:
        there = {p.name for p in drawn.points}
        sewn = piece.outline
        found += [(p, sewn) for p in sewn.points if p.name and p.name not in there]
    places = [(p, outline.vertex_at(p.vertex)) for p, outline in found]
    return tuple((p, float(at[0]), float(at[1])) for p, at in places)


def _matching_corners(a: Outline, b: Outline) -> dict[int, int]:
    """Corner vertex of `a` to corner vertex of `b`; empty unless all match in order."""
    n = len(a.corners)
    if n == 0 or n != len(b.corners):
        return {}
    p = a.path.vertices[list(a.corners)]
    q = b.path.vertices[list(b.corners)]
    apart = np.hypot(*(p[:, None] - q[None]).transpose(2, 0, 1))
    near = apart.argmin(axis=1)
    in_order = (near[0] + np.arange(n)) % n
    mutual = apart.argmin(axis=0)
    if not np.array_equal(near, in_order) or not np.array_equal(mutual[near], np.arange(n)):
        return {}
    return {v: b.corners[int(near[i])] for i, v in enumerate(a.corners)}
