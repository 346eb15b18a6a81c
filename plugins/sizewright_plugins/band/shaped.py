"""Bands with a curve: the edge as it is sewn and its parallel outside, or a part of a ring."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sizewright.drafting import inner_parallel
from sizewright.errors import GeometryError, SizewrightError
from sizewright.geometry import Floats, Path, affine, circular_arc, crossings
from sizewright.model import ChainPart, Outline, Pattern, Point, Run, run_ends
from sizewright.units import both

from ..facing.laid import Edge, edge_seams, joined_all, laid_edge

#: The lower edge and the edges as they are sewn are of one length within this, mm.
_ALIKE = 0.01
#: A ring of less angle, in radians, is straight.
_LEVEL = 1e-6
_OVER: Floats = affine.mirror(np.zeros(2), np.array([0.0, 1.0]))


def laid_half(pattern: Pattern, chain: Sequence[ChainPart], size: str | None) -> Path:
    """The edges of one half laid together as they are sewn, from the middle to the opening.

    The middle is at (0, 0), where the edge goes to the right; the band lies on its left.
    Raises GeometryError where no seam joins the edges.
    """
    pieces = {part.piece: pattern.piece(part.piece, size) for part in chain}
    runs: dict[str, list[Run]] = {name: [] for name in pieces}
    for part in chain:
        runs[part.piece].append(pieces[part.piece].run(part.run))
    edges = [laid_edge(pieces[name], runs[name]) for name in runs]
    edge = joined_all(edges, edge_seams(pattern))
    # Counter-clockwise the pieces lie on the left, so walked back the band does.
    path = edge.path.reversed()
    if _begins(chain[0], edge):
        path = path.transformed(_OVER).reversed()
    way = path.tangents(0.0)
    turn = affine.rotation(-float(np.degrees(np.arctan2(way[1], way[0]))))
    x, y = path.start
    path = path.transformed(affine.compose(turn, affine.translation(-float(x), -float(y))))
    controls = path.controls.copy()
    controls[0, 0] = 0.0
    return path.with_controls(controls)


def _begins(first: ChainPart, edge: Edge) -> bool:
    """Whether the edge, counter-clockwise, begins at the middle."""
    one, last = edge.stretches[0], edge.stretches[-1]
    if one.piece.name != last.piece.name:
        return one.piece.name == first.piece
    piece = one.piece
    start, end = run_ends(piece, piece.run(first.run))
    middle = (end if first.reverse else start) % len(piece.outline.path)
    _, vertex, _ = edge.end_segment(end=False)
    return vertex == middle


def ring_edges(lower: float, upper: float, height: float) -> tuple[Path, Path]:
    """The edges of half a band that is part of a ring, from the middle, mm: as long as told,
    `height` apart, square to the ends."""
    angle = (lower - upper) / height
    if abs(angle) < _LEVEL:
        return _level(lower, 0.0), _level(upper, height)
    # The centre lies on the side of the shorter edge.
    up, turn = (1.0, 270.0) if angle > 0 else (-1.0, 90.0)
    radii = lower / abs(angle), upper / abs(angle)
    centre, end = (0.0, up * radii[0]), turn + float(np.degrees(angle))
    low, high = (Path.of(circular_arc(centre, r, turn, end), closed=False) for r in radii)
    return low, high


def _level(long: float, y: float) -> Path:
    return Path.polyline([(0.0, y), (long, y)])


def parallel_edges(lower: Path, height: float, long: float, where: str) -> tuple[Path, Path]:
    """The edges of half a band on `lower`, from the middle.

    `long`: how long the edges are as sewn, mm. Raises GeometryError where the band is too high
    for the curve, or the edges are gathered.
    """
    if abs(lower.length - long) > _ALIKE:
        raise GeometryError(
            f"its edges are {both(lower.length)} long and sewn to {both(long)}, and what is "
            "gathered has no curve of its own",
            where=where,
            cure="Leave shaped out.",
        )
    try:
        upper = inner_parallel(lower, height)
    except SizewrightError as error:
        raise GeometryError(
            f"{both(height)} are too high for the curve of its edge",
            where=where,
            cure="Take a smaller height, or leave shaped out.",
        ) from error
    # The upper edge ends over the middle, whatever rounding left.
    controls = upper.controls.copy()
    controls[0, 0] = (0.0, height)
    return lower, upper.with_controls(controls)


def shaped_outline(
    edges: tuple[Path, Path], laps: tuple[float, float], *, on_fold: bool, sewn_above: bool
) -> Outline:
    """The outline of a band of which half has these edges, half of it or whole, with what laps
    at its right and left end, mm, and its points and runs as those of a straight one.

    `sewn_above`: whether its upper edge is sewn, and stops where the lower one does."""
    lower, upper = edges
    right, left = laps
    sides = [_lapped(lower, right), _lapped(upper, right)]
    if not on_fold:
        mirrored = [_lapped(path, left).transformed(_OVER).reversed() for path in (lower, upper)]
        sides = [Path.join([m, s]) for m, s in zip(mirrored, sides, strict=True)]
    low, high = sides
    n, m = len(low), len(high)
    path = Path.ringed([low, high.reversed()])
    start = "middle" if on_fold else "left"
    names = {
        0: f"lower-{start}",
        n: "lower-right",
        n + 1: "upper-right",
        n + 1 + m: f"upper-{start}",
    }
    first, last = 0, n
    if right:
        last = n - 1
        names[last] = "end-right"
    if left and not on_fold:
        first = 1
        names[first] = "end-left"
    above = [n + 1, n + 1 + m]
    if right and sewn_above:
        above[0] += 1
        names[above[0]] = "upper-end-right"
    if left and sewn_above and not on_fold:
        above[1] -= 1
        names[above[1]] = "upper-end-left"
    runs = [Run(first, last, "lower"), Run(n, n + 1, "end"), Run(above[0], above[1], "upper")]
    if not on_fold:
        runs.append(Run(n + 1 + m, 0, "start"))
    points = [Point(vertex, name) for vertex, name in sorted(names.items())]
    return Outline.of(path, points=points, runs=runs)


def level_room(outline: Outline, height: float) -> tuple[float, float, float, float]:
    """What lies level beside the middle of a shaped band, as a box (x0, y0, x1, y1), mm."""
    x0, _, x1, _ = outline.path.bounds
    level = Path.polyline([(x0 - 1.0, height / 2), (x1 + 1.0, height / 2)])
    met = [float(level.at(cross.s0)[0]) for cross in crossings(level, outline.path)]
    # Half a band begins at its middle.
    left = max((x for x in met if x < -1e-6), default=0.0)
    return left, 0.0, min(x for x in met if x > 1e-6), height


def _lapped(path: Path, lap: float) -> Path:
    if not lap:
        return path
    way = path.tangents(path.length)
    return Path.join([path, Path.polyline([path.end, path.end + way * lap])])
