"""Pockets: their pieces, and their places on all pieces that they touch."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from sizewright.errors import SizewrightError
from sizewright.geometry import Path, affine, flatten
from sizewright.model import Fold, Outline, Pattern, Piece, Point, Run, match_seam, parse_seams
from tests.operations import do, drawn
from tests.shapes import bodice


def skirt() -> Pattern:
    """Halves of a skirt, 600 long, whose sides lean; the back lies left of its fold."""
    path = Path.polyline([(0, 0), (300, 0), (240, 600), (0, 600)], closed=True)
    points = [Point(1, "hem-side"), Point(2, "waist-side"), Point(3, "waist-centre")]
    outline = Outline.of(path, points=points, runs=[Run(1, 2, "side"), Run(2, 3, "waist")])
    front = Piece("front", outline, kind="sew", fold=Fold(3, 0))
    over = affine.compose(
        affine.translation(-50, 20), affine.mirror(np.array([0, 0]), np.array([0, 1]))
    )
    back = replace(front, name="back").transformed(over)
    seams = parse_seams("side: front:side = back:side")
    return Pattern((front, back), seams=tuple(seams))


def places(piece: Piece) -> list[Path]:
    return [m.path for m in piece.marks if m.kind == "place of"]


def test_a_patch_within_its_piece() -> None:
    made = do(
        skirt(), "pocket", at="front: 10 cm across from waist-centre, 12 cm down", width="13 cm",
        depth="15 cm", hem="2 cm",
    ).pattern  # fmt: skip
    (line,) = places(made.piece("front"))
    assert line.bounds == pytest.approx((35, 330, 165, 480))
    assert not places(made.piece("back"))
    pocket = made.piece("pocket")
    x0, y0, x1, y1 = pocket.bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((130, 170))
    assert [(q.material, q.count) for q in pocket.quantity] == [("main", 2)]
    (fold,) = pocket.marks
    assert fold.path.bounds[1] - y0 == pytest.approx(150)


def test_on_the_fold_there_is_one() -> None:
    made = do(
        skirt(), "pocket", at="front: 10 cm down from waist-centre", width="20 cm", depth="15 cm"
    ).pattern
    assert [q.count for q in made.piece("pocket").quantity] == [1]
    (line,) = places(made.piece("front"))
    assert line.bounds == pytest.approx((0, 350, 100, 500))
    assert line.length == pytest.approx(100 + 150 + 100)


@pytest.mark.parametrize("turn", [0.0, 37.0])
def test_over_the_side_seam_both_pieces_bear_their_part(turn: float) -> None:
    pattern = skirt()
    back = pattern.piece("back").transformed(affine.rotation(turn))
    pattern = pattern.with_pieces([pattern.piece("front"), back])
    made = do(
        pattern, "pocket", at="front: 3 cm inside middle of side", width="14 cm", depth="16 cm"
    ).pattern
    parts = []
    for name in ("front", "back"):
        piece = made.piece(name)
        (line,) = places(piece)
        cloth = shapely.Polygon(flatten(piece.outline.path, 0.01))
        ring = shapely.LineString([line.start, *line.vertices, line.end])
        assert ring.distance(cloth) < 1e-6
        # Both of its ends lie on the side, and at the same sewn lengths on both pieces.
        side = shapely.LineString(flatten(piece.outline.run_path(piece.run("side")), 0.01))
        ends = sorted(side.project(shapely.Point(p)) for p in (line.start, line.end))
        ends = ends if name == "front" else sorted(side.length - e for e in ends)
        parts.append((ends, shapely.Polygon(line.vertices).area, line.length))
        assert side.distance(shapely.Point(line.start)) < 1e-3
        assert side.distance(shapely.Point(line.end)) < 1e-3
    assert parts[0][0] == pytest.approx(parts[1][0], abs=1e-3)
    # Straight sides meet exactly, so the parts are the whole pocket.
    assert parts[0][1] + parts[1][1] == pytest.approx(140 * 160, rel=1e-6)
    seam = parts[0][0][1] - parts[0][0][0]
    assert parts[0][2] + parts[1][2] == pytest.approx(2 * (140 + 160), rel=1e-6)
    assert seam > 160


def test_a_back_drawn_the_other_way_is_turned_over() -> None:
    pattern = skirt()
    over = affine.mirror(np.array([0, 0]), np.array([0, 1]))
    back = pattern.piece("back").transformed(over)
    made = do(
        pattern.with_pieces([pattern.piece("front"), back]), "pocket",
        at="front: 3 cm inside middle of side", width="14 cm", depth="16 cm",
    ).pattern  # fmt: skip
    areas = [shapely.Polygon(places(made.piece(n))[0].vertices).area for n in ("front", "back")]
    assert sum(areas) == pytest.approx(140 * 160, rel=1e-6)


def test_an_inseam_pocket_leaves_the_seam_open_on_both_pieces() -> None:
    given = {"kind": "inseam", "width": "16 cm", "depth": "25 cm", "opening": "15 cm"}
    made = do(skirt(), "pocket", at="front: 4 cm down side from waist-side", **given).pattern
    long = float(np.hypot(60, 600))
    for name in ("front", "back"):
        piece = made.piece(name)
        run = piece.run("pocket-opening")
        assert piece.outline.run_length(run) == pytest.approx(150)
        path = piece.outline.path
        heights = sorted(path.at(piece.outline.arc_length_of(n.at))[1] for n in piece.notches)
        low = 0 if name == "front" else 20
        expected = [low + 600 * (1 - d / long) for d in (190, 40)]
        assert heights == pytest.approx(expected)
    bag = made.piece("pocket")
    assert [q.count for q in bag.quantity] == [4]
    assert bag.pair
    # The depth is along the seam, the width square to it.
    edge = bag.outline.run_path(bag.run("opening"))
    way = (edge.end - edge.start) / edge.length
    around = flatten(bag.outline.path, 0.01)
    assert np.ptp(around @ way) == pytest.approx(250, abs=0.1)
    assert np.ptp(around @ np.array([-way[1], way[0]])) == pytest.approx(160, abs=0.1)
    assert shapely.Polygon(flatten(bag.outline.path, 0.01)).is_valid
    for seam in made.seams:
        assert match_seam(made, seam).off == pytest.approx(0, abs=1e-6)
    assert {s.name for s in made.seams} == {"side", "pocket-front", "pocket-back"}


def test_a_bag_follows_a_curved_edge_of_the_demo() -> None:
    pattern = drawn("supper-top")
    made = do(
        pattern, "pocket", at="peplum-front: 2 cm down side from top-side", kind="inseam",
        width="8 cm", depth="11 cm", opening="8 cm",
    ).pattern  # fmt: skip
    piece, bag = made.piece("peplum-front"), made.piece("pocket")
    assert bag.sewn_length(bag.run("opening")) == pytest.approx(80)
    assert piece.sewn_length(piece.run("pocket-opening")) == pytest.approx(80)


def test_a_zip_and_a_pocket_on_one_stretch_are_told() -> None:
    made = do(
        skirt(), "pocket", at="front: 4 cm down side from waist-side", kind="inseam",
        width="16 cm", depth="25 cm",
    ).pattern  # fmt: skip
    told = do(made, "closure", along=["front:side"], kind="zip", length="20 cm").findings
    assert "zip-and-pocket" in {f.code for f in told}
    zipped = do(skirt(), "closure", along=["front:side"], kind="zip", length="20 cm").pattern
    told = do(
        zipped, "pocket", at="front: 4 cm down side from waist-side", kind="inseam",
        width="16 cm", depth="25 cm",
    ).findings  # fmt: skip
    assert {f.code for f in told} == {"zip-and-pocket"}


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"at": "middle of side"}, "which piece"),
        ({"at": "front: brim"}, "brim"),
        ({"at": "front: middle of side", "depth": "70 cm"}, "no one seam"),
        ({"at": "front: middle of waist", "kind": "inseam"}, "declared: front:side"),
        ({"at": "front: hem-side", "kind": "inseam"}, "0 cm"),
        (
            {"at": "front: middle of side", "kind": "inseam", "opening": "20 cm"},
            "more than opening",
        ),
        ({"at": "front: middle of side", "name": "back"}, "already"),
        ({"at": "front: 6 cm across from waist-centre, 20 cm down"}, "middle 6 cm"),
        ({"at": "front: 3 cm inside middle of side", "width": "70 cm"}, "over the fold"),
        ({"at": "front: left 3 cm inside middle of side", "side": "right"}, "wearer's left"),
    ],
)
def test_pockets_that_cannot_be(given: dict[str, Any], said: str) -> None:
    with pytest.raises(SizewrightError) as caught:
        do(skirt(), "pocket", **{"width": "14 cm", "depth": "16 cm", **given})
    assert said in f"{caught.value} {caught.value.cure}"


def test_a_pocket_that_leaves_the_piece_past_the_seam_is_refused() -> None:
    # Nearer the hem than it is deep on the back, which is shorter there.
    pattern = skirt()
    back = pattern.piece("back").transformed(affine.scaling(0.5, 1.0))
    with pytest.raises(SizewrightError, match="leaves the piece again, over"):
        do(
            pattern.with_pieces([pattern.piece("front"), back]), "pocket",
            at="front: middle of side", width="40 cm", depth="16 cm",
        )  # fmt: skip


def test_over_a_dart_there_is_no_pocket() -> None:
    given: dict[str, Any] = {"width": "6 cm", "depth": "8 cm"}
    pattern = Pattern((bodice(),))
    with pytest.raises(SizewrightError, match="over the dart"):
        do(pattern, "pocket", at="front: 14 cm up from waist-centre, 8 cm across", **given)
    # Above its tip there is.
    do(pattern, "pocket", at="front: 23 cm up from waist-centre, 12 cm across", **given)


def test_an_opening_over_a_dart_is_refused() -> None:
    pattern = drawn("basic-set")
    with pytest.raises(SizewrightError, match="over the dart bust"):
        do(
            pattern, "pocket", at="front: 1 cm down side from underarm", kind="inseam",
            width="10 cm", depth="18 cm", opening="14 cm",
        )  # fmt: skip


def test_a_bag_that_has_no_room_is_told() -> None:
    given = {"kind": "inseam", "depth": "25 cm", "opening": "15 cm"}
    at = "front: 4 cm down side from waist-side"
    assert do(skirt(), "pocket", at=at, width="16 cm", **given).findings == ()
    (told,) = do(skirt(), "pocket", at=at, width="40 cm", **given).findings
    assert told.code == "pocket-past-its-piece"


ON_A_SIDE: dict[str, Any] = {"kind": "inseam", "width": "16 cm", "depth": "25 cm"}


@pytest.mark.parametrize(("side", "edge"), [("left", "side"), ("right", "side-mirrored")])
def test_beside_an_opened_piece_a_pair_has_a_pocket_on_that_side_only(side: str, edge: str) -> None:
    pattern = skirt()
    pair = replace(pattern.piece("back"), fold=None, pair=True)
    pattern = pattern.with_pieces([pattern.piece("front"), pair])
    opened = do(pattern, "fold-marks", open=["front"]).pattern
    at = f"front: {side} 4 cm down side from waist-side"
    made = do(opened, "pocket", at=at, **ON_A_SIDE).pattern
    assert {n.side for n in made.piece("back").notches} == {side}
    assert [q.count for q in made.piece("pocket").quantity] == [2]
    # From the pair the side has to be said.
    at = "back: 4 cm down side from waist-side"
    with pytest.raises(SizewrightError) as caught:
        do(opened, "pocket", at=at, **ON_A_SIDE)
    assert "Say side" in caught.value.cure
    there = do(opened, "pocket", at=at, side=side, **ON_A_SIDE).pattern
    front = there.piece("front")
    run, whole = (front.outline.run_path(front.run(r)) for r in ("pocket-opening", edge))
    line = shapely.LineString(flatten(whole, 0.01))
    assert line.distance(shapely.Point(run.at(run.length / 2))) < 0.01


def test_a_patch_over_a_zip_is_told() -> None:
    zipped = do(skirt(), "closure", along=["front:side"], kind="zip", length="30 cm").pattern
    at = "front: 3 cm inside 20 cm down side from waist-side"
    given: dict[str, Any] = {"at": at, "width": "14 cm", "depth": "16 cm"}
    assert {f.code for f in do(zipped, "pocket", **given).findings} == {"zip-and-pocket"}
    assert do(skirt(), "pocket", **given).findings == ()
