"""Which place on one side of a seam meets which place on the other."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from ..errors import LookupFailed
from ..units import both
from .features import Notch, NotchKind
from .pattern import Pattern
from .piece import Piece
from .seam_text import format_chain
from .seams import PairedNotch, Seam
from .walk import ChainWalk, walk_chain

#: How far both sides may differ from what a seam asks for, mm: about 1/16 in, the careful
#: workroom's tolerance (Threads 200, 2018/19).
SEAM_TOLERANCE = 1.5


class SeamMatch(NamedTuple):
    """Both chains of a seam in one size, walked, and how they lie on each other.

    Places are sewn distances in mm from the start. The first chain's surplus (its ease
    or gather, whatever it truly is) is spread evenly, or evenly between two notches where
    the seam says so.
    """

    seam: Seam
    first: ChainWalk
    second: ChainWalk

    @property
    def surplus(self) -> float:
        """By how much the first chain is longer, mm; negative where it is shorter."""
        return self.first.length - self.second.length

    @property
    def wanted(self) -> float:
        """The surplus that the seam asks for, mm."""
        ease = self.seam.ease
        if ease is None:
            return 0.0
        return ease.amount * self.second.length if ease.share else ease.amount

    @property
    def off(self) -> float:
        """How far the surplus is from the one that the seam asks for, mm."""
        return self.surplus - self.wanted

    def misfit(self, tolerance: float = SEAM_TOLERANCE) -> str:
        """By how much the sides do not match, naming both; empty where they do."""
        if abs(self.off) <= tolerance:
            return ""
        way = "longer" if self.off > 0 else "shorter"
        ease = self.seam.ease
        eased = f" plus the {both(self.wanted)} of {ease.kind}" if ease else ""
        return (
            f"{format_chain(self.seam.first)} is {both(abs(self.off))} {way} than "
            f"{format_chain(self.seam.second)}{eased}"
        )

    def notch_place(self, notch: PairedNotch) -> float:
        """Where a paired notch stands on the second chain, mm from its start."""
        return notch.along * self.second.length if notch.share else notch.along

    def to_first(self, distance: float) -> float:
        """The place on the first chain that meets `distance` on the second."""
        a, b = self._eased()
        if distance <= a:
            return distance
        if distance >= b:
            return distance + self.surplus
        return distance + self.surplus * (distance - a) / (b - a)

    def to_second(self, distance: float) -> float:
        """The place on the second chain that meets `distance` on the first."""
        a, b = self._eased()
        if distance <= a:
            return distance
        if distance >= b + self.surplus:
            return distance - self.surplus
        return a + (distance - a) * (b - a) / (b - a + self.surplus)

    def _eased(self) -> tuple[float, float]:
        """The stretch of the second chain along which the surplus lies."""
        ease = self.seam.ease
        if ease is None or ease.between is None:
            return 0.0, self.second.length
        a, b = (self._named(name) for name in ease.between)
        return min(a, b), max(a, b)

    def _named(self, name: str) -> float:
        for notch in self.seam.notches:
            if notch.name == name:
                return self.notch_place(notch)
        names = ", ".join(n.name for n in self.seam.notches if n.name) or "none"
        raise LookupFailed(
            f'it has no notch named "{name}" to ease between',
            where=f'seam "{self.seam.name}"',
            cure=f'Its named notches: {names}. Add one as: notch "{name}" 1/3.',
        )


def unjudged(pattern: Pattern, seam: Seam) -> str | None:
    """The first piece of a seam of which it is not known whether its outline is sewn or cut."""
    names = seam.pieces()
    return next((p.name for p in pattern.pieces if p.name in names and p.kind == "unknown"), None)


def match_seam(pattern: Pattern, seam: Seam, size: str | None = None) -> SeamMatch:
    """A seam in one size. Raises LookupFailed, with the seam, for a run that is not there.

    >>> from sizewright.formats import read_svg
    >>> from sizewright.shipped import shipped
    >>> pattern = read_svg(shipped("examples/supper-top/supper-top.svg")).pattern
    >>> match = match_seam(pattern, pattern.seams[0])
    >>> round(match.first.length, 2), round(match.second.length, 2)
    (96.0, 96.0)
    """
    try:
        return SeamMatch(
            seam, walk_chain(pattern, seam.first, size), walk_chain(pattern, seam.second, size)
        )
    except LookupFailed as error:
        raise error.at(f'seam "{seam.name}"') from None


def place_seam_notches(
    pattern: Pattern, *, kind: NotchKind = "slit", depth: float = 0.0
) -> Pattern:
    """Every notch that a seam declares, put on both of its chains, in every size.

    Notches that a seam placed before are placed anew and keep their kind and depth; new
    ones take `kind` and `depth` (mm).
    """
    pieces = {piece.key: piece for piece in pattern.pieces}
    for size in pattern.sizes or (None,):
        for seam in pattern.seams:
            if not seam.notches:
                continue
            match = match_seam(pattern, seam, size)
            for number, notch in enumerate(seam.notches, 1):
                name = notch.name or f"{seam.name}-{number}"
                at = match.notch_place(notch)
                for walk, distance in ((match.first, match.to_first(at)), (match.second, at)):
                    piece, s = walk.place(distance)
                    pieces[piece.key] = _with_notch(
                        pieces[piece.key],
                        Notch(
                            piece.outline.spot(s), kind, depth, notch.count, name, seam=seam.name
                        ),
                    )
    return pattern.with_pieces(pieces.values())


def _with_notch(piece: Piece, notch: Notch) -> Piece:
    """With a seam's notch; an older one of the same seam and name gives way to it."""
    old = [n for n in piece.notches if (n.seam, n.name) == (notch.seam, notch.name)]
    if old:
        notch = replace(old[0], at=notch.at, count=notch.count)
    kept = [n for n in piece.notches if n not in old]
    if any(_same_place(n, notch) for n in kept):
        # A piece of a pair meets both halves of an opened one at the same notch.
        return replace(piece, notches=tuple(kept))
    return replace(piece, notches=(*kept, notch))


def _same_place(a: Notch, b: Notch) -> bool:
    """Whether two notches of seams stand on one another."""
    return (
        a.seam is not None
        and a.at.start == b.at.start
        and abs(a.at.distance - b.at.distance) < 1e-3
        and a.count == b.count
    )
