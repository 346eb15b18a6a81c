"""Pieces that lie on no panel whole, cut by the fewest seams."""

from __future__ import annotations

import pytest
from shapely import Polygon, union_all

from sizewright.geometry import Path, flatten
from sizewright.laying import Cloth, Panel, look, pieced
from tests.laying.lays import check, gore, items, piece


def cloth(wide: float, tall: float, piecing: float = 10.0) -> Cloth:
    """Two panels alike, their grain up."""
    box = [(0, 0), (wide, 0), (wide, tall), (0, tall)]
    panels = tuple(Panel(name, Path.polyline(box, closed=True)) for name in ("a", "b"))
    return Cloth("panels", panels=panels, piecing=piecing)


@pytest.mark.parametrize(("wide", "tall", "way"), [(320, 700, "along"), (700, 320, "across")])
def test_one_seam_is_enough(wide: float, tall: float, way: str) -> None:
    ground = cloth(wide, tall)
    skirt = gore("skirt", 500, 500)
    parts, told = pieced(ground, [*items(ground, skirt), *items(ground, gore("tab", 50, 50))])
    assert [item.piece.name for item in parts] == ["skirt part 1", "skirt part 2", "tab"]
    assert f"by 1 seam {way} the grain" in told[0].text
    # Together they are the piece, and twice the allowance along the seam besides.
    shapes = [Polygon(flatten(item.piece.outline.path, 0.02)) for item in parts[:2]]
    whole = Polygon(flatten(skirt.outline.path, 0.02))
    assert union_all(shapes).symmetric_difference(whole).area < 1.0
    seam = parts[0].piece.marks[-1].path.length
    assert shapes[0].intersection(shapes[1]).area == pytest.approx(20 * seam, rel=0.05)
    lay = look(ground, parts, 15)
    check(lay)
    assert lay.whole


def test_two_seams_where_one_does_not_help() -> None:
    ground = cloth(260, 700)
    _, told = pieced(
        ground, items(ground, piece("skirt", [(0, 0), (600, 0), (600, 500), (0, 500)]))
    )
    assert "cut in 3 by 2 seams along the grain" in told[0].text


def test_what_no_seam_helps_stays_whole() -> None:
    ground = cloth(60, 60)
    parts, told = pieced(ground, items(ground, gore("skirt", 900, 900)))
    assert [item.piece.name for item in parts] == ["skirt"]
    assert "no 4 straight seams help" in told[0].text
