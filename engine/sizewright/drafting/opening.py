"""Opening a half out at its fold: the half and its mirror image, as one ring."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..errors import GeometryError, InputError
from ..geometry import affine
from ..geometry.path import Path
from ..geometry.types import Floats
from ..model import MIRRORED, Mark, Piece, Run, Side, right_of_centre, sides_unknown
from .ring import Ring, Settled, Span, Zone

#: A fold may bend by this much, mm.
_STRAIGHT = 0.05


def open_out(pieces: Mapping[str, Piece], _: Settled) -> dict[str, Ring]:
    """The ring of the whole piece for a half cut on the fold.

    Names on the new half end in `-mirrored`; the fold becomes an internal line named `centre`,
    from which grading counts widths both ways. Raises InputError for a piece without a fold,
    GeometryError for a fold that bends.
    """
    ((name, piece),) = pieces.items()
    if piece.fold is None:
        raise InputError("it has no fold to open out at", cure="Mark the edge with data-role fold.")
    outline, fold = piece.outline, piece.fold
    a, b = outline.vertex_at(fold.start), outline.vertex_at(fold.end)
    _check_straight(outline.run_path(Run(fold.start, fold.end)), a, b)
    own, other = _sides(piece, b - a)
    half = Zone(piece, side=own)
    image = Zone(piece, affine.mirror(a, b), side=other, ending=MIRRORED)
    centre = Mark(Path.polyline([a, b]), "centre", "centre")
    spans = [Span(zone, fold.end, fold.start) for zone in (half, image)]
    return {name: Ring(spans, "opened out at the fold", marks=(centre,))}


def _sides(piece: Piece, fold: Floats) -> tuple[Side, Side]:
    """The wearer's side that the drawn half is of, and the other."""
    right = right_of_centre(piece)
    if right == "both":
        if any(getattr(one, "side", "both") != "both" for one in piece.features):
            raise sides_unknown(piece)
        return "both", "both"
    # The cloth lies left of the way round, so a fold walked upward has it on its left.
    lies_right = float(fold @ np.array(piece.up)) < 0
    own: Side = right if lies_right else "left" if right == "right" else "right"
    return own, "left" if own == "right" else "right"


def _check_straight(line: Path, a: Floats, b: Floats) -> None:
    across = line.controls.reshape(-1, 2) - a
    step = (b - a) / np.hypot(*(b - a))
    off = float(np.abs(across[:, 0] * step[1] - across[:, 1] * step[0]).max())
    if off > _STRAIGHT:
        raise GeometryError(f"the fold bends by {off:.2f} mm", cure="Draw it as one straight line.")
