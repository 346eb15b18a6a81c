"""Small drawings in the making for the reader's tests."""

from __future__ import annotations

from typing import Any

from sizewright.formats.reading import Reading
from sizewright.formats.svg.reader import read_svg
from sizewright.model import Piece

NAMESPACES = (
    'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"'
)
#: A page of 400 by 300 mm, one unit to the mm.
PAGE = 'width="400mm" height="300mm" viewBox="0 0 400 300"'


def drawing(body: str, page: str = PAGE) -> bytes:
    """An SVG file with `body` on a page."""
    return f"<svg {NAMESPACES} {page}>{body}</svg>".encode()


def read(body: str, page: str = PAGE, **settings: Any) -> Reading:
    """A drawing read."""
    return read_svg(drawing(body, page), name="test.svg", **settings)


def only(reading: Reading) -> Piece:
    """The one piece of a drawing."""
    (piece,) = reading.pattern.pieces
    return piece


def names(reading: Reading) -> list[str]:
    """Titles of all pieces."""
    return [piece.title for piece in reading.pattern.pieces]


def codes(reading: Reading) -> list[str]:
    """Codes of all findings."""
    return [finding.code for finding in reading.findings]


def aside(reading: Reading) -> dict[str, str]:
    """Reasons of what was set aside, by name."""
    return {one.name: one.reason for one in reading.set_aside}


def box(x: float, y: float, width: float, height: float, **attributes: str) -> str:
    """A rectangle as a path, drawn clockwise on the page from its upper left."""
    told = " ".join(f'{k.replace("_", "-")}="{v}"' for k, v in attributes.items())
    return f'<path {told} d="M {x} {y} h {width} v {height} h {-width} z"/>'
