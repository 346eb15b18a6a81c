"""Darts share with the sides what levels of different sizes add to the shaping between them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from ..findings import Finding
from ..geometry.types import Floats
from ..model.features import Dart
from ..units import both
from .levels import LEVELS, level_points
from .map import GradeMap
from .mixed import SizedPiece

#: A dart never loses more than this share of its mouth.
_MOST_LOST = 0.75
#: Less than this is left where it is, mm.
_LEAST = 0.05


@dataclass(frozen=True)
class _Cut:
    """A dart that is cut out of an edge across the piece: vertices of its legs by their width,
    its mouth in mm, and the levels (lists of vertices) that it lies between."""

    dart: Dart
    inner: int
    outer: int
    mouth: float
    near: tuple[int, ...]
    beyond: tuple[int, ...]


def darts_sharing(
    one: SizedPiece, map_: GradeMap, amounts: Floats, at_place: Callable[[float], Floats]
) -> tuple[Floats, tuple[Finding, ...]]:
    """The amounts of a piece in mixed sizes, its darts as wide as its levels then want.

    A hip that grows while the waist does not would be taken in at the sides alone. Sides and
    darts share it by what they take in the base; the edge keeps its length with the darts
    closed, and each dart its place on it. `map_` has a rule for each point (`parted`);
    `at_place` gives the amounts of the whole piece in one size. Only darts whose legs and tip
    have rules of their own take part.
    """
    outline = map_.piece.outline
    local = one.frame.local(outline.path.vertices)
    columns = {p.vertex: map_.rules.index(p.rule) for p in outline.points if p.rule in map_.rules}
    darts = [*_cut(one, local, columns)]
    shifts, wider = np.zeros(len(local)), dict.fromkeys([d.dart.name for d in darts], 0.0)
    for near, beyond in dict.fromkeys((d.near, d.beyond) for d in darts):
        group = [d for d in darts if (d.near, d.beyond) == (near, beyond)]
        mouth, far = float(local[near, 1].mean()), float(local[beyond, 1].mean())
        place = float(one.at(outline.path.vertices[list(near)]).mean())
        moves = map_.moves(amounts - at_place(place))[: map_.outline_rows : 3]
        more = moves @ one.frame.out
        reach = np.clip((far - local[:, 1]) / (far - mouth), 0.0, 1.0)
        mouths = sum(d.mouth for d in group)
        shares = {}
        for way in (-1.0, 1.0):
            a, b = (max(level, key=lambda v: way * float(local[v, 0])) for level in (near, beyond))
            if not all(
                way * (local[v, 0] - local[d.inner, 0]) > 0.0 for v in (a, b) for d in group
            ):
                continue  # no point of the level lies on this side of the darts
            side = max(way * float(local[b, 0] - local[a, 0]), 0.0)
            shares[way] = way * float(more[b] - more[a]) / (side + mouths)
        lost = -sum(shares.values())
        for way, share in shares.items():
            for dart in group:
                width = share * min(1.0, _MOST_LOST / max(lost, _MOST_LOST)) * dart.mouth
                middle = local[[dart.inner, dart.outer], 0].mean()
                past = np.where(way * (local[:, 0] - middle) > 0.0, reach, 0.0)
                past[[dart.inner, dart.outer]] = (way < 0.0, way > 0.0)
                past[dart.dart.tip] = 0.5
                shifts += way * width * past
                wider[dart.dart.name] += width
    shared = amounts.copy()
    signs = one.frame.signs(outline.path.vertices)
    for vertex, column in columns.items():
        shared[2 * column] += shifts[vertex] * signs[vertex]
    return shared, tuple(_told(one.piece.name, wider))


def _cut(one: SizedPiece, local: Floats, columns: dict[int, int]) -> Iterator[_Cut]:
    levels = [
        tuple(p.vertex for p in found)
        for found in (level_points(one.piece, level, local) for level in LEVELS)
        if found
    ]
    for dart in one.piece.darts:
        if dart.tip is None or not {dart.a, dart.b, dart.tip} <= columns.keys():
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


def _told(piece: str, wider: dict[str, float]) -> Iterator[Finding]:
    for name, width in wider.items():
        if abs(width) >= _LEAST:
            yield Finding(
                "dart-shared",
                "note",
                f"the dart is {both(abs(width))} {'wider' if width > 0 else 'narrower'}, as it "
                "shares with the sides what the sizes above and below differ by",
                piece,
                place=name,
            )
