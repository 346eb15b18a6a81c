"""Rules learned from nests: graded, learned back, graded again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from sizewright.errors import GeometryError, InputError, LookupFailed, UsageError
from sizewright.geometry import Path, affine
from sizewright.geometry.nearest import nearest
from sizewright.grading import (
    Learned,
    grade,
    learn,
    read_points,
    read_rules,
    write_points,
    write_rules,
)
from sizewright.model import Grain, Notch, Outline, Pattern, Piece, Point, Spot, parse_place
from tests import operations

from .outlines import UP, bodice_half, pieces, ruled

SIZES = ("8", "10", "12", "14")
STEPS = """rule,axis,unit,8,10,12,14
hem-centre,length,mm,,-3,-3,-4
hem-side,width,mm,,6,6.35,9
hem-side,length,mm,,-3,-3,-4
waist,width,mm,,6,6.35,9
underarm,width,mm,,6,9.5,12
underarm,length,mm,,3,3.175,3.2
shoulder,width,mm,,3,4.75,6.3
shoulder,length,mm,,6,6,5
neck,width,mm,,1.6,1.5,1.6
neck,length,mm,,6.5,6.7,6.7
neck-centre,length,mm,,5,4.5,4.6
"""


@cache
def nest() -> Pattern:
    """The half front in four sizes, drawn in 12, as a file would hold it."""
    whole = grade(Pattern((bodice_half(),), "12"), read_rules(STEPS), SIZES).pattern
    return whole.replacing(lambda p: replace(p, base=None, story=()))


def bare(piece: Piece) -> Piece:
    """Without any name or rule."""
    return replace(piece, outline=replace(piece.outline, points=(), runs=()), notches=())


def in_sizes(change: Callable[[Piece], Piece], *sizes: str) -> Pattern:
    """The nest with `change` made to some of its sizes."""
    return nest().replacing(lambda p: change(p) if p.size in sizes else p)


def given_back(
    learned: Learned, drawn: Pattern, *, shift: dict[str, np.ndarray] | None = None
) -> float:
    """The farthest that any outline, graded by the written tables, lies off the drawn one."""
    rules = read_rules(write_rules(learned.rules))
    points = read_points(write_points(learned.points)) if learned.points else ()
    base = drawn.with_pieces(p for p in drawn.pieces if p.size == learned.base_size)
    sizes = learned.rules.sizes
    made = grade(base, rules, sizes, base_size=learned.base_size, points=points).pattern
    worst = 0.0
    for piece in made.pieces:
        other = drawn.piece(piece.name, piece.size).outline.path
        looks = other.at(np.linspace(0, other.length, 300, endpoint=False))
        looks = np.concatenate([looks, other.vertices])
        by = np.zeros(2) if shift is None else shift[str(piece.size)]
        worst = max(worst, float(nearest(piece.outline.path, looks + by).distance.max()))
    return worst


# --- without noise ----------------------------------------------------------------------


def test_the_table_comes_back_from_the_nest_that_it_made() -> None:
    learned = learn(nest(), SIZES, base_size="12")
    assert learned.points == ()
    assert learned.findings == ()
    asked = read_rules(STEPS)
    assert learned.rules.sizes == asked.sizes
    for base, to in (("8", "10"), ("10", "12"), ("12", "14")):
        mine, its = learned.rules.growth(base, to), asked.growth(base, to)
        assert set(mine) == set(its)
        for rule, amounts in its.items():
            for axis in ("width", "length"):
                assert mine[rule].get(axis, 0.0) == pytest.approx(amounts.get(axis, 0.0), abs=1e-3)
    assert given_back(learned, nest()) < 0.01
    assert max(r.off for r in learned.residuals) < 0.01


def test_a_whole_garment_comes_back() -> None:
    pattern, asked = operations.drawn("supper-top"), operations.steps("supper-top")
    drawn = operations.nest("supper-top").replacing(lambda p: replace(p, base=None, story=()))
    learned = learn(drawn, asked.sizes, base_size="12")
    used = {p.rule for piece in pattern.pieces for p in piece.outline.points} - {None}
    assert used <= set(learned.rules.names)
    for size in asked.sizes:
        mine, its = learned.rules.growth("12", size), asked.growth("12", size)
        for rule in used:
            for axis in ("width", "length"):
                amount = its[str(rule)].get(axis, 0.0)
                assert mine[str(rule)].get(axis, 0.0) == pytest.approx(amount, abs=2e-3)
    assert given_back(learned, drawn) < 0.01
    # Without a single name or rule, by the order of corners.
    plain = drawn.replacing(bare)
    again = learn(plain, asked.sizes, base_size="12")
    assert again.points
    assert given_back(again, plain) < 0.01


@settings(deadline=None, max_examples=25)
@given(pieces(), st.data())
def test_random_pieces_come_back_wherever_their_outlines_begin(
    piece: Piece, data: st.DataObject
) -> None:
    """Another start vertex and another direction of drawing in every size, no names at all."""
    rules = [str(p.rule) for p in piece.outline.points]
    step = st.floats(-6, 6).map(lambda x: round(x, 2))
    lines = ["rule,axis,unit,8,10,12"]
    for rule in rules:
        for axis in ("width", "length"):
            lines.append(f"{rule},{axis},mm,,{data.draw(step)},{data.draw(step)}")
    table = read_rules("\n".join(lines) + "\n")
    try:
        made = grade(Pattern((piece,), "10"), table, table.sizes).pattern
    except GeometryError:
        assume(False)
    drawn = []
    for one in made.pieces:
        path = one.outline.path.rolled(data.draw(st.integers(0, len(one.outline.path) - 1)))
        outline = Outline.of(path.reversed() if data.draw(st.booleans()) else path)
        drawn.append(replace(bare(one), outline=outline, base=None))
    strange = Pattern(tuple(drawn), "10")
    learned = learn(strange, table.sizes, base_size="10")
    assert given_back(learned, strange) < 0.01


def regraded(piece: Piece, steps: str) -> Pattern:
    """The piece, drawn in 10, with what these rules make of it in 12, all names left out."""
    made = grade(
        Pattern((piece,), "10"), read_rules(f"rule,axis,unit,10,12\n{steps}"), ["10", "12"]
    )
    return made.pattern.replacing(lambda p: replace(bare(p), base=None, story=()))


def bowed(*right: list[list[float]]) -> Path:
    """A box of 200 by 300 with these curves up its right side."""
    segments = [[[0, 0], [200, 0]], *right, [[200, 300], [0, 300]], [[0, 300], [0, 0]]]
    return Path.of(segments, closed=True)


def test_a_curve_point_that_went_along_gets_no_rule() -> None:
    """Of two points on a curve one had a rule. A rule for the other would bend the curve, and
    it is the one that lies off most."""
    path = bowed(
        [[200, 0], [210, 30], [220, 90], [220, 120]],
        [[220, 120], [220, 150], [180, 190], [180, 220]],
        [[180, 220], [180, 250], [210, 270], [200, 300]],
    )
    piece = ruled(path, {0: "still", 1: "hem", 3: "hip", 4: "waist", 5: "up"})
    steps = "still,length,mm,,0\nhem,width,mm,,-4\nhip,width,mm,,2\nhip,length,mm,,3\n"
    drawn = regraded(piece, f"{steps}waist,width,mm,,-1\nwaist,length,mm,,3\nup,length,mm,,5\n")
    learned = learn(drawn, ["10", "12"], base_size="10")
    assert {p.point for p in learned.points} == {"#1", "#2", "#2+2", "#3", "#4"}
    assert given_back(learned, drawn) < 1e-3


def test_a_curve_point_may_go_far_along_its_curve() -> None:
    path = bowed(
        [[200, 0], [210, 30], [220, 90], [220, 120]],
        [[220, 120], [220, 150], [210, 270], [200, 300]],
    )
    piece = ruled(path, {0: "still", 1: "still", 2: "hip", 3: "still", 4: "still"})
    drawn = regraded(piece, "still,length,mm,,0\nhip,width,mm,,2\nhip,length,mm,,45\n")
    learned = learn(drawn, ["10", "12"], base_size="10")
    rule = {p.point: p.rule for p in learned.points}["#2+1"]
    growth = learned.rules.growth("10", "12")[rule]
    assert growth == pytest.approx({"width": 2.0, "length": 45.0}, abs=1e-3)
    assert given_back(learned, drawn) < 1e-3
    assert len({r.point for r in learned.residuals}) == len(learned.residuals)


@pytest.mark.parametrize("more", [0.02, 0.019, 0.015, 0.01])
def test_points_share_a_rule_only_while_the_line_stays_within_the_tolerance(more: float) -> None:
    """What sharing leaves off at two points is more on a bow between them."""
    path = bowed([[200, 0], [320, -60], [320, 360], [200, 300]])
    piece = ruled(path, {0: "still", 1: "low", 2: "high", 3: "still"})
    steps = "still,length,mm,,0\nlow,length,mm,,5\nhigh,length,mm,,{}\n"
    drawn = regraded(piece, steps.format(round(5 + more, 3)))
    learned = learn(drawn, ["10", "12"], base_size="10")
    assert given_back(learned, drawn) < 0.01
    alone = [p.rule for p in learned.points if p.point in ("#2", "#3")]
    assert len(set(alone)) == (2 if more > 0.018 else 1)


# --- how points are found -----------------------------------------------------------------


@pytest.mark.parametrize("begin", range(7))
@pytest.mark.parametrize("reverse", [False, True])
def test_corner_order_matters_not_where_a_line_begins(begin: int, reverse: bool) -> None:
    def redrawn(piece: Piece) -> Piece:
        path = piece.outline.path.rolled(begin)
        outline = Outline.of(path.reversed() if reverse else path)
        return replace(piece, outline=outline, fold=None)

    plain = in_sizes(redrawn, "8", "14")
    learned = learn(plain, SIZES, base_size="12")
    assert given_back(learned, plain) < 0.01


def test_names_win_over_places() -> None:
    """Two corners close together, one of them missing in a size: names tell which."""
    path = Path.polyline(
        [[0, 0], [100, 0], [97, 190], [100, 204], [90, 300], [0, 300]], closed=True
    )
    less = Path.polyline([[0, 0], [104, 0], [104, 200], [92, 306], [0, 306]], closed=True)
    names = ["a", "b", "low", "high", "c", "d"]
    first = Outline.of(path, points=[Point(k, n) for k, n in enumerate(names)], corner_angle=0.5)
    second = Outline.of(
        less,
        points=[Point(k, n) for k, n in enumerate(["a", "b", "high", "c", "d"])],
        corner_angle=0.5,
    )
    one = Piece("p", first, kind="sew", axis=UP, size="10")
    two = Piece("p", second, kind="sew", axis=UP, size="12")
    learned = learn(Pattern((one, two), "10"), ["10", "12"])
    (lost,) = [f for f in learned.findings if f.code == "point-unmatched"]
    assert (lost.place, lost.level) == ("low", "warn")
    by = {p.point: p.rule for p in learned.points}
    assert learned.rules.growth("10", "12")[by["high"]] == {"width": 4.0, "length": -4.0}
    assert "low" not in by


def box(width: float, height: float, *more: tuple[float, float], **rest: object) -> Piece:
    """A box from 0, 0, with further points on the way up its right side."""
    points = [(0.0, 0.0), (width, 0.0), *more, (width, height), (0.0, height)]
    path = Path.polyline(points, closed=True)
    return Piece("box", Outline.of(path), kind="sew", axis=UP, **rest)  # type: ignore[arg-type]


def test_an_odd_corner_in_one_size_does_no_harm() -> None:
    one = box(200, 300, size="10")
    two = box(206, 310, (206, 150), (203, 155), size="12")
    learned = learn(Pattern((one, two), "10"), ["10", "12"])
    growth = learned.rules.growth("10", "12")
    rules = {p.point: growth[p.rule] for p in learned.points}
    assert rules == {
        "#1": {"length": 0.0},
        "#2": {"width": 6.0},
        "#3": {"width": 6.0, "length": 10.0},
        "#4": {"length": 10.0},
    }
    # The dent is no rule's work, and is told.
    (odd,) = learned.findings
    assert (odd.code, odd.level, odd.size) == ("learned-off", "warn", "12")
    assert "3.0" in odd.text


def test_a_curve_point_gets_a_rule_only_where_it_needs_one() -> None:
    def bulge(top: float, out: float, size: str) -> Piece:
        path = Path.of(
            [
                [[0, 0], [200, 0]],
                [[200, 0], [200, 50], [200 + out, 80], [200 + out, 120]],
                [[200 + out, 120], [200 + out, 180], [200, 230], [200, top]],
                [[200, top], [0, top]],
                [[0, top], [0, 0]],
            ],
            closed=True,
        )
        return Piece("p", Outline.of(path), kind="sew", axis=UP, size=size)

    grown = Pattern((bulge(300, 10, "10"), bulge(300, 16, "12")), "10")
    learned = learn(grown, ["10", "12"])
    rule = {p.point: p.rule for p in learned.points}["#2+1"]
    assert learned.rules.growth("10", "12")[rule] == {"width": 6.0}
    assert given_back(learned, grown) < 0.01
    still = learn(Pattern((bulge(300, 10, "10"), bulge(300, 10, "12")), "10"), ["10", "12"])
    assert {p.point for p in still.points} == {"#1", "#2", "#3", "#4"}


def test_curves_may_have_other_points_in_every_size() -> None:
    """As when flattened lines were fitted anew, each size for itself."""

    def cut_up(piece: Piece, places: list[float]) -> Piece:
        path = piece.outline.path
        for share in places:
            path, _ = path.with_vertex(share * path.length)
        return replace(piece, outline=Outline.of(path), fold=None)

    places = {"8": [], "10": [0.3, 0.45], "12": [0.31, 0.5, 0.85], "14": [0.27, 0.33, 0.8]}
    drawn = nest().replacing(lambda p: cut_up(p, places[str(p.size)]))
    learned = learn(drawn, SIZES, base_size="12")
    assert {f.code for f in learned.findings} <= {"learned-off"}
    assert given_back(learned, drawn) < 0.5
    # With a base that has only its own points it is nearer still.
    drawn = nest().replacing(lambda p: cut_up(p, [] if p.size == "12" else places[str(p.size)]))
    assert given_back(learn(drawn, SIZES, base_size="12"), drawn) < 0.05


def test_another_piece_is_refused() -> None:
    angles = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    wheel = Path.polyline(
        np.stack([np.cos(angles), np.sin(angles)], 1)
        * np.where(np.arange(12) % 2, 90, 200)[:, None],
        closed=True,
    )
    star = Piece("box", Outline.of(wheel), kind="sew", axis=UP, size="10")
    with pytest.raises(InputError, match="of 12 corners were found again in size 12") as caught:
        learn(Pattern((star, box(206, 310, size="12")), "10"), ["10", "12"])
    assert "same piece" in str(caught.value)


# --- where sizes lie ------------------------------------------------------------------------


def apart(piece: Piece) -> Piece:
    """Each size elsewhere on the page."""
    k = SIZES.index(str(piece.size))
    return piece.transformed(affine.translation(600.0 * k, 37.0 * k))


def test_sizes_drawn_apart_are_laid_over_by_the_fold() -> None:
    drawn = nest().replacing(apart)
    learned = learn(drawn, SIZES, base_size="12")
    (told,) = learned.findings
    assert (told.code, told.level) == ("nest-aligned", "note")
    assert "lower end of the fold" in told.text
    # Lengths count from the hem at the fold now, so that it stays; the shape is the same.
    growth = learned.rules.growth("10", "12")
    assert growth["hem-centre"] == {"length": 0.0}
    assert growth["neck"]["length"] == pytest.approx(6.7 + 3, abs=1e-3)
    assert growth["underarm"]["width"] == pytest.approx(9.5, abs=1e-3)
    shift = {}
    for piece in drawn.pieces:
        home = drawn.piece("front", "12").outline.vertex_at(0)
        shift[str(piece.size)] = home - piece.outline.vertex_at(0)
    assert given_back(learned, drawn, shift=shift) < 0.01


def test_or_by_a_point_of_choice_the_grain_or_the_first_point() -> None:
    drawn = nest().replacing(apart)
    chosen = learn(drawn, SIZES, base_size="12", align=[parse_place("front: waist")])
    assert chosen.findings == ()
    growth = chosen.rules.growth("10", "12")
    assert growth["waist"] == {"length": 0.0}
    assert growth["underarm"]["width"] == pytest.approx(9.5 - 6.35, abs=1e-3)
    for grain, words in ((Grain((50, 50), (50, 250)), "the grain line"), (None, "the point #1")):
        two = Pattern(
            (box(200, 300, size="10", grain=grain), box(206, 310, size="12", grain=grain)), "10"
        )
        two = two.replacing(
            lambda p: p.transformed(affine.translation(900, 5)) if p.size == "12" else p
        )
        learned = learn(two, ["10", "12"])
        assert words in learned.findings[0].text
        growth = learned.rules.growth("10", "12")
        rules = {p.point: growth[p.rule] for p in learned.points}
        assert rules["#3"] == pytest.approx({"width": 6.0, "length": 10.0})


@pytest.mark.parametrize(
    ("move", "words"),
    [
        (affine.rotation(90), "by -90 degrees"),
        (affine.rotation(-30), "by 30 degrees"),
        (affine.scaling(-1, 1), "turned over"),
    ],
)
def test_a_size_that_is_turned_is_turned_back(move: np.ndarray, words: str) -> None:
    learned = learn(in_sizes(lambda p: p.transformed(move), "14"), SIZES, base_size="12")
    assert any(f.code == "nest-turned" and f"14 {words}" in f.text for f in learned.findings)
    growth = learned.rules.growth("12", "14")
    assert growth["underarm"]["width"] == pytest.approx(12.0, abs=1e-3)
    assert growth["shoulder"]["length"] - growth["hem-centre"]["length"] == pytest.approx(
        5.0 + 4.0, abs=1e-3
    )


@pytest.mark.parametrize("turn", [0.0, -30.0])
@pytest.mark.parametrize("named", [True, False])
def test_a_size_drawn_turned_over_without_a_fold_is_turned_back(turn: float, named: bool) -> None:
    """No fold and no centre: the names tell, or the shape alone."""
    grain = Grain((120.0, 100.0), (120.0, 300.0))
    plain = nest().replacing(lambda p: replace(p, fold=None, axis=None, grain=grain))
    if not named:
        plain = plain.replacing(bare)

    def turned_over(piece: Piece) -> Piece:
        return piece.transformed(affine.scaling(-1, 1)).transformed(affine.rotation(turn))

    drawn = plain.replacing(lambda p: turned_over(p) if p.size == "14" else p)
    learned = learn(drawn, SIZES, base_size="12")
    (told,) = [f for f in learned.findings if f.code == "nest-turned"]
    assert "14 turned over" in told.text
    straight = learn(plain, SIZES, base_size="12")
    for base, to in (("10", "12"), ("12", "14")):
        mine, its = learned.rules.growth(base, to), straight.rules.growth(base, to)
        for rule, amounts in its.items():
            assert mine[rule] == pytest.approx(amounts, abs=1e-3)


@pytest.mark.parametrize("lean", [0.0, 8.0])
def test_a_piece_that_is_nearly_even_is_not_turned_over(lean: float) -> None:
    """Its sizes lean a little to one side or the other: that is growth."""
    points = [(0.0, 0.0), (200.0, 0.0), (150.0, 300.0), (50.0, 300.0)]
    even = Piece(
        "p", Outline.of(Path.polyline(points, closed=True)), kind="sew", axis=UP, size="10"
    )
    points[2:] = [(150.0 + lean, 300.0), (50.0 + lean, 300.0)]
    other = replace(even, outline=Outline.of(Path.polyline(points, closed=True)), size="12")
    learned = learn(Pattern((even, other), "10"), ["10", "12"])
    assert learned.findings == ()


# --- noise, and what is wrong ---------------------------------------------------------------


def noisy(pattern: Pattern, most: float, seed: int) -> Pattern:
    """Every control point off by up to `most` mm along both axes, in every size."""
    rng = np.random.default_rng(seed)

    def shaken(piece: Piece) -> Piece:
        path = piece.outline.path
        off = rng.uniform(-most, most, (len(path), 3, 2))
        moved = path.controls.copy()
        moved[:, :3] += off
        moved[:, 3] = np.roll(moved[:, 0], -1, axis=0)
        return replace(piece, outline=piece.outline.with_path(path.with_controls(moved)))

    return pattern.replacing(shaken)


@pytest.mark.parametrize("seed", range(4))
def test_errors_keep_to_the_noise_of_the_drawing(seed: int) -> None:
    most = 0.2
    drawn = noisy(nest(), most, seed)
    learned = learn(drawn, SIZES, base_size="12")
    asked = read_rules(STEPS)
    for base, to in (("8", "10"), ("10", "12"), ("12", "14")):
        mine, its = learned.rules.growth(base, to), asked.growth(base, to)
        for rule, amounts in its.items():
            for axis in ("width", "length"):
                # Both sizes are off by up to 0.2 mm.
                off = mine[rule].get(axis, 0.0) - amounts.get(axis, 0.0)
                assert abs(off) <= 2 * most + 1e-3
    # Points that have a rule are met; lines between them keep to the noise of their handles.
    assert max(r.off for r in learned.residuals if r.rule) < 0.01
    assert given_back(learned, drawn) <= 2 * most


def test_a_tolerance_lets_points_share_a_rule_and_evens_out_noise() -> None:
    steps = "rule,axis,unit,8,10,12,14\nside,width,mm,,6,6,6\nup,length,mm,,5,5,5\n"
    outline = bodice_half().outline
    rules = {1: "side", 2: "side", 3: "side", 4: "up", 5: "up", 6: "up"}
    points = tuple(replace(p, rule=rules.get(p.vertex)) for p in outline.points)
    piece = replace(bodice_half(), outline=replace(outline, points=points))
    drawn = noisy(grade(Pattern((piece,), "12"), read_rules(steps), SIZES).pattern, 0.2, 11)
    drawn = drawn.replacing(lambda p: replace(p, base=None))
    exact = learn(drawn, SIZES, base_size="12")
    assert "rule-split" in {f.code for f in exact.findings}
    assert exact.points
    even = learn(drawn, SIZES, base_size="12", tolerance=0.6)
    assert {"side", "up"} <= set(even.rules.names)
    assert not [p for p in even.points if p.point in {"waist", "underarm", "neck"}]
    growth = even.rules.growth("10", "12")
    assert growth["side"]["width"] == pytest.approx(6.0, abs=0.3)
    assert max(r.off for r in even.residuals) <= 0.6 + 0.6
    # What it says of a point is what grading by its table gives.
    one = max(even.residuals, key=lambda r: r.off)
    made = grade(
        drawn, read_rules(write_rules(even.rules)), [one.size], points=even.points, base_size="12"
    ).pattern.piece("front", one.size)
    away = made.outline.vertex_at(made.outline.vertex(one.point)) - drawn.piece(
        "front", one.size
    ).outline.vertex_at(made.outline.vertex(one.point))
    assert np.hypot(*away) == pytest.approx(one.off, abs=1e-9)


def test_a_rule_that_its_points_do_not_share_is_split() -> None:
    def same_rule(piece: Piece) -> Piece:
        outline = piece.outline.with_point(3, rule="side").with_point(2, rule="side")
        return replace(piece, outline=outline.with_point(1, rule="side"))

    drawn = nest().replacing(same_rule)
    learned = learn(drawn, SIZES, base_size="12")
    (told,) = learned.findings
    assert (told.code, told.level) == ("rule-split", "note")
    assert '"side"' in told.text
    assert {p.point for p in learned.points} & {"hem-side", "waist", "underarm"}
    assert given_back(learned, drawn) < 0.01


def test_a_size_without_the_piece_lies_between_its_neighbours() -> None:
    other = replace(box(200, 300), name="other")
    both = [*nest().pieces]
    both += [replace(other, size=s) for s in ("8", "12", "14")]
    learned = learn(Pattern(tuple(both), "12"), SIZES)
    (told,) = [f for f in learned.findings if f.code == "piece-missing"]
    assert (told.piece, told.level) == ("other", "warn")
    assert "10" in told.text


def test_cutting_lines_lose_their_allowance_first() -> None:
    def cut(piece: Piece) -> Piece:
        return replace(piece, kind="cut", allowance=0.0)

    learned = learn(nest().replacing(cut), SIZES, base_size="12")
    assert given_back(learned, nest().replacing(cut)) < 0.01
    wide = Pattern(
        tuple(
            replace(p, kind="cut", allowance=10.0)
            for p in (box(220, 320, size="10"), box(226, 330, size="12"))
        ),
        "10",
    )
    learned = learn(wide, ["10", "12"])
    made = grade(wide, learned.rules, ["12"], points=learned.points, base_size="10").pattern
    assert made.pieces[0].kind == "sew"
    assert made.pieces[0].bounds == pytest.approx((10, 10, 216, 320))


def test_a_notch_with_a_rule_of_its_own_is_learned() -> None:
    def notched(piece: Piece, at: float) -> Piece:
        return replace(piece, notches=(Notch(Spot(0, at), rule="n", name="mark"),))

    drawn = Pattern(
        (notched(box(200, 300, size="10"), 80.0), notched(box(206, 300, size="12"), 84.0)), "10"
    )
    learned = learn(drawn, ["10", "12"])
    assert learned.rules.growth("10", "12")["n"] == {"width": 4.0}


def test_what_cannot_be_learned_is_said() -> None:
    with pytest.raises(UsageError, match="several sizes, and there is 12"):
        learn(nest(), ["12"], base_size="12")
    with pytest.raises(UsageError, match="base size 12 is not in the nest"):
        learn(nest(), ["8", "10"], base_size="12")
    with pytest.raises(LookupFailed, match="nothing is drawn in the base size 11"):
        learn(nest(), ["8", "10"], base_size="11")
    with pytest.raises(UsageError, match="not known"):
        learn(replace(nest(), base_size=None), SIZES)


def test_sizes_between_and_beyond_are_left_to_grading() -> None:
    learned = learn(nest(), ("8", "10", "12"), base_size="12")
    base = Pattern((bodice_half(),), "12")
    with pytest.raises(UsageError, match="beyond"):
        grade(base, learned.rules, ["14"])
    made = grade(base, learned.rules, ["14"], allow_far=True).pattern.piece("front", "14")
    assert made.outline.vertex_at(3)[0] == pytest.approx(250 + 9.5, abs=1e-3)
