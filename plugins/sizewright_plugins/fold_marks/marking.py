"""Words along a fold, just inside the piece."""

from __future__ import annotations

import math

from sizewright.model import Label, Piece

#: How far inside the fold the words stand, mm, and how high their letters are at most.
_INSIDE = 7.0
_HEIGHT = 5.0
# About how wide a letter is for its height in a plain sans.
_LETTER = 0.55


def mark_fold(piece: Piece, words: str) -> Piece:
    """The piece with `words` along its fold; unchanged where they stand there already."""
    if piece.fold is None or not words or any(label.text == words for label in piece.labels):
        return piece
    ax, ay = map(float, piece.outline.vertex_at(piece.fold.start))
    bx, by = map(float, piece.outline.vertex_at(piece.fold.end))
    length = math.hypot(bx - ax, by - ay)
    ux, uy = (bx - ax) / length, (by - ay) / length
    height = min(_HEIGHT, 0.8 * length / (len(words) * _LETTER))
    # Inside lies left of the way round; text must not stand on its head.
    inside = (-uy, ux)
    flipped = uy < 0 if abs(ux) < 1e-9 else ux < 0
    up = (-ux, -uy) if flipped else (ux, uy)
    base = _INSIDE + height * 0.7 if flipped else _INSIDE
    half = len(words) * _LETTER * height / 2
    at = (
        (ax + bx) / 2 + inside[0] * base - up[0] * half,
        (ay + by) / 2 + inside[1] * base - up[1] * half,
    )
    label = Label(words, at, height, math.degrees(math.atan2(up[1], up[0])))
    return piece.with_changes(labels=(*piece.labels, label))
