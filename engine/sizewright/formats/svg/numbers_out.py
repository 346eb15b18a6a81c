"""Numbers, paths and the page: from the model's mm, y up, to a drawing's mm, y down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import Vec

#: Decimals of a coordinate in mm: a tenth of a millionth, so that a trip costs under 1e-7 mm.
PLACES = 7


def number(value: float, places: int = PLACES) -> str:
    """A decimal without trailing zeros or exponent.

    It is rounded twice, so that a value halfway between two decimals goes the same way
    whatever the noise in its last bits: else a second writing would differ from the first.
    """
    text = f"{round(round(value, 10), places):.{places}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


@dataclass(frozen=True, slots=True)
class Frame:
    """A page in mm; its height turns the model's y up into the drawing's y down."""

    width: float
    height: float

    def at(self, place: Vec | Floats) -> Vec:
        """A model's place in the drawing's numbers, not yet rounded."""
        return float(place[0]), self.height - float(place[1])

    def xy(self, place: Vec | Floats, places: int = PLACES) -> tuple[str, str]:
        """A model's place as the drawing's two numbers."""
        x, y = self.at(place)
        return number(x, places), number(y, places)

    def settled(self, path: Path) -> Path:
        """`path` as it comes back from the written numbers."""
        flat = path.controls.reshape(-1, 2)
        back = np.array([self._settle(p) for p in flat])
        return path.with_controls(back.reshape(path.controls.shape))

    def _settle(self, place: Floats) -> Vec:
        x, y = self.at(place)
        return (
            round(round(x, 10), PLACES),
            self.height - round(round(y, 10), PLACES),
        )

    def data(self, path: Path, places: int = PLACES) -> str:
        """SVG path data: absolute M, H, V, L, C, Z."""
        words = ["M", *self.xy(path.start, places)]
        x, y = words[1], words[2]
        last = len(path) - 1
        for i, (controls, line) in enumerate(zip(path.controls, path.lines, strict=True)):
            to = self.xy(controls[3], places)
            if line and not (path.closed and i == last):
                if to[1] == y:
                    words += ["H", to[0]]
                elif to[0] == x:
                    words += ["V", to[1]]
                else:
                    words += ["L", *to]
            elif not line:
                words += ["C", *self.xy(controls[1], places), *self.xy(controls[2], places), *to]
            x, y = to
        return " ".join([*words, "Z"] if path.closed else words)
