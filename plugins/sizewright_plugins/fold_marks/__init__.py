"""Opens halves out at their fold, closes symmetric pieces, and says where to lay on the fold."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from sizewright.findings import Finding
from sizewright.model import Label, Pattern, Piece
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl, working_on

if TYPE_CHECKING:
    from sizewright.drafting import Edit

api = 1

#: How far inside the fold the words stand, mm, and how high their letters are at most.
_INSIDE = 7.0
_HEIGHT = 5.0
#: About how wide a letter is for its height in a plain sans.
_LETTER = 0.55


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `fold-marks`."""
    return [
        Operation(
            "fold-marks",
            "open halves out, close symmetric pieces, mark the fold",
            mark_folds,
            (
                Setting("open", "text", "pieces to open out at their fold", (), shape="list"),
                Setting(
                    "close",
                    "text",
                    "symmetric pieces to halve along their grade axis",
                    (),
                    shape="list",
                ),
                Setting(
                    "tolerance",
                    "length",
                    "how far the halves of a piece to close may differ",
                    "0.5 mm",
                    low=0,
                ),
                Setting(
                    "words",
                    "text",
                    "what to write along each fold; empty writes nothing",
                    "place on the fold",
                ),
            ),
            before_grading=True,
        )
    ]


def mark_folds(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with pieces opened and closed as asked, and its folds marked."""
    from sizewright.drafting import APART, open_out, redraft
    from sizewright.laying import spread_apart

    from .closing import closing

    before, findings = pattern, list[Finding]()
    edits: list[tuple[str, Edit]] = [(name, open_out) for name in values["open"]]
    edits += [(name, closing(values["tolerance"])) for name in values["close"]]
    for name, edit in edits:
        done = redraft(pattern, [name], edit)
        pattern = done.pattern
        findings += done.findings
    if values["open"]:
        pattern, moved = spread_apart(pattern, before, APART)
        findings += moved

    def marked(piece: Piece) -> Piece:
        if piece.fold is None:
            return piece
        with working_on(piece):
            return _mark_fold(piece, values["words"])

    return Outcome(pattern.replacing(marked), tuple(findings))


def _mark_fold(piece: Piece, words: str) -> Piece:
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
