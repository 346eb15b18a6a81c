"""Rules follow a cut: what a base's points take of each rule, kept through edits of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from ..geometry.straight import straight_segments
from ..geometry.types import Bools, Floats
from ..model.frame import axis_frame
from ..model.mixture import format_mixture
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..model.rule_weights import RuleWeights
from .curves import STRAIGHT
from .map import outline_weights, rule_weights

#: Where rules give this much, mm, ...
_AMOUNT = 25.0
#: ... ends of lines may lie this far from where the uncut piece has them, and curves so far, mm.
_EXACT = 1e-9
_CURVE = 0.02


def with_rule_weights(pattern: Pattern) -> Pattern:
    """The pattern with `weights` on each piece that has rules, by its grade map; of a graded
    piece on its base.

    Edits carry them with the outline; `with_mixtures` then gives the rules that they tell.
    """
    bases: dict[int, Piece] = {}

    def weighed(piece: Piece) -> Piece:
        if piece.base is not None:
            if id(piece.base) not in bases:
                bases[id(piece.base)] = weighed(piece.base)
            return replace(piece, base=bases[id(piece.base)])
        if all(p.rule is None for p in piece.outline.points):
            return piece
        return replace(piece, weights=rule_weights(piece))

    return pattern.replacing(weighed)


def with_mixtures(pattern: Pattern) -> Pattern:
    """The pattern without `weights`, its points bearing the rules that these tell.

    So what was cut out of a piece grades as it would have within it. Points that have a rule
    keep it; where the axes of the piece are others now, it is told by them. A corner or end
    of a straight line that would no longer go as the weights say gets a mixture. So do the
    points of curves that would lie off by more than 0.02 mm where rules give 25 mm, with what
    settles their slant. What has no weights, as points of new lines, stays without a rule.
    """
    bases: dict[int, Piece] = {}

    def settled(piece: Piece) -> Piece:
        if piece.base is None:
            return _settled(piece)
        if id(piece.base) not in bases:
            bases[id(piece.base)] = _settled(piece.base)
        base = bases[id(piece.base)]
        outline = piece.outline
        # What is put in by a length may lie on the other side of a named point than on the base.
        if len(outline.path) == len(base.outline.path) and _names(piece) == _names(base):
            outline = replace(outline, points=base.outline.points)
        return replace(piece, outline=outline, base=base, weights=None)

    return pattern.replacing(settled)


def _names(piece: Piece) -> dict[int, str]:
    return {p.vertex: p.name for p in piece.outline.points if p.name}


def _settled(piece: Piece) -> Piece:
    weights, piece = piece.weights, replace(piece, weights=None)
    if weights is None or len(weights) != len(piece.outline.path):
        return piece
    settling = _Settling(piece, weights)
    settling.give(p.vertex for p in piece.outline.points if p.rule is not None)
    while settling.goes_on():
        pass
    return settling.piece


class _Settling:
    def __init__(self, piece: Piece, weights: RuleWeights) -> None:
        self.piece, self.weights = piece, weights
        self.frame, _ = axis_frame(piece)
        self.before: set[int] = set()
        self.after: set[int] = set()
        path = piece.outline.path
        self.corners = np.zeros(len(path), dtype=bool)
        self.corners[list(piece.outline.corners)] = True
        self.bare = path.lines
        straight = straight_segments(path, STRAIGHT)
        # Corners and ends of straight lines are kept to the last digits.
        self.exact = self.corners | straight | np.roll(straight, 1)

    def give(self, vertices: Iterable[int]) -> bool:
        """Rules by the weights at vertices; whether any got one that it had not before."""
        before = self.piece
        path = before.outline.path
        for v in vertices:
            mixture = self.weights.mixture_at(
                v, self.frame, path, before=v in self.before, after=v in self.after
            )
            if mixture is not None:
                rule = format_mixture(mixture)
                outline = self.piece.outline
                if outline.point(v).rule != rule:
                    self.piece = replace(self.piece, outline=outline.with_point(v, rule=rule))
        return self.piece is not before

    def goes_on(self) -> bool:
        """Whether something was off and got a rule that mends it."""
        off = self._off()
        free = ~self._with_rule()
        ends = np.maximum(off[:, 0], np.roll(off[:, 3], 1))
        if self.give(np.flatnonzero(self.exact & free & (ends > _EXACT))):
            return True
        if self.give(np.flatnonzero(~self.exact & free & (ends > _CURVE))):
            return True
        n = len(off)
        slanted = np.flatnonzero(~self.bare & (off[:, 1:3].max(axis=1) > _CURVE))
        touched: set[int] = set()
        for k in map(int, slanted):
            for v, side in ((k, self.after), ((k + 1) % n, self.before)):
                touched.add(v)
                side.add(v)
                if not self.corners[v]:  # both sides of a smooth point, or it would get a kink
                    self.before.add(v)
                    self.after.add(v)
        return self.give(sorted(touched))

    def _with_rule(self) -> Bools:
        ruled = np.zeros(len(self.piece.outline.path), dtype=bool)
        ruled[[p.vertex for p in self.piece.outline.points if p.rule is not None]] = True
        return ruled

    def _off(self) -> Floats:
        """How far each control point (n, 4) would lie off, mm, where rules give `_AMOUNT`."""
        made = RuleWeights.joined([outline_weights(self.piece), self.weights])
        n = len(self.weights)
        apart = np.abs(made.controls[:n] - made.controls[n:]).sum(axis=-1).max(axis=-1)
        off: Floats = np.nan_to_num(apart) * _AMOUNT
        return off
