"""Darts in a run that take up more or less, so that it is as long as what it is sewn to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ..errors import GeometryError
from ..model.features import Dart
from ..model.outline import Run, vertices_between
from ..model.piece import Piece
from .sliding import followed

#: Darts take no more than this share of their mouths less or more, or than this many mm each
#: where these are no more than half of them.
_MOST, _HALF, _SMALL = 0.25, 0.5, 3.0
_EXACT = 1e-7


def darts_within(piece: Piece, run: Run) -> tuple[Dart, ...]:
    """The darts that lie whole in a run and are cut out of the outline, tip and all."""
    n = len(piece.outline.path)
    own = set(vertices_between(run.start, run.end, n))
    return tuple(
        dart
        for dart in piece.darts
        if dart.tip is not None
        and vertices_between(dart.a, dart.b, n) == [dart.a, dart.tip, dart.b]
        and {dart.a, dart.b} <= own - {run.start % n, run.end % n}
    )


def taken_up(
    piece: Piece, run: Run, darts: Sequence[Dart], gain: float
) -> tuple[Piece, tuple[float, ...]]:
    """The piece with a run whose sewn length is `gain` mm greater, and how much wider each dart is.

    Each of `darts` (in the run, see `darts_within`) gives or takes its share by its mouth. Both
    ends of the mouth move along it, so its legs stay alike and its tip where it was. Raises
    GeometryError where a dart would take a quarter, and 3 mm, less or more, or half of it.
    """
    path = piece.outline.path
    mouths = {d: path.vertices[d.b] - path.vertices[d.a] for d in darts}
    widths = {d: float((mouth @ mouth) ** 0.5) for d, mouth in mouths.items()}
    whole = sum(widths.values())
    most = max(_MOST * whole, min(_SMALL * len(widths), _HALF * whole))
    target = piece.sewn_length(run) + gain
    wider, fresh = 0.0, piece
    for _ in range(50):
        left = target - fresh.sewn_length(run)
        if abs(left) <= _EXACT:
            break
        wider -= left
        if abs(wider) > most:
            raise GeometryError("its darts would have to take too much less or more")
        moved = path
        for dart, mouth in mouths.items():
            half = wider * mouth / whole / 2.0
            moved = moved.with_moved(dart.a, -half).with_moved(dart.b, half)
        fresh = replace(piece, outline=piece.outline.with_path(moved))
    else:
        raise GeometryError("its darts cannot bring it to that length")
    return followed(piece, fresh), tuple(wider * width / whole for width in widths.values())
