"""Reads paper patterns that were measured by tape and ruler, from a table of points."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sizewright.formats import claims_tape
from sizewright.plugin import Reader, Values, hookimpl
from sizewright.units import Unit

if TYPE_CHECKING:
    from sizewright.formats import Reading

api = 1


@hookimpl
def add_readers() -> list[Reader]:
    """The reader `tape`."""
    return [
        Reader(
            "tape",
            "tables (CSV) of points measured on paper by tape and ruler",
            lambda head, _name: claims_tape(head),
            read,
        )
    ]


def read(data: bytes, name: str, units: Unit | None, values: Values) -> Reading:
    """The pattern in a table of measured points."""
    from sizewright.formats import read_tape

    return read_tape(data, name=name, units=units)
