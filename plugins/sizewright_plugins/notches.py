"""Puts notches at places, on both sides of seams, and single or double to tell front from back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from sizewright.errors import InputError
from sizewright.findings import Finding
from sizewright.model import (
    NOTCH_KINDS,
    Notch,
    PairedNotch,
    Pattern,
    Piece,
    Place,
    Seam,
    find_place,
    match_seam,
    place_seam_notches,
)
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl, working_on

api = 1

#: A snip ends at least 1/8 in short of the stitching (industrial practice, seen in one source).
CLEAR_OF_STITCHING = 3.175


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `notches`."""
    return [
        Operation(
            "notches",
            "put notches at places and on both sides of seams",
            put_notches,
            (
                Setting(
                    "at",
                    "place",
                    "places of single notches, each beginning with its piece",
                    default=(),
                    shape="list",
                ),
                Setting(
                    "seams",
                    "flag",
                    "put the notches that the seams declare on both of their sides",
                    True,
                ),
                Setting(
                    "tell-back",
                    "text",
                    "seams that get a notch at the middle of each part of their second side: "
                    "double where the piece's name begins with back, single elsewhere",
                    default=(),
                    shape="list",
                ),
                Setting("kind", "choice", "the kind of notch", "slit", choices=NOTCH_KINDS),
                Setting(
                    "depth",
                    "length",
                    "how deep a notch goes in from the outermost line",
                    "5 mm",
                    low=0,
                    high=25,
                ),
                Setting("count", "count", "how many side by side, at places", 1, low=1, high=3),
            ),
        )
    ]


def put_notches(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with its notches, and findings for those that reach the stitching."""
    if values["tell-back"]:
        pattern = replace(pattern, seams=tuple(_told(pattern, values["tell-back"])))
    if values["seams"] or values["tell-back"]:
        pattern = place_seam_notches(pattern, kind=values["kind"], depth=values["depth"])
    for place in values["at"]:
        pattern = _at(pattern, place, values)
    return Outcome(pattern, tuple(_too_deep(pattern)))


def _at(pattern: Pattern, place: Place, values: Values) -> Pattern:
    if place.piece is None and len(pattern.names) > 1:
        raise InputError(
            f'the place "{place.text}" names no piece',
            cure=f"Write it like {pattern.names[0]}: {place.text}.",
        )
    name = place.piece or pattern.names[0]
    pattern.piece(name)

    def notched(piece: Piece) -> Piece:
        if piece.name != name:
            return piece
        with working_on(piece):
            spot = piece.outline.spot(find_place(piece, place))
        notch = Notch(spot, values["kind"], values["depth"], values["count"])
        return piece.with_changes(f"notch at {place.text}", notches=(*piece.notches, notch))

    return pattern.replacing(notched)


def _told(pattern: Pattern, names: Iterable[str]) -> Iterable[Seam]:
    """The seams, those named with a notch in the middle of each run of their second side."""
    wanted = set(names)
    missing = wanted - {seam.name for seam in pattern.seams}
    if missing:
        raise InputError(
            f'no seam is named "{min(missing)}"',
            cure=f"Seams: {', '.join(s.name for s in pattern.seams) or 'none'}.",
        )
    size = pattern.base_size if pattern.base_size in pattern.sizes else None
    for seam in pattern.seams:
        if seam.name not in wanted:
            yield seam
            continue
        match = match_seam(pattern, seam, size)
        begun = 0.0
        notches = list(seam.notches)
        for step in match.second.steps:
            back = step.part.piece.lower().startswith("back")
            share = (begun + step.length / 2) / match.second.length
            begun += step.length
            notches.append(PairedNotch(share, True, 2 if back else 1))
        yield replace(seam, notches=tuple(notches))


def _too_deep(pattern: Pattern) -> Iterable[Finding]:
    """Notches on a cutting line that reach the stitching, or nearly."""
    from sizewright.geometry import nearest

    told: set[str] = set()
    for piece in pattern.pieces:
        if piece.cut_line is None or piece.name in told:
            continue
        s = np.array([piece.outline.arc_length_of(notch.at) for notch in piece.notches])
        away = nearest(piece.cut_line.path, piece.outline.path.at(s)).distance.tolist()
        for notch, allowance in zip(piece.notches, away, strict=True):
            if 0.1 < allowance < notch.depth + CLEAR_OF_STITCHING:
                told.add(piece.name)
                yield Finding(
                    "notch-deep",
                    "warn",
                    f"a notch of {notch.depth:g} mm comes near the stitching in an allowance of "
                    f"{allowance:.1f} mm",
                    piece.name,
                    place=notch.name or "",
                    cure="Make the notch shallower or the allowance wider.",
                )
                break
