"""The cutting line of a piece from its sewing line and what is meant by its allowance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ...errors import GeometryError, InputError
from ...geometry.flatten import flatten
from ...geometry.path import Path
from ...geometry.straight import merged_lines
from ...model.allowances import Allowances
from ...model.outline import Outline
from ...model.piece import Piece
from .dart_caps import cap
from .joins import Corner, Join, chained, join, straight, stretch
from .region import line_round
from .sides import SMOOTH, Side, Sides, sides_of

_NEAR = 1e-6


def cutting_line(piece: Piece) -> Outline:
    """The cutting line that a piece's allowances mean, derived from its outline.

    Truly parallel to each stretch at its width, corners joined by their kinds. A side that its
    neighbours swallow is left out, and they are joined to each other; where a curve bends
    inwards more tightly than its width the line runs on across it. Raises InputError for a
    piece without allowances, GeometryError where the outline crosses itself.
    """
    if piece.allowances is None:
        raise InputError(
            "nothing is said of its allowance", where=piece.title, cure="Add seam allowance first."
        )
    sides = sides_of(piece, piece.allowances)
    if sides.closed and sides.sides[0].parallel is not None:
        opened = sides.sides[0].parallel
        path = Path(opened.controls, opened.lines, True)
        if _plain(path, piece.outline.path):
            return Outline.of(path)
    joins = _joins(piece, sides, piece.allowances)
    whole = _in_order(sides, joins)
    if whole is None or not _plain(whole, piece.outline.path):
        whole = _united(sides, joins)
    path = merged_lines(whole)
    if path.area <= 0:
        raise GeometryError("its allowance makes no line", where=piece.title)
    return Outline.of(path)


def with_cutting_line(piece: Piece) -> Piece:
    """The piece with its cutting line derived anew; as it is where no allowance is meant.

    Raises as `cutting_line`, with the piece's name.
    """
    if piece.allowances is None:
        return piece
    try:
        return replace(piece, cut_line=cutting_line(piece))
    except GeometryError as error:
        raise error if piece.title in error.where else error.at(piece.title) from None


def _united(sides: Sides, joins: Sequence[Join]) -> Path:
    """The line round all strips; where two of them lie over each other they need no join."""
    standing: list[Join | None] = []
    for k, found in enumerate(joins):
        length = sides.sides[k].tail.length
        out = found.end > length + _NEAR or found.begin < -_NEAR or bool(found.between)
        turn = sides.path.turns[sides.sides[k].end]
        standing.append(found if out or turn > SMOOTH else None)
    return line_round(sides, standing)


def _joins(piece: Piece, sides: Sides, allowances: Allowances) -> list[Join]:
    """The join after each side, between its tail and the head of the next."""
    path, n = sides.path, len(sides.path)
    darts = {d.a: d for d in piece.darts if d.tip is not None}
    found: list[Join] = []
    for k, side in enumerate(sides.sides):
        following = sides.sides[(k + 1) % len(sides.sides)]
        corner = Corner(
            path.controls[side.end, 0],
            side.tail,
            following.head,
            path.tangents_in[side.end - 1],
            path.tangents_out[following.start],
            float(sides.widths[side.end - 1, 1]),
            float(sides.widths[following.start, 0]),
        )
        dart = darts.get(side.end)
        if dart is not None and following.start == dart.b % n and dart.tip is not None:
            a, tip, b = (piece.outline.vertex_at(v) for v in (dart.a, dart.tip, dart.b))
            found.append(cap(corner, tip, a, b) or straight(corner))
            continue
        shape = allowances.shape_at(side.end)
        kind = allowances.corner if shape is None else shape.kind
        before = _belongs_before(sides, side, following) if shape is None else shape.before
        found.append(join(corner, kind, before, allowances.limit))
    return found


def _belongs_before(sides: Sides, side: Side, following: Side) -> bool:
    """Of two edges of which nothing is said the wider, else the longer one."""
    own, other = sides.widths[side.end - 1, 1], sides.widths[following.start, 0]
    if own != other:
        return bool(own > other)
    at, whole = sides.path.cumulative, sides.path.length
    lengths = [(at[s.end] - at[s.start]) % whole or whole for s in (side, following)]
    return bool(lengths[0] >= lengths[1])


def _in_order(sides: Sides, joins: Sequence[Join]) -> Path | None:
    """All parallels cut and joined in order; None where nothing is left of one."""
    parts: list[Path] = []
    for k, side in enumerate(sides.sides):
        before, after = joins[k - 1], joins[k]
        if side.parallel is None or after.end - before.begin <= _NEAR:
            return None
        parts += stretch(side.parallel, before.begin, after.end)
        parts += after.between
    return chained(parts)


def _plain(line: Path, sewn: Path) -> bool:
    """Whether neither line crosses or touches itself, and the outer one runs counter-clockwise."""
    import shapely

    rings = [shapely.LinearRing(flatten(path, 0.01)) for path in (line, sewn)]
    return line.area > 0 and bool(shapely.is_simple(rings).all())
