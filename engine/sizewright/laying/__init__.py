"""Laying: shapes on sheets and cloths, for pages and lays alike.

All in mm, y up. A sheet begins at its upper left, where (0, 0) is, and grows downwards, so
that y on it is negative. A length of cloth begins at its lower left and grows to the right,
along its grain; places on a panel count from the lower left of its box.
"""

from .apart import overlapping, spread_apart
from .cloth import Cloth, Nap, Panel
from .cloths import Cloths
from .items import Item, count_of, grain_angle, items_for, opened
from .lay import Laid, Lay, faults, largest_left, proved
from .look import look
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
