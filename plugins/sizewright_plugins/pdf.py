"""Reads PDF drawings, their pages put together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sizewright.formats import claims_pdf
from sizewright.plugin import Reader, Setting, Values, hookimpl
from sizewright.units import Unit

from .svg import DRAWING, tolerances

if TYPE_CHECKING:
    from sizewright.formats import Reading

api = 1

#: How pages go together, where the lines on them do not tell.
PAGES = (
    Setting(
        "columns",
        "count",
        "pages side by side in a row; 0 leaves each page a sheet of its own",
        low=0,
        high=100,
    ),
    Setting("trim", "length", "the border of each page that is cut off", low=0, high=100),
    Setting(
        "overlap",
        "length",
        "how far pages lie over one another; below 0: how wide a strip between them none shows",
        low=-100,
        high=100,
    ),
)


@hookimpl
def add_readers() -> list[Reader]:
    """The reader `pdf`."""
    return [
        Reader(
            "pdf",
            "PDF drawings with lines, their pages put together",
            lambda head, _name: claims_pdf(head),
            read,
            (*DRAWING, *PAGES),
        )
    ]


def read(data: bytes, name: str, units: Unit | None, values: Values) -> Reading:
    """The pattern in a PDF."""
    from sizewright.formats import read_pdf

    return read_pdf(
        data,
        name=name,
        units=units,
        columns=values["columns"],
        trim=values["trim"],
        overlap=values["overlap"],
        **tolerances(values),
    )
