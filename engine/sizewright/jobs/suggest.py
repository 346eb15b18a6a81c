"""Names suggested for pieces that bear none and look like a piece of the basic set."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import InputError, UsageError
from ..findings import Finding

if TYPE_CHECKING:
    from ..formats.reading import Reading
    from ..grading import PointRule
    from ..model import Outline, Pattern, Piece, Point

#: The drawing whose names are suggested.
BASIC = "examples/basic-set/basic-set.svg"
#: How the pieces of that drawing are called.
_CALLED = {
    "front": "a bodice front",
    "back": "a bodice back",
    "sleeve": "a sleeve",
    "skirt-front": "a skirt front",
    "skirt-back": "a skirt back",
    "trousers-front": "a trousers front",
    "trousers-back": "a trousers back",
}
#: A piece is alike when it is off by no more than this share of its own size.
_ALIKE = 0.09
#: What is off by no more than the best and so much is as good as the best.
_AS_GOOD = (1.5, 0.01)
#: How much larger or smaller than size 12 a piece may be: a child's to the largest.
_SCALE = (0.55, 1.8)
#: Nothing smaller than this from corner to corner, mm, is compared.
_LEAST = 200.0
#: Nor what has fewer corners, or more, than any piece of the set.
_CORNERS = range(4, 13)


@dataclass(frozen=True, slots=True)
class _Laid:
    """One piece of the set laid on an outline: how it is called, its points in corner order."""

    called: str
    points: tuple[Point, ...]
    off: float

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(p.name or "" for p in self.points)


def suggestions(pattern: Pattern) -> tuple[Finding, ...]:
    """A `names-suggested` note for each piece without a named point that looks like one of the
    basic set: which it is, and what its corners may be called.

    Of a piece in several sizes only the first is told. Where two pieces or two ways to lay
    one fit as well, both names are told; nothing is said where that leaves more than two
    names for a corner.
    """
    found: dict[str, Finding] = {}
    for piece in pattern.pieces:
        if piece.name not in found and (outline := _unnamed(piece)) is not None:
            text = _suggestion(outline)
            if text:
                found[piece.name] = piece.finding(
                    "names-suggested",
                    "note",
                    text,
                    cure="If that is so, name them in the drawing, or let show do it "
                    "(--points, --marked).",
                )
    return tuple(found.values())


def write_names(
    reading: Reading,
    source: str | os.PathLike[str],
    *,
    points: str | os.PathLike[str] | None = None,
    marked: str | os.PathLike[str] | None = None,
) -> tuple[str, ...]:
    """Write the suggestions down: `points` as a table of points, with the rules of the basic
    set; `marked` as a drawing with the points named. Gives lines that tell of it.

    Where a corner may have two names it gets that of the better fit, which the lines tell.
    Both files are written or none. Raises InputError where nothing is suggested, UsageError
    for endings, and what writing raises.
    """
    from ..formats.safely import write_all
    from ..grading import write_points
    from .files import encode_pattern

    for out, ending in ((points, ".csv"), (marked, ".svg")):
        if out is not None and Path(out).suffix.lower() != ending:
            raise UsageError(
                f"this is written as {ending[1:].upper()}",
                where=os.fspath(out),
                cure=f'Give it a name that ends in "{ending}".',
            )
    named, rules, doubts = _named(reading.pattern)
    if not rules:
        raise InputError(
            "no piece without names looks like one of the basic set, so there are none to write",
            where=os.fspath(source),
            cure="Name the points in the drawing.",
        )
    title = f"Title: points of {Path(source).name}, by likeness to the basic set: check each"
    files: dict[Path, bytes | str] = {}
    lines = []
    count = f"{len(rules)} points of {', '.join(dict.fromkeys(r.piece for r in rules))}"
    if points is not None:
        files[Path(points)] = write_points(rules, (title, *doubts))
        lines.append(f"Table of points: {os.fspath(points)}: {count}")
    findings: tuple[Finding, ...] = ()
    if marked is not None:
        made, findings = encode_pattern(named, marked)
        files |= {Path(name): data for name, data in made.items()}
        lines.append(f"Marked drawing: {os.fspath(marked)}: {count}")
    write_all(files, sources=[Path(source)])
    return (*lines, *doubts, *(f.line() for f in findings))


def _named(pattern: Pattern) -> tuple[Pattern, list[PointRule], list[str]]:
    """The pattern with the suggested names, the rules of those points, and what may be otherwise.

    All sizes of a piece get the names of the first, by corner number.
    """
    from ..grading import PointRule

    rules: list[PointRule] = []
    doubts = []
    chosen: dict[str, tuple[Point, ...]] = {}
    for piece in pattern.pieces:
        if piece.name in chosen or _unnamed(piece) is None:
            continue
        good = _good(piece.outline)
        if not good:
            continue
        chosen[piece.name] = good[0].points
        for k, (point, names) in enumerate(
            zip(good[0].points, _choices(good), strict=True), start=1
        ):
            rules.append(PointRule(piece.name, f"#{k}", point.rule or point.name or ""))
            doubts += [
                f"{piece.name}, corner {k}: named {point.name}, may be {other}"
                for other in names
                if other != point.name
            ]

    def marked(piece: Piece) -> Piece:
        outline = piece.outline
        points = chosen.get(piece.name, ())
        if len(points) == len(outline.corners):
            for vertex, point in zip(outline.corners, points, strict=True):
                outline = outline.with_point(vertex, name=point.name, rule=point.rule)
        return replace(piece, outline=outline)

    return pattern.replacing(marked), rules, doubts


def _unnamed(piece: Piece) -> Outline | None:
    """The line of a piece whose corners are numbered, where it may be compared at all."""
    lines = [piece.outline, *([piece.cut_line] if piece.cut_line else [])]
    if any(point.name for line in lines for point in line.points):
        return None
    path, (x0, y0, x1, y1) = piece.drawn.path, piece.bounds
    large = math.hypot(x1 - x0, y1 - y0) >= _LEAST
    # Every piece of the set has a curve, so that what is all straight need not be compared.
    alike = large and len(piece.drawn.corners) in _CORNERS and not path.lines.all()
    return piece.drawn if alike else None


def _suggestion(outline: Outline) -> str:
    good = _good(outline)
    if not good:
        return ""
    corners = [
        f"{number} " + " or ".join(f"`{name}`" for name in names)
        for number, names in enumerate(_choices(good), start=1)
    ]
    called = " or ".join(dict.fromkeys(x.called for x in good))
    first = corners[0].replace(" ", " may be ", 1)
    return f"looks like {called}: corner {', '.join([first, *corners[1:]])}"


def _choices(good: list[_Laid]) -> list[list[str]]:
    """The names that each corner may have, in corner order."""
    return [sorted(set(names)) for names in zip(*(x.names for x in good), strict=True)]


def _good(outline: Outline) -> list[_Laid]:
    """The ways to lay pieces of the set that fit as well as the best, which comes first; none
    where they leave more than two names for a corner."""
    laid = sorted(_laid(outline), key=lambda x: x.off)
    if not laid:
        return []
    factor, more = _AS_GOOD
    good = [x for x in laid if x.off <= max(laid[0].off * factor, laid[0].off + more)]
    return good if all(len(names) <= 2 for names in _choices(good)) else []


def _laid(outline: Outline) -> Iterator[_Laid]:
    from ..model.likeness import likenesses

    for known in _basic_set():
        for way in likenesses(outline, known.outline):
            points = tuple(known.outline.point(v) for v in way.vertices)
            named = all(p.name for p in points)
            if way.off <= _ALIKE and _SCALE[0] <= way.scale <= _SCALE[1] and named:
                yield _Laid(_CALLED[known.name], points, way.off)


@cache
def _basic_set() -> tuple[Piece, ...]:
    from ..formats import read_svg
    from ..shipped import shipped

    return read_svg(shipped(BASIC)).pattern.pieces
