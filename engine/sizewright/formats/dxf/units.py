"""What a number in a DXF drawing means: `$INSUNITS`, `$MEASUREMENT`, or what a caller says.

The codes are those of the DXF reference (header variable `$INSUNITS`). R12 has none.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import NamedTuple

from ...errors import UnitError
from ...findings import Finding, Level
from ...units import Unit

_INCH = Fraction(254, 10)
#: US survey foot: 1200/3937 m (definition of 1893), in mm.
_SURVEY = Fraction(1_200_000, 3937)

#: Code of `$INSUNITS` -> name and millimetres, exact.
CODES: Mapping[int, tuple[str, Fraction]] = {
    1: ("inches", _INCH),
    2: ("feet", _INCH * 12),
    3: ("miles", _INCH * 63360),
    4: ("millimetres", Fraction(1)),
    5: ("centimetres", Fraction(10)),
    6: ("metres", Fraction(1000)),
    7: ("kilometres", Fraction(10**6)),
    8: ("microinches", _INCH / 10**6),
    9: ("mils", _INCH / 1000),
    10: ("yards", _INCH * 36),
    11: ("angstroms", Fraction(1, 10**7)),
    12: ("nanometres", Fraction(1, 10**6)),
    13: ("microns", Fraction(1, 1000)),
    14: ("decimetres", Fraction(100)),
    15: ("dekametres", Fraction(10**4)),
    16: ("hectometres", Fraction(10**5)),
    17: ("gigametres", Fraction(10**12)),
    18: ("astronomical units", Fraction(149_597_870_700_000)),
    19: ("light years", Fraction(9_460_730_472_580_800_000)),
    20: ("parsecs", Fraction(30_856_775_814_913_672_789)),
    21: ("US survey feet", _SURVEY),
    22: ("US survey inches", _SURVEY / 12),
    23: ("US survey yards", _SURVEY * 3),
    24: ("US survey miles", _SURVEY * 5280),
}
_METRIC = frozenset({4, 5, 6, 7, 11, 12, 13, 14, 15, 16, 17})
_IMPERIAL = frozenset({1, 2, 3, 8, 9, 10, 21, 22, 23, 24})
#: Beyond this many mm to the unit no garment is drawn, and numbers lose their figures.
_ABSURD = 10**9
_CURE = "If sizes are wrong, say what a number of the drawing is (--units in, --units mm)."
#: What `write` may be asked for.
_WRITTEN = {Unit.MM: (4, 1), Unit.IN: (1, 0)}


class Scale(NamedTuple):
    """`mm` to one unit of the drawing, its `name`, whether it was only `assumed`, findings."""

    mm: float
    name: str
    assumed: bool = False
    findings: tuple[Finding, ...] = ()


def scale_of(header: Mapping[str, int], units: Unit | None = None) -> Scale:
    """The scale of a drawing whose header says `header` (see `load.Loaded`).

    `units` overrides it. Without `$INSUNITS` (or where it is 0) `$MEASUREMENT` decides
    between inches (0) and millimetres (1), and without that millimetres are assumed, each
    with a finding; so is a contradiction between the two. Raises UnitError for a unit in
    which nothing on earth is drawn.
    """
    if units is not None:
        return Scale(float(units.exact), units.symbol)
    code, measurement = header.get("$INSUNITS"), header.get("$MEASUREMENT")
    if code in CODES:
        assert code is not None
        name, exact = CODES[code]
        if exact > _ABSURD:
            raise UnitError(f"the drawing says that its unit is {name}", cure=_CURE)
        return Scale(float(exact), name, False, _contradiction(code, name, measurement))
    findings = []
    if code not in (None, 0):
        text = f"the drawing's unit code {code} ($INSUNITS) is none that there is"
        findings.append(Finding("units-unknown", "warn", text, cure=_CURE))
    if measurement in (0, 1):
        name = "millimetres" if measurement else "inches"
        why = f"its $MEASUREMENT is {'metric' if measurement else 'imperial'}"
    else:
        name, why = "millimetres", "nothing in it says otherwise"
    level: Level = "note" if measurement == 1 else "warn"
    text = f"the drawing does not say its unit; it was read in {name}, since {why}"
    findings.append(Finding("units-assumed", level, text, cure=_CURE))
    return Scale(25.4 if name == "inches" else 1.0, name, True, tuple(findings))


def unit_codes(unit: Unit) -> tuple[int, int]:
    """`$INSUNITS` and `$MEASUREMENT` for writing in mm or inches. UnitError for others."""
    if unit not in _WRITTEN:
        raise UnitError(f"DXF is not written in {unit.symbol}", cure="Use mm or in.")
    return _WRITTEN[unit]


def _contradiction(code: int, name: str, measurement: int | None) -> tuple[Finding, ...]:
    system = "metric" if code in _METRIC else "imperial" if code in _IMPERIAL else None
    said = {0: "imperial", 1: "metric"}.get(-1 if measurement is None else measurement)
    if system is None or said is None or said == system:
        return ()
    text = (
        f"the drawing contradicts itself: its unit is {name} ($INSUNITS), "
        f"but its system is {said} ($MEASUREMENT); it was read in {name}"
    )
    return (Finding("units-contradict", "warn", text, cure=_CURE),)
