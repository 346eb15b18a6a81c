"""Seams that an edit of one side left without a match."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from ..errors import SizewrightError
from ..findings import Finding
from ..model.matching import SEAM_TOLERANCE, match_seam
from ..model.pattern import Pattern
from ..model.seam_text import format_chain
from ..units import both


def mates_to_follow(before: Pattern, after: Pattern, names: Collection[str]) -> list[Finding]:
    """A warning for each seam of the pieces `names` that no longer matches and did before, in
    every size."""
    was = {seam.name: seam for seam in before.seams}
    found = []
    for seam in after.seams:
        if not seam.pieces() & set(names) or seam.name not in was:
            continue
        for size in after.sizes or (None,):
            try:
                off = match_seam(after, seam, size).off
                old = match_seam(before, was[seam.name], size).off
            except SizewrightError:
                continue  # a broken seam is for the check of seams to tell
            if abs(off) <= max(SEAM_TOLERANCE, abs(old) + 1e-6):
                continue
            facing = next((n for n in sorted(seam.pieces() - set(names)) if "facing" in n), "")
            longer, other = (seam.first, seam.second) if off > 0 else (seam.second, seam.first)
            found.append(
                Finding(
                    "mate-to-follow",
                    "warn",
                    f"{format_chain(longer)} is {both(abs(off))} too long for "
                    f"{format_chain(other)} now",
                    size=size or "",
                    place=seam.name,
                    cure=f'Draft it anew from the edge (facing, with replaces = ["{facing}"]).'
                    if facing
                    else "Let the other side follow (true-edge), or say that it is gathered "
                    "(seam-ease).",
                )
            )
    return found


def still_to_follow(findings: Iterable[Finding], pattern: Pattern) -> list[Finding]:
    """The findings without those of `mates_to_follow` that a later step has answered: the seam
    matches, or is there no more."""

    def owed(finding: Finding) -> bool:
        for seam in pattern.seams:
            if finding.code == "mate-to-follow" and seam.name == finding.place:
                try:
                    off = match_seam(pattern, seam, finding.size or None).off
                except SizewrightError:
                    return True
                return abs(off) > SEAM_TOLERANCE
        return finding.code != "mate-to-follow"

    return [finding for finding in findings if owed(finding)]
