"""Opens halves out at their fold, closes symmetric pieces, and says where to lay on the fold."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sizewright.findings import Finding
from sizewright.model import Pattern, Piece
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl, working_on

if TYPE_CHECKING:
    from sizewright.drafting import Edit

api = 1

#: Room between an opened piece and another, mm: both may get allowance yet.
_APART = 60.0


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
    from sizewright.drafting import open_out, redraft
    from sizewright.laying import spread_apart

    from .closing import closing
    from .marking import mark_fold

    before, findings = pattern, list[Finding]()
    edits: list[tuple[str, Edit]] = [(name, open_out) for name in values["open"]]
    edits += [(name, closing(values["tolerance"])) for name in values["close"]]
    for name, edit in edits:
        done = redraft(pattern, [name], edit)
        pattern = done.pattern
        findings += done.findings
    if values["open"]:
        pattern, moved = spread_apart(pattern, before, _APART)
        findings += moved

    def marked(piece: Piece) -> Piece:
        if piece.fold is None:
            return piece
        with working_on(piece):
            return mark_fold(piece, values["words"])

    return Outcome(pattern.replacing(marked), tuple(findings))
