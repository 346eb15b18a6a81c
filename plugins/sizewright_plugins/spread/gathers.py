"""What seams say when an edge was opened: gathered by so much more."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from sizewright.model import Ease, PairedNotch, Pattern, Seam, match_seam

#: Changes of length smaller than this are none, mm.
_SAME = 0.005


def gathered(before: Pattern, after: Pattern, names: Collection[str]) -> Pattern:
    """The pattern whose seams of the pieces `names` take up as gather what these became longer."""
    was = {seam.name: seam for seam in before.seams}
    seams = []
    for seam in after.seams:
        if seam.pieces() & set(names) and seam.name in was:
            seam = _gathered(before, after, was[seam.name], seam)
        seams.append(seam)
    return replace(after, seams=tuple(seams))


def _gathered(before: Pattern, after: Pattern, was: Seam, seam: Seam) -> Seam:
    old, now = match_seam(before, was), match_seam(after, seam)
    gained = now.surplus - old.surplus
    if abs(gained) < _SAME:
        return seam
    wanted = now.wanted + gained
    ease = seam.ease
    between = None if ease is None else ease.between
    if wanted >= 0:
        share = ease is not None and ease.share
        amount = wanted / now.second.length if share else wanted
        return replace(seam, ease=Ease(amount, share, "gather", between))
    # The other side is the longer one now, and stands first; on the shorter one notches stay.
    notches = []
    for notch in was.notches:
        at = old.to_first(old.notch_place(notch))
        notches.append(replace(notch, along=at / old.first.length if notch.share else at))
    turned: tuple[PairedNotch, ...] = tuple(notches)
    return replace(
        seam,
        first=seam.second,
        second=seam.first,
        ease=Ease(-wanted, False, "gather", between),
        notches=turned,
    )
