"""Pieces slashed and spread: exact openings, edges that stay, pleats that close, seams that say."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import SizewrightError
from sizewright.geometry import Path, affine, flatten
from sizewright.model import (
    Drill,
    Fold,
    Mark,
    Notch,
    Pattern,
    Piece,
    match_seam,
    parse_seams,
)
from tests.operations import do, drawn
from tests.plugins.drafted import basic_set, lengths, panel, supper_top
from tests.shapes import bodice


def spread(piece: Piece, **given: object) -> Piece:
    given = {"piece": piece.name, "from_": "hem", "to": "waist", **given}
    return do(Pattern((piece,)), "spread", **given).pattern.pieces[0]


@given(
    st.integers(1, 12),
    st.floats(50, 400),
    st.floats(200, 900),
    st.floats(0.02, 0.5),
)
def test_wedges_on_a_rectangle_are_exact(n: int, wide: float, tall: float, share: float) -> None:
    """Area by the chord and the height of each triangle; the same by shapely."""
    by = share * tall
    new = spread(panel(wide, tall), cuts=n, by=f"{by} mm", fair=False)
    o = by / n
    area = wide * tall + n / 2 * o * math.sqrt(tall**2 - o**2 / 4)
    assert new.area == pytest.approx(area, rel=1e-12)
    assert shapely.Polygon(new.outline.path.vertices).area == pytest.approx(area, rel=1e-9)
    assert lengths(new) == pytest.approx(
        {"hem": wide + by, "waist": wide, "left": tall, "right": tall}
    )


@given(st.integers(1, 8), st.floats(0, 150), st.floats(1, 150))
def test_trapezoids_between_both_ends(n: int, by: float, by_to: float) -> None:
    new = spread(panel(), cuts=n, by=f"{by:.3f} mm", by_to=f"{by_to:.3f} mm", fair=False)
    by, by_to = round(by, 3), round(by_to, 3)
    o, p = by / n, by_to / n
    height = math.sqrt(600**2 - ((o - p) / 2) ** 2)
    assert new.area == pytest.approx(200 * 600 + n * (o + p) / 2 * height, rel=1e-12)
    assert lengths(new)["waist"] == pytest.approx(200 + by_to)


def test_by_default_as_many_cuts_as_let_none_turn_by_more_than_3_degrees() -> None:
    for by in (10.0, 31.0, 32.0, 160.0, 800.0):
        (step,) = spread(panel(), by=f"{by} mm", fair=False).story
        found = re.search(r"in (\d+) cut", step)
        assert found is not None
        n = int(found[1])
        turns = [math.degrees(2 * math.asin(by / k / 2 / 600)) for k in (n, max(n - 1, 1))]
        assert turns[0] <= 3.0
        assert n == 1 or turns[1] > 3.0


def test_spreading_by_nothing_changes_nothing() -> None:
    pattern = Pattern((panel(),))
    done = do(pattern, "spread", piece="panel", from_="hem", to="waist", by="0 mm")
    assert done.pattern == pattern
    assert [f.code for f in done.findings] == ["nothing-to-spread"]


@given(st.floats(-180, 180), st.booleans())
def test_it_does_not_mind_how_the_piece_lies(turn: float, flip: bool) -> None:
    piece = panel(fold=Fold(3, 0))
    move = affine.rotation(turn, (30.0, 50.0))
    if flip:
        move = affine.compose(move, affine.affine(-1, 0, 0, 1, 0, 0))
    one = spread(piece, cuts=3, by="12 cm").transformed(move)
    other = spread(piece.transformed(move), cuts=3, by="12 cm")
    a, b = one.outline.path.vertices, other.outline.path.vertices
    away = np.hypot(*(a[:, None] - b[None]).transpose(2, 0, 1)).min(axis=1)
    assert away.max() < 1e-6
    assert lengths(one) == pytest.approx(lengths(other), abs=1e-6)


def test_what_holds_the_fold_stays_and_the_fold_stays_straight() -> None:
    piece = panel(fold=Fold(3, 0))
    new = spread(piece, by="12 cm")
    assert new.fold is not None
    ends = [new.outline.vertex_at(v).tolist() for v in (new.fold.start, new.fold.end)]
    assert ends == [[0, 600], [0, 0]]
    assert new.story == (
        "flared: hem opened by 12 cm · ≈ 4 3/4 in in 4 cuts "
        "(on the whole garment 24 cm · ≈ 9 7/16 in)",
    )
    corner = new.outline.vertex("low-right")
    path = new.outline.path
    way = path.tangents_in[corner - 1], path.tangents_out[corner]
    assert abs(float(way[0] @ way[1])) < 1e-3  # the hem is square to the side still


def test_all_that_lies_within_goes_with_its_zone_and_lines_run_on() -> None:
    piece = panel(
        fold=Fold(3, 0),
        drills=(Drill((10, 300), "near"), Drill((190, 300), "far")),
        marks=(Mark(Path.polyline([(0, 200), (200, 200)]), "casing", "casing"),),
    )
    piece = replace(
        piece,
        notches=(Notch(piece.outline.spot(100.0), name="middle"), Notch(piece.outline.spot(190.0))),
    )
    new = spread(piece, cuts=3, by="12 cm")
    assert new.drills[0].at == (10, 300)
    # As far from the side and from the waist as before.
    side, waist = new.outline.vertex_at(new.outline.vertex("right")), new.drills[1].at
    assert math.dist(side, waist) == pytest.approx(math.dist((200, 600), (190, 300)), abs=0.01)
    (casing,) = new.marks
    assert casing.path.length == pytest.approx(200 + 12 * 10 * 2 / 3, rel=0.01)
    assert len(new.notches) == 2
    hem = new.outline.run_path(new.run("hem"))
    middle = new.outline.path.at(new.outline.arc_length_of(new.notches[0].at))
    assert math.dist(middle, hem.at(hem.length / 2)) < 0.1


def test_edges_become_smooth_and_the_hinge_edge_keeps_its_length_in_every_size() -> None:
    pattern = basic_set()
    for name in ("skirt-front", "skirt-back"):
        after = do(pattern, "spread", piece=name, from_="hem", to="waist", by="16 cm").pattern
        for new in (p for p in after.pieces if p.name == name):
            old = pattern.piece(name, new.size)
            was, now = lengths(old), lengths(new)
            assert abs(now["waist"] - was["waist"]) < 0.1
            assert abs(now["side"] - was["side"]) < 0.1
            assert now["hem"] == pytest.approx(was["hem"] + 160, abs=0.2)
            assert len(new.outline.corners) == len(old.outline.corners)
            hem = new.outline.run_path(new.run("hem"))
            assert np.abs(hem.turns[1:-1]).max(initial=0.0) < 0.05
    # Seams of the waist need nothing, the side seam neither.
    assert abs(match_seam(after, after.seams[5]).off) < 0.2


def test_few_wide_cuts_keep_the_hinge_edge_too() -> None:
    new = spread(panel(fold=Fold(3, 0)), cuts=1, by="16 cm")
    assert lengths(new)["waist"] == pytest.approx(200, abs=0.1)
    assert len(new.outline.corners) == 4


def test_a_length_that_is_asked_for_is_met_in_every_size() -> None:
    done = do(
        basic_set(), "spread", piece="skirt-front", from_="hem", to="waist", to_length="40 cm"
    )
    for piece in (p for p in done.pattern.pieces if p.name == "skirt-front"):
        assert lengths(piece)["hem"] == pytest.approx(400, abs=0.02)


def test_over_both_halves_alike_about_the_centre() -> None:
    opened = do(basic_set(), "fold-marks", open=["skirt-front"], words="").pattern
    for cuts in (4, 5):
        after = do(
            opened, "spread", piece="skirt-front", from_="hem", to="waist", by="16 cm", cuts=cuts
        ).pattern
        new = after.piece("skirt-front")
        centre = next(m for m in new.marks if m.name == "centre").path
        polygon = shapely.Polygon(flatten(new.outline.path, 0.01))
        mirror = affine.mirror(centre.start, centre.end)
        image = shapely.Polygon(affine.apply(mirror, flatten(new.outline.path, 0.01)))
        off = polygon.symmetric_difference(image).area / polygon.area
        if cuts == 5:  # a cut on the centre: both sides of it move alike
            assert off < 1e-4
            was = next(m for m in opened.piece("skirt-front").marks if m.name == "centre").path
            step = (was.end - was.start) / was.length
            now = (centre.end - centre.start) / centre.length
            assert now == pytest.approx(step, abs=1e-9)


def test_gathers_are_said_by_the_seam() -> None:
    seams = parse_seams("cap: panel:waist = band:waist; hem: cuff:hem = panel:hem, notch 1/4")
    one = panel()
    pieces = (one, replace(one, name="band"), replace(one, name="cuff"))
    done = do(
        Pattern(pieces, seams=seams),
        "spread",
        piece="panel",
        from_="waist",
        to="hem",
        by="10 cm",
        kind="gather",
    )
    cap, hem = done.pattern.seams
    assert cap.ease is not None
    assert (cap.ease.kind, cap.ease.amount) == ("gather", pytest.approx(100))
    # The side that is longer now stands first, and the notch keeps its share.
    assert [p.piece for p in hem.first] == ["panel"]
    assert hem.ease is not None
    assert hem.ease.amount == pytest.approx(100)
    assert hem.notches[0].along == pytest.approx(0.25)
    assert all(abs(match_seam(done.pattern, s).off) < 1e-6 for s in done.pattern.seams)


def test_a_flared_edge_that_is_sewn_says_that_its_mate_has_to_follow() -> None:
    one = panel()
    pattern = Pattern(
        (one, replace(one, name="tier")), seams=parse_seams("t: panel:hem = tier:hem")
    )
    done = do(pattern, "spread", piece="panel", from_="hem", to="waist", by="10 cm")
    assert [f.place for f in done.findings if f.code == "mate-to-follow"] == ["t"]


@pytest.mark.parametrize(("kind", "takes"), [("knife", 2), ("box", 4), ("inverted", 4)])
def test_pleats_take_their_depths_and_close(kind: str, takes: int) -> None:
    piece = panel(fold=Fold(3, 0))
    new = spread(piece, from_="waist", to="hem", kind="pleat", pleat=kind, cuts=2, depth="2 cm")
    assert new.area == pytest.approx((200 + 2 * takes * 20) * 600)
    assert lengths(new)["waist"] == pytest.approx(200)  # the mouths closed
    assert lengths(new)["hem"] == pytest.approx(200 + 2 * takes * 20)
    pleats = {p.name: p for p in new.pleats}
    assert sorted(pleats) == ["pleat-1", "pleat-2"]
    ends = [new.outline.vertex_at(pleats[f"pleat-{k}"].a)[0] for k in (1, 2)]
    assert ends[0] < ends[1]  # counted from the fold
    for number in (1, 2):
        marks = [m for m in new.marks if str(m.name).startswith(f"pleat-{number}")]
        folds = [m.path for m in marks if m.kind == "pleat-fold"]
        onto = [m.path for m in marks if m.kind == "pleat-placement"]
        arrows = [m.path for m in marks if m.kind == "pleat-direction"]
        assert (len(folds), len(arrows)) == ((1, 1) if kind == "knife" else (2, 2))
        for fold, arrow in zip(folds, arrows, strict=True):
            # A fold is laid two depths away, and the arrow leads from it to there.
            assert min(abs(p.start[0] - fold.start[0]) for p in onto) == pytest.approx(40)
            assert arrow.vertices[0][0] == pytest.approx(fold.start[0])
            assert abs(arrow.vertices[1][0] - arrow.vertices[0][0]) == pytest.approx(40)
        if kind == "knife":
            assert onto[0].start[0] < folds[0].start[0]  # towards the centre


def test_knife_pleats_may_lie_towards_the_side() -> None:
    new = spread(
        panel(fold=Fold(3, 0)),
        from_="waist",
        to="hem",
        kind="pleat",
        towards="side",
        by="12 cm",
        depth="2 cm",
    )
    assert len(new.pleats) == 3
    fold, onto = (
        next(m.path.start for m in new.marks if m.kind == kind)
        for kind in ("pleat-fold", "pleat-placement")
    )
    assert onto[0] > fold[0]


def test_a_pleats_mouth_on_a_slanting_edge_is_capped() -> None:
    """Folded along its lines, the mouth lies on the edge of the side that it is pressed to."""
    path = Path.polyline([(0, 0), (200, 0), (200, 500), (0, 600)], closed=True)
    piece = panel()
    piece = replace(piece, outline=replace(piece.outline, path=path), fold=Fold(3, 0))
    new = spread(piece, from_="waist", to="hem", kind="pleat", cuts=1, depth="2 cm")
    (pleat,) = new.pleats
    mouth = new.outline.path.segments(pleat.a, pleat.b)
    fold = next(m.path for m in new.marks if m.kind == "pleat-fold")
    onto = next(m.path for m in new.marks if m.kind == "pleat-placement")
    inner = affine.mirror(
        *(fold.vertices[::-1] + onto.vertices[::-1]) / 2  # the fold underneath
    )
    outer = affine.mirror(*fold.vertices)
    edge = new.outline.run_path(new.run("waist"))
    for at in np.linspace(0.1, 0.9, 5) * mouth.length / 2:
        # From the visible side: mirrored once it lies under the edge beside the fold.
        point = affine.apply(outer, mouth.at(at)[None])
        line = shapely.LineString(flatten(edge, 0.001))
        assert line.distance(shapely.Point(point[0])) < 1e-6
        back = affine.apply(outer, affine.apply(inner, mouth.at(mouth.length - at)[None]))
        assert line.distance(shapely.Point(back[0])) < 1e-6


def test_the_grain_may_be_laid_anew_through_the_middle() -> None:
    new = spread(panel(), cuts=4, by="20 cm", grain="middle")
    assert new.grain is not None
    hem, waist = (new.outline.run_path(new.run(n)) for n in ("hem", "waist"))
    line = shapely.LineString([hem.at(hem.length / 2), waist.at(waist.length / 2)])
    assert all(line.distance(shapely.Point(p)) < 1e-6 for p in (new.grain.start, new.grain.end))


def test_by_size_and_in_inches() -> None:
    table = {size: f"{k} in" for k, size in enumerate(("8", "10", "12", "14", "16"), 2)}
    done = do(supper_top(), "spread", piece="peplum-front", from_="hem", to="top", by=table)
    for k, size in enumerate(("8", "10", "12", "14", "16"), 2):
        was, now = (p.piece("peplum-front", size) for p in (supper_top(), done.pattern))
        grown = lengths(now)["hem"] - lengths(was)["hem"]
        assert grown == pytest.approx(25.4 * k, abs=0.3)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, "nothing says how wide"),
        ({"by": "1 cm", "to_length": "30 cm"}, "both say how wide"),
        ({"by": "-1 cm"}, "out of bounds"),
        ({"by": "5 cm", "from_": "nowhere"}, 'no edge or run "nowhere"'),
        ({"by": "5 cm", "to": "hem"}, "lie over each other"),
        ({"by": "150 cm", "cuts": 1}, "fold over"),
        ({"to_length": "5 cm"}, "longer than that"),
        ({"by": "5 cm", "depth": "1 cm"}, "only pleats"),
        ({"by": "10 cm", "depth": "3 cm", "kind": "pleat"}, "1.67 knife pleats"),
        ({"kind": "pleat"}, "nothing says how much the pleats take"),
        ({"by": "5 cm", "from_": "left", "to": "right", "fold": True}, "open the fold"),
    ],
)
def test_what_cannot_be_spread_says_why(given: dict[str, object], words: str) -> None:
    piece = panel(fold=Fold(3, 0)) if given.pop("fold", False) else panel()
    with pytest.raises(SizewrightError, match=words):
        spread(piece, **given)


def test_a_cut_across_a_dart_in_the_side_is_refused_with_the_place() -> None:
    with pytest.raises(SizewrightError, match=r'runs through the dart "bust" near \('):
        do(supper_top(), "spread", piece="front", from_="waist", to="shoulder", by="5 cm", cuts=2)


def test_runs_on_other_sides_of_an_opened_piece_are_refused_with_the_words() -> None:
    opened = do(Pattern((bodice(),)), "fold-marks", open=["front"]).pattern
    given = {"piece": "front", "to": "shoulder", "by": "1 cm", "cuts": 2, "fair": False}
    with pytest.raises(SizewrightError, match="same sides of the centre") as caught:
        do(opened, "spread", from_="waist", **given)
    words = caught.value.cure.split('"')[1]
    made = do(opened, "spread", from_=words, **given)
    # A front is seen from outside: the run that was drawn is the wearer's left.
    assert any("the wearer's left alone" in f.text for f in made.findings)
    old, new = (p.piece("front") for p in (opened, made.pattern))
    for name, more in (("shoulder-mirrored", 0.0), ("waist", 10.0)):
        gain = new.sewn_length(new.run(name)) - old.sewn_length(old.run(name))
        assert gain == pytest.approx(more, abs=0.05)


def test_before_grading_it_says_that_curved_edges_come_out_near() -> None:
    given = {"piece": "peplum-front", "from_": "hem", "to": "top", "by": "3 cm"}
    told = [f.code for f in do(drawn("supper-top"), "spread", **given).findings]
    assert told.count("graded-from-drawn") == 1
    told = [f.code for f in do(supper_top(), "spread", **given).findings]
    assert "graded-from-drawn" not in told
