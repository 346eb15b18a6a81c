"""Patterns as DXF: `write_dxf`."""

from __future__ import annotations

from ...errors import UsageError
from ...model import Pattern
from ...units import Unit
from ..reading import Written
from .curves_profile import write_curves
from .cutter_profile import CHORD, write_cutter

PROFILES = ("curves", "cutter")


def write_dxf(
    pattern: Pattern, profile: str = "curves", unit: Unit = Unit.MM, *, chord: float = CHORD
) -> Written:
    """The pattern as DXF, with findings for what the profile cannot hold.

    `curves` holds everything and each cubic exactly; `cutter` is flat R12 polylines, curves
    in chords within `chord` mm. `unit` is mm or inches. The same pattern gives the same
    bytes. Raises UsageError for another profile and UnitError for another unit.
    """
    if profile == "curves":
        return write_curves(pattern, unit)
    if profile == "cutter":
        return write_cutter(pattern, unit, chord=chord)
    raise UsageError(f'"{profile}" is no profile of DXF', cure=f"Use one of {', '.join(PROFILES)}.")
