"""Cutting a piece in two along a line."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..errors import GeometryError, LookupFailed
from ..geometry.crossings import crossings
from ..geometry.nearest import nearest
from ..geometry.path import Path
from ..geometry.regions import contains
from ..model.piece import Piece
from .ring import Line, Ring, Span, Zone

#: An end of a cutting line lies on the outline within this, mm; so near to a vertex it is that.
_ON = 0.01


def divide(
    piece: Piece, line: Path, parts: Mapping[str, str], *, seam: str, step: str
) -> dict[str, Ring]:
    """The rings of both parts of a piece that is cut along `line`, for `redraft`.

    `line` is an open path from one place of the outline to another, within the piece.
    `parts` names each new piece by a point that lies on it (`{"yoke": "neck-side"}`); a part
    that is not named is dropped. The new edges are called `seam`. Raises GeometryError where
    the line does not begin and end on the outline or leaves the piece between, LookupFailed
    for a point that is not there.

    >>> from sizewright.drafting import redraft
    >>> from sizewright.formats import read_svg
    >>> from sizewright.shipped import shipped
    >>> pattern = read_svg(shipped("examples/patch-pocket.svg")).pattern
    >>> def cut(pieces, settled):
    ...     x0, y0, x1, y1 = pieces["pocket"].bounds
    ...     level = Path.polyline([(x0, y1 - 30), (x1, y1 - 30)])
    ...     parts = {"flap": "#3", "pocket": "tip"}
    ...     return divide(pieces["pocket"], level, parts, seam="flap", step="cut off a flap")
    >>> new = redraft(pattern, ["pocket"], cut).pattern
    >>> [(piece.name, round(piece.area)) for piece in new.pieces]
    [('flap', 4200), ('pocket', 16100)]
    >>> sorted(run.name for run in new.piece("flap").outline.runs)
    ['flap', 'top']
    """
    for at in (line.start, line.end):
        piece, _ = _vertex_at(piece, at)
    # Numbers as they are with both in.
    a, b = (_vertex_at(piece, at)[1] for at in (line.start, line.end))
    path = piece.outline.path
    if a == b:
        raise GeometryError("the line begins and ends at one place", where=piece.title)
    # The vertices have the last word on where the line ends.
    controls = line.controls.copy()
    controls[0, 0], controls[-1, 3] = path.vertices[a], path.vertices[b]
    line = line.with_controls(controls)
    _check_within(piece, line)
    sides = (
        (a, b, Line(line.reversed(), seam)),
        (b, a, Line(line, seam)),
    )
    rings: dict[str, Ring] = {}
    for name, point in parts.items():
        vertex = piece.outline.vertex(point)
        on = [side for side in sides if _between(vertex, side[0], side[1], len(path))]
        if len(on) != 1:
            raise GeometryError(
                f'"{point}" lies on the cut itself, so it names no part',
                where=piece.title,
                cure="Name each part by a point that lies on it alone.",
            )
        start, end, cut = on[0]
        region = Path.join([path.segments(start, end), cut.path], closed=True)
        rings[name] = Ring([Span(Zone(piece, region=region), start, end), cut], step)
    if len({ring.spans[0].start for ring in rings.values()}) < len(rings):
        raise LookupFailed(
            f"{' and '.join(parts)} name the same part",
            where=piece.title,
            cure="Name each part by a point of its own.",
        )
    return rings


def _between(vertex: int, start: int, end: int, n: int) -> bool:
    """Whether a vertex lies within a stretch, its ends left out."""
    return 0 < (vertex - start) % n < (end - start) % n


def _vertex_at(piece: Piece, at: np.ndarray) -> tuple[Piece, int]:
    """The piece with a vertex at a point on its outline, and its number."""
    path = piece.outline.path
    off = np.hypot(*(path.vertices - at).T)
    if float(off.min()) <= _ON:
        return piece, int(off.argmin())
    foot = nearest(path, at[None])
    if float(foot.distance[0]) > _ON:
        raise GeometryError(
            f"the line ends {float(foot.distance[0]):.2f} mm off the outline "
            f"near ({at[0]:.0f}, {at[1]:.0f})",
            where=piece.title,
            cure="Let it begin and end on the outline.",
        )
    piece, point = piece.with_vertex(float(foot.s[0]))
    return piece, point.vertex


def _check_within(piece: Piece, line: Path) -> None:
    path = piece.outline.path
    for cross in crossings(line, path):
        if _ON < cross.s0 < line.length - _ON:
            x, y = cross.point
            raise GeometryError(
                f"the line leaves the piece near ({x:.0f}, {y:.0f})",
                where=piece.title,
                cure="Take places that lie opposite each other, or another line.",
            )
    if not contains(path, line.at(line.length / 2)[None])[0]:
        raise GeometryError("the line lies outside the piece", where=piece.title)
