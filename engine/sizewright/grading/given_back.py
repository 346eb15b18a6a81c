"""A nest graded back by the rules that were learned from it, and how far it is off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import GeometryError
from ..findings import Finding
from ..geometry import bezier
from ..geometry.nearest import nearest, nearest_point
from ..geometry.types import Floats
from ..model.outline import Outline
from ..model.pattern import Pattern
from ..model.piece import Piece
from .by_rules import grade
from .matched import items_of
from .rule_groups import RuleGroup
from .tables import PointRule, RuleTable
from .tracks import PieceTracks

#: The outline between points is looked at in so many places of each segment.
_LOOKS = 8
#: An outline that is off by less than this is not worth a warning, mm.
_SEEN = 0.1


@dataclass(frozen=True, slots=True)
class PointResidual:
    """By how much a point misses its place when the nest is graded back, mm: the most, and
    in which size. `rule` is None for a point that goes along with its neighbours."""

    piece: str
    point: str
    rule: str | None
    off: float
    size: str


@dataclass(frozen=True, slots=True)
class OutlineResidual:
    """The farthest that a drawn outline lies from the graded one, mm, and in which size."""

    piece: str
    off: float
    size: str


def graded_back(
    drawn: Pattern,
    table: RuleTable,
    points: Sequence[PointRule],
    found: Sequence[PieceTracks],
    base: str,
    groups: Sequence[RuleGroup],
    tolerance: float,
) -> tuple[tuple[PointResidual, ...], tuple[OutlineResidual, ...], list[Finding]]:
    """Each point's and each outline's residual when the table grades the base."""
    if not any(g.tracks for g in groups):
        return (), (), []
    wanted = [s for s in table.sizes if any(s in one.sizes for one in found)]
    try:
        made = grade(drawn, table, wanted, base_size=base, points=points, allow_far=True).pattern
    except GeometryError as error:
        text = f"the rules do not give the nest back: {error.what}"
        return (), (), [Finding("not-given-back", "fail", text, error.where, cure=error.cure)]
    ruled = {(t.piece, t.notch, t.vertex): g.rule for g in groups for t in g.tracks}
    residuals: list[PointResidual] = []
    outlines: list[OutlineResidual] = []
    findings: list[Finding] = []
    for one in found:
        graded = {s: made.piece(one.base.name, s) for s in one.sizes}
        residuals += _point_residuals(one, graded, ruled)
        off = {s: _outline_off(one.sizes[s].outline, p.outline) for s, p in graded.items()}
        size = max(off, key=lambda s: off[s])
        outlines.append(OutlineResidual(one.base.name, off[size], size))
        if off[size] > max(_SEEN, 2 * tolerance):
            text = f"graded back, its outline is up to {off[size]:.2f} mm off the drawn one"
            cure = "Compare the two; a point on the curve, drawn in every size, would help."
            findings.append(Finding("learned-off", "warn", text, one.base.name, size, cure=cure))
    return tuple(residuals), tuple(outlines), findings


def _point_residuals(
    one: PieceTracks, graded: Mapping[str, Piece], ruled: Mapping[tuple[str, bool, int], str]
) -> list[PointResidual]:
    found = []
    # A curve point without a name may lie anywhere along its curve.
    exact = set(items_of(one.base.outline))
    for track in {t.vertex: t for t in one.tracks if not t.notch}.values():
        off = {}
        for size, piece in graded.items():
            drawn = one.sizes[size].outline
            place = one.matches[size].place(drawn, track.vertex)
            if place is None:
                continue
            here = piece.outline.vertex_at(track.vertex)
            if track.vertex not in exact:
                place = nearest_point(drawn.path, here).point
            off[size] = float(np.hypot(*(here - place)))
        if off and track.reference is not None:
            size = max(off, key=lambda s: off[s])
            rule = ruled.get((track.piece, False, track.vertex))
            found.append(PointResidual(track.piece, track.reference, rule, off[size], size))
    return found


def _outline_off(drawn: Outline, graded: Outline) -> float:
    return float(nearest(graded.path, looks(drawn).reshape(-1, 2)).distance.max())


def looks(outline: Outline) -> Floats:
    """Points along each segment, from its start: (segments, looks, 2)."""
    t = np.linspace(0, 1, _LOOKS, endpoint=False)
    places: Floats = bezier.evaluate(outline.path.controls[:, None], t[None])
    return places
