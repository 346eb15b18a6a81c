"""Stretches of an edge that a zip or the opening of a pocket takes, and where two of them clash."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from sizewright.errors import InputError
from sizewright.findings import Finding
from sizewright.model import ChainPart, Pattern, Piece, Run, Seam, Side, wearers_side
from sizewright.plugin import Setting

#: Settings of operations that open an edge or close it.
SIDE = Setting(
    "side", "choice", "the wearer's side that has it", "both", choices=("left", "right", "both")
)
OVER = Setting(
    "over",
    "choice",
    "the wearer's side that laps over: right is women's custom, left men's",
    "right",
    choices=("left", "right"),
)
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
            and overlap(taken, stretch(piece, run), piece.outline.path.length)
            and (side == "both" or sides & {side, "both"})
        ):
            yield piece.finding(
                "zip-and-pocket",
                "warn",
                f"{name} and {other} lie on one stretch of the edge",
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


def overlap(one: tuple[float, float], other: tuple[float, float], total: float) -> bool:
    """Whether two stretches of a closed line share more than a point."""
    apart = (other[0] - one[0]) % total
    return apart < one[1] - _TOUCH or total - apart < other[1] - _TOUCH


def seams_of_two(pattern: Pattern, piece: str) -> list[Seam]:
    """The seams that join one edge of a piece to one of another, the piece's own first."""
    turned = (one for seam in pattern.seams for one in (seam, seam.turned()))
    return [
        one
        for one in turned
        if len(one.first) == len(one.second) == 1
        and one.first[0].piece == piece != one.second[0].piece
    ]


def on_side(pattern: Pattern, seams: Sequence[Seam], side: Side) -> tuple[Seam, Side]:
    """Of the seams of an edge the one on the wearer's `side`, and the side that it is on.

    A piece that is opened out has an edge for each side, and a half or a pair one for both.
    Raises InputError where none of them is on that side, or nothing tells which is meant.
    """
    lie = [(seam, _lies(pattern, seam)) for seam in seams]
    fit = [(seam, lies) for seam, lies in lie if "both" in (side, lies) or lies == side]
    words = " and ".join(f"{s.second[0].piece}:{s.second[0].run}" for s in seams)
    if not fit:
        raise InputError(
            f"its seam with {words} lies on the wearer's {lie[0][1]}",
            where=seams[0].first[0].piece,
            cure="Say the other side, or name the edge on this one.",
        )
    if len({lies for _, lies in fit}) > 1:
        raise InputError(
            f"it is sewn to {words}, one on each side of the wearer",
            where=seams[0].first[0].piece,
            cure='Say side = "left" or side = "right"; a step each, where both have one.',
        )
    seam, lies = fit[0]
    return seam, side if lies == "both" else lies


def _lies(pattern: Pattern, seam: Seam) -> Side:
    (one,), (other,) = seam.first, seam.second
    sides = {edge_side(pattern, part) for part in (one, other)} - {"both"}
    return min(sides, default="both")


def edge_side(pattern: Pattern, part: ChainPart) -> Side:
    """The wearer's side on which an edge lies; both for one of a half or a pair."""
    piece = pattern.piece(part.piece)
    if piece.times == 2:
        return "both"
    return wearers_side(piece, piece.run(part.run)) or "both"


def by_size(pattern: Pattern, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings of each size in the order of the sizes, those without one first."""
    order = {size: k for k, size in enumerate(pattern.sizes)}
    return tuple(sorted(findings, key=lambda finding: order.get(finding.size, -1)))
