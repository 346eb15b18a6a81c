"""Grading whole patterns: bases, sizes, points, seams, cutting lines, and what is refused."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from sizewright.errors import GeometryError, InputError, LookupFailed, UsageError
from sizewright.geometry.nearest import nearest
from sizewright.geometry.path import Path
from sizewright.grading import (
    PointRule,
    grade,
    grade_map,
    nest_growth,
    read_chart,
    read_points,
    read_rules,
    without_allowance,
)
from sizewright.grading.carried import carried, placed
from sizewright.model import (
    Adjust,
    Axis,
    Cutout,
    Dart,
    Drill,
    Fold,
    Grain,
    Hold,
    Label,
    Mark,
    Notch,
    Outline,
    Pattern,
    Piece,
    Pleat,
    Point,
    Quantity,
    Run,
    Spot,
    parse_seam,
)

from .outlines import UP, bodice_half, ruled

BOX = Path.polyline([[0, 0], [300, 0], [300, 400], [0, 400]], closed=True)
RULES = read_rules(
    "rule,axis,unit,8,10,12,14\na,length,mm,,0,0,0\nb,width,mm,,5,6,7\nc,width,mm,,5,6,7\n"
    "c,length,mm,,10,10,10\nd,length,mm,,10,10,10\n",
    name="rules.csv",
)
CORNERS = {0: "a", 1: "b", 2: "c", 3: "d"}


def box(**more: object) -> Piece:
    return ruled(BOX, CORNERS, **more)


def test_sizes_pieces_bases_and_stories() -> None:
    pattern = Pattern((box(), replace(box(), name="other")), "10")
    out = grade(pattern, RULES, ["14", "10", "12.0", "14"]).pattern
    assert [p.key for p in out.pieces] == [
        (name, size) for size in ("14", "10", "12") for name in ("piece", "other")
    ]
    assert out.base_size == "10"
    base = out.piece("piece", "10")
    assert base.outline is pattern.pieces[0].outline
    assert base.story == ()
    large = out.piece("piece", "14")
    assert large.base is not None
    assert large.base.outline is pattern.pieces[0].outline
    assert large.base.size == "10"
    assert large.story == ("graded from 10 to 14",)
    assert large.outline.vertex_at(2) == pytest.approx([313.0, 420.0])
    # From a nest the same base is found again.
    again = grade(out, RULES, ["14"]).pattern.piece("piece", "14")
    assert again.outline.path == large.outline.path


def test_the_base_size_must_be_known_and_there() -> None:
    with pytest.raises(UsageError, match="drawn in is not known"):
        grade(Pattern((box(),)), RULES, ["12"])
    assert grade(Pattern((box(),)), RULES, ["12"], base_size="10").pattern.base_size == "10"
    assert grade(Pattern((replace(box(), size="8"),)), RULES, ["10"]).pattern.base_size == "8"
    with pytest.raises(LookupFailed, match="nothing is drawn in the base size 10; sizes drawn: 8"):
        grade(Pattern((replace(box(), size="8"),), "10"), RULES, ["12"])
    with pytest.raises(LookupFailed, match="base size 11, in which"):
        grade(Pattern((box(),), "11"), RULES, ["12"])
    with pytest.raises(LookupFailed, match="no size M"):
        grade(Pattern((box(),), "10"), RULES, ["M"])
    with pytest.raises(UsageError, match="no size is asked for"):
        grade(Pattern((box(),), "10"), RULES, [])


def test_rules_that_are_missing_or_idle() -> None:
    piece = ruled(BOX, CORNERS | {1: "bb", 2: "cc"})
    with pytest.raises(LookupFailed) as caught:
        grade(Pattern((piece,), "10"), RULES, ["12"])
    text = str(caught.value)
    assert '"bb" at piece:p1' in text
    assert '"cc" at piece:p2' in text
    assert "rules.csv" in text
    assert "Its rules: a, b, c, d" in text
    notched = replace(box(), notches=(Notch(Spot(1, 50.0), rule="zz", name="n"),))
    with pytest.raises(LookupFailed, match='"zz" at piece:n'):
        grade(Pattern((notched,), "10"), RULES, ["12"])
    fewer = ruled(BOX, {0: "a", 1: "b"})
    found = grade(Pattern((fewer,), "10"), RULES, ["12"]).findings
    (idle,) = [f for f in found if f.code == "rules-unused"]
    assert "c, d" in idle.text
    assert "corners-ride" in {f.code for f in found}


def test_a_named_point_takes_the_rule_of_its_own_name() -> None:
    named = [Point(0, "a"), Point(1, "b"), Point(2, "d", "c"), Point(3, "zip")]
    plain = Piece("piece", Outline.of(BOX, points=named), kind="sew", axis=UP)
    points = read_points("piece,point,rule\npiece,zip,d\n")
    made = grade(Pattern((plain,), "10"), RULES, ["12", "14"], points=points)
    (told,) = [f for f in made.findings if f.code == "rule-by-name"]
    assert (told.level, told.piece) == ("note", "piece")
    assert told.text == "points take the rule of their own name: a, b"
    # What the drawing or a table of points says goes before the name.
    same = grade(Pattern((box(),), "10"), RULES, ["12", "14"]).pattern
    for size in ("12", "14"):
        mine = made.pattern.piece("piece", size).outline.path
        assert np.array_equal(mine.controls, same.piece("piece", size).outline.path.controls)


def test_a_table_that_no_point_uses_is_refused() -> None:
    for points, words in (
        ([Point(1, "hem")], "points named hem"),
        ([], "no named point"),
    ):
        plain = Piece("piece", Outline.of(BOX, points=points), kind="sew", axis=UP)
        with pytest.raises(InputError, match="no point uses any rule") as caught:
            grade(Pattern((plain,), "10"), RULES, ["12"])
        assert words in str(caught.value)
        assert "rules.csv" in str(caught.value)
        assert "a, b, c, d" in str(caught.value)


def test_a_points_table_gives_and_replaces_rules() -> None:
    plain = Piece("piece", Outline.of(BOX, points=[Point(1, "hem", "a")]), kind="sew", axis=UP)
    points = read_points("piece,point,rule\npiece,hem,b\npiece,#1,a\npiece,#3,c\npiece,#4,d\n")
    out = grade(Pattern((plain,), "10"), RULES, ["12"], points=points).pattern.piece("piece", "12")
    assert out.outline.vertex_at(1) == pytest.approx([306.0, 0.0])
    assert out.outline.vertex_at(2) == pytest.approx([306.0, 410.0])
    for bad, what in [
        ("nope,hem,b", 'no piece "nope"'),
        ("piece,zip,b", 'no point or corner "zip"'),
    ]:
        points = read_points(f"piece,point,rule\n{bad}\n", name="points.csv")
        with pytest.raises(LookupFailed, match=what) as caught:
            grade(Pattern((plain,), "10"), RULES, ["12"], points=points)
        assert "points.csv, line 2" in str(caught.value)
    notched = replace(box(), notches=(Notch(Spot(1, 50.0), name="hip"),))
    out = grade(
        Pattern((notched,), "10"), RULES, ["12"], points=[PointRule("piece", "hip", "d")]
    ).pattern.piece("piece", "12")
    assert out.notches[0].at.distance == pytest.approx(60.0)


def test_an_unknown_line_is_graded_with_a_finding() -> None:
    found = grade(Pattern((replace(box(), kind="unknown"),), "10"), RULES, ["12"]).findings
    assert [f.code for f in found] == ["line-unknown"]


# --- cutting lines ------------------------------------------------------------------------------


def test_a_cutting_line_loses_its_allowance_first() -> None:
    cut = replace(
        box(), kind="cut", allowance=15.0, fold=Fold(3, 0), notches=(Notch(Spot(1, 100.0)),)
    )
    out = grade(Pattern((cut,), "10"), RULES, ["12", "10"]).pattern
    for size, far, high in [("10", 285.0, 385.0), ("12", 291.0, 395.0)]:
        piece = out.piece("piece", size)
        assert piece.kind == "sew"
        assert piece.allowance is None
        # Nothing comes off on the fold.
        want = [[0, 15], [far, 15], [far, high], [0, high]]
        assert piece.outline.path.vertices == pytest.approx(np.array(want), abs=1e-6)
        assert piece.outline.vertex("p2") == 2
    assert out.piece("piece", "10").notches[0].at.distance == pytest.approx(85.0, abs=1e-6)


def test_taking_an_allowance_off_curves_is_a_true_parallel() -> None:
    cut = replace(bodice_half(), kind="cut", allowance=10.0)
    sewn, _ = without_allowance(cut)
    path = sewn.outline.path
    assert [p.name for p in sewn.outline.points] == [p.name for p in cut.outline.points]
    assert len(sewn.outline.corners) == len(cut.outline.corners)
    s = np.linspace(0, path.length, 2000, endpoint=False)
    points = path.at(s)
    points = points[points[:, 0] > 0.5]
    # Each point is 10 mm from the cutting line but for the fold (0.02 mm is the promise).
    seen = Path.join([cut.outline.path.segments(0, 6)])
    assert np.abs(nearest(seen, points).distance - 10.0).max() <= 0.02
    assert sewn.outline.vertex_at(sewn.outline.vertex("hem-centre")) == pytest.approx(
        [0, 10], abs=1e-6
    )
    assert sewn.fold is not None


def test_a_cutting_line_that_cannot_lose_its_allowance() -> None:
    with pytest.raises(InputError, match="not stated"):
        without_allowance(replace(box(), kind="cut"))
    with pytest.raises(GeometryError, match="cannot be taken off"):
        without_allowance(replace(box(), kind="cut", allowance=160.0))


# --- what goes along ------------------------------------------------------------------------------


def full_piece() -> Piece:
    inner = Path.of(
        [[[50, 50], [80, 90], [120, 90], [150, 50]], [[150, 50], [180, 20]]], closed=False
    )
    hole = Path.of(
        [[[200, 200], [220, 200], [220, 230], [200, 230]], [[200, 230], [200, 200]]], closed=True
    )
    wide = Path.polyline([[-15, -15], [315, -15], [315, 415], [-15, 415]], closed=True)
    points = [
        [0, 0],
        [300, 0],
        [300, 400],
        [170, 400],
        [150, 290],
        [130, 400],
        [100, 400],
        [60, 400],
        [0, 400],
    ]
    path = Path.polyline(points, closed=True)
    piece = ruled(path, {0: "a", 1: "b", 2: "c", 8: "d"})
    return replace(
        piece,
        outline=piece.outline.with_run(Run(0, 1, "hem")),
        cut_line=Outline.of(wide),
        quantity=(Quantity("main", 2),),
        pair=True,
        axis=Axis((250, 50), (250, 250)),
        grain=Grain((240, 50), (240, 250)),
        notches=(Notch(Spot(1, 100.0)),),
        drills=(Drill((100, 100)),),
        marks=(Mark(inner, "pocket"),),
        cutouts=(Cutout(hole),),
        labels=(Label("text", (30, 300), 5.0, 20.0),),
        adjusts=(Adjust(Path.polyline([[0, 200], [300, 200]])),),
        darts=(Dart("d", 3, 5, (150, 290), 4),),
        pleats=(Pleat("p", 6, 7),),
        holds=(Hold((8, 0), "hold"),),
    )


def test_every_free_feature_goes_along() -> None:
    """Fails when a field of Piece that holds places is added and not carried."""
    rules = "rule,axis,unit,10,12\n" + "".join(
        f"{r},width,mm,,7\n{r},length,mm,,3\n" for r in "abcd"
    )
    piece = full_piece()
    out = grade(Pattern((piece,), "10"), read_rules(rules), ["12"]).pattern.piece("piece", "12")
    shift = np.array([7.0, 3.0])
    still = {
        "name",
        "kind",
        "allowance",
        "size",
        "quantity",
        "pair",
        "side",
        "fold",
        "pleats",
        "holds",
    }
    still |= {"notches", "story", "base", "weights", "allowances", "faces"}
    moved = {
        "outline",
        "cut_line",
        "axis",
        "grain",
        "drills",
        "marks",
        "cutouts",
        "labels",
        "adjusts",
        "darts",
    }
    assert still | moved == {f.name for f in fields(Piece)}

    def places(one: Piece) -> np.ndarray:
        lines = [one.outline.path.controls.reshape(-1, 2)]
        assert one.cut_line is not None
        lines.append(one.cut_line.path.controls.reshape(-1, 2))
        return np.concatenate([*lines, *(part.points for part in carried(one))])

    assert np.abs(places(out) - places(piece) - shift).max() <= 1e-9
    assert out.labels[0].angle == piece.labels[0].angle
    back = placed(piece, np.concatenate([part.points for part in carried(piece)]))
    assert back == piece


def test_the_cutting_line_keeps_its_distance_on_a_plain_stretch() -> None:
    wide = Path.polyline([[-15, -15], [315, -15], [315, 415], [-15, 415]], closed=True)
    piece = replace(box(), cut_line=Outline.of(wide))
    out = grade(Pattern((piece,), "10"), RULES, ["14"]).pattern.piece("piece", "14")
    assert out.cut_line is not None
    x, y = out.outline.path.vertices[2]
    assert out.cut_line.path.vertices[2] == pytest.approx([x + 15, y + 15])
    assert out.cut_line.path.vertices[0] == pytest.approx([-15, -15])


def test_an_allowance_that_changes_is_told() -> None:
    wide = Path.polyline([[-15, -15], [315, -15], [315, 415], [-15, 415]], closed=True)
    piece = replace(box(), cut_line=Outline.of(wide))
    rules = read_rules(
        "rule,axis,unit,10,12\na,length,mm,,0\nb,width,mm,,150\nc,length,mm,,0\nd,length,mm,,0\n"
    )
    found = grade(Pattern((piece,), "10"), rules, ["12"]).findings
    assert "allowance-changed" in {f.code for f in found}
    found = grade(Pattern((piece,), "10"), RULES, ["12"]).findings
    assert found == ()


def test_shares_grade_by_a_chart() -> None:
    chart = read_chart("measure,unit,10,12,14\nbust,mm,880,920,970\nback,mm,400,405,410\n")
    shares = read_rules(
        "rule,axis,bust,back\na,width,,\nb,width,0.25,\nc,width,0.25,\nc,length,,1\nd,length,,1\n"
    )
    pattern = Pattern((box(),), "10")
    out = grade(pattern, shares, ["14"], chart=chart).pattern.piece("piece", "14")
    assert out.outline.vertex_at(2) == pytest.approx([300 + 22.5, 410.0])
    with pytest.raises(UsageError, match="need a size chart"):
        grade(pattern, shares, ["14"])
    with pytest.raises(LookupFailed, match="no size 16"):
        grade(pattern, shares, ["16 1/2"], chart=chart)


# --- seams --------------------------------------------------------------------------------


def test_paired_notches_follow_their_seam() -> None:
    seam = parse_seam("side: front:side = back:side, notch 100 mm, notch 50%")
    front = box(notches=(Notch(Spot(1, 100.0), seam="side"), Notch(Spot(1, 200.0), seam="side")))
    front = replace(front, name="front", outline=front.outline.with_run(Run(1, 2, "side")))
    # The back's side is its left edge, walked downwards in the outline.
    back = box(notches=(Notch(Spot(3, 300.0), seam="side"), Notch(Spot(3, 200.0), seam="side")))
    back = replace(back, name="back", outline=back.outline.with_run(Run(3, 0, "side")))
    pattern = Pattern((front, back), "10", (seam,))
    out = grade(pattern, RULES, ["14"]).pattern
    a, b = out.piece("front", "14"), out.piece("back", "14")
    assert a.outline.edge_from(1).length == pytest.approx(420.0)
    assert a.notches[0].at.distance == pytest.approx(100.0)
    assert b.notches[0].at.distance == pytest.approx(420.0 - 100.0)
    assert a.notches[1].at.distance == pytest.approx(a.outline.edge_from(1).length / 2)
    assert b.notches[1].at.distance == pytest.approx(210.0)
    assert out.seams == pattern.seams


def test_a_notch_on_a_chain_of_two_runs_counts_from_the_chains_start() -> None:
    """The second run's notch keeps its distance along the whole chain as the first run grows."""
    seam = parse_seam("join: band:edge = one:top + two:top, notch 400 mm")
    band = ruled(Path.polyline([[0, 0], [600, 0], [600, 50], [0, 50]], closed=True), CORNERS)
    band = replace(
        band,
        name="band",
        outline=band.outline.with_run(Run(0, 1, "edge")),
        notches=(Notch(Spot(0, 400.0), seam="join"),),
    )
    one = replace(box(), name="one", outline=box().outline.with_run(Run(0, 1, "top")))
    two = replace(one, name="two", notches=(Notch(Spot(0, 100.0), seam="join"),))
    out = grade(Pattern((band, one, two), "10", (seam,)), RULES, ["12"]).pattern
    assert out.piece("band", "12").notches[0].at.distance == pytest.approx(400.0)
    assert out.piece("two", "12").notches[0].at.distance == pytest.approx(400.0 - 306.0)


