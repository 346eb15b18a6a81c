"""Stretches of an edge that a zip or the opening of a pocket takes, and where two of them clash."""

from __future__ import annotations

from collections.abc import Iterator

from sizewright.findings import Finding
from sizewright.model import Piece, Run, Side

#: What a run that is left open for a pocket ends in.
OPENING = "-opening"
#: Kinds of marks: where a zip ends, and along an edge all of which it takes.
ZIP_STOP, ZIP = "zip stop", "zip"
#: What the names of notches and marks at the ends of a stretch end in.
_ENDS = ("-stop", "-begins", "-ends", "-end")
#: Stretches that share no more than this only touch, mm.
_TOUCH = 0.01


def stretch(piece: Piece, run: Run) -> tuple[float, float]:
    """Where a run lies on the outline: the arc length at its start, and its length, mm."""
    return float(piece.outline.path.cumulative[run.start]), piece.outline.run_length(run)


def clashes(piece: Piece, name: str, taken: tuple[float, float], side: Side) -> Iterator[Finding]:
    """A finding for each zip, or opening of a pocket, that lies on a `taken` stretch of the edge
    and on the same `side` of the wearer."""
    for run in piece.outline.runs:
        other = str(run.name)
        sides = _sides(piece, other)
        if (
            other != name
            and sides
            and _overlap(taken, stretch(piece, run), piece.outline.path.length)
            and (side == "both" or sides & {side, "both"})
        ):
            yield Finding(
                "zip-and-pocket",
                "warn",
                f"{name} and {other} lie on one stretch of the edge",
                piece.name,
                piece.size or "",
                name,
                "Move the pocket, or put the zip on the other side.",
            )


def _sides(piece: Piece, run: str) -> set[Side]:
    """The wearer's sides on which a run is a zip or is left open; none where it is neither."""
    ends = {run + word for word in _ENDS}
    marks = [m for m in piece.marks if m.kind in (ZIP_STOP, ZIP) and m.name in {run, *ends}]
    notches = [n for n in piece.notches if n.name in ends]
    if marks or run.endswith(OPENING) or f"{run}-begins" in {n.name for n in notches}:
        return {m.side for m in marks} | {n.side for n in notches} or {"both"}
    return set()


def _overlap(one: tuple[float, float], other: tuple[float, float], total: float) -> bool:
    """Whether two stretches of a closed line share more than a point."""
    apart = (other[0] - one[0]) % total
    return apart < one[1] - _TOUCH or total - apart < other[1] - _TOUCH
