"""Opens halves out at their fold, closes symmetric pieces, and says where to lay on the fold."""

from __future__ import annotations

from sizewright.drafting import Edit, redraft
from sizewright.findings import Finding
from sizewright.geometry import affine
from sizewright.model import Pattern, Piece
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl, working_on

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
        )
    ]


def mark_folds(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with pieces opened and closed as asked, and its folds marked."""
    from .closing import closing
    from .marking import mark_fold
    from .opening import open_out

    findings: list[Finding] = []
    edits: list[tuple[str, Edit]] = [(name, open_out) for name in values["open"]]
    edits += [(name, closing(values["tolerance"])) for name in values["close"]]
    for name, edit in edits:
        done = redraft(pattern, [name], edit)
        pattern = done.pattern
        findings += done.findings
    if values["open"]:
        pattern = _spread(pattern, frozenset(values["open"]), findings)

    def marked(piece: Piece) -> Piece:
        if piece.fold is None:
            return piece
        with working_on(piece):
            return mark_fold(piece, values["words"])

    return Outcome(pattern.replacing(marked), tuple(findings))


def _spread(pattern: Pattern, names: frozenset[str], findings: list[Finding]) -> Pattern:
    """Opened pieces moved to the right of all others where they would lie over one.

    All sizes of a piece move alike, so that a nest stays one.
    """
    for name in (n for n in pattern.names if n in names):
        mine = [p for p in pattern.pieces if p.name == name]
        others = [p for p in pattern.pieces if p.name != name]
        if not any(_overlap(a.bounds, b.bounds) for a in mine for b in others):
            continue
        left = min(p.bounds[0] for p in mine)
        right = max(p.bounds[2] for p in others)
        shift = affine.translation(right + _APART - left, 0.0)
        moved = (p.transformed(shift) if p.name == name else p for p in pattern.pieces)
        pattern = pattern.with_pieces(moved)
        findings.append(
            Finding("piece-moved", "note", "opened out, it was moved beside the other pieces", name)
        )
    return pattern


def _overlap(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    """Whether two boxes come nearer than pieces with allowance may lie."""
    return not (
        a[2] + _APART <= b[0]
        or b[2] + _APART <= a[0]
        or a[3] + _APART <= b[1]
        or b[3] + _APART <= a[1]
    )
