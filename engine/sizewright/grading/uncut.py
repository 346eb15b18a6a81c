"""The sewing line of a piece whose outline is a cutting line with a stated allowance."""

from __future__ import annotations

from dataclasses import replace

from ..errors import InputError
from ..findings import Finding
from ..model.piece import Piece
from .inset import inset


def without_allowance(piece: Piece) -> tuple[Piece, tuple[Finding, ...]]:
    """The piece as grading works on it: a `cut` outline with its allowance taken off.

    The fold bears no allowance. A sewing line comes back as it is, and one of unknown
    kind too, with a finding. Raises InputError where a cutting line does not state its
    allowance, GeometryError where taking it off leaves no outline.
    """
    if piece.kind == "sew":
        return piece, ()
    if piece.kind == "unknown":
        found = piece.finding(
            "line-unknown",
            "note",
            "it is not said whether the outline is a sewing line or a cutting line; "
            "it is graded as it is, and its seams are not judged",
            cure="Say which it is (sew or cut).",
        )
        return piece, (found,)
    if piece.allowance is None:
        raise InputError(
            "the outline is a cutting line, and its allowance is not stated",
            where=piece.title,
            cure='Say how wide it is, as in data-allowance="1.5 cm".',
        )
    if piece.allowance == 0.0:
        return replace(piece, kind="sew", allowance=None), ()
    return inset(piece, piece.allowance), ()
