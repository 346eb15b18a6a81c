"""Makes one piece of two along a seam whose sides are alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from sizewright.errors import InputError, LookupFailed
from sizewright.findings import Finding
from sizewright.model import Pattern, Piece, Seam
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl, pieces_asked

if TYPE_CHECKING:
    from sizewright.drafting import Ring, Settled

api = 1

#: Corners that are moved by less than this, mm, are not worth a word.
_TOLD = 1e-3


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `join`."""
    return [
        Operation(
            "join",
            "make one piece of two along a seam whose sides are alike",
            join,
            (
                Setting("seam", "text", "the seam that they are joined along", required=True),
                Setting("name", "text", "the name of the new piece; else that of the first"),
                Setting(
                    "tolerance", "length", "how far the sides may differ", "0.5 mm", low=0, high=10
                ),
            ),
            before_grading=True,
        )
    ]


def join(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with both pieces of the seam as one; the second is moved to the first."""
    from sizewright.drafting import redraft

    from .joining import joined
    from .reuniting import reunited

    seam = _seam(pattern, values["seam"])
    first, second = names = _pieces(pattern, seam)
    new = values["name"] or first
    if new in pattern.names and new not in names:
        raise InputError(f'there is a piece "{new}" already', cure="Give it another name.")
    moved: list[float] = []

    def edit(pieces: Mapping[str, Piece], settled: Settled) -> Mapping[str, Ring]:
        ring, most = joined(pattern, pieces, names, seam, values["tolerance"])
        moved.append(most)
        return {new: ring}

    rest = tuple(s for s in pattern.seams if s is not seam)
    done = redraft(replace(pattern, seams=rest), names, edit)
    findings = list(done.findings)
    if max(moved) > _TOLD:
        text = f"corners of {second} were moved by up to {max(moved):.2f} mm to meet {first}"
        findings.append(Finding("corners-moved", "note", text, new, place=seam.name))
    return Outcome(reunited(done.pattern, new), tuple(findings))


def _seam(pattern: Pattern, name: str) -> Seam:
    for seam in pattern.seams:
        if seam.name == name:
            return seam
    names = ", ".join(s.name for s in pattern.seams) or "none"
    raise LookupFailed(f'no seam "{name}"', cure=f"Seams: {names}.")


def _pieces(pattern: Pattern, seam: Seam) -> tuple[str, str]:
    """The piece on each side of a seam, both drawn by their sewing lines."""
    sides = [{part.piece for part in chain} for chain in (seam.first, seam.second)]
    if any(len(side) != 1 for side in sides) or sides[0] == sides[1]:
        found = " and ".join(", ".join(sorted(side)) for side in sides)
        raise InputError(
            f"it joins {found}, and only two pieces can be made one",
            where=f'seam "{seam.name}"',
            cure="Join along a seam that has one piece on each side.",
        )
    if len({part.count for part in (*seam.first, *seam.second)}) > 1:
        raise InputError(
            "its sides are not there equally often",
            where=f'seam "{seam.name}"',
            cure="Open or close the halves at their folds first, so that both sides count alike.",
        )
    first, second = (next(iter(side)) for side in sides)
    pieces_asked(pattern, {"piece": None, "pieces": (first, second)})
    return first, second
