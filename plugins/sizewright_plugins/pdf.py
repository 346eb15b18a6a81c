"""Reads PDF drawings, each page as a sheet of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sizewright.formats import claims_pdf
from sizewright.plugin import Reader, Values, hookimpl
from sizewright.units import Unit

from .svg import DRAWING, tolerances

if TYPE_CHECKING:
    from sizewright.formats import Reading

api = 1


@hookimpl
def add_readers() -> list[Reader]:
    """The reader `pdf`."""
    return [
        Reader(
            "pdf",
            "PDF drawings with lines, each page a sheet of its own",
            lambda head, _name: claims_pdf(head),
            read,
            DRAWING,
        )
    ]


def read(data: bytes, name: str, units: Unit | None, values: Values) -> Reading:
    """The pattern in a PDF."""
    from sizewright.formats import read_pdf

    return read_pdf(data, name=name, units=units, **tolerances(values))
