"""What a caller may set about reading."""

from __future__ import annotations

from dataclasses import dataclass

from ...model import CORNER_ANGLE

#: Greatest distance, in mm, of a refitted curve from the chords that it replaces.
REFIT_TOLERANCE = 0.05


@dataclass(frozen=True, slots=True)
class Options:
    """`corner_angle` in degrees: a sharper turn is a corner. `refit_tolerance` in mm."""

    corner_angle: float = CORNER_ANGLE
    refit_tolerance: float = REFIT_TOLERANCE
