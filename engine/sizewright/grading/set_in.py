"""Set-in sleeves where sizes are mixed: a cap takes the size in which it matches its armhole."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ..errors import SizewrightError
from ..model.matching import match_seam
from ..model.outline import vertices_between
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..model.seams import Seam
from .fade import Fade
from .mixed import CapSize, SizedPiece

if TYPE_CHECKING:
    from ..drafting import ArchSide

#: Sizes that differ by less are one, as a share of a step.
_ALIKE = 1e-6
#: A cap may be so much larger or smaller than both sides of its seam, as a share of how far these
#: are apart: an armhole that comes to lean is longer than either size has it.
_PAST = 0.5


def caps_following(
    sized: Sequence[SizedPiece],
    seams: Sequence[Seam],
    named: Collection[str],
    drawn: Callable[[SizedPiece], Piece],
    last: float = math.inf,
) -> tuple[CapSize, ...]:
    """The sizes of caps whose armholes are not of one size, so that they match as they were drawn.

    A cap is an arch that is one whole side of a seam, or a flat top that is sewn to upright
    lines. Its size lies between those of both sides, or a little past them (never past 0 and
    `last`, where that is given); where none of these does it, nothing is said, and the check of
    seams tells it. Pieces in `named` have a size by name and keep it. `drawn` makes a piece in
    the sizes given.
    """
    from ..drafting import arch_sides

    by_name = {one.piece.name: one for one in sized}
    base = Pattern(tuple(one.piece for one in sized), seams=tuple(seams))
    found: dict[str, CapSize] = {}
    for seam in base.seams:
        try:
            sides = arch_sides(base, seam, flat=True)
            off = match_seam(base, seam).off
        except SizewrightError:
            continue  # a broken seam is for the check of seams to tell
        for side in sides:
            name = side.piece.name
            own = by_name[name]
            if name in found or name in named:
                continue
            places = [*_places(own, side), *_mates(by_name, seam, side)]
            low, high = min(places), max(places)
            if high - low < _ALIKE:
                continue
            past = _PAST * (high - low)
            low, high = low - past, high + past
            if last < math.inf:
                low, high = max(low, 0.0), min(high, last)
            mates = [drawn(by_name[mate]) for mate in sorted(seam.pieces() - {name})]

            def more(
                place: float,
                own: SizedPiece = own,
                mates: list[Piece] = mates,
                seam: Seam = seam,
                off: float = off,
            ) -> float:
                cap = drawn(own._replace(fade=Fade(((0.0, 0.0, place),))))
                pieces = tuple(replace(p, size=None) for p in (*mates, cap))
                return match_seam(Pattern(pieces, seams=(seam,)), seam).off - off

            if more(low) * more(high) < 0.0:
                from scipy.optimize import brentq  # heavy, and few patterns come to it

                place = float(brentq(more, low, high, xtol=1e-6))
                found[name] = CapSize(name, seam.name, side.name, _foot(own, side), place)
    return tuple(found.values())


def _vertices(side: ArchSide) -> list[int]:
    return vertices_between(side.run.start, side.run.end, len(side.piece.outline.path))


def _places(own: SizedPiece, side: ArchSide) -> Iterator[float]:
    yield from own.at(side.piece.outline.path.vertices[_vertices(side)]).tolist()


def _mates(by_name: dict[str, SizedPiece], seam: Seam, side: ArchSide) -> Iterator[float]:
    """The sizes along the other side of a seam."""
    for part in seam.first if side.second else seam.second:
        mate = by_name[part.piece]
        outline = mate.piece.outline
        run = mate.piece.run(part.run)
        yield from mate.at(
            outline.path.vertices[vertices_between(run.start, run.end, len(outline.path))]
        ).tolist()


def _foot(own: SizedPiece, side: ArchSide) -> float:
    """Where an arch begins along the length of its piece, mm: its lower end."""
    ends = side.piece.outline.path.vertices[[_vertices(side)[k] for k in (0, -1)]]
    return float(np.min(own.frame.local(ends)[:, 1]))
