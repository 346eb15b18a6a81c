"""How a size changes along a piece that is one size at one level and another at the next."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from ..errors import UsageError
from ..geometry.types import Floats

#: Levels of different sizes nearer than this cannot be told apart, mm.
NEAREST = 1.0


class Anchor(NamedTuple):
    """A size (a place in the order of sizes) that holds at a place along the length, mm.

    `level` names what gave it; `given` tells whether that was asked for by name.
    """

    length: float
    place: float
    level: str
    given: bool = False


@dataclass(frozen=True)
class Fade:
    """The size along the length of one piece, as a place in the order of sizes.

    Neighbouring anchors of one size make a plateau `(lowest, highest, place)` in mm along
    the length. On a plateau its size holds exactly, and beyond the outermost ones too.
    Between two plateaus it runs from one size to the other by the share of the way alone, so
    it is the same on every piece that has the same plateaus: in proportion, as the grade map
    itself stretches what lies between graded points (a straight edge stays straight); or,
    where `smooth`, by monotone cubics (`scipy.interpolate.PchipInterpolator` over the
    plateaus' numbers) without overshoot and without a bend, for lines of which every point
    is placed.
    """

    plateaus: tuple[tuple[float, float, float], ...]
    smooth: bool = False

    @classmethod
    def through(cls, anchors: Iterable[Anchor], *, piece: str, smooth: bool = False) -> Fade:
        """From anchors in any order. Raises UsageError where two levels that were asked for
        lie across each other, or at one place with two sizes."""
        ordered = sorted(anchors, key=lambda a: a.length)
        groups: list[list[Anchor]] = []
        for one in ordered:
            if groups and abs(groups[-1][-1].place - one.place) < 1e-9:
                groups[-1].append(one)
            else:
                groups.append([one])
        seen: dict[str, int] = {}
        for k, group in enumerate(groups):
            for one in group:
                if one.given and seen.setdefault(one.level, k) != k:
                    raise _across(one.level, groups[k - 1][-1].level, piece)
            if k and group[0].length - groups[k - 1][-1].length < NEAREST:
                raise _across(group[0].level, groups[k - 1][-1].level, piece)
        return cls(tuple((g[0].length, g[-1].length, g[0].place) for g in groups), smooth)

    @cached_property
    def _curve(self) -> Any:
        from scipy.interpolate import PchipInterpolator

        places = [p for _, _, p in self.plateaus]
        # Level beyond both ends, so that the curve leaves and meets the end sizes level.
        padded = [places[0], *places, places[-1]]
        return PchipInterpolator(np.arange(-1, len(places) + 1), padded)

    def at(self, lengths: Floats) -> Floats:
        """Places in the order of sizes (m,) at lengths along the grade axis (m,), mm."""
        lengths = np.asarray(lengths, dtype=np.float64)
        out = np.full(lengths.shape, float(self.plateaus[0][2]))
        for k, (low, high, place) in enumerate(self.plateaus):
            out[lengths >= low] = place
            if k + 1 == len(self.plateaus):
                break
            following, _, goal = self.plateaus[k + 1]
            inside = (lengths > high) & (lengths < following)
            share = (lengths[inside] - high) / (following - high)
            straight = place + share * (goal - place)
            out[inside] = self._curve(k + share) if self.smooth else straight
        return out


def _across(a: str, b: str, piece: str) -> UsageError:
    return UsageError(
        f'the levels "{a}" and "{b}" lie across each other, so no size can run between them',
        where=piece,
        cure="Give both the same size, or name points that lie one above the other.",
    )
