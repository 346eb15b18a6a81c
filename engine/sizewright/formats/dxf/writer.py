"""Patterns as DXF: `write_dxf`."""

from __future__ import annotations

from ...errors import UsageError
from ...model import Pattern
from ...units import Unit
from ..reading import Written

PROFILES = ("curves", "cutter")
#: How far curves of `cutter` may lie from their chords, mm: so little that one fitted through them
#: again stays within 0.05 mm, and that a slight corner still stands out among their turns.
_CHORD = 0.02


def write_dxf(
    pattern: Pattern, profile: str = "curves", unit: Unit = Unit.MM, *, chord: float = _CHORD
) -> Written:
    """The pattern as DXF, with findings for what the profile cannot hold.

    `curves` holds everything and each cubic exactly; `cutter` is flat R12 polylines, curves
    in chords within `chord` mm. `unit` is mm or inches. The same pattern gives the same
    bytes. Raises UsageError for another profile and UnitError for another unit.
    """
    if profile == "curves":
        from .curves_profile import write_curves

        return write_curves(pattern, unit)
    if profile == "cutter":
        from .cutter_profile import write_cutter

        return write_cutter(pattern, unit, chord=chord)
    raise UsageError(f'"{profile}" is no profile of DXF', cure=f"Use one of {', '.join(PROFILES)}.")
