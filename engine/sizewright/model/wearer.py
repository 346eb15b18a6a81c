"""The wearer's left and right: which side of the body lies where on a piece."""

from __future__ import annotations

import re

import numpy as np

from ..errors import InputError
from .frame import axis_frame
from .outline import Run
from .piece import Faces, Piece
from .vec import Side

_WORDS = re.compile(r"[a-z]+")


def faces(piece: Piece) -> Faces | None:
    """Whether a piece lies on the wearer's front or back; None where nothing tells.

    As the piece says; else by its name, else by the name of its centre line.

    >>> from sizewright.geometry import Path
    >>> from sizewright.model import Outline
    >>> path = Path.polyline([(0, 0), (80, 0), (80, 60), (0, 60)], closed=True)
    >>> faces(Piece("back-yoke", Outline.of(path)))
    'back'
    """
    if piece.faces is not None:
        return piece.faces
    centres = [r.name or "" for r in piece.outline.runs]
    centres += [text for m in piece.marks for text in (m.name or "", m.kind)]
    for names in ([piece.name], [n for n in centres if n.startswith(("centre", "center"))]):
        words = {word for name in names for word in _WORDS.findall(name.lower())}
        if ("front" in words) != ("back" in words):
            return "front" if "front" in words else "back"
    return None


def right_of_centre(piece: Piece) -> Side:
    """The wearer's side that lies to the right of the centre as one looks up the grade axis.

    Pieces are drawn as seen from outside the garment. "both" where it is not known.
    """
    towards = faces(piece)
    if towards is None:
        return "both"
    return "left" if towards == "front" else "right"


def sides_of_centre(piece: Piece, run: Run) -> frozenset[int]:
    """On which sides of the centre of an opened piece a run lies, looking up its axis: 1 right,
    -1 left, both where it runs over the centre. Empty for a piece with no centre inside it."""
    frame, _ = axis_frame(piece)
    if frame.centre is None:
        return frozenset()
    path = piece.outline.run_path(run)
    out = 1 if frame.away == "right" else -1
    signs = frame.signs(np.vstack([path.vertices, path.at(path.length / 2)[None]]))
    return frozenset(int(sign) * out for sign in signs if sign)


def wearers_side(piece: Piece, run: Run) -> Side | None:
    """The wearer's side that a run of an opened piece lies on; "both" where it runs over the
    centre, None where nothing tells."""
    sides, right = sides_of_centre(piece, run), right_of_centre(piece)
    if not sides or right == "both":
        return None
    if len(sides) == 2:
        return "both"
    return right if 1 in sides else "left" if right == "right" else "right"


def sides_unknown(piece: Piece) -> InputError:
    """The error for an operation that must know left from right on a piece that does not say."""
    return InputError(
        "something on it is for one side only, and nothing tells whose left is where",
        where=piece.title,
        cure='Say faces = "front" or faces = "back" of the piece (data-faces in the drawing).',
    )
