"""Layers of the DXF that Sizewright writes."""

from __future__ import annotations

from collections.abc import Mapping

#: Layer for each role, with its colour number (ACI), near those of the palette.
CURVES: Mapping[str, tuple[str, int]] = {
    "cut": ("CUT", 7),
    "sew": ("SEW", 4),
    "unknown": ("OUTLINE", 7),
    "cutout": ("CUTOUT", 7),
    "notch": ("NOTCH", 1),
    "drill": ("DRILL", 1),
    "mark": ("MARK", 3),
    "grain": ("GRAIN", 5),
    "axis": ("AXIS", 8),
    "fold": ("FOLD", 6),
    "adjust": ("ADJUST", 8),
    "label": ("TEXT", 2),
    "picture": ("NAMES", 8),
    "point": ("POINTS", 30),
    "edge": ("EDGES", 30),
    "dart": ("DARTS", 8),
    "pleat": ("DARTS", 8),
    "hold": ("HOLDS", 8),
    "pattern": ("PATTERN", 8),
}
