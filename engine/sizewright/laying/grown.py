"""Items with half of the gap round them, in few points, as the searches lay them."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..geometry.types import Floats
from .items import Item

#: Grown by so much more than half of the gap, mm, of which rounding and leaving points out
#: takes away no more than the rest.
MORE, _POINTS = 0.3, 0.2
_ROUND = 8


def grown(item: Item, gap: float, more: float = MORE) -> Floats:
    """The ring (m, 2) of an item with its grain level and half of a gap round it.

    Lower left of the item itself at (0, 0), so the ring reaches below. Rings that do not meet
    are of items that lie further apart than the gap.
    """
    from shapely import Polygon

    return ring_of(Polygon(item.turned(0.0)).buffer(0), gap / 2 + more)


def ring_of(area: Any, by: float) -> Floats:
    """The outer ring of a shapely area grown by `by` mm, simplified within 0.2 mm."""
    wide = area.buffer(by, quad_segs=_ROUND).simplify(_POINTS)
    parts = getattr(wide, "geoms", [wide])
    largest = max(parts, key=lambda part: part.area)
    return np.array(largest.exterior.coords)[:-1]
