"""A part cut out of a piece by a straight line, by hand: what cutting must leave to grading."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sizewright.geometry.path import Path
from sizewright.geometry.types import Floats
from sizewright.grading import with_mixtures
from sizewright.model import (
    Dart,
    Fold,
    Hold,
    Outline,
    Pattern,
    Piece,
    Pleat,
    RuleWeights,
    drafting_axis,
)

#: A cut: from a segment at a parameter to another, counter-clockwise.
Cut = tuple[tuple[int, float], tuple[int, float]]


def split_path(path: Path, cut: Cut) -> tuple[Path, int, int]:
    """The closed path with vertices at both ends of a cut, and their numbers."""
    from sizewright.geometry import bezier

    controls, lines = list(path.controls), list(path.lines)
    (i, _), (j, _) = cut
    for k, u in sorted(cut, reverse=True):
        controls[k : k + 1] = bezier.split(controls[k], u)
        lines[k : k + 1] = [lines[k], lines[k]]
    first = i + 1 + (j < i)
    last = j + 1 + (i < j)
    return Path(np.array(controls), np.array(lines), True), first, last


def part_path(path: Path, cut: Cut) -> Path:
    """The stretch of a path between the ends of a cut, closed by a straight line."""
    whole, first, last = split_path(path, cut)
    stretch = whole.segments(first, last)
    return Path.of([*stretch.controls, np.array([stretch.end, stretch.start])], closed=True)


def part_of(piece: Piece, cut: Cut) -> Piece | None:
    """The part of a weighed piece that a cut leaves, its new points with their mixtures.

    None where the cut goes through what is held together.
    """
    assert piece.weights is not None
    whole, first, last = split_path(piece.outline.path, cut)
    (i, _), (j, _) = cut
    weights = piece.weights
    for k, u in sorted(cut, reverse=True):
        weights = weights.split(k, u)
    path = part_path(piece.outline.path, cut)
    n = len(whole)
    count = (last - first) % n

    def old(v: int) -> int:
        return v + (v > i) + (v > j)

    def to(v: int) -> int | None:
        k = (old(v) - first) % n
        return k if k <= count else None

    def inside(*vs: int | None) -> bool | None:
        found = [to(v) is not None for v in vs if v is not None]
        return True if all(found) else False if not any(found) else None

    darts, pleats, holds = [], [], []
    for d in piece.darts:
        ok = inside(d.a, d.b, d.tip)
        if ok is None or (ok and to(d.a) > to(d.b)):
            return None
        if ok:
            darts.append(
                Dart(d.name, to(d.a), to(d.b), d.apex, None if d.tip is None else to(d.tip))
            )
    for p in piece.pleats:
        ok = inside(p.a, p.b)
        if ok is None:
            return None
        if ok:
            pleats.append(Pleat(p.name, to(p.a), to(p.b)))
    for h in piece.holds:
        ok = inside(*h.vertices)
        if ok is None:
            return None
        if ok:
            holds.append(Hold(tuple(to(v) for v in h.vertices), h.name))
    fold = None
    if piece.fold is not None and inside(piece.fold.start, piece.fold.end):
        a, b = to(piece.fold.start), to(piece.fold.end)
        fold = Fold(a, b) if a < b else None
    corners = {to(v) for v in piece.outline.corners} - {None} | {0, count}
    outline = Outline(path, tuple(sorted(corners)))
    ring = RuleWeights.joined(
        [weights.segments(first, last), RuleWeights.unknown(weights.rules, 1)]
    )
    part = replace(
        piece,
        outline=outline,
        axis=drafting_axis(piece, path.vertices),
        fold=fold,
        darts=tuple(darts),
        pleats=tuple(pleats),
        holds=tuple(holds),
        notches=(),
        cut_line=None,
        marks=(),
        cutouts=(),
        adjusts=(),
        drills=(),
        labels=(),
        weights=ring,
    )
    points = (replace(p, vertex=k) for p in piece.outline.points if (k := to(p.vertex)) is not None)
    named = replace(outline, points=tuple(sorted(points, key=lambda p: p.vertex)))
    return with_mixtures(Pattern((replace(part, outline=named),))).pieces[0]


def apart(a: Path, b: Path) -> Floats:
    """How far two paths with like segments lie apart, mm, by segment: the most."""
    t = np.linspace(0, 1, 17)
    from sizewright.geometry.bezier import evaluate

    p = evaluate(a.controls[:, None], t[None])
    q = evaluate(b.controls[:, None], t[None])
    return np.hypot(*np.moveaxis(p - q, -1, 0)).max(axis=1)
