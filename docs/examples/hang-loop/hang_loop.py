"""Marks where a hanging loop is sewn on."""

from sizewright.findings import Finding
from sizewright.geometry import Path
from sizewright.model import Mark, Pattern, Piece, find_place
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl, working_on

api = 1


@hookimpl
def add_operations() -> list[Operation]:
    return [
        Operation(
            "hang-loop",
            "mark where a hanging loop is sewn on",
            mark_loop,
            (
                Setting("at", "place", "the place on the edge", required=True),
                Setting("length", "length", "how long the mark is", "25 mm", low=5, high=100),
            ),
        )
    ]


def mark_loop(pattern: Pattern, values: Values) -> Outcome:
    place, length = values["at"], values["length"]
    findings: list[Finding] = []

    def with_loop(piece: Piece) -> Piece:
        if piece.name != place.piece:
            return piece
        with working_on(piece):
            s = find_place(piece, place)
            edge = piece.outline.path
            foot, (tx, ty) = edge.at(s), edge.tangents(s)
        # The outline runs counter-clockwise, so the cloth lies to the left of the tangent.
        mark = Path.polyline([foot, (foot[0] - length * ty, foot[1] + length * tx)])
        findings.append(
            Finding("hang-loop", "note", "hanging loop marked", piece.name, piece.size or "")
        )
        return piece.with_changes(
            f"hanging loop at {place.text}",
            marks=(*piece.marks, Mark(mark, "hang-loop")),
        )

    return Outcome(pattern.replacing(with_loop), tuple(findings))
