"""Edges drawn anew: names, seams, notches, allowance and facings follow."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from sizewright.errors import GeometryError, InputError, LookupFailed, UsageError
from sizewright.geometry import Path, affine, nearest
from sizewright.grading import grade
from sizewright.model import (
    Drill,
    Fold,
    Mark,
    Notch,
    Outline,
    Pattern,
    Piece,
    Point,
    Run,
    Spot,
    format_seam,
    is_mixture,
    match_seam,
    parse_seams,
)
from tests.operations import codes, do, drawn, nest, off, polygon, steps

NECK = {
    "from_": "3 cm down fold from neck-centre",
    "to": "2 cm along shoulder from neck-side",
    "line": "curve",
}


def block(**changes: object) -> Piece:
    """200 by 300 on the fold at its left; a notch on its top, a drill hole and a mark near it."""
    outline = Outline.of(
        Path.polyline([(0, 0), (200, 0), (200, 300), (0, 300)], closed=True),
        points=[
            Point(k, n) for k, n in enumerate(("hem-fold", "hem-side", "top-side", "top-fold"))
        ],
        runs=[Run(0, 1, "hem"), Run(1, 2, "side"), Run(2, 3, "top")],
    )
    piece = Piece(
        "front",
        outline,
        kind="sew",
        fold=Fold(3, 0),
        notches=(Notch(Spot(2, 150.0), name="top"),),
        drills=(Drill((20, 290), "button"), Drill((100, 100), "pocket")),
        marks=(Mark(Path.polyline([(50, 10), (50, 295)]), "stripe", "stripe"),),
    )
    return replace(piece, **changes)  # type: ignore[arg-type]


def test_a_neckline_is_lowered_with_its_facing_in_every_size() -> None:
    before = nest("supper-top")
    done = do(before, "redraw", pieces=["front", "facing-front"], **NECK)
    after = done.pattern
    for size in before.sizes:
        was, now = off(before, size), off(after, size)
        # Both are drawn alike, so their seam still closes; the shoulders are 2 cm shorter.
        assert now["neck-front"] == pytest.approx(was["neck-front"], abs=1e-3)
        assert now["shoulder"] == pytest.approx(was["shoulder"] - 20, abs=1e-6)
        for name in ("front", "facing-front"):
            old, new = before.piece(name, size), after.piece(name, size)
            assert {r.name for r in new.outline.runs} == {r.name for r in old.outline.runs}
            assert {p.name for p in new.outline.points} == {p.name for p in old.outline.points}
            at = new.outline.vertex_at(new.outline.vertex("neck-centre"))
            high = old.outline.vertex_at(old.outline.vertex("neck-centre"))
            assert at == pytest.approx(high - (0, 30), abs=1e-9)
            # Square to the fold; what is gone is gone, for shapely too.
            first = new.outline.run_path(new.run("neck"))
            assert abs(first.tangents(first.length)[1]) < 1e-9
            assert polygon(new).difference(polygon(old)).area < 1.0
    assert {s.name for s in after.seams} == {s.name for s in before.seams}


def test_new_ends_take_names_but_no_rules() -> None:
    before = drawn("supper-top")
    outline = do(before, "redraw", piece="front", **NECK).pattern.piece("front").outline
    old = before.piece("front").outline
    for name in ("neck-centre", "neck-side"):
        rule = outline.point(outline.vertex(name)).rule
        assert rule is not None
        assert is_mixture(rule)
        assert rule != old.point(old.vertex(name)).rule
    assert outline.point(outline.vertex("shoulder-tip")).rule == "shoulder-tip"


@pytest.mark.parametrize("over", [False, True])
@pytest.mark.parametrize("turn", [37.0, -120.0])
def test_it_does_not_mind_how_the_piece_lies(turn: float, over: bool) -> None:
    m = affine.compose(affine.rotation(turn), affine.scaling(-1.0 if over else 1.0, 1.0))
    front = drawn("supper-top").piece("front")
    assert front.grain is not None
    front = replace(front, grain=replace(front.grain, ends=1))
    here, there = (
        do(Pattern((piece,)), "redraw", piece="front", **NECK).pattern.piece("front")
        for piece in (front, front.transformed(m))
    )
    assert {r.name for r in here.outline.runs} == {r.name for r in there.outline.runs}
    for point in here.outline.points:
        if point.name:
            at = there.outline.vertex_at(there.outline.vertex(point.name))
            moved = affine.apply(m, here.outline.vertex_at(point.vertex))
            assert at == pytest.approx(moved, abs=1e-6)
    moved_path = here.outline.path.transformed(m)
    way = moved_path.at(np.linspace(0, moved_path.length, 300))
    assert nearest(there.outline.path, way).distance.max() < 1e-6


def test_redrawn_then_graded_is_graded_then_redrawn() -> None:
    """Straight lines from shares of straight edges: to 1e-9 mm."""
    rules = steps("supper-top")
    asked = {"piece": "front", "from_": "80% along fold", "to": "1/4 along shoulder"}
    first = grade(do(drawn("supper-top"), "redraw", **asked).pattern, rules, list(rules.sizes))
    then = do(nest("supper-top"), "redraw", **asked).pattern
    for size in rules.sizes:
        a, b = (p.piece("front", size).outline for p in (first.pattern, then))
        assert a.corners == b.corners
        assert np.abs(a.path.vertices - b.path.vertices).max() < 1e-9


def test_what_is_left_out_is_exact() -> None:
    done = do(
        Pattern((block(),)), "redraw", piece="front", from_="5 cm down fold from top-fold",
        to="top-side",
    )  # fmt: skip
    new = done.pattern.piece("front")
    assert new.outline.path.area == pytest.approx(200 * 300 - 200 * 50 / 2)
    assert new.outline.run_length(new.run("top")) == pytest.approx(np.hypot(200, 50))
    assert new.outline.run_length(new.run("fold")) == pytest.approx(250)
    # The notch keeps its share, 1/4 from the fold: on a line that falls by 1/4 mm a mm.
    (notch,) = new.notches
    at = new.outline.path.at(new.outline.arc_length_of(notch.at))
    assert at == pytest.approx((50, 262.5))
    # What lies in the part that is gone goes; what crosses the line is cut there.
    assert [d.name for d in new.drills] == ["pocket"]
    assert new.marks[0].path.end == pytest.approx((50, 262.5))
    assert [f.text for f in done.findings if f.code == "left-behind"] == [
        "drill hole button is left behind: no part that stays holds it"
    ]


def test_raised_outwards_loses_nothing() -> None:
    through = ["10 mm up from top-fold, 100 mm across"]
    done = do(
        Pattern((block(),)), "redraw", piece="front", from_="top-fold", to="top-side",
        through=through,
    )  # fmt: skip
    new = done.pattern.piece("front")
    assert new.outline.path.area == pytest.approx(200 * 300 + 200 * 10 / 2)
    assert len(new.drills) == 2
    assert done.findings == ()


def test_paired_notches_keep_their_share_of_what_was_redrawn() -> None:
    """A notch at 1/4 of the front's edge and one on the back's; the back's stays where it is."""
    seams = parse_seams("edge: band:top = front:top + back:top, notch 50 mm, notch 300 mm double")
    back = replace(block(), name="back", notches=())
    band = Outline.of(
        Path.polyline([(0, 0), (400, 0), (400, 30), (0, 30)], closed=True), runs=[Run(2, 3, "top")]
    )
    pattern = Pattern((block(), back, Piece("band", band, kind="sew")), seams=seams)
    after = do(
        pattern, "redraw", piece="front", from_="5 cm down fold from top-fold", to="top-side"
    ).pattern
    (seam,) = after.seams
    match = match_seam(after, seam)
    long = np.hypot(200, 50)
    places = [match.notch_place(n) for n in seam.notches]
    assert places == pytest.approx([long / 4, long + 100])
    assert match.off == pytest.approx(200 - long)


