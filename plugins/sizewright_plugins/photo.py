"""Reads photographs of paper patterns, straightened by a sheet of known size in them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sizewright.formats import claims_photo
from sizewright.model import CORNER_ANGLE
from sizewright.plugin import Reader, Setting, Values, hookimpl
from sizewright.units import Unit

if TYPE_CHECKING:
    from sizewright.formats import Reading

api = 1

_SETTINGS = (
    Setting(
        "sheet",
        "choice",
        "the sheet that lies in the photo: plain paper, or marks (`sizewright sheet`)",
        "corners",
        choices=("A4", "Letter", "corners"),
    ),
    Setting(
        "corner-angle",
        "angle",
        "a vertex where the line turns more is a corner",
        CORNER_ANGLE,
        low=0.1,
        high=90,
    ),
)


@hookimpl
def add_readers() -> list[Reader]:
    """The reader `photo`."""
    return [
        Reader(
            "photo",
            "photographs of paper patterns (JPEG, PNG), straightened by a sheet in them",
            lambda head, _name: claims_photo(head),
            read,
            _SETTINGS,
        )
    ]


def read(data: bytes, name: str, units: Unit | None, values: Values) -> Reading:
    """The pieces in a photograph."""
    from sizewright.formats import read_photo

    return read_photo(
        data,
        name=name,
        units=units,
        sheet=values["sheet"],
        corner_angle=values["corner-angle"],
    )
