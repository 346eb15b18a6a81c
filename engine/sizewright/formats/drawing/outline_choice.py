"""Which shape of a piece is its outline: the marked one, else the largest closed one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...errors import InputError
from ...geometry.path import Path
from .drafts import Draft
from .lines import lines_of
from .loops import (
    MOST_LOOPS,
    Loops,
    Region,
    gap_of,
    lies_within,
    loops_of,
    middle,
    regions_of,
    same_line,
    would_close,
)
from .names import clean
from .shapes import Shape
from .sizes import Sizes

#: A cutting line may lie this far within its sewing line, in mm, as along a fold.
_BESIDE = 1.0

#: A shape, and the region of it that is meant.
Found = tuple[Shape, Region]


def choose_outline(draft: Draft, sews: list[Shape], sew: Found | None) -> Found | None:
    """The shape and region that is the outline; None where the sewing line is it alone.

    `sews` are the shapes that are marked as the sewing line, `sew` what they make.
    """
    if draft.region is not None:
        return draft.shapes[0], draft.region
    marked = [d for d in draft.marks if d.marking and d.marking.role == "outline"]
    if marked:
        for drawn in draft.shapes:
            draft.take_in(drawn)
        return closed_of(draft, marked, "outline")
    if sews:
        return _round_sewing_line(draft, sews, sew)
    return _largest(draft)


def _round_sewing_line(draft: Draft, sews: list[Shape], sew: Found | None) -> Found | None:
    """The largest unmarked loop that goes round the sewing line: the cutting line.

    A shape that bears the piece's name is meant as the outline wherever it lies.
    """
    reach = draft.out.options.join_tolerance
    found = [(d, loops_of(d.paths, reach)) for d in draft.shapes]
    named = [(d, loops) for d, loops in found if loops.closed and _bears_name(d, draft)]
    fits = named or [
        (d, loops) for d, loops in found if any(_goes_round(p, sews, sew) for p in loops.closed)
    ]
    best = max(fits, key=lambda one: max(abs(p.area) for p in one[1].closed)) if fits else None
    for drawn, loops in found:
        if best is not None and drawn is best[0]:
            continue
        lines = loops.closed if best is None else ()
        inner = best[1].closed if best is not None else (sew[1].outer,) if sew else ()
        if any(same_line(p, q) for p in loops.closed for q in inner):
            draft.out.aside(drawn, f"a copy of the {'outline' if best else 'sewing line'}")
            continue
        if not lines or sew is None or any(lies_within(p, sew[1].outer) for p in lines):
            draft.take_in(drawn)
        else:
            draft.out.aside(drawn, f"not round the sewing line of {draft.title}, without a role")
        if sew is not None and any(abs(p.area) > abs(sew[1].outer.area) for p in lines):
            draft.find(
                "sew-alone",
                "warn",
                "a larger closed shape does not go round the sewing line, which was taken "
                "for the outline",
                cure="Draw it round the sewing line if it is the cutting line, or take it "
                "out of the piece's group or layer.",
                place=drawn.place,
            )
    return None if best is None else (best[0], _one_region(draft, best[1]))


def _bears_name(drawn: Shape, draft: Draft) -> bool:
    return bool(drawn.element.get("data-piece")) or clean(drawn.element.name) == draft.name


def _goes_round(loop: Path, sews: list[Shape], sew: Found | None) -> bool:
    """Whether a loop may be the cutting line of what is drawn as the sewing line."""
    if sew is not None:
        line = sew[1].outer
        if abs(loop.area) <= abs(line.area) or same_line(loop, line):
            return False
    boxes = np.array([p.bounds for d in sews for p in d.paths]).reshape(-1, 4)
    low, high = np.array(loop.bounds[:2]) - _BESIDE, np.array(loop.bounds[2:]) + _BESIDE
    return bool((boxes[:, :2] >= low).all() and (boxes[:, 2:] <= high).all())


def _largest(draft: Draft) -> Found | None:
    """Without any role the largest closed line is the outline; all else is drawn in it."""
    # What is not seen is an outline only where nothing else of the group is.
    seen = [d for d in draft.shapes if not d.unpainted and d.paths]
    lined = seen or [d for d in draft.shapes if d.paths]
    for drawn in draft.shapes:
        if drawn not in lined:
            draft.take_in(drawn)
    lines = lines_of(lined, Sizes(), draft.out)
    if not lines.loops:
        _open(draft, [s.path for s in lines.open], "outline")
        return None
    best = max(lines.loops, key=lambda lp: lp.area)
    for loop in lines.loops:
        if loop is best:
            continue
        if loop.shapes[0] is best.shapes[0] and not lies_within(loop.path, best.path):
            _tell_second(draft, loop.path, "outline")
            draft.out.aside(loop.shapes[0], "a second outline")
        else:
            draft.marks.append(loop.shapes[0].marked("mark", "", [loop.path, *loop.holes]))
    draft.marks += [s.first.marked("mark", "", [s.path]) for s in lines.open]
    return best.shapes[0], Region(best.path, best.holes)


def closed_of(draft: Draft, drawn: list[Shape], what: str) -> Found | None:
    """The closed line that marked shapes make together; None, with a finding, without any."""
    loops = loops_of([p for d in drawn for p in d.paths], draft.out.options.join_tolerance)
    draft.out.tell_joined(loops.joined, draft)
    if not loops.closed:
        _open(draft, loops.open, what)
        return None
    return drawn[0], _one_region(draft, loops, what)


def _open(draft: Draft, lines: Sequence[Path], what: str) -> None:
    if not lines:
        text = f"the piece has no {what}; it was left out"
        cure = 'Draw its outline as a closed path in its group (data-role="outline").'
        draft.find("no-outline", "fail", text, cure)
        return
    told = next(would_close(lines, draft.out.options.join_tolerance), None)
    if told is not None:
        draft.out.tell_open(f"the {what}", *told, draft)
        return
    line = max(lines, key=lambda p: p.length)
    text = f"the {what} is open: its ends are {gap_of(line):.2f} mm apart; the piece was left out"
    cure = "Close the path in the editor."
    draft.find("open-outline", "fail", text, cure, at=line.end)


def _one_region(draft: Draft, loops: Loops, what: str = "outline") -> Region:
    """The largest of the regions; others, copies of it excepted, are told."""
    if len(loops.closed) > MOST_LOOPS:
        raise InputError(
            f"the {what} has {len(loops.closed)} loops",
            where=draft.title,
            cure="Leave one closed path for the outline, and give the others a role.",
        )
    kept: list[Path] = []
    for loop in loops.closed:
        if not any(same_line(loop, other) for other in kept):
            kept.append(loop)
    regions = regions_of(tuple(kept))
    best = max(regions, key=lambda r: abs(r.outer.area))
    for other in regions:
        if other is not best:
            _tell_second(draft, other.outer, what)
    return best


def _tell_second(draft: Draft, path: Path, what: str) -> None:
    text = f"the piece has more than one {what}; the largest was taken"
    cure = "Give each piece a group of its own, or mark the other as cutout or mark."
    draft.find("two-outlines", "fail", text, cure, at=middle(path))
