"""Lays on panels, and on folded cloth."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from shapely import LineString, Polygon
from shapely.ops import split

from sizewright.geometry import Path
from sizewright.laying import Cloth, Item, Lay, Panel, faults, fold_length, look
from sizewright.model import Fold, Grain, Outline, Piece, Quantity
from tests.laying.lays import check, gore, items, piece


def panel(
    name: str, points: Sequence[tuple[float, float]], angle: float = 90.0, **more: object
) -> Panel:
    """A panel of straight edges."""
    return Panel(name, Path.polyline(points, closed=True), angle, **more)  # type: ignore[arg-type]


def block(x: float, y: float, wide: float, tall: float) -> Path:
    """An upright rectangle."""
    corners = [(x, y), (x + wide, y), (x + wide, y + tall), (x, y + tall)]
    return Path.polyline(corners, closed=True)


LEG = [(0, 0), (200, 0), (260, 400), (320, 600), (300, 800), (40, 800), (10, 600)]


def planted(seed: int, share: float = 0.93) -> tuple[Cloth, list[Item]]:
    """A leg cut into six by wavy lines, each part shrunk, so that a lay is known to be there."""
    chance = np.random.default_rng(seed)
    whole = Polygon(LEG)
    parts = [whole]
    while len(parts) < 6:
        parts.sort(key=lambda part: -part.area)
        large = parts.pop(0)
        while True:
            middle = np.array(large.centroid.coords[0]) + chance.normal(0, 20, 2)
            turn = chance.uniform(0, np.pi)
            way = 1200 * np.array([np.cos(turn), np.sin(turn)])
            t = np.linspace(-1, 1, 40)[:, None]
            wave = 15 * np.sin(12 * t) * np.array([-way[1], way[0]]) / 1200
            halves = list(split(large, LineString(middle + t * way + wave)).geoms)
            if len(halves) == 2 and min(h.area for h in halves) > 0.3 * large.area:
                break
        parts += halves
    low, high = 0.0, 10.0
    for _ in range(30):
        by = (low + high) / 2
        less = sum(part.buffer(-by).area for part in parts) < share * whole.area
        low, high = (low, by) if less else (by, high)
    found = []
    for k, part in enumerate(parts):
        shrunk = part.buffer(-low).simplify(0.05)
        ring = np.array(shrunk.exterior.coords)[:-1]
        ring = ring if shrunk.exterior.is_ccw else ring[::-1]
        outline = Outline.of(Path.polyline(ring, closed=True))
        one = Piece(f"part{k}", outline, kind="cut", grain=Grain((0, 0), (0, 50)))
        found.append(Item(one, 1, "as drawn"))
    return Cloth("leg", panels=(panel("leg", LEG),), gap=low), found


@pytest.mark.parametrize("seed", [21, 22])
def test_a_planted_puzzle_is_put_together(seed: int) -> None:
    cloth, every = planted(seed)
    lay = look(cloth, every, 60, seed=seed)
    check(lay)
    assert lay.whole


def test_holes_and_flaws_are_kept_off() -> None:
    bad = panel(
        "sheet",
        [(0, 0), (500, 0), (500, 500), (0, 500)],
        holes=(block(200, 220, 60, 60),),
        flaws=(block(0, 0, 80, 80), block(420, 400, 80, 100)),
    )
    cloth = Cloth("sheet", panels=(bad,))
    lay = look(cloth, items(cloth, gore("gore", 150, 180, 4, pair=True)), 10)
    assert lay.whole
    check(lay)
    assert {f.code for f in faults(Lay(cloth, (lay.laid[0].__class__(
        lay.laid[0].item, "sheet", 10.0, 10.0, 0),)))} == {"lay-over-edge"}  # fmt: skip


def test_each_panel_has_its_own_grain() -> None:
    level = panel("level", [(1000, 50), (1420, 50), (1420, 170), (1000, 170)], 0.0)
    slant = panel("slant", [(0, 0), (300, 0), (300, 300), (0, 300)], 45.0)
    cloth = Cloth("two", panels=(level, slant), nap="one-way")
    strips = items(cloth, piece("strip", [(0, 0), (50, 0), (50, 400), (0, 400)], 2))
    lay = look(cloth, [*strips, *items(cloth, gore("patch", 60, 150))], 10)
    assert lay.whole
    check(lay)
    assert {one.panel for one in lay.laid if one.item.piece.name == "strip"} == {"level"}


def test_what_does_not_go_on_is_left_and_the_rest_laid() -> None:
    cloth = Cloth("leg", panels=(panel("leg", LEG),))
    big = piece("skirt", [(0, 0), (400, 0), (400, 700), (0, 700)])
    every = items(cloth, big, gore("gore", 150, 300, 3))
    lay = look(cloth, every, 8)
    check(lay)
    assert [item.piece.name for item in lay.left] == ["skirt"]


def half(name: str, wide: float, tall: float) -> Piece:
    """Half a piece, its fold at the left, narrower above."""
    path = Path.polyline([(0, 0), (wide, 0), (0.6 * wide, tall), (0, tall)], closed=True)
    return Piece(
        name, Outline.of(path), kind="cut", grain=Grain((9, 20), (9, 80)), fold=Fold(3, 0),
        quantity=(Quantity("main", 1),),
    )  # fmt: skip


def test_halves_lie_on_the_fold() -> None:
    cloth = Cloth("bolt", width=900.0, folded=True)
    every = items(
        cloth,
        half("front", 200, 400),
        half("yoke", 250, 150),
        gore("sleeve", 180, 300, 2, pair=True),
    )
    assert [item.side for item in every] == ["on the fold", "on the fold", "both layers"]
    lay = look(cloth, every, 4)
    assert lay.whole
    assert faults(lay) == []
    on_fold = [one for one in lay.laid if one.item.side == "on the fold"]
    assert [one.y for one in on_fold] == [0.0, 0.0]
    for one, area in zip(lay.laid, lay.areas, strict=True):
        assert area.bounds[3] < 450.01
        for other, its in zip(lay.laid, lay.areas, strict=True):
            assert one is other or area.distance(its) > cloth.gap - 0.01
    assert lay.length > fold_length(cloth, every) - 0.01 == pytest.approx(554 - 0.01)


def test_one_alone_gives_a_spare_on_folded_cloth() -> None:
    from sizewright.laying import items_for

    cloth = Cloth("bolt", width=900.0, folded=True)
    found, told = items_for(cloth, [gore("patch", 100, 100)])
    assert [item.side for item in found] == ["both layers"]
    assert [f.code for f in told] == ["cut-spare"]
    # One that is its own mirror image gives two alike.
    square = piece("square", [(0, 0), (90, 0), (90, 90), (0, 90)], 2)
    assert items_for(cloth, [square])[1] == []
