"""What every control point of an outline takes of each grade rule, cut and turned with it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from ..geometry import bezier
from ..geometry.path import Path
from ..geometry.types import Floats
from .mixture import Mixture, Terms

if TYPE_CHECKING:
    from .frame import Frame


@dataclass(frozen=True, eq=False)
class RuleWeights:
    """Weights of rules at the control points of a chain of segments, all round or a stretch.

    `controls` (n, 4, 2, 2 R): for segment, control point and page axis (x, y) the share of
    each amount: column 2 r of what rule r gives in width, 2 r + 1 of what it gives in
    length, by the axes of the piece that the weights were taken from. Weights go with the
    outline: what cuts a segment at `t`, reverses it or turns it does the same to them.
    They are NaN where nothing is known, as on new lines. `free` holds the same, (2, 2 R), of
    what lies at one place within the piece, by place (`drill bust-point`, `dart waist`).
    """

    rules: tuple[str, ...]
    controls: Floats
    free: Mapping[str, Floats] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.controls)

    def segments(self, start: int, end: int) -> RuleWeights:
        """Segments from vertex `start` to vertex `end` of a closed outline, counter-clockwise;
        equal vertices mean all round."""
        n = len(self)
        order = (start + np.arange((end - start) % n or n)) % n
        return RuleWeights(self.rules, self.controls[order])

    def split(self, segment: int, t: float) -> RuleWeights:
        """Segment `segment` cut in two at parameter `t`."""
        flat = self.controls[segment].reshape(4, -1)
        both = np.array(bezier.split(flat, t)).reshape(2, *self.controls.shape[1:])
        controls = np.concatenate([self.controls[:segment], both, self.controls[segment + 1 :]])
        return RuleWeights(self.rules, controls, self.free)

    def reversed(self) -> RuleWeights:
        """The same stretch walked backwards."""
        return RuleWeights(self.rules, self.controls[::-1, ::-1], self.free)

    def turned(self, linear: Floats) -> RuleWeights:
        """As they are where the piece is turned (or mirrored) by the matrix (2, 2)."""
        turned = np.einsum("ab,nkbc->nkac", linear, self.controls)
        return RuleWeights(self.rules, turned, {k: linear @ w for k, w in self.free.items()})

    def with_vertex(self, vertex: int, rules: tuple[str, ...], weights: Floats) -> RuleWeights:
        """With the weights (2, 2 R) of `rules` at a vertex within a stretch."""
        rest = tuple(rule for rule in rules if rule not in self.rules)
        all_rules = (*self.rules, *rest)
        controls = np.concatenate(
            [self.controls, np.full((*self.controls.shape[:3], 2 * len(rest)), np.nan)], axis=-1
        )
        here = np.zeros((2, 2 * len(all_rules)))
        for r, rule in enumerate(rules):
            k = 2 * all_rules.index(rule)
            here[:, k : k + 2] = weights[:, 2 * r : 2 * r + 2]
        controls[vertex - 1, 3] = controls[vertex, 0] = here
        return RuleWeights(all_rules, controls, self.free)

    @classmethod
    def joined(cls, parts: Iterable[RuleWeights]) -> RuleWeights:
        """One stretch after another; rules that one of them has not weigh nothing in it."""
        parts = tuple(parts)
        rules = tuple(dict.fromkeys(rule for part in parts for rule in part.rules))
        controls = []
        for part in parts:
            wide = np.zeros((len(part), 4, 2, 2 * len(rules)))
            wide[np.isnan(part.controls).any(axis=-1)] = np.nan
            for r, rule in enumerate(part.rules):
                k = 2 * rules.index(rule)
                wide[..., k : k + 2] = part.controls[..., 2 * r : 2 * r + 2]
            controls.append(wide)
        return cls(rules, np.concatenate(controls))

    @classmethod
    def unknown(cls, rules: tuple[str, ...], count: int) -> RuleWeights:
        """For `count` segments of which nothing is known."""
        return cls(rules, np.full((count, 4, 2, 2 * len(rules)), np.nan))

    def mixture_at(
        self, vertex: int, frame: Frame, path: Path, *, before: bool = False, after: bool = False
    ) -> Mixture | None:
        """The mixture that makes a vertex move as its weights say; None where they are not known.

        `vertex` counts the starts of segments of a closed outline; where a new line starts
        there, the end of the segment before it tells. `frame` are the axes of the piece that
        the mixture is for, `path` its outline. `before` and `after` tell of the curves beside
        the vertex too.
        """
        at = self.controls[vertex, 0]
        if np.isnan(at).any():
            at = self.controls[vertex - 1, 3]
        if np.isnan(at).any():
            return None
        own = frame.basis @ at
        sign = float(frame.signs(path.vertices[vertex][None])[0])
        length = self._terms(own[1, 1::2])
        # On the centre line itself width counts nothing: whole rules stay whole.
        width = self._terms(sign * own[0, ::2]) if sign else length
        crossed = self._terms(sign * own[0, 1::2]), self._terms(own[1, ::2])
        return Mixture(
            width,
            length,
            *crossed,
            before=self._beside(vertex - 1, frame, path, (3, 2)) if before else None,
            after=self._beside(vertex, frame, path, (0, 1)) if after else None,
        )

    def _beside(self, k: int, frame: Frame, path: Path, ends: tuple[int, int]) -> Mixture | None:
        """What segment `k` gains for each mm along its handle, from a vertex outwards."""
        vertex, handle = ends
        points, weights = path.controls[k], self.controls[k]
        reach = float(np.hypot(*(points[handle] - points[vertex])))
        if reach == 0.0 or np.isnan(weights).any():
            return None
        own = frame.basis @ (weights[handle] - weights[vertex]) / reach
        own[0] *= frame.signs(points[handle][None])[0]
        width, length = self._terms(own[0, ::2]), self._terms(own[1, 1::2])
        return Mixture(width, length, self._terms(own[0, 1::2]), self._terms(own[1, ::2]))

    def _terms(self, weights: Floats) -> Terms:
        return tuple(
            (rule, float(w)) for rule, w in zip(self.rules, weights, strict=True) if w != 0.0
        )
