"""The lines of a piece: found, closed, turned counter-clockwise, curves refitted, judged."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely

from ...errors import InputError
from ...geometry.crossings import Crossing, self_crossings
from ...geometry.nearest import nearest_point
from ...geometry.path import Path
from ...geometry.types import Floats
from .drafts import Draft, Gathered
from .outline_choice import choose_outline, closed_of
from .shapes import Element

#: A run of chords has at least so many vertices that turn gently, in degrees, between
#: straight segments; without them none is looked for.
_FEWEST_GENTLE, _GENTLE = 3, 30.0
#: More segments than this are no outline, nor so many once chords are curves again.
_MOST_SEGMENTS, _MOST_REFITTED = 200_000, 120_000
#: An outline with more pairs of segments on one another, box on box, is a tangle.
_MOST_PAIRS = 30_000
#: Loops with less area than this, in mm2, enclose nothing.
_NO_AREA = 1.0
_NO_BREADTH = 1e-3
#: A place within this of a line, mm, lies on it.
_ON_LINE = 0.05
#: A mark nearer to a vertex than this, mm, may be that one's, badly placed.
_ASTRAY = 5.0
#: Crossings nearer to one another than this, in mm, are one place.
_ONE_PLACE = 0.1


class Line(NamedTuple):
    """A closed line of a piece, counter-clockwise.

    `raw` is the same before refitting (itself where nothing was refitted), `element` the
    one that drew it, `turned` whether it was drawn clockwise.
    """

    path: Path
    raw: Path
    element: Element
    turned: bool = False


class Lines(NamedTuple):
    """Outline, sewing line within it, and holes drawn in the same shape as the outline.

    `sewn`: the outline itself is the one that is marked as the sewing line.
    """

    outline: Line
    sew: Line | None = None
    holes: tuple[Path, ...] = ()
    sewn: bool = False


def find_lines(draft: Draft) -> Lines | None:
    """The lines of a draft; None, with findings, where it has no outline to work on."""
    sews = [d for d in draft.marks if d.marking and d.marking.role == "sew"]
    sew = closed_of(draft, sews, "sewing line") if sews else None
    outline = choose_outline(draft, sews, sew)
    if outline is None and sew is None:
        return None
    sewn = outline is None
    if outline is None:
        assert sew is not None
        outline, sew = sew, None
    (drawn, region), holes = outline, outline[1].holes
    main = _settled(draft, drawn.element, region.outer, "outline")
    if main is None:
        return None
    inner = None
    if sew is not None:
        inner = _settled(draft, sew[0].element, sew[1].outer, "sewing line")
        if inner is not None and abs(inner.path.area) >= main.path.area:
            text = "the sewing line is not inside the outline"
            cure = "Draw the sewing line inside the cutting line, or leave out its role."
            draft.find("sew-outside", "fail", text, cure)
    return Lines(main, inner, holes, sewn)


def _settled(draft: Draft, element: Element, path: Path, what: str) -> Line | None:
    """One line refitted, counter-clockwise and judged."""
    raw = path
    _judge_number(path, _MOST_SEGMENTS, what, draft)
    path = refitted(path, element, what, draft)
    _judge_number(path, _MOST_REFITTED, what, draft)
    if _tangled(path):
        raise InputError(
            f"the {what} is a tangle of lines that run over one another",
            where=draft.title,
            cure="Draw it again as one line round the piece.",
        )
    if not _told_sound(draft, path, what):
        return None
    turned = path.area < 0
    if turned:
        path, raw = path.reversed(), (path.reversed() if raw is path else raw.reversed())
    return Line(path, path if raw == path else raw, element, turned)


def _told_sound(draft: Draft, path: Path, what: str) -> bool:
    """Tell where a line meets itself; False, with one finding, where it encloses nothing."""
    x0, y0, x1, y1 = path.bounds
    # A line without any breadth runs over itself all along; that it has no area says enough.
    flat = min(x1 - x0, y1 - y0) < _NO_BREADTH
    places: list[Crossing] = []
    for crossing in () if flat else self_crossings(path):
        near = (float(np.hypot(*(crossing.point - p.point))) for p in places)
        if crossing.kind != "touch" and all(d > _ONE_PLACE for d in near):
            places.append(crossing)
    empty = abs(path.area) < _NO_AREA
    # What is left out needs one place to look at, not each of them.
    for crossing in places[:1] if empty else places:
        text = "crosses itself"
        if crossing.kind == "overlap":
            text = f"runs over itself for {crossing.length:.1f} mm"
        if empty:
            text += " and encloses no area in all; the piece was left out"
        draft.find(
            "self-crossing",
            "fail",
            f"the {what} {text}",
            cure="Move the points there so that the line runs round the piece once.",
            at=crossing.point,
        )
    if empty and not places:
        draft.find(
            "no-area",
            "fail",
            f"the {what} encloses no area; the piece was left out",
            cure="Draw it again, or undo the transform that flattens it.",
        )
    return not empty


def _judge_number(path: Path, most: int, what: str, draft: Draft) -> None:
    if len(path) > most:
        raise InputError(
            f"the {what} has {len(path)} segments, more than {most}",
            where=draft.title,
            cure="Simplify its path in the editor.",
        )


def _tangled(path: Path) -> bool:
    """Whether so many segments lie on one another that looking for crossings has no end."""
    n = len(path)
    if n * n < 2 * _MOST_PAIRS:
        return False
    low, high = path.controls.min(axis=1), path.controls.max(axis=1)
    boxes = shapely.box(*low.T, *high.T)
    tree = shapely.STRtree(boxes)
    pairs = 0
    for k in range(0, n, 50):
        pairs += len(tree.query(boxes[k : k + 50])[0])
        # Each pair is met twice, and each segment with itself and its neighbours.
        if pairs - 3 * n > 2 * _MOST_PAIRS:
            return True
    return False


def refitted(path: Path, element: Element, what: str, draft: Draft) -> Path:
    """The line with runs of short chords as curves again, and a note of how many."""
    if not _has_chords(path, element):
        return path
    from ...geometry.refit import refit

    done = draft.out.refits.get(path) or refit(path, draft.out.options.refit_tolerance)
    if done.runs:
        runs = "1 run" if done.runs == 1 else f"{done.runs} runs"
        draft.find(
            "refitted",
            "note",
            f"{runs} of short chords in the {what} came back as curves, "
            f"within {draft.out.options.refit_tolerance:g} mm",
        )
    return done.path


def refit_ahead(out: Gathered) -> None:
    """Refit in one go, in less time, what `refitted` will be asked for: paths that are pieces."""
    known = [(d.region.outer, d.shapes[0].element) for d in out.drafts if d.region]
    paths = [p for p, e in known if len(p) <= _MOST_SEGMENTS and _has_chords(p, e)]
    if len(paths) > 1:
        from ...geometry.refit import refit_all

        refits = refit_all(paths, out.options.refit_tolerance)
        out.refits.update(zip(paths, refits, strict=True))


def _has_chords(path: Path, element: Element) -> bool:
    between = path.lines & np.roll(path.lines, 1)
    gentle = between & (np.abs(path.turns) < _GENTLE)
    return element.get("data-refit") != "no" and int(gentle.sum()) >= _FEWEST_GENTLE


def with_vertices(
    line: Line, places: Sequence[tuple[Floats, bool]], reach: float
) -> tuple[Line, list[int]]:
    """The line with vertices put back where `places` (2,) ask; also which of these had none.

    Only for a place beyond `reach` mm of the vertices that are left: within it of one that
    refitting took away; or, where the place is said to have been at a node, on a straight line,
    out of which another program took it. So near to a vertex it is a mark gone astray.
    """
    path, bare = line.path, []
    for k, (place, at_node) in enumerate(places):
        left = float(np.hypot(*(path.vertices - place).T).min())
        if left <= reach:
            continue
        raw = np.hypot(*(line.raw.vertices - place).T)
        if raw.min() <= reach:
            foot = nearest_point(path, line.raw.vertices[int(raw.argmin())])
        else:
            foot = nearest_point(path, place)
            astray = not at_node or left < _ASTRAY
            if astray or foot.distance > _ON_LINE or not path.lines[foot.segment]:
                continue
            bare.append(k)
        path, _ = path.with_vertex(foot.s)
    return (line._replace(path=path) if path is not line.path else line), bare
