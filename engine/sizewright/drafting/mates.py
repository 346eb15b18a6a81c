"""Seams that an edit of one side left without a match."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from ..errors import SizewrightError
from ..findings import Finding
from ..model.joints import is_facing
from ..model.matching import SEAM_TOLERANCE, match_seam
from ..model.pattern import Pattern
from ..model.seam_text import format_chain
from ..units import both

#: Warnings that the other side of a seam is to follow: of `mates_to_follow` and `true-edge`.
_WAITING = ("mate-to-follow", "seam-changed")


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
            others = sorted(seam.pieces() - set(names))
            facing = next((name for name in others if is_facing(after.piece(name))), "")
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


def graded_from_drawn(pattern: Pattern, names: Iterable[str], edges: str) -> list[Finding]:
    """A note for each piece that is edited as it is drawn and graded afterwards: `edges` of it
    then come out near what each size would have by itself."""
    graded = {piece.name for piece in pattern.pieces if piece.base is not None}
    return [
        Finding(
            "graded-from-drawn",
            "note",
            f"done on the drawn size: in those that are graded from it {edges} may come out some "
            "millimetres longer or shorter",
            name,
            cure="Under [[steps]] every size is measured for itself.",
        )
        for name in names
        if name not in graded and pattern.piece(name).weights is not None
    ]


def still_to_follow(findings: Iterable[Finding], pattern: Pattern) -> list[Finding]:
    """The findings without the warnings that a seam's mate is to follow, where a later step has
    answered them: the seam matches, or is there no more; and without those that a seam went,
    where it is there again."""
    names = {seam.name for seam in pattern.seams}

    def owed(finding: Finding) -> bool:
        if finding.code == "seam-gone":
            return finding.place not in names
        if finding.code not in _WAITING or finding.level != "warn":
            return True
        for seam in pattern.seams:
            if seam.name == finding.place:
                try:
                    off = match_seam(pattern, seam, finding.size or None).off
                except SizewrightError:
                    return True
                return abs(off) > SEAM_TOLERANCE
        return False

    return [finding for finding in findings if owed(finding)]
