"""Paired notches after grading: each keeps its place along its seam."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import NamedTuple

from ..findings import Finding
from ..model.features import Notch
from ..model.piece import Piece
from ..model.seams import ChainPart, Seam
from ..model.walk import walk

_CLAMPED = 0.01


class SeamPlace(NamedTuple):
    """Where a notch stands on its seam: on which part of which chain, and how far along.

    `along` in mm from the chain's start with dart and pleat mouths closed; `whole` is the
    chain's length.
    """

    chain: tuple[ChainPart, ...]
    part: int
    along: float
    whole: float


def seam_place(
    pieces: Mapping[str, Piece], seam: Seam, piece: str, notch: Notch
) -> SeamPlace | None:
    """The place of a piece's notch along a seam; None where no run of it holds the notch."""
    bearer = pieces[piece]
    s = bearer.outline.arc_length_of(notch.at)
    for chain in (seam.first, seam.second):
        if not all(part.piece in pieces for part in chain):
            continue
        for k, part in enumerate(chain):
            if part.piece != piece:
                continue
            way = walk(bearer, bearer.outline.run(part.run))
            along = way.distance(s)
            if along is None:
                continue
            if part.reverse:
                along = way.length - along
            lengths = _lengths(pieces, chain)
            return SeamPlace(chain, k, sum(lengths[:k]) + along, sum(lengths))
    return None


def placed_on_seams(
    bases: Mapping[str, Piece], pieces: Mapping[str, Piece], seams: Iterable[Seam]
) -> tuple[dict[str, Piece], tuple[Finding, ...]]:
    """Graded `pieces` with every notch that belongs to a seam put back on its place along it.

    A notch keeps its distance in mm from the start of its own chain as in `bases`, or its
    share of it where the seam gives the notch as a share; so both sides keep meeting, and
    the ease before a notch stays as it was, in mm or as a share.
    """
    by_name = {seam.name: seam for seam in seams}
    out = dict(pieces)
    findings: list[Finding] = []
    for name, base in bases.items():
        if name not in pieces:
            continue
        notches = list(out[name].notches)
        for k, notch in enumerate(base.notches):
            seam = by_name.get(notch.seam or "")
            place = None if seam is None else seam_place(bases, seam, name, notch)
            if seam is None or place is None or k >= len(notches):
                continue
            lengths = _lengths(pieces, place.chain)
            along = place.along
            if _by_share(seam, notch, place) and place.whole > 0:
                along = place.along / place.whole * sum(lengths)
            part = place.chain[place.part]
            piece = out[name]
            way = walk(piece, piece.outline.run(part.run))
            own = along - sum(lengths[: place.part])
            within = min(max(own, 0.0), way.length)
            if abs(within - own) > _CLAMPED:
                findings.append(_off_its_run(piece, notch, seam, own - within))
            if part.reverse:
                within = way.length - within
            s = way.arc_length(within)
            notches[k] = replace(notches[k], at=piece.outline.spot(s))
        out[name] = replace(out[name], notches=tuple(notches))
    return out, tuple(findings)


def _lengths(pieces: Mapping[str, Piece], chain: Iterable[ChainPart]) -> list[float]:
    return [
        p.count * pieces[p.piece].sewn_length(pieces[p.piece].outline.run(p.run)) for p in chain
    ]


def _by_share(seam: Seam, notch: Notch, place: SeamPlace) -> bool:
    """Whether the seam gives this notch as a share: by its name, else the nearest one."""
    named = [n for n in seam.notches if n.name and n.name == notch.name]
    if named:
        return named[0].share
    if not seam.notches:
        return False

    def away(k: int) -> float:
        one = seam.notches[k]
        return abs((one.along * place.whole if one.share else one.along) - place.along)

    return seam.notches[min(range(len(seam.notches)), key=away)].share


def _off_its_run(piece: Piece, notch: Notch, seam: Seam, by: float) -> Finding:
    return piece.finding(
        "notch-off-seam",
        "warn",
        f"a notch of the seam {seam.name} would stand {abs(by):.1f} mm off its edge",
        notch.name or "",
        "Place it anew along the seam.",
    )
