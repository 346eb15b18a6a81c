"""What would mend a fault, as a step to paste into a job."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence

from sizewright.drafting import seam_ends
from sizewright.model import JointSide, Pattern, Piece, SeamMatch, format_chain, walk
from sizewright.units import Unit, format_length

#: What is longer or shorter by more is rather to be eased in than slid away, mm.
_LIMIT = 25.0
#: A curved edge is drawn anew over so much beside a joint at most, mm.
_OVER = 80.0
#: Two places so far apart keep a line's direction, mm.
_PIN = 2.0
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
        if abs(float(piece.outline.path.turns[side.vertex]) - 90.0) > _SQUARE:
            steps.append(step("redraw", _redraw(piece, side)))
    return told(steps)


def _redraw(piece: Piece, side: JointSide) -> Mapping[str, str | Sequence[str]]:
    """The end of an edge beside a joint. Two places close together keep its way where the new
    line begins; one half way keeps the bow of a curve."""
    outline = piece.outline
    n, onward = len(outline.path), 1 if side.onward else -1
    run = piece.run(side.line)
    stops = {*outline.corners, run.start % n, run.end % n}
    far = (side.vertex + onward) % n
    while far not in stops:
        far = (far + onward) % n
    way = walk(piece, run)
    at = (float(outline.path.cumulative[v]) for v in (side.vertex, far))
    here, there = (way.distance(s) or 0.0 for s in at)
    ends = (side.vertex, far) if side.onward else (far, side.vertex)
    curved = not outline.path.segments(*ends).lines.all()
    over = abs(there - here) / 2
    over = min(over, _OVER) if curved else over
    places = [over, over - min(_PIN, over / 4), *([over / 2] if curved else [])]
    sign = 1 if there > here else -1
    shares = [f"{100 * (here + sign * s) / way.length:.4g}% along {side.line}" for s in places]
    return {
        "piece": piece.name,
        "from": shares[0],
        "through": shares[1:],
        "to": side.point,
        "line": "curve",
        "ends": ["free", "square"],
    }
