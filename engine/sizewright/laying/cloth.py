"""Cloths that pieces are laid on: a length from the bolt, or panels cut out of something."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

from ..geometry.flatten import flatten
from ..geometry.path import Path

#: Which ways a cloth may be laid: with a one-way nap all pieces point one way.
Nap = Literal["one-way", "two-way", "none"]
#: Lays are proved on curves flattened within this, mm.
CHORD = 0.02


@dataclass(frozen=True)
class Panel:
    """A closed piece of cloth as it was drawn, mm, y up.

    `holes` are cut out of it, `flaws` are worn or stained. `angle` is the direction of its
    grain, degrees counter-clockwise from level; with a nap that is the way that it points.
    """

    name: str
    outline: Path
    angle: float = 90.0
    holes: tuple[Path, ...] = ()
    flaws: tuple[Path, ...] = ()

    @cached_property
    def sound(self) -> Any:
        """What may be cut from, as a shapely geometry: no hole and no flaw in it."""
        from shapely import union_all

        bad = union_all([_area(path) for path in (*self.holes, *self.flaws)])
        return _area(self.outline).difference(bad)

    @cached_property
    def corner(self) -> tuple[float, float]:
        """Lower left of its box, from where places on it count."""
        return self.outline.bounds[:2]

    @cached_property
    def whole(self) -> float:
        """Area within its outline, mm2."""
        return float(_area(self.outline).area)


@dataclass(frozen=True)
class Cloth:
    """A length of cloth, or panels, on which the pieces of one material are laid.

    A length lies level: its grain runs to the right from (0, 0), `width` is its height, and
    `length` None stands for as long as it takes. Of a `folded` one the fold lies below, at 0.
    `selvedge` is kept off at both long sides, `gap` is the least distance between pieces, all
    in mm. `pieces` names those that are laid here; none: all of the material. Where `piecing`
    is not 0, what is too large may be cut in parts, with so much allowance at the new seams, mm.
    """

    name: str
    material: str = "main"
    width: float | None = None
    length: float | None = None
    panels: tuple[Panel, ...] = ()
    selvedge: float = 0.0
    nap: Nap = "none"
    folded: bool = False
    gap: float = 4.0
    pieces: tuple[str, ...] = ()
    piecing: float = 0.0

    @property
    def turns(self) -> tuple[int, ...]:
        """The half turns that a piece may take, degrees."""
        return (0,) if self.nap == "one-way" else (0, 180)

    @property
    def depth(self) -> float:
        """How far a length reaches across as it lies, mm: folded, half of its width."""
        assert self.width is not None
        return self.width / 2 if self.folded else self.width

    @property
    def band(self) -> tuple[float, float]:
        """From where to where across a length pieces may lie, mm."""
        return (0.0 if self.folded else self.selvedge), self.depth - self.selvedge

    def panel(self, name: str, length: float = math.inf) -> Panel:
        """The panel of that name; of a length, its part that is `length` long.

        Raises KeyError where there is none.
        """
        if self.width is None:
            return {panel.name: panel for panel in self.panels}[name]
        if name:
            raise KeyError(name)
        low, high = self.band
        # A length without end is one that is longer than any lay.
        end = min(length, self.length or _ENDLESS)
        corners = [(0.0, low), (end, low), (end, high), (0.0, high)]
        return _Length("", Path.polyline(corners, closed=True), 0.0)


class _Length(Panel):
    @property
    def corner(self) -> tuple[float, float]:
        """The cloth's own corner, below the selvedge."""
        return 0.0, 0.0


_ENDLESS = 1e6


def _area(path: Path) -> Any:
    from shapely import Polygon

    return Polygon(flatten(path, CHORD)).buffer(0)