def test_a_stretch_within_an_edge_leaves_the_edge_its_name() -> None:
    pattern = Pattern((block(), replace(block(), name="back")))
    pattern = replace(pattern, seams=parse_seams("side: front:side = back:side, notch 1/2"))
    done = do(
        pattern, "redraw", piece="front", from_="1/4 along side", to="3/4 along side",
        through=["20 mm inside middle of side"],
    )  # fmt: skip
    new = done.pattern.piece("front")
    long = 150 + 2 * np.hypot(75, 20)
    assert new.outline.run_length(new.run("side")) == pytest.approx(long)
    assert format_seam(done.pattern.seams[0]) == "side: front:side = back:side, notch 50%"
    assert all(p.name for p in new.outline.points)


def test_a_curve_within_an_edge_runs_smoothly_into_it() -> None:
    asked = {"piece": "front", "from_": "4 cm along neck from neck-side", "to": "neck-side"}
    asked |= {"line": "curve", "ends": ["free", "square"]}
    for fair in (True, False):
        new = do(drawn("supper-top"), "redraw", fair=fair, **asked).pattern.piece("front")
        neck = new.outline.run_path(new.run("neck"))
        turn = np.abs(neck.turns).max()
        assert turn < 0.01 if fair else turn > 1.0
        # It meets the shoulder squarely; the shoulder lies as it was.
        shoulder = new.outline.run_path(new.run("shoulder"))
        assert neck.tangents(0.0) @ shoulder.tangents(0.0) == pytest.approx(0, abs=1e-6)


