"""What is looked at in each graded size, and in the whole nest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from ..errors import GeometryError
from ..findings import Finding
from ..geometry.bezier import evaluate
from ..geometry.crossings import is_simple, self_crossings
from ..geometry.nearest import nearest
from ..geometry.types import Floats
from ..model.outline import Outline
from ..model.piece import Piece
from .notches import NotchNote

#: A smooth point may turn by this much more than in the base, degrees.
_KINK = 0.01
#: Two sizes cross where each reaches beyond the other by more than this, mm2.
_OVERHANG = 1.0
_CHORDS = 24
#: An allowance may change by this much without a word, mm.
_ALLOWANCE = 0.5


def refuse_fold_over(base: Piece, piece: Piece, size: str) -> None:
    """Raise GeometryError where the outline crosses itself, unless it did so in the base."""
    crossed = [c for c in self_crossings(piece.outline.path) if c.kind != "touch"]
    if not crossed:
        return
    at = crossed[0].point
    near = _nearest_name(piece.outline, at)
    where = f"{piece.name} {size}, at x {at[0]:.1f} mm, y {at[1]:.1f} mm{near}"
    if not is_simple(base.outline.path, may_touch=True):
        raise GeometryError(
            "the outline crosses itself, and so does the base",
            where=where,
            cure="Mend the drawing first.",
        )
    raise GeometryError(
        "the outline would fold over itself",
        where=where,
        cure="Look at the rules of the points about that place, or stay nearer the base size.",
    )


def _nearest_name(outline: Outline, at: Floats) -> str:
    named = [p for p in outline.points if p.name]
    if not named:
        return ""
    places = outline.path.vertices[[p.vertex for p in named]]
    k = int(np.hypot(*(places - at).T).argmin())
    return f", near {named[k].name}"


def kinks(base: Outline, piece: Piece) -> list[Finding]:
    """Smooth points that turn more than in the base: where straight lines meet there."""
    smooth = np.ones(len(base.path), dtype=bool)
    smooth[list(base.corners)] = False
    more = np.abs(piece.outline.path.turns) - np.abs(base.path.turns)
    out = []
    for vertex in np.flatnonzero(smooth & (more > _KINK)):
        name = base.point(int(vertex)).name
        x, y = piece.outline.vertex_at(int(vertex))
        out.append(
            piece.finding(
                "kink",
                "note",
                f"a smooth point now turns {more[vertex]:.2f} degrees more than in the base",
                name or f"{x:.1f}, {y:.1f} mm",
                "Give its neighbours rules that fit, or draw it as a curve.",
            )
        )
    return out


def changed_allowance(base: Piece, piece: Piece) -> list[Finding]:
    """A note where the cutting line no longer lies as far from the sewing line as in the base."""
    if base.cut_line is None or piece.cut_line is None:
        return []
    wide = [
        nearest(one.outline.path, evaluate(cut.path.controls, np.full(len(cut.path), 0.5))).distance
        for one, cut in ((base, base.cut_line), (piece, piece.cut_line))
    ]
    worst = float(np.abs(wide[1] - wide[0]).max())
    if worst <= _ALLOWANCE:
        return []
    return [
        piece.finding(
            "allowance-changed",
            "note",
            f"the allowance between cutting and sewing line changed by up to {worst:.1f} mm",
            cure="Add the allowance anew after grading.",
        )
    ]


def notch_finding(piece: Piece, note: NotchNote) -> Finding:
    return piece.finding(
        "notch-moved",
        "warn",
        f"a notch cannot keep its distance: its edge is {note.short:.1f} mm too short",
        note.notch.name or "",
        "Give the notch a rule, or place it anew.",
    )


def nest_crossings(made: Mapping[str, Sequence[Piece]]) -> list[Finding]:
    """A note for each piece with neighbouring sizes of which neither holds the other.

    `made` has the pieces of each size, from the smallest size up.
    """
    import shapely

    by_place = list(made)
    crossed: dict[str, list[tuple[str, str]]] = {}
    first_place: dict[str, str] = {}
    for small, large in pairwise(by_place):
        for a, b in zip(made[small], made[large], strict=True):
            first, second = _polygon(a), _polygon(b)
            less = min(
                shapely.difference(first, second),
                shapely.difference(second, first),
                key=lambda part: float(part.area),
            )
            if less.area <= _OVERHANG:
                continue
            place = less.representative_point()
            crossed.setdefault(a.name, []).append((small, large))
            first_place.setdefault(a.name, f"{place.x:.1f}, {place.y:.1f} mm")
    return [
        Finding(
            "nest-crosses",
            "note",
            "the outlines of neighbouring sizes cross, so that neither holds the other: "
            + ", ".join(f"{small} and {large}" for small, large in pairs),
            name,
            place=first_place[name],
        )
        for name, pairs in crossed.items()
    ]


def _polygon(piece: Piece) -> Any:
    """The outline as a shapely polygon, every curve cut alike so that equal ones stay equal."""
    import shapely

    path = piece.outline.path
    t = np.broadcast_to(np.arange(_CHORDS) / _CHORDS, (len(path), _CHORDS))
    points = evaluate(path.controls[:, None], t)
    polygon = shapely.Polygon(points.reshape(-1, 2))
    return polygon if polygon.is_valid else polygon.buffer(0)
