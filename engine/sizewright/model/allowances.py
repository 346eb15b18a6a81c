"""Seam allowance as it is meant: how wide along which stretch, and the kind of each corner.

A cutting line is derived from it (`sizewright.drafting`). All is told by vertex numbers, so a
graded size has the same intent as its base.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ..errors import InputError
from ..geometry.path import Path
from ..geometry.types import Floats
from .vec import Side

CornerKind = Literal["mitre", "square", "fold-back", "bevel"]
CORNER_KINDS: tuple[CornerKind, ...] = ("mitre", "square", "fold-back", "bevel")
#: A mitre longer than so many widths is cut off there, unless the intent says otherwise.
MITRE_LIMIT = 3.0
#: Widths that differ by less than this, mm, are one.
_SAME = 1e-9


@dataclass(frozen=True, slots=True)
class WidthStretch:
    """A width from vertex `start` counter-clockwise to vertex `end`, in mm at both ends.

    Between them it changes evenly by arc length. Equal vertices mean once round. `side`: the
    wearer's side that has it, where a piece is cut for both.
    """

    start: int
    end: int
    w0: float
    w1: float
    side: Side = "both"


@dataclass(frozen=True, slots=True)
class CornerShape:
    """The kind of the corner at a vertex.

    `before`: a squared or folded corner belongs to the edge that comes to it, walked
    counter-clockwise, not to the one that leaves it.
    """

    vertex: int
    kind: CornerKind
    before: bool = True

    @property
    def belongs(self) -> bool:
        """Whether it belongs to one of its edges: whether it is squared or folded back."""
        return self.kind in ("square", "fold-back")

    def moved(self, vertex: int, *, turned_over: bool = False) -> CornerShape:
        """The same corner at another vertex; on an outline that is walked the other way."""
        return replace(self, vertex=vertex, before=self.before != (turned_over and self.belongs))


@dataclass(frozen=True)
class Allowances:
    """The allowance round one sewing outline, mm.

    `default` holds where no stretch lies; of stretches that overlap the later counts. The fold
    has none whatever is said here, and neither has the leg of a dart. `corner` is the kind of
    every corner that `corners` does not name; a mitre is cut off at `limit` widths.
    """

    default: float
    stretches: tuple[WidthStretch, ...] = ()
    corner: CornerKind = "mitre"
    corners: tuple[CornerShape, ...] = ()
    limit: float = MITRE_LIMIT

    def __post_init__(self) -> None:
        widths = [self.default, *(w for s in self.stretches for w in (s.w0, s.w1))]
        if not all(0 <= w < float("inf") for w in widths):
            raise InputError("an allowance is a width that is not below nothing")
        if not 1 <= self.limit < float("inf"):
            raise InputError("a mitre limit is at least 1 width")

    @classmethod
    def of(
        cls,
        path: Path,
        widths: Floats,
        *,
        default: float | None = None,
        corner: CornerKind = "mitre",
        corners: tuple[CornerShape, ...] = (),
        limit: float = MITRE_LIMIT,
    ) -> Allowances:
        """From `widths` (n, 2) at both ends of each segment of a closed path.

        Segments whose widths carry on evenly become one stretch. Without `default` it is
        the constant width that the greatest length has.
        """
        widths = np.asarray(widths, dtype=np.float64)
        lengths = path.segment_lengths
        if default is None:
            default = _commonest(widths, lengths)
        slope = (widths[:, 1] - widths[:, 0]) / np.where(lengths > 0, lengths, 1.0)
        goes_on = np.abs(np.roll(widths[:, 1], 1) - widths[:, 0]) <= _SAME
        goes_on &= np.abs(np.roll(slope, 1) - slope) <= _SAME
        breaks = np.flatnonzero(~goes_on).tolist() or [0]
        stretches = []
        for a, b in zip(breaks, breaks[1:] + breaks[:1], strict=True):
            w0, w1 = float(widths[a, 0]), float(widths[b - 1, 1])
            if max(abs(w0 - default), abs(w1 - default)) > _SAME:
                stretches.append(WidthStretch(a, b, w0, w1))
        return cls(float(default), tuple(stretches), corner, corners, limit)

    def with_side(self, path: Path, widths: Floats, side: Side) -> Allowances:
        """The same with other `widths` (n, 2), mm, on one side of the wearer, where they differ."""
        n = len(path)
        differs = np.abs(widths - self.by_segment(path)).max(axis=1) > _SAME
        # No width is so wide, so that every stretch is told.
        told = Allowances.of(path, widths, default=float(widths.max()) + 1.0).stretches

        def differing(one: WidthStretch) -> bool:
            along = (one.start + np.arange((one.end - one.start) % n or n)) % n
            return bool(differs[along].any())

        own = (replace(one, side=side) for one in told if differing(one))
        return replace(self, stretches=(*self.stretches, *own))

    # --- what holds where ----------------------------------------------------------

    @property
    def sided(self) -> bool:
        """Whether something is said of one side of the wearer alone."""
        return any(one.side != "both" for one in self.stretches)

    def by_segment(self, path: Path, side: Side = "both") -> Floats:
        """The width at the start and end of each segment of the outline's path, (n, 2), mm.

        On a `side` of the wearer; "both": as a piece is cut that is for both, the wider of them.
        A row belongs to its segment alone: it may be taken along to a new outline that has
        the segment (`Allowances.of`).
        """
        if side == "both" and self.sided:
            wider: Floats = np.maximum(
                self.by_segment(path, "left"), self.by_segment(path, "right")
            )
            return wider
        n = len(path)
        widths = np.full((n, 2), float(self.default))
        for one in (s for s in self.stretches if s.side in ("both", side)):
            i = (one.start + np.arange((one.end - one.start) % n or n)) % n
            ends = np.cumsum(path.segment_lengths[i])
            share = np.stack([ends - path.segment_lengths[i], ends], axis=1) / ends[-1]
            widths[i] = one.w0 + (one.w1 - one.w0) * share
            widths[i[-1], 1] = one.w1
        return widths

    def widths_at(self, path: Path, s: float) -> tuple[float, float]:
        """The widths just before and just after arc length `s` of the outline's path, mm."""
        widths = self.by_segment(path)
        number, t = path.locate(s)
        i = int(number)
        if float(t) == 0.0:
            return float(widths[i - 1, 1]), float(widths[i, 0])
        share = (path.arc_length_at(i, float(t)) - float(path.cumulative[i])) / float(
            path.segment_lengths[i]
        )
        here = float(widths[i, 0] + (widths[i, 1] - widths[i, 0]) * share)
        return here, here

    def shape_at(self, vertex: int) -> CornerShape | None:
        """What is said of the corner at a vertex by itself."""
        return next((c for c in self.corners if c.vertex == vertex), None)

    # --- edits of the outline ------------------------------------------------------

    def renumbered(self, to: Callable[[int], int]) -> Allowances:
        """With the vertices that `to` gives, for an outline walked the same way."""
        return replace(
            self,
            stretches=tuple(replace(s, start=to(s.start), end=to(s.end)) for s in self.stretches),
            corners=tuple(c.moved(to(c.vertex)) for c in self.corners),
        )

    def turned_over(self, to: Callable[[int], int]) -> Allowances:
        """As `renumbered`, for an outline that is now walked the other way."""
        return replace(
            self,
            stretches=tuple(
                WidthStretch(to(s.end), to(s.start), s.w1, s.w0, s.side) for s in self.stretches
            ),
            corners=tuple(c.moved(to(c.vertex), turned_over=True) for c in self.corners),
        )


def _commonest(widths: Floats, lengths: Floats) -> float:
    """The constant width of the greatest length; of equal ones the first."""
    even = np.abs(widths[:, 1] - widths[:, 0]) <= _SAME
    if not even.any():
        return float(widths.max())
    kept = widths[even, 0]
    shares = [float(lengths[even][np.abs(kept - w) <= _SAME].sum()) for w in kept]
    return float(kept[int(np.argmax(shares))])
