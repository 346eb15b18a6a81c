"""Names suggested for pieces that bear none and look like a piece of the basic set."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from ..findings import Finding

if TYPE_CHECKING:
    from ..model import Outline, Pattern, Piece

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
    """One piece of the set laid on an outline: how it is called, its names in corner order."""

    called: str
    names: tuple[str, ...]
    off: float


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
                found[piece.name] = Finding(
                    "names-suggested",
                    "note",
                    text,
                    piece.name,
                    piece.size or "",
                    cure="If that is so, name them in the drawing.",
                )
    return tuple(found.values())


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
    laid = sorted(_laid(outline), key=lambda x: x.off)
    if not laid:
        return ""
    factor, more = _AS_GOOD
    good = [x for x in laid if x.off <= max(laid[0].off * factor, laid[0].off + more)]
    corners = []
    for number, names in enumerate(zip(*(x.names for x in good), strict=True), start=1):
        each = sorted(set(names))
        if len(each) > 2:
            return ""
        corners.append(f"{number} " + " or ".join(f"`{name}`" for name in each))
    called = " or ".join(dict.fromkeys(x.called for x in good))
    first = corners[0].replace(" ", " may be ", 1)
    return f"looks like {called}: corner {', '.join([first, *corners[1:]])}"


def _laid(outline: Outline) -> Iterator[_Laid]:
    from ..model.likeness import likenesses

    for known in _basic_set():
        for way in likenesses(outline, known.outline):
            names = tuple(known.outline.point(v).name or "" for v in way.vertices)
            if way.off <= _ALIKE and _SCALE[0] <= way.scale <= _SCALE[1] and all(names):
                yield _Laid(_CALLED[known.name], names, way.off)


@cache
def _basic_set() -> tuple[Piece, ...]:
    from ..formats import read_svg
    from ..shipped import shipped

    return read_svg(shipped(BASIC)).pattern.pieces