def test_a_corner_is_rounded_and_both_edges_keep_their_names() -> None:
    done = do(
        Pattern((block(),)), "redraw", piece="front", from_="5 cm up side from hem-side",
        to="15 cm along hem from hem-fold", line="curve", ends=["square", "square"], name="round",
    )  # fmt: skip
    new = done.pattern.piece("front")
    assert new.outline.run_length(new.run("hem")) == pytest.approx(150)
    assert new.outline.run_length(new.run("side")) == pytest.approx(250)
    assert new.run("round").name == "round"
    assert "point-gone" in codes(done)


def test_the_stretch_past_a_place_goes() -> None:
    asked = {"piece": "front", "from_": "1/3 along hem", "to": "1/3 along top"}
    shorter = do(Pattern((block(),)), "redraw", **asked).pattern.piece("front")
    # The third counts from the fold, so the shorter way round is past it: refused; so said.
    assert shorter.outline.path.area == pytest.approx(200 * 300 * 2 / 3, rel=1e-9)
    other = do(Pattern((block(),)), "redraw", past="middle of side", **asked)
    assert other.pattern.piece("front").outline.path.area == pytest.approx(200 * 300 / 3)
    assert other.pattern.piece("front").fold is not None


def test_beside_an_edge() -> None:
    done = do(Pattern((block(),)), "redraw", piece="front", beside="top", by="1 in")
    new = done.pattern.piece("front")
    assert new.outline.path.area == pytest.approx(200 * (300 - 25.4))
    assert new.outline.run_length(new.run("top")) == pytest.approx(200)
    assert {p.name for p in new.outline.points} == {p.name for p in block().outline.points}


def test_several_edges_become_one_and_their_seams_go() -> None:
    pattern = Pattern((block(), replace(block(), name="back")))
    pattern = replace(
        pattern, seams=parse_seams("side: front:side = back:side; top: front:top = back:top")
    )
    done = do(pattern, "redraw", piece="front", from_="hem-side", to="top-fold", past="top-side")
    assert [r.name for r in done.pattern.piece("front").outline.runs] == ["side-top", "hem"]
    assert done.pattern.seams == ()
    assert codes(done).count("seam-gone") == 2


def test_the_allowance_of_the_edge_stays() -> None:
    pattern = do(
        Pattern((block(),)), "seam-allowance", width="15 mm", widths={"top": "6 mm"}
    ).pattern
    new = do(
        pattern, "redraw", piece="front", from_="5 cm down fold from top-fold", to="top-side"
    ).pattern.piece("front")
    assert new.cut_line is not None
    top, cut = new.outline.run_path(new.run("top")), shapely.LinearRing(new.cut_line.path.vertices)
    assert cut.distance(shapely.Point(top.at(top.length / 2))) == pytest.approx(6, abs=1e-6)


@pytest.mark.parametrize(
    ("change", "error", "words"),
    [
        ({"from_": "elbow"}, LookupFailed, "elbow"),
        ({"from_": "4 cm across from neck-centre"}, GeometryError, "off the outline"),
        ({"to": None}, InputError, "two ends"),
        ({"to": "3 cm down fold from neck-centre"}, GeometryError, "one place"),
        ({"from_": "1/3 along fold", "to": "2/3 along fold"}, GeometryError, "on the fold"),
        ({"name": "waist"}, InputError, '"waist" already'),
        ({"past": "bust-point"}, InputError, "does not lie on the outline"),
        ({"pieces": ["back"]}, UsageError, "both"),
        ({"through": ["waist-centre"]}, GeometryError, "cross"),
        ({"ends": ["square"]}, InputError, "two ends"),
    ],
)
def test_what_cannot_be_drawn_says_why(
    change: dict[str, object], error: type[Exception], words: str
) -> None:
    asked = {k: v for k, v in ({"piece": "front"} | NECK | change).items() if v is not None}
    with pytest.raises(error, match=words):
        do(drawn("supper-top"), "redraw", **asked)


def test_an_edge_redrawn_again_and_again_keeps_one_plain_name() -> None:
    pattern = Pattern((block(),))
    for k, (a, b) in enumerate([(60, 140), (80, 120), (90, 110)]):
        line = {"from_": f"{a} mm along hem from hem-fold", "to": f"{b} mm along hem from hem-fold"}
        pattern = do(pattern, "redraw", pieces=["front"], line="curve", **line).pattern
        names = [run.name or "" for run in pattern.piece("front").outline.runs]
        assert max(name.count("redrawn") for name in names) == 1, (k, names)
