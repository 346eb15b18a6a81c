"""Plane geometry of lines and cubics: numpy arrays, millimetres, y up.

The public names of the room. `affine` and `bezier` are modules of small functions
on arrays; all else works on `Path`. scipy and shapely are imported only by the
calls that need them.
"""

from __future__ import annotations

from . import affine, bezier
from .arcs import arc_to_cubics, bulge_to_cubics, circular_arc, ellipse
from .crossings import Crossing, crossings, is_simple, self_crossings
from .fit import fit_cubics, fit_curve
from .flatten import flatten, flatten_located, flatten_marked
from .in_order import cheapest_in_order
from .insets import offset_loop
from .nearest import Foot, Nearest, nearest, nearest_point
from .offset import Parallel, offset_open, parallel
from .path import SNAP, Path, unit_tangents
from .raster import touched_pixels
from .refit import Refit, refit
from .regions import centroid, contains, gap, winding_numbers
from .splines import curve_through
from .straight import merged_lines, straight_segments
from .types import Bools, Floats, Ints

__all__ = [
    "SNAP",
    "Bools",
    "Crossing",
    "Floats",
    "Foot",
    "Ints",
    "Nearest",
    "Parallel",
    "Path",
    "Refit",
    "affine",
    "arc_to_cubics",
    "bezier",
    "bulge_to_cubics",
    "centroid",
    "cheapest_in_order",
    "circular_arc",
    "contains",
    "crossings",
    "curve_through",
    "ellipse",
    "fit_cubics",
    "fit_curve",
    "flatten",
    "flatten_located",
    "flatten_marked",
    "gap",
    "is_simple",
    "merged_lines",
    "nearest",
    "nearest_point",
    "offset_loop",
    "offset_open",
    "parallel",
    "refit",
    "self_crossings",
    "straight_segments",
    "touched_pixels",
    "unit_tangents",
    "winding_numbers",
]
