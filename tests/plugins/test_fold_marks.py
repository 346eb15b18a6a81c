"""Halves opened out, wholes closed: lengths, names, notches and seams stay true."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import GeometryError, InputError, LookupFailed
from sizewright.geometry import Path, affine, flatten
from sizewright.model import (
    Cutout,
    Drill,
    Fold,
    Grain,
    Mark,
    Notch,
    Outline,
    Pattern,
    Piece,
    Pleat,
    Run,
    Spot,
    match_seam,
    parse_seams,
)
from tests.operations import do
from tests.shapes import bodice, rectangle


def mark(pattern: Pattern, **given: object) -> Pattern:
    return do(pattern, "fold-marks", **given).pattern


def half() -> Piece:
    return dataclasses.replace(
        bodice(),
        notches=(Notch(Spot(5, 40.0), name="front"), Notch(Spot(4, 50.0), side="left")),
        drills=(Drill((105, 155)), Drill((150, 200), side="right")),
        marks=(Mark(Path.polyline([(20, 40), (60, 40)]), "pocket"),),
        cutouts=(Cutout(rectangle(20, 10, 30, 60)),),
        pleats=(Pleat("neck", 7, 8),),
        grain=Grain((20, 50), (20, 200)),
    )


def whole() -> Piece:
    return mark(Pattern((half(),)), open=["front"]).pieces[0]


def test_the_whole_has_twice_the_area_and_is_symmetric_for_shapely() -> None:
    piece, opened = half(), whole()
    assert opened.outline.path.area == pytest.approx(2 * piece.outline.path.area)
    shape = shapely.Polygon(flatten(opened.outline.path, 0.001))
    assert shape.is_valid
    flipped = shapely.affinity.scale(shape, -1, 1, origin=(0, 0))
    assert shape.symmetric_difference(flipped).area < 1e-6 * shape.area
    one = shapely.Polygon(flatten(piece.outline.path, 0.001))
    union = one.union(shapely.affinity.scale(one, -1, 1, origin=(0, 0)))
    assert shape.symmetric_difference(union).area < 1.0


def test_names_on_both_halves() -> None:
    outline = whole().outline
    assert outline.vertex_at(outline.vertex("underarm")) == pytest.approx([260, 210])
    assert outline.vertex_at(outline.vertex("underarm-mirrored")) == pytest.approx([-260, 210])
    assert outline.point(outline.vertex("underarm-mirrored")).rule == "side"
    assert outline.vertex_at(outline.vertex("neck-centre")) == pytest.approx([0, 320])
    assert all(p.name != "neck-centre-mirrored" for p in outline.points)
    half_neck = half().outline.run_length(half().outline.run("neck"))
    assert outline.run_length(outline.run("neck")) == pytest.approx(2 * half_neck)
    for name in ("side", "side-mirrored"):
        assert outline.run_length(outline.run(name)) == pytest.approx(np.hypot(20, 200))


def test_the_fold_line_is_no_longer_an_edge_but_a_centre() -> None:
    opened = whole()
    assert opened.fold is None
    assert opened.marks[-1].name == "centre"
    assert opened.marks[-1].path.length == pytest.approx(320)
    # Neck and waist meet the fold square, so nothing turns there.
    assert len(opened.outline.corners) == 2 * (9 - 2)


def test_darts_and_pleats_close_on_both_halves() -> None:
    piece, opened = half(), whole()
    assert [d.name for d in opened.darts] == ["waist", "waist-mirrored"]
    for dart in opened.darts:
        assert dart.tip is not None
        assert opened.outline.vertex_at(dart.tip) == pytest.approx(dart.apex)
    waist = opened.sewn_length(opened.run("waist"))
    assert waist == pytest.approx(2 * piece.sewn_length(piece.run("waist")))
    (pleat,) = opened.pleats
    assert opened.outline.run_length(Run(pleat.a, pleat.b)) == pytest.approx(
        2 * piece.outline.run_length(piece.run("neck"))
    )


def test_features_lie_where_their_side_says() -> None:
    opened = whole()
    places = [opened.outline.path.at(opened.outline.arc_length_of(n.at)) for n in opened.notches]
    armhole = half().outline.path.at(half().outline.arc_length_of(Spot(5, 40.0)))
    left = half().outline.path.at(half().outline.arc_length_of(Spot(4, 50.0)))
    # Seen from outside, a front's right half is the wearer's left.
    expected = [armhole, armhole * [-1, 1], left]
    assert np.array(places) == pytest.approx(np.array(expected), abs=1e-6)
    assert [d.at for d in opened.drills] == [
        (105, 155),
        pytest.approx((-105, 155)),
        pytest.approx((-150, 200)),
    ]
    assert len(opened.cutouts) == 2
    assert len(opened.marks) == 3


@given(st.floats(-170, 170), st.booleans())
def test_opening_does_not_mind_how_the_piece_lies(turn: float, flip: bool) -> None:
    m = affine.compose(affine.rotation(turn), affine.scaling(-1 if flip else 1, 1))
    moved = half().transformed(m)
    opened = mark(Pattern((moved,)), open=["front"]).pieces[0]
    assert opened.outline.path.area == pytest.approx(2 * half().outline.path.area)
    assert opened.sewn_length(opened.run("waist")) == pytest.approx(
        2 * half().sewn_length(half().run("waist"))
    )
    assert len(opened.darts) == 2


def test_closing_undoes_opening() -> None:
    piece = dataclasses.replace(half(), pleats=(), marks=(), drills=(), notches=())
    again = mark(
        mark(Pattern((piece,)), open=["front"], words=""), close=["front"], words=""
    ).pieces[0]
    assert again.outline.path.area == pytest.approx(piece.outline.path.area)
    assert again.outline.vertex_at(again.outline.vertex("underarm")) == pytest.approx([260, 210])
    assert {p.name for p in again.outline.points} == {p.name for p in piece.outline.points}
    assert again.fold is not None
    fold = again.outline.run_path(Run(again.fold.start, again.fold.end))
    assert fold.length == pytest.approx(320)
    for name in ("waist", "side", "neck", "armhole"):
        assert again.sewn_length(again.run(name)) == pytest.approx(
            piece.sewn_length(piece.run(name))
        )
    assert [d.name for d in again.darts] == ["waist"]


def test_seams_follow_what_is_opened_and_closed() -> None:
    back = dataclasses.replace(bodice(), name="back").transformed(affine.translation(400, 0))
    band = Piece("band", Outline.of(rectangle(4 * (90 + float(np.hypot(120, 10))), 30)), kind="sew")
    seams = parse_seams(
        "side: front:side = back:side; top: 2 x front:waist + 2 x back:waist = band:#1"
    )
    pattern = Pattern((bodice(), back, band), seams=seams)
    base = {s.name: match_seam(pattern, s) for s in pattern.seams}
    assert base["top"].surplus == pytest.approx(0)

    both = mark(pattern, open=["front", "back"], words="")
    found = {s.name: match_seam(both, s) for s in both.seams}
    assert set(found) == {"side", "side-mirrored", "top"}
    for name, match in found.items():
        twin = base[name.removesuffix("-mirrored")]
        assert match.first.length == pytest.approx(twin.first.length), name
        assert match.second.length == pytest.approx(twin.second.length), name

    shut = mark(both, close=["front", "back"], words="")
    again = {s.name: match_seam(shut, s) for s in shut.seams}
    assert set(again) == {"side", "top"}
    assert again["top"].first.length == pytest.approx(base["top"].first.length)
    assert shut.seams[1].first[0].count == 2

    one = mark(pattern, open=["front"], words="")
    assert [s.name for s in one.seams] == ["side", "side-mirrored", "top"]
    for seam in one.seams:
        assert match_seam(one, seam).surplus == pytest.approx(0, abs=1e-9)


def test_words_stand_along_the_fold_inside_the_piece_and_once() -> None:
    pattern = mark(mark(Pattern((bodice(),))))
    (label,) = pattern.pieces[0].labels
    assert label.text == "place on the fold"
    assert label.angle == pytest.approx(90)
    assert 0 < label.at[0] < 20
    assert mark(Pattern((bodice(),)), words="").pieces[0].labels == ()


def test_what_cannot_be_opened_or_closed_says_why() -> None:
    flat = dataclasses.replace(bodice(), fold=None)
    with pytest.raises(InputError, match="fold"):
        mark(Pattern((flat,)), open=["front"])
    with pytest.raises(LookupFailed, match="front"):
        mark(Pattern((flat,)), open=["frnt"])
    with pytest.raises(InputError, match="is a half already"):
        mark(Pattern((bodice(),)), close=["front"])
    with pytest.raises(GeometryError, match="differ"):
        mark(Pattern((flat,)), close=["front"])
    bent = dataclasses.replace(bodice(), fold=Fold(7, 0))
    with pytest.raises(GeometryError, match="bends"):
        mark(Pattern((bent,)), open=["front"])


def test_a_cutting_line_is_opened_with_its_piece() -> None:
    cut = Path.polyline([(0, -10), (212, -10), (212, 110), (0, 110)], closed=True)
    piece = Piece(
        "yoke",
        Outline.of(rectangle(200, 100)),
        kind="sew",
        cut_line=Outline.of(cut),
        fold=Fold(3, 0),
    )
    opened = mark(Pattern((piece,)), open=["yoke"]).piece("yoke")
    assert opened.cut_line is not None
    assert opened.cut_line.path.bounds == pytest.approx((-212, -10, 212, 110))


def test_an_opened_piece_meets_a_pair_on_both_sides_with_its_notches() -> None:
    back = dataclasses.replace(bodice(), name="back", fold=None, pair=True)
    back = back.transformed(affine.translation(900, 0))
    seams = parse_seams("side: front:side = back:side, notch 5 cm")
    opened = mark(Pattern((bodice(), back), seams=seams), open=["front"], words="")
    assert [s.name for s in opened.seams] == ["side", "side-mirrored"]
    for seam in opened.seams:
        assert match_seam(opened, seam).surplus == pytest.approx(0, abs=1e-9)
    from sizewright.model import place_seam_notches

    notched = place_seam_notches(opened)
    front, back = notched.pieces
    places = [front.outline.path.at(front.outline.arc_length_of(n.at)) for n in front.notches]
    assert places[1] == pytest.approx(places[0] * [-1, 1])
    assert len(back.notches) == 1


def test_allowances_and_corners_of_an_edge_hold_for_its_mirror_image() -> None:
    from tests.plugins.allowances import allow

    opened = mark(Pattern((bodice(),)), open=["front"], words="")
    piece = allow(
        opened,
        widths={"front:side": "3 cm"},
        corner_kinds={"front:shoulder-tip": "fold-back", "front:waist-side": "square"},
    ).pattern.pieces[0]
    assert piece.cut_line is not None
    shape = shapely.Polygon(flatten(piece.cut_line.path, 0.001))
    flipped = shapely.affinity.scale(shape, -1, 1, origin=(0, 0))
    assert shape.symmetric_difference(flipped).area < 1e-6 * shape.area


def test_an_opened_piece_is_moved_clear_of_the_others() -> None:
    back = dataclasses.replace(bodice(), name="back").transformed(affine.translation(-300, 0))
    sizes = [dataclasses.replace(p, size=s) for s in ("10", "12") for p in (bodice(), back)]
    opened = mark(Pattern(tuple(sizes)), open=["front"], words="")
    for size in ("10", "12"):
        a, b = opened.piece("front", size).bounds, opened.piece("back", size).bounds
        assert a[0] >= b[2] + 30
    assert opened.piece("front", "10").bounds == opened.piece("front", "12").bounds
