"""What a pattern measures at the levels that its points and runs name."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from sizewright.model import Piece, Seam, axis_frame

from .across import across, along, down

#: Girths that are looked for on the body of a garment.
GIRTHS = ("bust", "waist", "hip")
#: Pieces that double others and do not add to a girth, by words of their names.
_DOUBLES = {"facing", "lining", "interfacing", "underlining", "pocket", "band", "collar", "cuff"}
#: Between a girth and the pieces that it is of, where a drawing holds several garments.
OF = " of "
#: Points of one level lie no further apart in height than this, mm.
_LEVEL = 20.0
#: A level goes over at least this share of the width of its piece, or of the way between its
#: points (darts are closed on it).
_SPANS, _HOLDS = 0.3, 0.7
_SLEEVE = "sleeve"
_MATERIAL = "main"
_NECK = ("nape", "neck-centre", "neck-center", "neck-back", "centre-back-neck")
_WAIST = ("waist-centre", "waist-center", "waist-back", "centre-back-waist", "waist")


#: A piece and a level that could not be measured, why, and what would mend it.
Left = tuple[str, str, str, str]


def measured(
    pieces: Sequence[Piece], seams: Sequence[Seam]
) -> tuple[Mapping[str, float], list[Left]]:
    """Finished measures of one size in mm, those that the names tell; see the plugin's page.

    A girth of which one piece cannot be measured is left out, and told.
    """
    found: dict[str, float] = {}
    left: list[Left] = []
    body = [p for p in pieces if counts(p) and _SLEEVE not in _words(p.name)]
    for level in GIRTHS:
        there: dict[str, float] = {}
        for p in body:
            width = _at_level(p, level)
            if isinstance(width, str):
                cure = f"Name the edge or run of it that goes round the body there {level}."
                left.append((p.name, level, width, cure))
            elif width is not None:
                there[p.name] = width
        if any(one[1] == level for one in left):
            continue
        for name in _sewn_on(there, seams, level):
            del there[name]
        groups = _garments(there, seams)
        for group in groups:
            name = level if len(groups) == 1 else f"{level}{OF}{', '.join(sorted(group))}"
            found[name] = sum(p.times * there[p.name] for p in body if p.name in group)
    sleeves = [p for p in pieces if counts(p) and _SLEEVE in _words(p.name)]
    widths = [(p, w) for p in sleeves if (w := _biceps(p)) is not None]
    if widths:
        found["biceps"] = sum((2 if p.fold is not None else 1) * w for p, w in widths)
    found.update(_lengths(body))
    return found, left


def counts(piece: Piece) -> bool:
    """Whether a piece belongs to the outer cloth, and is no facing, lining or band."""
    if piece.quantity and all(q.material != _MATERIAL for q in piece.quantity):
        return False
    return not set(_words(piece.name)) & _DOUBLES


def _at_level(piece: Piece, level: str) -> float | str | None:
    """Along the run of that name, or its parts (`waist-1`), else across at the level's points;
    None without either.

    In words, why that cannot be told: points of a level that rises, or that lies off the piece.
    """
    from sizewright.grading import level_points

    runs = {(run.name or "").casefold(): run for run in piece.outline.runs}
    own = [run for name, run in runs.items() if re.fullmatch(rf"{re.escape(level)}-\d+", name)]
    if level in runs or own:
        return sum(along(piece, run) for run in ([runs[level]] if level in runs else own))
    frame, _ = axis_frame(piece)
    points = level_points(piece, level, frame.local(piece.outline.path.vertices))
    if not points:
        return None
    heights = [p.length for p in points]
    if max(heights) - min(heights) > _LEVEL:
        return f"its points of the {level} lie {max(heights) - min(heights):.1f} mm apart in height"
    width = across(piece, sum(heights) / len(heights))
    local = frame.local(piece.outline.path.vertices)
    across_points = local[[p.vertex for p in points], 0]
    least = _SPANS * float(np.ptp(local[:, 0]))
    if len(points) > 1:
        least = _HOLDS * float(np.ptp(across_points))
    if width < least:
        return f"the {level} does not span it where its points lie"
    return width


def _goes_round(run: str, level: str) -> bool:
    """Whether a run goes round the body at a level: a stretch between two points does where
    both lie on it, and nothing that is called a side."""
    ends = [_words(end) for end in run.split("..")]
    return all(level in words and "side" not in words for words in ends) or (
        len(ends) == 2 and all(level in words for words in ends)
    )


def _sewn_on(there: Mapping[str, float], seams: Sequence[Seam], level: str) -> set[str]:
    """Pieces whose level is sewn to that of others: the wider side of such a seam.

    The waist of a skirt and that of its bodice are one waist, as wide as the narrower.
    """
    drop: set[str] = set()
    for seam in seams:
        sides = []
        for chain in (seam.first, seam.second):
            sides.append({p.piece for p in chain if _goes_round(p.run, level) and p.piece in there})
        if all(sides) and not sides[0] & sides[1]:
            widths = [sum(there[name] for name in side) for side in sides]
            drop |= sides[0] if widths[0] >= widths[1] else sides[1]
    return drop


def _garments(there: Mapping[str, float], seams: Sequence[Seam]) -> list[set[str]]:
    """Pieces that go round the body together, where the drawing holds several garments.

    Those are joined by seams that do not lie along a girth, as side seams do not.
    Pieces that no such seam joins to another belong to the first.
    """
    groups: list[set[str]] = [{name} for name in there]
    for seam in seams:
        parts = (*seam.first, *seam.second)
        if any(_goes_round(part.run, level) for part in parts for level in GIRTHS):
            continue
        joined = {part.piece for part in parts if part.piece in there}
        touched = [g for g in groups if g & joined]
        if len(touched) > 1:
            groups = [g for g in groups if not g & joined]
            groups.append(set().union(*touched))
    several = [g for g in groups if len(g) > 1]
    if len(several) < 2:
        return [set(there)] if there else []
    several[0] |= set().union(*(g for g in groups if len(g) == 1))
    return several


def _biceps(piece: Piece) -> float | None:
    from sizewright.grading import level_points

    frame, _ = axis_frame(piece)
    local = frame.local(piece.outline.path.vertices)
    points = level_points(piece, "biceps", local) or level_points(piece, "bust", local)
    if not points:
        return None
    return across(piece, sum(p.length for p in points) / len(points))


def _lengths(body: Sequence[Piece]) -> Iterator[tuple[str, float]]:
    """The back waist length, and inside and outside leg, where a piece names their ends."""
    for piece in body:
        names = {p.name for p in piece.outline.points}
        neck = next((n for n in _NECK if n in names), None)
        waist = next((n for n in _WAIST if n in names), None)
        if "back" in _words(piece.name) and neck and waist:
            yield "back-waist-length", down(piece, neck, waist)
        for run in piece.outline.runs:
            if run.name in ("inseam", "outseam") and "front" in _words(piece.name):
                yield run.name, along(piece, run)


def _words(name: str) -> list[str]:
    return [w for w in re.split(r"[\W_]+", name.casefold()) if w]
