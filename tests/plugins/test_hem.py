"""Hems turned up, once, twice, or faced."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from shapely.affinity import scale

from sizewright.errors import SizewrightError
from sizewright.geometry import Path, circular_arc, flatten
from sizewright.model import Fold, Outline, Pattern, Piece, Run, match_seam, parse_seams
from tests.operations import do


def skirt() -> Pattern:
    """A flared panel with a straight hem, and its allowance."""
    path = Path.polyline([(0, 0), (400, 0), (330, 500), (70, 500)], closed=True)
    runs = [Run(0, 1, "hem"), Run(1, 2, "side"), Run(3, 0, "other-side")]
    outline = Outline.of(path, runs=runs)
    return do(
        Pattern((Piece("panel", outline, kind="sew"),)), "seam-allowance", width="15 mm"
    ).pattern


def cut(piece: Piece) -> shapely.Polygon:
    assert piece.cut_line is not None
    return shapely.Polygon(flatten(piece.cut_line.path, 0.005))


@pytest.mark.parametrize(("turns", "deep"), [(1, 40), (2, 80)])
def test_the_turned_up_part_lies_on_the_piece(turns: int, deep: float) -> None:
    made = do(skirt(), "hem", along=["panel:hem"], depth="4 cm", turns=turns).pattern
    area = cut(made.piece("panel"))
    assert area.bounds[1] == pytest.approx(-deep)
    below = area.intersection(shapely.box(-500, -200, 900, 0))
    turned = scale(below, 1, -1, origin=(0, 0))
    # Folded up over the hem line it covers the piece and its allowance, and nothing beside it.
    assert turned.difference(area.buffer(0.01)).area == pytest.approx(0, abs=0.01)
    assert below.area == pytest.approx(turned.intersection(area).area, rel=1e-4)


def test_a_flared_hem_says_what_is_eased() -> None:
    # Exact: two arcs of one centre, depth to both sides: they differ by the angle times twice it.
    arc = Path.of(circular_arc((0.0, 0.0), 900.0, 240.0, 300.0), closed=False)
    top = Path.of(circular_arc((0.0, 0.0), 400.0, 300.0, 240.0), closed=False)
    lines = [Path.polyline([arc.end, top.start]), Path.polyline([top.end, arc.start])]
    path = Path.join([arc, lines[0], top, lines[1]], closed=True)
    outline = Outline.of(path, runs=[Run(0, len(arc), "hem")])
    flare = Pattern((Piece("flare", outline, kind="sew"),))
    pattern = do(flare, "seam-allowance", width="1 cm").pattern
    (told,) = do(pattern, "hem", along=["flare:hem"], depth="3 cm").findings
    more = 2 * 30 * np.radians(60)
    assert f"{more / 10:.2f}".rstrip("0") in told.text
    assert told.level == "warn"
    assert do(skirt(), "hem", along=["panel:hem"], depth="4 cm").findings == ()


def test_a_faced_hem_is_a_facing() -> None:
    made = do(skirt(), "hem", along=["panel:hem"], depth="5 cm", finish="faced").pattern
    assert made.names == ("panel", "panel-hem-facing")
    assert match_seam(made, made.seams[0]).off == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"along": ["hem"], "depth": "4 cm"}, "whose edge"),
        ({"along": ["panel:brim"], "depth": "4 cm"}, "brim"),
        ({"along": ["panel:hem"], "depth": "-4 cm"}, "depth"),
        ({"along": ["panel:hem"], "depth": "4 cm", "turns": 3}, "turns"),
        ({"along": ["panel:hem"], "depth": "60 cm"}, "reaches past the piece"),
        ({"along": ["panel:hem"], "depth": "4 cm", "turn-in": "5 cm"}, "smaller turn-in"),
    ],
)
def test_hems_that_cannot_be(given: dict[str, Any], said: str) -> None:
    with pytest.raises(SizewrightError) as caught:
        do(skirt(), "hem", **given)
    assert said in f"{caught.value} {caught.value.cure}"


def test_without_allowance_it_says_what_to_do_first() -> None:
    bare = skirt().replacing(lambda p: replace(p, cut_line=None, allowances=None))
    with pytest.raises(SizewrightError, match="Add seam allowance"):
        do(bare, "hem", along=["panel:hem"], depth="4 cm")


def test_on_the_fold_there_is_no_hem() -> None:
    pattern = skirt().replacing(lambda p: replace(p, fold=Fold(3, 0)))
    with pytest.raises(SizewrightError, match="on the fold"):
        do(pattern, "hem", along=["panel:other-side"], depth="4 cm")


def test_an_edge_that_is_sewn_to_another_is_told() -> None:
    pattern = skirt()
    seams = tuple(parse_seams("sides: panel:side = panel:other-side"))
    pattern = replace(pattern, seams=seams)
    (told,) = do(pattern, "hem", along=["panel:side"], depth="4 cm").findings
    assert told.code == "hem-in-seam"
    assert do(pattern, "hem", along=["panel:hem"], depth="4 cm").findings == ()
