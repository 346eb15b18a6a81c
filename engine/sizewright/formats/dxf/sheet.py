"""Entities of a DXF drawing as text, in whatever release they stand.

Group codes are those of the DXF reference.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable

from ...geometry.types import Floats
from ...units import Unit

Place = tuple[float, float] | Floats
Tag = tuple[int, str | int]
ORIGIN: tuple[Tag, ...] = ((10, "0.0"), (20, "0.0"), (30, "0.0"))


def written(tags: Iterable[Tag]) -> str:
    """Tags as lines of a file."""
    return "".join([f"{code:>3}\n{value}\n" for code, value in tags])


class Sheet(ABC):
    """Entities in the making; places and lengths in mm. `parts` are what is written of them.

    A number has so many decimals (`places`) in `unit`, mm or inches, as processors and
    libraries agree on.
    """

    def __init__(self, unit: Unit, places: int) -> None:
        self.unit = unit
        self.places = places
        self.parts: list[str] = []

    def point(self, at: Place, layer: str | int, *, thickness: float = 0.0) -> None:
        """A POINT; `thickness` (group 39) holds the depth of a notch."""
        self._entity("POINT", layer, "AcDbPoint")
        self._place(10, at)
        if thickness:
            self._tags((39, self.length(thickness)))

    def line(self, start: Place, end: Place, layer: str | int) -> None:
        """A LINE."""
        self._entity("LINE", layer, "AcDbLine")
        self._place(10, start)
        self._place(11, end)

    def polyline(self, points: Iterable[Place] | Floats, layer: str | int, *, closed: bool) -> None:
        """A POLYLINE of straight chords."""
        self._entity("POLYLINE", layer, "AcDb2dPolyline")
        self._tags((66, 1), *ORIGIN, (70, int(closed)))
        for point in points:
            self._entity("VERTEX", layer, "AcDbVertex", "AcDb2dVertex")
            self._place(10, point)
        self._entity("SEQEND", layer)

    def circle(self, centre: Place, radius: float, layer: str | int) -> None:
        """A CIRCLE."""
        self._entity("CIRCLE", layer, "AcDbCircle")
        self._place(10, centre)
        self._tags((40, self.length(radius)))

    def text(
        self, words: str, at: Place, height: float, layer: str | int, *, angle: float = 0.0
    ) -> None:
        """A TEXT from its baseline's start; `angle` in degrees."""
        self._entity("TEXT", layer, "AcDbText")
        self._place(10, at)
        self._tags((40, self.length(height)), (1, words))
        if angle:
            self._tags((50, self.number(angle)))
        self._classes("AcDbText")

    def length(self, mm: float) -> str:
        """A length or coordinate as it is written."""
        return self.number(self.unit.from_mm(mm))

    def number(self, value: float) -> str:
        """A number as it is written."""
        text = f"{value:.{self.places}f}".rstrip("0")
        text = text + "0" if text.endswith(".") else text
        return "0.0" if text == "-0.0" else text

    @abstractmethod
    def _entity(self, kind: str, layer: str | int, *classes: str) -> None:
        """Begin an entity."""

    def _classes(self, *names: str) -> None:
        """Markers of the classes whose tags follow, which releases before 13 have not."""
        self._tags(*((100, name) for name in names))

    def _tags(self, *tags: Tag) -> None:
        self.parts.append(written(tags))

    def _place(self, code: int, at: Place) -> None:
        x, y = self.length(float(at[0])), self.length(float(at[1]))
        self.parts.append(f"{code:>3}\n{x}\n{code + 10:>3}\n{y}\n{code + 20:>3}\n0.0\n")
