"""Reads and writes SVG, which holds everything of a pattern and opens in any vector editor."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sizewright.formats import claims_svg
from sizewright.model import CORNER_ANGLE, Pattern
from sizewright.plugin import Output, Reader, Setting, Values, Writer, hookimpl
from sizewright.units import Unit

if TYPE_CHECKING:
    from sizewright.formats import Reading

api = 1

#: What counts as a corner, where nothing marks it.
CORNERS = Setting(
    "corner-angle",
    "angle",
    "a vertex where the line turns more is a corner",
    CORNER_ANGLE,
    low=0.1,
    high=90,
)

#: Settings of every reader of drawings.
DRAWING = (
    Setting("join", "length", "loose ends this close meet", "0.1 mm", low=0, high=20),
    CORNERS,
    Setting(
        "refit",
        "length",
        "how far a curve that replaces a run of short chords may lie from them",
        "0.05 mm",
        low=0.001,
        high=5,
    ),
    Setting(
        "sizes",
        "text",
        'which kind of line each size of a nest is, as "line 3"; show numbers them',
        shape="table",
    ),
    Setting(
        "square",
        "length",
        "the side of the drawn test square: everything is scaled by it",
        low=5,
        high=250,
    ),
)


def tolerances(values: Values) -> dict[str, Any]:
    """The settings `DRAWING` as the engine's readers of drawings take them, mm and degrees."""
    return {
        "join_tolerance": values["join"],
        "corner_angle": values["corner-angle"],
        "refit_tolerance": values["refit"],
        "sizes": values["sizes"],
        "square": values["square"],
    }


@hookimpl
def add_readers() -> list[Reader]:
    """The reader `svg`."""
    return [
        Reader(
            "svg",
            "SVG drawings, true to scale",
            lambda head, _name: claims_svg(head),
            read,
            DRAWING,
        )
    ]


@hookimpl
def add_writers() -> list[Writer]:
    """The writer `svg`."""
    behind = Setting("behind", "behind", "the photo that it was traced from")
    about = "a drawing that keeps everything of the pattern"
    return [Writer("svg", about, write, (".svg",), (behind,))]


def read(data: bytes, name: str, units: Unit | None, values: Values) -> Reading:
    """The pattern in an SVG drawing."""
    from sizewright.formats import read_svg

    return read_svg(data, name=name, units=units, **tolerances(values))


def write(pattern: Pattern, values: Values) -> Output:
    """The pattern as SVG, the photo that it was traced from behind it."""
    from sizewright.formats import write_svg

    written = write_svg(pattern, values["behind"])
    return Output(written.data, written.findings)
