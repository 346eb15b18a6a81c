"""The unit of an interchange file: what its text says, against what its header says."""

from __future__ import annotations

import re
from collections.abc import Mapping

from ...findings import Finding
from ...units import Unit
from ..dxf.units import CODES, Scale, scale_of

_WORDS = {
    Unit.CM: "cm centimetre centimetres centimeter centimeters",
    Unit.IN: "english imperial inch inches in us uscustomary",
    Unit.MM: "metric mm millimetre millimetres millimeter millimeters si",
}


def unit_of(text: str) -> Unit | None:
    """The unit that a UNITS text means, ENGLISH (inches) or METRIC (mm); None for others."""
    words = re.findall(r"[a-z]+", text.casefold())
    said = {"".join(words), *words}
    return next((unit for unit, known in _WORDS.items() if said & set(known.split())), None)


def settle_unit(said: str, header: Mapping[str, int], units: Unit | None) -> Scale:
    """The scale of a drawing: `units` where given, else its UNITS text, else its header."""
    if units is not None:
        return scale_of(header, units)
    unit = unit_of(said) if said else None
    if unit is None:
        scale = scale_of(header)
        if not said:
            return scale
        text = f'the drawing\'s UNITS text says "{said[:30]}", which is no unit'
        cure = "Write METRIC or ENGLISH, or say the unit (--units)."
        found = Finding("units-unknown", "warn", text, cure=cure)
        return Scale(scale.mm, scale.name, scale.assumed, (found, *scale.findings))
    name, exact = CODES.get(header.get("$INSUNITS", 0), ("", unit.exact))
    findings: tuple[Finding, ...] = ()
    if exact != unit.exact:
        text = (
            f"the drawing contradicts itself: its UNITS text says {said[:30]}, its header "
            f"{name} ($INSUNITS); it was read in {unit.symbol}"
        )
        cure = "If sizes are wrong, say what a number of the drawing is (--units in, --units mm)."
        findings = (Finding("units-contradict", "warn", text, cure=cure),)
    return Scale(float(unit.exact), unit.symbol, False, findings)
