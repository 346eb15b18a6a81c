"""A lay: where each item lies on its cloth, how much of the cloth it takes, and its proof."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from ..findings import Finding
from .cloth import Cloth, Panel
from .items import ON_FOLD, Item

# Places are kept to this, mm, so that a lay is the same after a trip through its file.
_DECIMALS = 3
# What a rounded place may be off, mm.
_SLACK = 0.004


@dataclass(frozen=True)
class Laid:
    """An item in its place: `x`, `y` is the lower left of its box, mm, counted from that of
    the panel (of a length: from its corner); `turn` in degrees, 0 or 180, from the grain."""

    item: Item
    panel: str
    x: float
    y: float
    turn: int

    def rounded(self) -> Laid:
        """The same place as its file has it."""
        return replace(self, x=round(self.x, _DECIMALS) + 0.0, y=round(self.y, _DECIMALS) + 0.0)


@dataclass(frozen=True)
class Lay:
    """What lies on a cloth, and what is `left` over for which no place was found."""

    cloth: Cloth
    laid: tuple[Laid, ...]
    left: tuple[Item, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether everything lies on the cloth."""
        return not self.left

    @cached_property
    def areas(self) -> tuple[Any, ...]:
        """What each of `laid` covers, as shapely polygons."""
        return tuple(
            one.item.area_on(self.cloth.panel(one.panel), one.x, one.y, one.turn)
            for one in self.laid
        )

    @cached_property
    def length(self) -> float:
        """How far the items reach along a length, mm; 0 where nothing lies there."""
        return max((float(area.bounds[2]) for area in self.areas), default=0.0)

    @property
    def panels(self) -> tuple[Panel, ...]:
        """The panels; of a length, the part that is used, or as long as the cloth is."""
        if self.cloth.width is None:
            return self.cloth.panels
        return (self.cloth.panel("", self.cloth.length or max(self.length, 1.0)),)

    @property
    def share(self) -> float:
        """How much of the cloth the items cover, 0 to 1: of a length, of what is used."""
        if self.cloth.width is None:
            ground = sum(panel.whole for panel in self.cloth.panels)
        else:
            ground = self.cloth.depth * self.length
        return sum(area.area for area in self.areas) / ground if ground else 0.0

    @property
    def rank(self) -> tuple[float, ...]:
        """Less is better: what is left over, then the length."""
        return len(self.left) > 0, sum(i.area for i in self.left), self.length

    def on(self, panel: str) -> list[tuple[Laid, Any]]:
        """What lies on a panel with its area, in the order to cut: the leftmost first."""
        found = [(a, b) for a, b in zip(self.laid, self.areas, strict=True) if a.panel == panel]
        return sorted(found, key=lambda p: (p[1].bounds[0], p[1].bounds[1], p[0].item.key))


def faults(lay: Lay) -> list[Finding]:
    """What is wrong with a lay, by the true outlines flattened within 0.02 mm; empty if proved.

    Nothing lies over another or nearer than the gap, nothing hangs over the cloth, a hole, a
    flaw or the selvedge, and what is cut on the fold lies on it.
    """
    return list(_faults(lay))


def _faults(lay: Lay) -> Iterator[Finding]:
    from shapely import STRtree, prepare

    gap = lay.cloth.gap
    for panel in {one.panel for one in lay.laid}:
        pairs = lay.on(panel)
        sound = lay.cloth.panel(panel).sound
        prepare(sound)
        for one, area in pairs:
            if not sound.covers(area) and not sound.buffer(_SLACK).covers(area):
                yield _fault("lay-over-edge", one, "it hangs over the cloth, a hole or a flaw")
            if one.item.side == ON_FOLD and abs(area.bounds[1]) > _SLACK:
                yield _fault("lay-off-fold", one, "it does not lie on the fold")
            if one.turn not in lay.cloth.turns:
                yield _fault("lay-turned", one, f"it may not be turned by {one.turn} degrees")
        areas = np.array([area for _, area in pairs], dtype=object)
        near = STRtree(areas).query(areas, "dwithin", max(gap - _SLACK, 0.0))
        for a, b in sorted((int(i), int(j)) for i, j in near.T if i < j):
            (one, first), (other, second) = pairs[a], pairs[b]
            apart = float(first.distance(second))
            if apart == 0.0 and float(first.intersection(second).area) > 1e-3:
                yield _fault("lay-overlap", one, f'it lies over "{other.item.title}"')
            elif apart < gap - _SLACK:
                text = f'it lies {apart:.2f} mm from "{other.item.title}": {gap:g} mm is asked for'
                yield _fault("lay-gap", one, text)


def _fault(code: str, one: Laid, text: str) -> Finding:
    panel = f"panel {one.panel}" if one.panel else ""
    return Finding(code, "fail", text, one.item.title, place=panel)


def proved(cloth: Cloth, laid: Sequence[Laid], items: Sequence[Item]) -> Lay | None:
    """The lay of these places, rounded as its file has them; None where it does not hold."""
    lay = Lay(cloth, tuple(one.rounded() for one in laid))
    there = {one.item.key for one in lay.laid}
    lay = replace(lay, left=tuple(item for item in items if item.key not in there))
    return None if faults(lay) else lay


def largest_left(lay: Lay) -> tuple[float, float, str]:
    """The largest rectangle along the grain that is left of the cloth: length, width, mm, panel.

    Found on squares of 5 mm, so up to 1 cm less than there is.
    """
    best = (0.0, 0.0, "")
    for panel in lay.panels:
        free = _free(panel, [area for _, area in lay.on(panel.name)])
        tall, wide = _largest_rectangle(free)
        if tall * wide and (tall + 1) * (wide + 1) * _SQUARE**2 > best[0] * best[1]:
            # Half a square beyond its corners is free on each side.
            best = ((wide + 1) * _SQUARE, (tall + 1) * _SQUARE, panel.name)
    return best


_SQUARE = 5.0


def _free(panel: Panel, taken: Sequence[Any]) -> Any:
    """Squares of 5 mm, (rows, columns), that lie on sound cloth whole; columns along the grain."""
    from shapely import contains_xy, prepare, union_all
    from shapely.affinity import rotate

    left = rotate(panel.sound.difference(union_all(list(taken))), -panel.angle, origin=(0, 0))
    # Corners this far inside hold all of a square inside, but for what is thinner than a thread.
    inner = left.buffer(-_SQUARE / 2)
    if inner.is_empty:
        return np.zeros((0, 0), dtype=np.bool_)
    x0, y0, x1, y1 = inner.bounds
    prepare(inner)
    across, up = np.arange(x0 + 1e-6, x1, _SQUARE), np.arange(y0 + 1e-6, y1, _SQUARE)
    inside = contains_xy(inner, *np.meshgrid(across, up))
    return inside[1:, 1:] & inside[:-1, 1:] & inside[1:, :-1] & inside[:-1, :-1]


def _largest_rectangle(free: Any) -> tuple[int, int]:
    """Rows and columns of the largest block of true cells."""
    best = (0, 0)
    heights = np.zeros(free.shape[1] if free.size else 0, dtype=np.intp)
    for row in free:
        heights = np.where(row, heights + 1, 0)
        stack: list[tuple[int, int]] = []
        for k, h in enumerate([*map(int, heights), 0]):
            start = k
            while stack and stack[-1][1] >= h:
                start, tall = stack.pop()
                if tall * (k - start) > best[0] * best[1]:
                    best = (tall, k - start)
            stack.append((start, h))
    return best
