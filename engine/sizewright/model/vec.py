"""Plain points of the model: (x, y) in mm, y up."""

from __future__ import annotations

from typing import Literal

#: A point or a step (x, y), mm.
Vec = tuple[float, float]
#: For which side of the wearer something is there.
Side = Literal["both", "left", "right"]
