"""Grade rules recovered from a nest: a table and a list of points that give it back."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..errors import UsageError
from ..findings import Finding
from ..geometry.types import Floats
from ..model.pattern import Pattern
from ..model.place import Place
from ..units import Unit
from .asked import base_pieces
from .given_back import OutlineResidual, PointResidual, graded_back
from .needed import lines_off, needed_tracks
from .rule_groups import RuleGroup, grouped
from .sizes import same_size, shown_size
from .stations import pairs
from .tables import Axis, PointRule, RuleTable, StepRule
from .tracks import PieceTracks, Track, track_piece

#: A nest given back within this is as good as the same, mm.
TOLERANCE = 0.01
#: Lines are looked at in places and figures are rounded, so the aim is a little nearer.
_AIM = 0.9


@dataclass(frozen=True)
class Learned:
    """What a nest taught: `rules` and `points` together give it back from its base size.

    `points` holds only what the drawing does not say by itself.
    """

    rules: RuleTable
    points: tuple[PointRule, ...]
    base_size: str
    residuals: tuple[PointResidual, ...]
    outlines: tuple[OutlineResidual, ...]
    findings: tuple[Finding, ...]


def learn(
    pattern: Pattern,
    sizes: Sequence[str],
    *,
    base_size: str | None = None,
    tolerance: float = TOLERANCE,
    align: Sequence[Place] = (),
    notes: Iterable[str] = (),
) -> Learned:
    """Rules by steps from the pieces of a nest, in the order of `sizes`, smallest first.

    Every corner gets a rule, and every point that bears one in the drawing; a curve point
    gets one only where its neighbours leave the line about it more than `tolerance` mm off.
    Points that move alike within `tolerance` share a rule, so a larger one evens out drawing
    noise. `align` gives places to lay the sizes over each other at. `notes` go before the
    table's own.
    Raises UsageError for fewer than two sizes, LookupFailed for a base that is not there,
    InputError for a size that looks like another piece.
    """
    order = tuple(shown_size(size) for size in sizes)
    if len(order) < 2:
        raise UsageError(
            f"rules are learned from several sizes, and there is {', '.join(order) or 'none'}",
            cure="Give a nest, or a file for each size, with the sizes marked.",
        )
    base, pieces = base_pieces(pattern, base_size)
    if same_size(base) not in map(same_size, order):
        raise UsageError(
            f"the base size {base} is not in the nest", cure=f"Its sizes are {', '.join(order)}."
        )
    start = [same_size(s) for s in order].index(same_size(base))
    found: list[PieceTracks] = []
    findings: list[Finding] = []
    for piece in pieces:
        others = {
            s: p
            for s in order
            for p in pattern.pieces
            if p.name == piece.name and p.size is not None and same_size(p.size) == same_size(s)
        }
        one = track_piece(piece, {**others, order[start]: piece}, order, align)
        findings += one.findings
        found.append(one)
    kept = [(one, needed_tracks(one, order, start, _AIM * tolerance)) for one in found]
    groups, split = _shared(kept, order, tolerance)
    findings += [_split_note(rule) for rule in split]
    points = tuple(
        PointRule(t.piece, t.reference, g.rule)
        for g in groups
        for t in g.tracks
        if t.rule != g.rule and t.reference is not None
    )
    lines = (*notes, f"sample size: {order[start]}")
    table = RuleTable("steps", _rows(groups), order, (), lines)
    drawn = pattern.with_pieces(pieces)
    residuals, outlines, told = graded_back(drawn, table, points, found, base, groups, tolerance)
    return Learned(table, points, base, residuals, outlines, (*findings, *told))


# --- the table ----------------------------------------------------------------------------


def _shared(
    kept: Sequence[tuple[PieceTracks, Sequence[Track]]], order: Sequence[str], tolerance: float
) -> tuple[tuple[RuleGroup, ...], tuple[str, ...]]:
    """Rules for the kept tracks, and the drawn rules that had to be split.

    What a shared rule leaves off at a point adds to what was left off along the line, and a
    curve may be farther off than its ends. Where the line would be off too far by that, the
    points about it share with less room, at last only with what moves the same.
    """
    aim = _AIM * tolerance
    room = {t: aim for _, tracks in kept for t in tracks}
    before = [lines_off(one, tracks, order) for one, tracks in kept]
    ruled = {(t.piece, t.vertex) for t in room}
    every = [t for one, _ in kept for t in one.tracks if (t.piece, t.vertex) not in ruled]
    ruleless = {t.reference for t in every if t.reference is not None}
    while True:
        groups, split = grouped(room, ruleless)
        groups = tuple(replace(g, moves=_rounded(g.moves, tolerance)) for g in groups)
        moves = {t: g.moves for g in groups if len(g.tracks) > 1 for t in g.tracks}
        tight: set[Track] = set()
        for (one, tracks), own in zip(kept, before, strict=True):
            off = lines_off(one, [replace(t, moves=moves.get(t, t.moves)) for t in tracks], order)
            bad = (off > aim) & (off > own + tolerance / 100)
            at = {t.vertex: t for t in tracks if not t.notch}
            for stretch in pairs(at, len(off)):
                if bad[stretch[:-1]].any():
                    tight |= {at[stretch[0]], at[stretch[-1]]}
        tight = {t for t in tight if t in moves and room[t] > 0}
        if not tight:
            return groups, split
        room |= {t: room[t] / 2 if room[t] > aim / 8 else 0.0 for t in tight}


def _rounded(moves: Floats, tolerance: float) -> Floats:
    """Moves in mm with no more decimals than mean something at this tolerance."""
    places = 4 if tolerance <= 0 else min(6, max(1, 2 - math.floor(math.log10(tolerance))))
    rounded: Floats = np.round(moves, places) + 0.0
    return rounded


def _rows(groups: Iterable[RuleGroup]) -> tuple[StepRule, ...]:
    rows = []
    for group in groups:
        steps = np.round(np.diff(group.moves, axis=0), 6) + 0.0
        axes: list[tuple[int, Axis]] = [(0, "width"), (1, "length")]
        told = [(k, axis) for k, axis in axes if steps[:, k].any()] or axes[1:]
        for k, axis in told:
            row = (0.0, *(float(s) for s in steps[:, k]))
            rows.append(StepRule(group.rule, axis, Unit.MM, row))
    return tuple(rows)


def _split_note(rule: str) -> Finding:
    return Finding(
        "rule-split",
        "note",
        f'points that share the rule "{rule}" in the drawing move differently, '
        "so some of them get another one in the points table",
    )
