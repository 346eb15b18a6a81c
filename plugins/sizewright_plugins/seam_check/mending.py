"""What would mend a fault, as a step to paste into a job."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence

from sizewright.model import JointSide, Pattern, Piece, SeamMatch, format_chain, is_facing, walk
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


def true_sides(pattern: Pattern, match: SeamMatch, size: str | None) -> str:
    """The step that brings both sides of a seam together, or says what is eased or gathered in."""
    from sizewright.drafting import arch_sides, seam_ends

    seam, ease = match.seam, match.seam.ease
    ends = [end for end in seam_ends(pattern, seam, size) if not end.stuck]
    free = [end for end in ends if end.free]
    near = abs(match.off) <= _LIMIT
    how: dict[str, str | list[str]] = {"seam": seam.name}
    arches = arch_sides(pattern, seam, size)
    if near and not free and arches:
        return told([step("true-edge", how | {"move": arches[0].name})])
    if ease is not None and match.surplus > 0 and not (near and free):
        how |= {"side": format_chain(seam.first), "kind": ease.kind, "amount": _cm(match.surplus)}
        if ease.between is not None:
            how["between"] = list(ease.between)
        return told([step("seam-ease", how)])
    if ease is None and (again := _facing_again(pattern, match, size)):
        return told([again])
    if ease is None and not near:
        chain = seam.first if match.surplus > 0 else seam.second
        how |= {"side": format_chain(chain), "kind": "gather", "amount": _cm(match.surplus)}
        return told([step("seam-ease", how)])
    if not ends:
        return ""
    how["move"] = (free or ends)[0].place
    if not near:
        how["limit"] = f"{math.ceil(abs(match.off) / 10)} cm"
    return told([step("true-edge", how)])


def _facing_again(pattern: Pattern, match: SeamMatch, size: str | None) -> str:
    """The step that drafts the facing on one side of a seam anew; empty where neither is one."""
    seam = match.seam
    for own, walked, other in (
        (seam.first, match.first, seam.second),
        (seam.second, match.second, seam.first),
    ):
        if (
            len(own) == 1
            and is_facing(pattern.piece(own[0].piece))
            and not any(is_facing(pattern.piece(p.piece)) for p in other)
        ):
            area = abs(pattern.piece(own[0].piece, size).area)
            # About as wide as it is, to the half centimetre.
            width = max(1, round(area * own[0].count / max(walked.length, 1.0) / 5)) * 5.0
            along = [f"{part.piece}:{part.run}" for part in other]
            how = {"along": along, "width": _cm(width), "replaces": [own[0].piece]}
            return step("facing", how)
    return ""


def _cm(length: float) -> str:
    return format_length(abs(length), Unit.CM)


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
            steps.append(step("redraw", run_on(piece, side)))
    return told(steps)


def run_on(piece: Piece, side: JointSide) -> Mapping[str, str | Sequence[str]]:
    """Settings of `redraw` for the end of an edge beside a joint, square to the seam there.

    Two places close together keep its way where the new line begins; one half way keeps the bow
    of a curve.
    """
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
