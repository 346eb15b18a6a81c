"""A piece's outline set in by an even allowance, with its names kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ..errors import GeometryError
from ..geometry.crossings import crossings
from ..geometry.nearest import nearest
from ..geometry.offset import parallel
from ..geometry.path import SNAP, Path
from ..geometry.types import Floats
from ..model.features import Notch
from ..model.outline import Edge, Outline, Spot, vertices_between
from ..model.piece import Piece

#: Two edges are run on along their end tangents by this many allowances to make them meet.
_REACH = 6.0
#: Accuracy of the parallel, mm.
_TOLERANCE = 0.01
_SAME = 1e-6


class _Side(NamedTuple):
    """One edge set in: its path, and old vertices with their points on it."""

    edge: Edge
    path: Path
    kept: tuple[tuple[int, Floats], ...]


def inset(piece: Piece, allowance: float) -> Piece:
    """The piece with `allowance` mm taken off a cutting line, as a sewing line.

    Nothing is taken off on the fold. Corners are where the neighbouring sewing lines
    meet; points, runs, darts and notches go to the same places of them. Raises
    GeometryError where the allowance leaves no outline or loses a marked point.
    """
    outline = piece.outline
    try:
        sides = [_side(piece, edge, allowance) for edge in outline.edges]
        if len(outline.corners) > 0:
            path, places = _joined(sides, allowance)
        else:
            path, places = sides[0].path, dict(sides[0].kept)
        if path.area <= 0:
            raise GeometryError("nothing is left of it")
    except GeometryError as error:
        raise GeometryError(
            f"an allowance of {allowance:g} mm cannot be taken off: {error.what}",
            where=piece.title,
            cure="Check the allowance, or draw the sewing line.",
        ) from None
    numbers = _numbers(path, places)

    def to(vertex: int) -> int:
        if vertex not in numbers:
            name = outline.point(vertex).name or f"vertex {vertex}"
            raise GeometryError(
                f"the point {name} is lost when an allowance of {allowance:g} mm is taken off",
                where=piece.title,
                cure="Draw the sewing line.",
            )
        return numbers[vertex]

    fresh = outline.renumbered(path, to)
    sewn = piece.renumbered(fresh, to)
    notches = tuple(_carried(outline, fresh, x, to(x.at.start)) for x in piece.notches)
    step = f"allowance of {allowance:g} mm taken off"
    sewn = replace(sewn, kind="sew", allowance=None, notches=notches)
    return sewn.with_changes(step)


def _side(piece: Piece, edge: Edge, allowance: float) -> _Side:
    outline, n = piece.outline, len(piece.outline.path)
    chain = vertices_between(edge.start, edge.end, n)
    if len(outline.corners) < 2:
        chain = [(edge.start + k) % n for k in range(n + 1)]
    path = outline.path if not outline.corners else outline.path.segments(edge.start, edge.end)
    on_fold = set()
    if piece.fold is not None:
        on_fold = set(vertices_between(piece.fold.start, piece.fold.end, n)[:-1])
    if on_fold and set(chain[:-1]) <= on_fold:
        return _Side(edge, path, tuple(zip(chain, path.vertices, strict=True)))
    found = parallel(path, -allowance, _TOLERANCE)
    vertices = found.path.vertices
    pairs = zip(chain[: len(found.vertex_map)], found.vertex_map, strict=True)
    kept = [(v, vertices[int(k) % len(vertices)]) for v, k in pairs if k >= 0]
    return _Side(edge, found.path, tuple(kept))


def _joined(sides: Sequence[_Side], allowance: float) -> tuple[Path, dict[int, Floats]]:
    """All sides cut to where they meet; and the places of old vertices on the whole."""
    reach = _REACH * allowance
    long = [_run_on(side.path, reach) for side in sides]
    count = len(sides)
    starts, ends = np.zeros(count), np.zeros(count)
    places: dict[int, Floats] = {}
    for k in range(count):
        after = (k + 1) % count
        s0, s1, point = _meeting(long[k], long[after], sides[k].path, reach)
        ends[k], starts[after] = s0, s1
        places[sides[after].edge.start] = point
    parts = []
    for k, side in enumerate(sides):
        if ends[k] - starts[k] <= SNAP:
            name = side.edge.name or f"#{side.edge.number}"
            raise GeometryError(f"nothing is left of the edge {name}")
        parts.append(_merged(long[k].part(float(starts[k]), float(ends[k]))))
        for v, point in side.kept:
            if v not in (side.edge.start, side.edge.end):
                places[v] = point
    return Path.join(parts, closed=True), places


def _run_on(path: Path, reach: float) -> Path:
    """The path with its end tangents run on straight by `reach` mm at both ends."""
    before, after = path.tangents_out[0], path.tangents_in[-1]
    return Path.join(
        [
            Path.polyline([path.start - reach * before, path.start]),
            path,
            Path.polyline([path.end, path.end + reach * after]),
        ]
    )


def _meeting(a: Path, b: Path, own: Path, reach: float) -> tuple[float, float, Floats]:
    """Where the end of one side meets the start of the next: arc lengths on both, and the point."""
    corner_a, corner_b = reach + own.length, reach
    found = crossings(a, b, _SAME)
    if not found:
        x, y = own.end
        raise GeometryError(f"its sides do not meet near {x:.1f}, {y:.1f} mm")
    best = min(found, key=lambda c: abs(c.s0 - corner_a) + abs(c.s1 - corner_b))
    s0, s1 = best.s0, best.s1
    if best.kind == "overlap":
        s0, s1 = corner_a, corner_b
    return s0, s1, a.at(np.array(s0))


def _merged(path: Path) -> Path:
    """Without the vertices inside a straight stretch at either end."""
    controls, lines = path.controls, path.lines
    for first in (True, False):
        pair = (0, 1) if first else (len(controls) - 2, len(controls) - 1)
        if len(controls) < 2 or not (lines[pair[0]] and lines[pair[1]]):
            continue
        turn = Path(controls, lines, False).turns[pair[1]]
        if abs(turn) > 1e-6:
            continue
        one = Path.polyline([controls[pair[0], 0], controls[pair[1], 3]]).controls
        controls = np.concatenate([controls[: pair[0]], one, controls[pair[1] + 1 :]])
        lines = np.delete(lines, pair[1])
    return Path(controls, lines, False)


def _numbers(path: Path, places: dict[int, Floats]) -> dict[int, int]:
    """New vertex number of each old vertex by its place."""
    numbers = {}
    for old, place in places.items():
        away = np.hypot(*(path.vertices - place).T)
        k = int(away.argmin())
        if away[k] <= 10 * _SAME:
            numbers[old] = k
    return numbers


def _carried(before: Outline, after: Outline, notch: Notch, start: int) -> Notch:
    """A notch at the nearest place of the same edge set in."""
    point = before.path.at(np.array([before.arc_length_of(notch.at)]))
    edge = after.edge_from(start)
    foot = nearest(after.path.segments(edge.start, edge.end), point)
    return replace(notch, at=Spot(start, float(foot.s[0])))
