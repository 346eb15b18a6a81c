"""Reads DXF of every kind, and writes it exactly (`curves`) or plainly for machines (`cutter`)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sizewright.formats import claims_dxf
from sizewright.model import Pattern
from sizewright.plugin import Output, Reader, Setting, Values, Writer, hookimpl
from sizewright.units import Unit, parse_unit

from .svg import DRAWING, tolerances

if TYPE_CHECKING:
    from sizewright.formats import Reading

api = 1

_UNIT = Setting("unit", "choice", "the drawing's unit", "mm", choices=("mm", "in"))
_CHORD = Setting(
    "chord",
    "length",
    "how far a curve may lie from the chords that stand for it",
    "0.02 mm",
    low=0.001,
    high=5,
)


@hookimpl
def add_readers() -> list[Reader]:
    """The reader `dxf`."""
    return [
        Reader(
            "dxf",
            "DXF drawings of any version, the interchange format among them",
            lambda head, _name: claims_dxf(head),
            read,
            DRAWING,
        )
    ]


@hookimpl
def add_writers() -> list[Writer]:
    """The writers `curves`, which the ending .dxf chooses, and `cutter`."""
    return [
        Writer(
            "curves",
            "DXF whose splines are the pattern's own curves",
            lambda pattern, values: write(pattern, "curves", values),
            (".dxf",),
            (_UNIT,),
        ),
        Writer(
            "cutter",
            "flat DXF (R12) of polylines, for machines that read little",
            lambda pattern, values: write(pattern, "cutter", values),
            (".dxf",),
            (_UNIT, _CHORD),
            by_ending=False,
        ),
    ]


def read(data: bytes, name: str, units: Unit | None, values: Values) -> Reading:
    """The pattern in a DXF drawing."""
    from sizewright.formats import read_dxf

    return read_dxf(data, name=name, units=units, **tolerances(values))


def write(pattern: Pattern, profile: str, values: Values) -> Output:
    """The pattern as DXF of a profile."""
    from sizewright.formats import write_dxf

    options = {"chord": values["chord"]} if "chord" in values else {}
    written = write_dxf(pattern, profile, parse_unit(values["unit"]), **options)
    return Output(written.data, written.findings)
