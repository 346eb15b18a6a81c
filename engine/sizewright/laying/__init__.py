"""Laying: shapes on sheets and cloths, for pages and lays alike.

All in mm, y up. A sheet begins at its upper left, where (0, 0) is, and grows downwards, so
that y on it is negative.
"""

from .apart import overlapping, spread_apart
from .packing import pack
from .shape import Place, Shape
from .sheet import Grid, Plan, plan_of

__all__ = ["Grid", "Place", "Plan", "Shape", "overlapping", "pack", "plan_of", "spread_apart"]
