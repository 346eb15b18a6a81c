"""Cuts a piece in two along a straight line, and declares the seam between."""

from collections.abc import Mapping
from dataclasses import replace

from sizewright.drafting import Ring, Settled, divide, redraft
from sizewright.geometry import Path
from sizewright.model import Pattern, Piece, find_place, parse_seam
from sizewright.plugin import Operation, Outcome, Setting, Values, hookimpl

api = 1


@hookimpl
def add_operations() -> list[Operation]:
    return [
        Operation(
            "yoke-line",
            "cut a piece in two along a straight line",
            cut,
            (
                Setting("piece", "text", "the piece to cut", required=True),
                Setting("line", "place", "where the line begins and ends", (), shape="list"),
                Setting(
                    "parts", "text", "each part, and a point on it", required=True, shape="table"
                ),
            ),
            before_grading=True,
        )
    ]


def cut(pattern: Pattern, values: Values) -> Outcome:
    name, parts = values["piece"], values["parts"]

    def edit(pieces: Mapping[str, Piece], settled: Settled) -> Mapping[str, Ring]:
        piece = pieces[name]
        ends = [piece.outline.path.at(find_place(piece, place)) for place in values["line"]]
        return divide(piece, Path.polyline(ends), parts, seam="yoke", step=f"cut off {name}")

    done = redraft(pattern, [name], edit)
    seams = list(done.pattern.seams)
    if len(parts) == 2:
        one, other = parts
        seams.append(parse_seam(f"yoke: {one}:yoke = {other}:yoke, notch 1/2"))
    return Outcome(replace(done.pattern, seams=tuple(seams)), done.findings)
