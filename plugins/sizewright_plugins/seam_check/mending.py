"""What would mend a fault, as a step to paste into a job."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence

from sizewright.drafting import seam_ends
from sizewright.model import JointSide, Pattern, Piece, SeamMatch, format_chain, walk
from sizewright.units import Unit, format_length

#: What is longer or shorter by more is rather to be eased in than slid away, mm.
_LIMIT = 25.0
#: An edge is drawn anew over so much beside a joint, mm.
_OVER = 40.0
#: A corner this near to a right angle needs no mending, degrees.
_SQUARE = 0.5


def step(do: str, settings: Mapping[str, str | Sequence[str]]) -> str:
    """A step of a job, on lines of its own."""
    lines = ["[[steps]]", f'do = "{do}"']
    lines += [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in settings.items()]
    return "".join(f"\n    {line}" for line in lines)


def told(steps: Iterable[str]) -> str:
    """Steps as the end of a cure; empty where there are none."""
    steps = list(steps)
    return f" In a job:{''.join(steps)}" if steps else ""


def true_edge(pattern: Pattern, match: SeamMatch, size: str | None) -> str:
    """The step that brings both sides of a seam together."""
    seam = match.seam
    if abs(match.off) > _LIMIT:
        chain = seam.first if match.surplus > 0 else seam.second
        amount = format_length(abs(match.surplus), Unit.CM)
        how = {"seam": seam.name, "side": format_chain(chain), "kind": "gather", "amount": amount}
        return told([step("seam-ease", how)])
    ends = [end for end in seam_ends(pattern, seam, size) if not end.stuck]
    ends.sort(key=lambda end: not end.free)
    return told([step("true-edge", {"seam": seam.name, "move": end.place}) for end in ends[:1]])


def true_legs(piece: Piece, dart: str, mouth: str) -> str:
    """The step that makes the legs of a dart alike."""
    move = f"{piece.name}:{mouth}"
    return told([step("true-edge", {"seam": f"{piece.name}:{dart}", "move": move})])


def redrawn(pattern: Pattern, sides: Iterable[JointSide], size: str | None) -> str:
    """The steps that draw the edges of a joint anew, square to the seam, so that they run on."""
    steps = []
    for side in sides:
        piece = pattern.piece(side.piece, size)
        turn = float(piece.outline.path.turns[side.vertex])
        if abs(turn - 90.0) <= _SQUARE or side.point == "a curve":
            continue
        steps.append(step("redraw", _redraw(piece, side)))
    return told(dict.fromkeys(steps))


def _redraw(piece: Piece, side: JointSide) -> Mapping[str, str | Sequence[str]]:
    way = walk(piece, piece.run(side.line))
    at = way.distance(float(piece.outline.path.cumulative[side.vertex])) or 0.0
    # From the joint away along the edge: that is on, where the walk comes from the joint.
    onward = way.backward != side.onward
    over = min(_OVER, (way.length - at if onward else at) / 2)
    if over == _OVER and min(at, way.length - at) < 1e-6:
        start = f"{_OVER / 10:g} cm along {side.line} from {side.point}"
    else:
        share = (at + over if onward else at - over) / way.length
        start = f"{100 * share:.0f}% along {side.line}"
    return {
        "piece": piece.name,
        "from": start,
        "to": side.point,
        "line": "curve",
        "ends": ["free", "square"],
    }
