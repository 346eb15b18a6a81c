"""A sheet that SVG elements are put on: millimetres, y up; turned to SVG's y down here alone."""

from __future__ import annotations

import html
from collections.abc import Sequence

import numpy as np

from ..geometry.path import Path
from ..geometry.types import Floats
from ..palette import INK, PAPER, Line
from .text import FONTS

# Characters that XML 1.0 cannot hold.
_NOT_XML = dict.fromkeys((*range(0x09), 0x0B, 0x0C, *range(0x0E, 0x20), 0xFFFE, 0xFFFF))


class Canvas:
    """Collects elements; `svg()` gives the file.

    `width` and `height` are in mm, the origin is the lower left. `weight` multiplies the
    widths and dashes of all lines, which the palette gives for drawings at full size.
    """

    def __init__(self, width: float, height: float, *, weight: float = 1.0) -> None:
        self.width = width
        self.height = height
        self.weight = weight
        self._parts: list[str] = []

    def open_group(self, title: str) -> None:
        """Begin a group; browsers show its title to the pointer."""
        self._parts.append(f"<g><title>{escape(title)}</title>")

    def close_group(self) -> None:
        """End the last group that was begun."""
        self._parts.append("</g>")

    def path(self, path: Path, line: Line | None, *, fill: str = "none") -> None:
        """A chain of lines and cubics."""
        self.element("path", d=self._data(path), fill=fill, **self._stroke(line))

    def polyline(
        self,
        points: Floats | Sequence[Sequence[float]],
        line: Line | None,
        *,
        closed: bool = False,
        fill: str = "none",
    ) -> None:
        """Straight lines through points (m, 2)."""
        text = " ".join(self._pair(p) for p in np.asarray(points, dtype=np.float64))
        name = "polygon" if closed else "polyline"
        self.element(name, points=text, fill=fill, **self._stroke(line))

    def circle(
        self, at: Sequence[float] | Floats, radius: float, line: Line | None, *, fill: str = "none"
    ) -> None:
        """A circle."""
        x, y = self._xy(at)
        stroke = self._stroke(line)
        self.element("circle", cx=x, cy=y, r=_number(radius), fill=fill, **stroke)

    def text(
        self,
        text: str,
        at: Sequence[float] | Floats,
        size: float,
        *,
        angle: float = 0.0,
        anchor: str = "middle",
        bold: bool = False,
        italic: bool = False,
        colour: str = INK,
    ) -> None:
        """One line of text of letter height `size` mm from its baseline at `at`.

        `angle` turns it counter-clockwise, degrees; `anchor` is start, middle or end.
        """
        x, y = self._xy(at)
        attributes = {"x": x, "y": y, "font-size": _number(size), "fill": colour}
        if anchor != "start":
            attributes["text-anchor"] = anchor
        if bold:
            attributes["font-weight"] = "bold"
        if italic:
            attributes["font-style"] = "italic"
        if angle:
            attributes["transform"] = f"rotate({_number(-angle)} {x} {y})"
        self._parts.append(f"<text{_attributes(attributes)}>{escape(text)}</text>")

    def element(self, tag: str, **attributes: str) -> None:
        """Any empty element, with coordinates already turned."""
        self._parts.append(f"<{tag}{_attributes(attributes)}/>")

    @property
    def elements(self) -> str:
        """All that was drawn, one element a line, without a file round it."""
        return "\n".join(self._parts)

    def svg(self, *, title: str, pixels: int) -> str:
        """The whole file; its larger side opens `pixels` wide or high."""
        scale = pixels / max(self.width, self.height)
        head = {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": str(round(self.width * scale)),
            "height": str(round(self.height * scale)),
            "viewBox": f"0 0 {_number(self.width)} {_number(self.height)}",
            "font-family": FONTS,
            "stroke-linecap": "round",
            "stroke-linejoin": "round",
        }
        ground = {"width": "100%", "height": "100%", "fill": PAPER}
        return "\n".join(
            [
                f"<svg{_attributes(head)}>",
                f"<title>{escape(title)}</title>",
                f"<rect{_attributes(ground)}/>",
                *self._parts,
                "</svg>\n",
            ]
        )

    def _stroke(self, line: Line | None) -> dict[str, str]:
        if line is None:
            return {}
        attributes = {"stroke": line.colour, "stroke_width": _number(line.width * self.weight)}
        if line.dashes:
            dashes = " ".join(_number(d * self.weight) for d in line.dashes)
            attributes |= {"stroke_dasharray": dashes, "stroke_linecap": "butt"}
        return attributes

    def _data(self, path: Path) -> str:
        parts = [f"M{self._pair(path.start)}"]
        for controls, line in zip(path.controls, path.lines, strict=True):
            if line:
                parts.append(f"L{self._pair(controls[3])}")
            else:
                parts.append("C" + " ".join(self._pair(p) for p in controls[1:]))
        return "".join(parts) + ("Z" if path.closed else "")

    def _pair(self, at: Sequence[float] | Floats) -> str:
        return ",".join(self._xy(at))

    def _xy(self, at: Sequence[float] | Floats) -> tuple[str, str]:
        return _number(float(at[0])), _number(self.height - float(at[1]))


def escape(text: str) -> str:
    """Text as XML content or attribute value; what XML cannot hold is left out."""
    return html.escape(text.translate(_NOT_XML), quote=True)


def _attributes(attributes: dict[str, str]) -> str:
    return "".join(f' {k.replace("_", "-")}="{escape(v)}"' for k, v in attributes.items())


def _number(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
