"""The words of a picture, read back from its SVG."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator

import numpy as np
from shapely.geometry import Polygon

from sizewright.pictures import Box
from sizewright.pictures.text import width

SVG = "{http://www.w3.org/2000/svg}"


def words(root: ET.Element) -> Iterator[tuple[str, Polygon]]:
    """Every text with the room that its letters take."""
    for e in root.iter(f"{SVG}text"):
        text, size = e.text or "", float(e.attrib["font-size"])
        wide = width(text, size, bold="font-weight" in e.attrib) * 0.94
        x, y = float(e.attrib["x"]), float(e.attrib["y"])
        turn = float(e.attrib.get("transform", "rotate(0 ").removeprefix("rotate(").split()[0])
        left = {"middle": -wide / 2, "end": -wide}.get(e.attrib.get("text-anchor", ""), 0.0)
        a = np.radians(turn)
        along, up = np.array([np.cos(a), np.sin(a)]), np.array([np.sin(a), -np.cos(a)])
        mx, my = np.array([x, y]) + along * (left + wide / 2) + up * 0.36 * size
        yield text, Polygon(Box(float(mx), float(my), wide, 0.8 * size, turn).corners)