# --- nests --------------------------------------------------------------------------------


def test_nest_growth_gives_each_step() -> None:
    out = grade(Pattern((box(),), "10"), RULES, ["8", "10", "12", "14"]).pattern
    steps = [s for s in nest_growth(out) if s.name == "p2"]
    assert [(s.before, s.after) for s in steps] == [("8", "10"), ("10", "12"), ("12", "14")]
    assert [s.move for s in steps] == [
        pytest.approx((5.0, 10.0)), pytest.approx((6.0, 10.0)), pytest.approx((7.0, 10.0)),
    ]  # fmt: skip
    assert steps[0].rule == "c"


def test_the_batch_is_the_map_of_each_body() -> None:
    one = grade_map(bodice_half())
    rng = np.random.default_rng(5)
    many = rng.uniform(-9, 9, (20, one.columns))
    places = one.batch(many)
    for k in (0, 19):
        piece, _ = one.apply(many[k])
        want = piece.outline.path.controls[:, :3].reshape(-1, 2)
        assert np.abs(places[k, : one.outline_rows] - want).max() <= 1e-10
    with pytest.raises(GeometryError, match="shape"):
        one.batch(many[0])


def test_batch_amounts_come_from_measures() -> None:
    """Shares times changes of measures, for many bodies in one product, as one by one."""
    one = grade_map(box())
    shares = read_rules(
        "rule,axis,bust,back\na,length,,\nb,width,1/4,\nc,y,-1/4,\nc,x,,1\nd,length,,1\n"
    )
    rng = np.random.default_rng(2)
    changes = rng.uniform(-60, 60, (50, 2))
    growth = shares.growth_of({"bust": changes[:, 0], "back": changes[:, 1]})
    many = one.batch(one.amounts(growth))
    for k in (0, 49):
        single = shares.growth_of({"bust": changes[k, 0], "back": changes[k, 1]})
        assert np.abs(many[k] - one.base - one.moves(one.amounts(single))).max() <= 1e-10
