"""Darts share with the sides what levels of different sizes add to the shaping between them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from typing import NamedTuple

import numpy as np

from ..findings import Finding
from ..geometry.types import Floats
from ..model.features import Dart
from ..units import both
from .levels import LEVELS, level_points
from .mixed import SizedPiece

#: A dart never loses more than this share of its mouth.
_MOST_LOST = 0.75
#: Less than this is left where it is, mm.
_LEAST = 0.05


class _Cut(NamedTuple):
    """A dart that is cut out of an edge across the piece: vertices of its legs by their width,
    its mouth in mm, and the levels (lists of vertices) that it lies between."""

    dart: Dart
    inner: int
    outer: int
    mouth: float
    near: tuple[int, ...]
    beyond: tuple[int, ...]


class Shared(NamedTuple):
    """How much wider the darts of a piece become, and what goes along with them.

    `parts` are, for each dart and each way along the width, how much wider it becomes by that,
    mm, with the lengths along the axis of its mouth and of the level where nothing moves.
    """

    local: Floats
    parts: tuple[tuple[_Cut, float, float, float, float], ...] = ()

    def at_vertices(self) -> Floats:
        """How far each vertex of the outline goes along the width (n,), mm."""
        shifts = np.zeros(len(self.local))
        for dart, way, width, mouth, far in self.parts:
            past = np.where(way * (self.local[:, 0] - self._middle(dart)) > 0.0, 1.0, 0.0)
            past *= _reach(self.local, mouth, far)
            past[[dart.inner, dart.outer]] = (way < 0.0, way > 0.0)
            past[dart.dart.tip] = 0.5
            shifts += way * width * past
        return shifts

    def at(self, points: Floats) -> Floats:
        """The same of free points (m, 2) as (width, length): within a mouth by their share."""
        shifts = np.zeros(len(points))
        for dart, way, width, mouth, far in self.parts:
            past = np.clip(0.5 + way * (points[:, 0] - self._middle(dart)) / dart.mouth, 0.0, 1.0)
            shifts += way * width * past * _reach(points, mouth, far)
        return shifts

    def _middle(self, dart: _Cut) -> float:
        return float(self.local[[dart.inner, dart.outer], 0].mean())

    def told(self, piece: str, size: str) -> Iterator[Finding]:
        """What is said of each dart."""
        wider: dict[str, float] = {}
        for dart, _, width, *_ in self.parts:
            wider[dart.dart.name] = wider.get(dart.dart.name, 0.0) + width
        for name, width in wider.items():
            if abs(width) >= _LEAST:
                yield Finding(
                    "dart-shared",
                    "note",
                    f"the dart is {both(abs(width))} {'wider' if width > 0 else 'narrower'}, as it "
                    "shares with the sides what the sizes above and below differ by",
                    piece,
                    size,
                    name,
                )


def darts_sharing(
    one: SizedPiece, vertices: Collection[int], more: Callable[[float], Floats]
) -> Shared:
    """How much wider the darts of a piece in mixed sizes become.

    A hip that grows while the waist does not would be taken in at the sides alone. Sides and
    darts share it by what they take in the base; the edge keeps its length with the darts
    closed, and each dart its place on it. Only darts whose legs and tip are among `vertices`
    take part. `more` tells how far every vertex lies (n, 2), page mm, from where the whole piece
    in one size has it.
    """
    outline = one.piece.outline
    local = one.frame.local(outline.path.vertices)
    darts = [*_cut(one, local, vertices)]
    parts = []
    for near, beyond in dict.fromkeys((d.near, d.beyond) for d in darts):
        group = [d for d in darts if (d.near, d.beyond) == (near, beyond)]
        mouth, far = float(local[near, 1].mean()), float(local[beyond, 1].mean())
        place = float(one.at(outline.path.vertices[list(near)]).mean())
        gained = more(place) @ one.frame.out
        mouths = sum(d.mouth for d in group)
        shares = {}
        for way in (-1.0, 1.0):
            a, b = (max(level, key=lambda v: way * float(local[v, 0])) for level in (near, beyond))
            if not all(
                way * (local[v, 0] - local[d.inner, 0]) > 0.0 for v in (a, b) for d in group
            ):
                continue  # no point of the level lies on this side of the darts
            side = max(way * float(local[b, 0] - local[a, 0]), 0.0)
            shares[way] = way * float(gained[b] - gained[a]) / (side + mouths)
        lost = -sum(shares.values())
        for way, share in shares.items():
            kept = share * min(1.0, _MOST_LOST / max(lost, _MOST_LOST))
            parts += [(dart, way, kept * dart.mouth, mouth, far) for dart in group]
    return Shared(local, tuple(parts))


def _reach(points: Floats, mouth: float, far: float) -> Floats:
    reach: Floats = np.clip((far - points[:, 1]) / (far - mouth), 0.0, 1.0)
    return reach


def _cut(one: SizedPiece, local: Floats, vertices: Collection[int]) -> Iterator[_Cut]:
    levels = [
        tuple(p.vertex for p in found)
        for found in (level_points(one.piece, level, local) for level in LEVELS)
        if found
    ]
    for dart in one.piece.darts:
        if dart.tip is None or not {dart.a, dart.b, dart.tip} <= set(vertices):
            continue
        inner, outer = sorted((dart.a, dart.b), key=lambda v: float(local[v, 0]))
        across, along = local[outer] - local[inner]
        at = float(local[[inner, outer], 1].mean())
        deep = float(local[dart.tip, 1]) - at
        away = [float(local[level, 1].mean()) - at for level in levels]
        near = min(range(len(levels)), key=lambda k: abs(away[k]), default=None)
        # The level that the dart shapes for lies at its tip or beyond, but for a little.
        far = [k for k, gap in enumerate(away) if gap / deep > 0.5] if deep else []
        if abs(along) < across and near is not None and far and near not in far:
            beyond = min(far, key=lambda k: abs(away[k]))
            yield _Cut(dart, inner, outer, float(across), levels[near], levels[beyond])
