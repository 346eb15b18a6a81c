"""The body that a size was graded to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Body:
    """Measures of one body in mm, by name, and whether the cloth for it stretches."""

    measures: Mapping[str, float]
    stretch: bool = False
