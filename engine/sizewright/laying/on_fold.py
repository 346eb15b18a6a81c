"""Items on a folded length: halves in a row on the fold as one block, the rest round them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import Any

import numpy as np

from ..geometry.types import Floats
from .cloth import Cloth
from .grown import MORE, grown
from .items import ON_FOLD, Item
from .lay import Laid
from .on_length import across, placed

# The bar that joins the halves lies this far below the fold; the post at their start, as high
# as the strip, keeps them from drifting: both mm.
_BAR, _POST = 1.0, 0.8
# Taken off the cloth's depth first, mm: with play pieces reach over by a little.
_OFF = 0.5
_PLAY = 1.0005
# So many rows are tried, and wider spaces in some of them up to a share of the longest half.
_ROWS, _SPACE = 16, 0.5


@dataclass(frozen=True)
class Row:
    """Halves along the fold: each with its left end, mm, and its turn."""

    halves: tuple[tuple[Item, float, int], ...]


@dataclass(frozen=True)
class OnFold:
    """The task of the strip library for a folded length with halves on its fold."""

    items: tuple[Item, ...]
    rows: tuple[Row, ...]
    blocks: tuple[Floats, ...]
    rings: tuple[Floats, ...]
    height: float

    @classmethod
    def of(cls, cloth: Cloth, items: Sequence[Item], seed: int) -> OnFold:
        """The task; some items must lie on the fold."""
        halves = [item for item in items if item.side == ON_FOLD]
        others = [item for item in items if item.side != ON_FOLD]
        spare = cloth.gap / 2 + 0.2 * MORE
        depth = cloth.band[1] + spare - _OFF
        rows = _rows(halves, cloth, np.random.default_rng(seed))
        blocks = [_block(row, cloth.gap, depth) for row in rows]
        rings = [grown(item, cloth.gap) for item in others]
        height = (depth + _BAR) * _PLAY
        return cls(tuple(others), tuple(rows), tuple(blocks), tuple(rings), height)

    def task(self, cloth: Cloth, seconds: float, seed: int) -> dict[str, Any]:
        """The worker's task."""
        more = _POST + cloth.gap + MORE
        return {
            "engine": "strip",
            "shapes": [ring.tolist() for ring in self.rings],
            "turns": [list(cloth.turns)] * len(self.rings),
            "blocks": [block.tolist() for block in self.blocks],
            "height": self.height,
            "seconds": seconds,
            "seed": seed,
            "until": 0.0 if cloth.length is None else cloth.length + more,
        }

    def read(self, find: Mapping[str, Any], cloth: Cloth) -> list[Laid]:
        """The places of a find, the leftmost at the start of the cloth."""
        (bx, by, _), *places = find["places"]
        found = [(item, bx + x, 0.0, turn) for item, x, turn in self.rows[find["block"]].halves]
        for item, (x, y, turn) in zip(self.items, places, strict=True):
            found.append((item, *across(cloth, item, x, y - by, turn), turn))
        return placed(found)


def fold_length(cloth: Cloth, items: Sequence[Item]) -> float:
    """How long a row of all halves along the fold is, mm; 0 without any."""
    halves = [item for item in items if item.side == ON_FOLD]
    return sum(_long(item) for item in halves) + cloth.gap * max(len(halves) - 1, 0)


def _long(item: Item) -> float:
    return float(item.turned(0.0)[:, 0].max())


def _rows(halves: Sequence[Item], cloth: Cloth, chance: np.random.Generator) -> list[Row]:
    """Rows in several orders, turned this way and that where the cloth bears it, no two alike."""
    deepest = sorted(halves, key=lambda item: -float(item.turned(0.0)[:, 1].max()))
    orders = [list(order) for order in permutations(deepest)] if len(halves) < 5 else [deepest]
    most = _SPACE * max(map(_long, halves))
    rows: dict[tuple[Any, ...], Row] = {}
    for k in range(8 * _ROWS):
        if len(rows) >= _ROWS:
            break
        order = orders[k] if k < len(orders) else list(chance.permutation(len(halves)))
        order = [halves[i] if not isinstance(i, Item) else i for i in order]
        at, row = 0.0, []
        for item in order:
            turn = int(chance.choice(cloth.turns)) if k else cloth.turns[0]
            row.append((item, at, turn))
            wider = float(chance.uniform(0, most)) if k % 4 == 3 else 0.0
            at += _long(item) + cloth.gap + 0.02 + wider
        key = tuple((item.piece.key, round(x), turn) for item, x, turn in row)
        rows.setdefault(key, Row(tuple(row)))
    return list(rows.values())


def _block(row: Row, gap: float, depth: float) -> Floats:
    """The ring of a row: what lies above the fold, the bar below it, and the post."""
    from shapely import Polygon, box, union_all
    from shapely.affinity import translate

    by = gap / 2 + MORE
    halves = [
        translate(Polygon(item.turned(turn)).buffer(0).buffer(by, quad_segs=8), x, 0.0)
        for item, x, turn in row.halves
    ]
    end = max(half.bounds[2] for half in halves)
    start = -by
    bar = box(start - _POST, -_BAR, end, 0.01)
    post = box(start - _POST, -_BAR, start, depth)
    above = box(start - _POST, 0.0, end + 1, depth + 1e4)
    whole = union_all([bar, post, *(half.intersection(above) for half in halves)]).simplify(0.2)
    parts = getattr(whole, "geoms", [whole])
    return np.array(max(parts, key=lambda part: part.area).exterior.coords)[:-1]
