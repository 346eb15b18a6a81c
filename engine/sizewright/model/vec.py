"""Plain points of the model: (x, y) in mm, y up."""

from __future__ import annotations

from typing import Literal

Vec = tuple[float, float]
Side = Literal["both", "left", "right"]
