"""Laying: shapes on sheets and cloths, for pages and lays alike.

All in mm, y up. A sheet begins at its upper left, where (0, 0) is, and grows downwards, so
that y on it is negative. A length of cloth begins at its lower left and grows to the right,
along its grain; places on a panel count from the lower left of its box.

Names are imported when they are first asked for: pages need no search for lays.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..lazy import door

if TYPE_CHECKING:
    from .apart import overlapping, spread_apart
    from .cloth import Cloth, Nap, Panel
    from .cloths import Cloths
    from .items import Item, count_of, grain_angle, items_for, opened
    from .lay import Laid, Lay, faults, largest_left, proved
    from .looking import look
    from .on_fold import fold_length
    from .packing import pack
    from .piecing import pieced
    from .shape import Place, Shape
    from .sheet import Grid, Plan, plan_of

__all__ = [
    "Cloth",
    "Cloths",
    "Grid",
    "Item",
    "Laid",
    "Lay",
    "Nap",
    "Panel",
    "Place",
    "Plan",
    "Shape",
    "count_of",
    "faults",
    "fold_length",
    "grain_angle",
    "items_for",
    "largest_left",
    "look",
    "opened",
    "overlapping",
    "pack",
    "pieced",
    "plan_of",
    "proved",
    "spread_apart",
]

_HOMES = {
    "Cloth": "cloth",
    "Cloths": "cloths",
    "Grid": "sheet",
    "Item": "items",
    "Laid": "lay",
    "Lay": "lay",
    "Nap": "cloth",
    "Panel": "cloth",
    "Place": "shape",
    "Plan": "sheet",
    "Shape": "shape",
    "count_of": "items",
    "faults": "lay",
    "fold_length": "on_fold",
    "grain_angle": "items",
    "items_for": "items",
    "largest_left": "lay",
    "look": "looking",
    "opened": "items",
    "overlapping": "apart",
    "pack": "packing",
    "pieced": "piecing",
    "plan_of": "sheet",
    "proved": "lay",
    "spread_apart": "apart",
}

__getattr__ = door(__name__, _HOMES)
