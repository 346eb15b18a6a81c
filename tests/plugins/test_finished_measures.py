"""Finished measures and ease."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import SizewrightError
from sizewright.findings import Finding
from sizewright.geometry import Path, affine
from sizewright.grading import Asked, grade, read_chart
from sizewright.model import (
    Axis,
    Body,
    Dart,
    Fold,
    Mark,
    Outline,
    Pattern,
    Piece,
    Pleat,
    Point,
    Quantity,
    Run,
    parse_seam,
)
from sizewright.shipped import shipped
from tests.operations import drawn, judge, steps

CHART = "shipped:grade_tables/misses-1967.csv"
UP = Axis((0.0, 0.0), (0.0, 100.0))


def check(pattern: Pattern, **given: object) -> tuple[Finding, ...]:
    return judge(pattern, "finished-measures", **given)


def lengths(findings: tuple[Finding, ...]) -> dict[tuple[str, str], str]:
    return {(f.size, f.place): f.text for f in findings}


def half(name: str = "front", **more: object) -> Piece:
    """A half 250 mm wide at the waist and 300 at the hip, on the fold at its left."""
    path = Path.polyline([[0, 0], [300, 0], [300, 100], [250, 300], [0, 300]], closed=True)
    points = [Point(2, "side-hip"), Point(3, "side-waist"), Point(4, "waist-centre")]
    given = {"fold": Fold(4, 0), "kind": "sew", "axis": UP} | more
    return Piece(name, Outline.of(path, points=points), **given)  # type: ignore[arg-type]


def test_the_demo_measures_what_its_drafting_figures_say() -> None:
    # docs/examples/supper-top/README.md: bust 36 in, waist 27 1/2 in, back waist 16 1/4 in, over
    # a body of 34, 26 1/2 and 16 1/4 in; the button stand is no part of it.
    pattern = drawn("supper-top")
    found = lengths(check(pattern, chart=CHART))
    assert found["12", "bust"].startswith("91.44 cm · 36 in finished, 5.08 cm · 2 in more")
    assert found["12", "waist"].startswith("69.85 cm · 27 1/2 in finished, 2.54 cm · 1 in more")
    assert found["12", "back-waist-length"].endswith("16 1/4 in finished, as the body")
    assert set(found) == {("12", m) for m in ("bust", "waist", "back-waist-length")}


def test_grading_keeps_the_ease_of_the_base() -> None:
    pattern = drawn("supper-top")
    rules = steps("supper-top")
    sizes = ["6", "8", "10", "12", "14", "16", "18", "20"]
    graded = grade(pattern, rules, sizes, allow_far=True).pattern
    found = lengths(check(graded, chart=CHART))
    for size in sizes:
        assert "5.08 cm · 2 in more than the body's" in found[size, "bust"], size
        assert "2.54 cm · 1 in more than the body's" in found[size, "waist"], size
        assert "as the body" in found[size, "back-waist-length"], size


def test_a_body_that_no_column_holds_gets_the_same_ease() -> None:
    body = {"bust": 920.0, "waist": 740.0}
    chart = read_chart(shipped("grade_tables/misses-1967.csv"))
    graded = grade(drawn("supper-top"), steps("supper-top"), chart=chart, asked=Asked(body)).pattern
    found = lengths(check(graded, body={"bust": "92 cm", "waist": "74 cm"}))
    assert "5.08 cm · 2 in more" in found["body", "bust"]
    assert "2.54 cm · ≈ 1 in more" in found["body", "waist"]


def test_halves_pairs_and_doubles() -> None:
    main = (Quantity("main", 1),)
    front = half(quantity=main)
    back = half("back", fold=None, pair=True, quantity=(Quantity("main", 2),))
    found = lengths(check(Pattern((front, back))))
    assert found["", "waist"].startswith("100 cm")
    assert found["", "hip"].startswith("120 cm")
    more = (
        half("front-facing", quantity=main),
        half("front-2", quantity=(Quantity("lining", 1),)),
    )
    assert lengths(check(Pattern((front, back, *more)))) == found
    whole = half("whole", fold=None)
    assert lengths(check(Pattern((whole,))))["", "waist"].startswith("25 cm")


def test_darts_and_pleats_count_as_closed() -> None:
    path = Path.polyline(
        [[0, 0], [300, 0], [300, 300], [200, 300], [185, 180], [170, 300], [0, 300]], closed=True
    )
    points = [Point(2, "side-waist"), Point(6, "waist-centre")]
    outline = Outline.of(path, points=points)
    cut_out = Piece(
        "front", outline, kind="sew", axis=UP, darts=(Dart("w", 3, 5, (185.0, 180.0), 4),)
    )
    assert lengths(check(Pattern((cut_out,))))["", "waist"].startswith("27 cm")
    flat = Path.polyline(
        [[0, 0], [300, 0], [300, 300], [200, 300], [170, 300], [0, 300]], closed=True
    )
    points = [Point(2, "side-waist"), Point(5, "waist-centre")]
    drawn = Piece("front", Outline.of(flat, points=points), kind="sew", axis=UP)
    darted = replace(drawn, darts=(Dart("w", 3, 4, (185.0, 180.0)),))
    pleated = replace(drawn, pleats=(Pleat("p", 3, 4),))
    for piece in (darted, pleated):
        assert lengths(check(Pattern((piece,))))["", "waist"].startswith("27 cm")
    # Half-way down the dart half of it is left.
    low = replace(darted, outline=darted.outline.with_vertex(300 + 300 + 300 + 60)[0])
    measures = {"mid": "across front:mid"}
    named = low.outline.with_point(len(low.outline.path) - 1, name="mid")
    found = lengths(check(Pattern((replace(low, outline=named),)), measures=measures))
    assert found["", "mid"].startswith("28.5 cm")


@pytest.mark.parametrize(("level", "taken"), [(150, 0), (240, 1.5), (300, 3), (380, 1.5)])
def test_a_dart_within_the_piece_counts_at_its_level(level: float, taken: float) -> None:
    path = Path.polyline([[0, 0], [300, 0], [300, level], [300, 500], [0, 500]], closed=True)
    outline = Outline.of(path, points=[Point(2, "mid")])
    eye = Path.polyline([(150, 180), (165, 300), (150, 460), (135, 300)], closed=True)
    piece = Piece("back", outline, kind="sew", axis=UP, marks=(Mark(eye, "dart", "waist"),))
    found = lengths(check(Pattern((piece,)), measures={"mid": "across back:mid"}))
    assert found["", "mid"].startswith(f"{30 - taken:g} cm")


def test_a_run_named_as_the_level_is_measured_along_itself() -> None:
    path = Path.of(
        [
            [[0, 0], [300, 0]],
            [[300, 0], [300, 300]],
            [[300, 300], [200, 260], [100, 280], [0, 280]],
            [[0, 280], [0, 0]],
        ],
        closed=True,
    )
    outline = Outline.of(path, runs=[Run(2, 3, "waist")])
    piece = Piece("front", outline, kind="sew", axis=UP, fold=Fold(3, 0))
    found = lengths(check(Pattern((piece,))))
    assert found["", "waist"].startswith(f"{2 * outline.run_length(Run(2, 3)) / 10:.2f} cm")


def test_a_lap_beyond_the_centre_is_left_out_but_a_whole_front_is_not() -> None:
    path = Path.polyline([[-20, 0], [300, 0], [300, 300], [-20, 300]], closed=True)
    points = [Point(2, "side-waist")]
    line = Path.polyline([[0, 0], [0, 300]])
    mark = Mark(line, "centre-front", "centre-front")
    piece = Piece("front", Outline.of(path, points=points), kind="sew", axis=UP, marks=(mark,))
    assert lengths(check(Pattern((replace(piece, pair=True),))))["", "waist"].startswith("60 cm")
    moved = Mark(line.transformed(affine.translation(140, 0)), "centre-front", "centre-front")
    whole = replace(piece, marks=(moved,))
    assert lengths(check(Pattern((whole,))))["", "waist"].startswith("32 cm")


def test_a_waist_sewn_to_a_waist_is_one_waist() -> None:
    bodice = half("bodice")
    bodice = replace(bodice, outline=bodice.outline.with_run(Run(3, 4, "waist")))
    skirt = bodice.transformed(affine.scaling(1.5, 1.0))
    skirt = replace(skirt, name="skirt")
    seam = parse_seam("waist: skirt:waist = -bodice:waist, gather 50%")
    found = lengths(check(Pattern((bodice, skirt), seams=(seam,))))
    assert found["", "waist"].startswith("50 cm")


def test_a_sleeve_has_its_biceps() -> None:
    path = Path.polyline([[0, 0], [340, 0], [360, 400], [180, 520], [-20, 400]], closed=True)
    points = [Point(2, "underarm-front"), Point(4, "underarm-back")]
    sleeve = Piece("sleeve", Outline.of(path, points=points), kind="sew", axis=UP, pair=True)
    (told,) = check(Pattern((sleeve,)), body={"biceps": "30 cm"})
    assert told.text.startswith("38 cm")
    assert told.code == "finished-measure"


@pytest.mark.parametrize(
    ("bust", "code", "level"),
    [
        ("88 cm", "finished-measure", "note"),
        ("98 cm", "little-ease", "note"),
        ("104 cm", "finished-small", "fail"),
    ],
)
def test_too_little_room_is_told(bust: str, code: str, level: str) -> None:
    path = Path.polyline([[0, 0], [250, 0], [250, 300], [0, 300]], closed=True)
    piece = Piece(
        "front",
        Outline.of(path, points=[Point(2, "underarm")]),
        kind="sew",
        axis=UP,
        fold=Fold(3, 0),
    )
    pattern = Pattern((piece, replace(piece, name="back")))
    (told,) = check(pattern, body={"bust": bust})
    assert (told.code, told.level) == (code, level)
    (told,) = check(pattern, body={"bust": bust}, stretch=True)
    assert told.code == "finished-measure"
    # No cloth is worn stretched from 100 cm to 150 cm; what has no measure there is told.
    told, lost = check(pattern, body={"bust": "150 cm", "neck": "36 cm"}, stretch=True)
    assert (told.code, told.level) == ("finished-small", "fail")
    assert (lost.code, lost.level, lost.place) == ("not-compared", "note", "neck")


def test_measures_of_one_s_own() -> None:
    pattern = Pattern((half(), half("back")))
    own = {"round": "2 x front:side-hip..side-waist", "drop": "down back:side-hip..waist-centre"}
    found = check(pattern, measures=own)
    told = lengths(found)
    assert told["", "drop"].startswith("20 cm")
    assert told["", "round"].startswith(f"{2 * (50**2 + 200**2) ** 0.5 / 10:.2f} cm")
    broken = [f for f in check(pattern, measures={"x": "front:nope"}) if f.level == "fail"]
    assert [f.code for f in broken] == ["measure-broken"]
    for bad in ("front", "0 x front:hem", "down front:waist"):
        with pytest.raises(SizewrightError, match="is no part of a measure"):
            check(pattern, measures={"x": bad})


def test_sewing_lines_that_are_not_known() -> None:
    found = check(Pattern((half(kind="unknown"), half("back"))))
    assert "front" in next(f.text for f in found if f.code == "not-measured")
    assert lengths(found)["", "waist"].startswith("50 cm")
    cut = half(kind="cut", allowance=10.0)
    # The allowance comes off all edges but the fold: 10 mm at the waist's side and its top.
    (told,) = [f for f in check(Pattern((cut,))) if f.place == "hip"]
    assert told.text.startswith("58 cm")


@given(st.floats(-40, 40), st.floats(0.5, 2.0))
def test_measures_do_not_mind_where_and_how_a_piece_lies(turn: float, scale: float) -> None:
    piece = half()
    m = affine.rotation(turn)
    turned = piece.transformed(m).transformed(affine.translation(500 * scale, -300))
    assert lengths(check(Pattern((turned,)))) == lengths(check(Pattern((piece,))))


def test_a_side_seam_told_from_point_to_point_drops_no_piece() -> None:
    # The words of its ends say waist, but it goes down the body, not round it.
    front, back = half(), half("back")
    seam = parse_seam("side: front:side-hip..side-waist = back:side-hip..side-waist")
    found = lengths(check(Pattern((front, back), seams=(seam,))))
    assert found["", "waist"].startswith("100 cm")
    assert found["", "hip"].startswith("120 cm")


@pytest.mark.parametrize("rise", [8.0, 15.0, 40.0])
def test_a_waist_that_rises_is_not_measured_and_says_what_to_name(rise: float) -> None:
    path = Path.of(
        [
            [[0, 0], [300, 0]],
            [[300, 0], [300, 300 + rise]],
            [[300, 300 + rise], [250, 300], [100, 300], [0, 300]],
            [[0, 300], [0, 0]],
        ],
        closed=True,
    )
    points = [Point(2, "side-waist"), Point(3, "waist-centre")]
    piece = Piece("front", Outline.of(path, points=points), kind="sew", axis=UP, fold=Fold(3, 0))
    (left,) = check(Pattern((piece,)))
    assert (left.code, left.level, left.place) == ("not-measured", "warn", "waist")
    assert "waist" in left.cure
    named = piece.outline.with_run(Run(2, 3, "waist"))
    found = lengths(check(Pattern((replace(piece, outline=named),))))
    along = named.run_length(Run(2, 3))
    assert found["", "waist"].startswith(f"{2 * along / 10:.2f}".rstrip("0").rstrip("."))


def test_the_ease_on_a_body_needs_no_asking() -> None:
    pattern = Pattern((half(),), bodies={"": Body({"waist": 480.0, "hip": 590.0})})
    found = {f.place: f for f in judge(pattern, "ease")}
    assert found["waist"].text.startswith("waist is 50 cm · ≈ 19 11/16 in finished, 2 cm")
    assert found["hip"].text.startswith("hip is 60 cm")
    tight = replace(pattern, bodies={"": Body({"waist": 520.0})})
    (short,) = (f for f in judge(tight, "ease") if f.place == "waist")
    assert (short.code, short.level) == ("finished-small", "fail")
    gives = replace(pattern, bodies={"": Body({"waist": 520.0}, stretch=True)})
    assert all(f.level == "note" for f in judge(gives, "ease"))
    assert not judge(Pattern((half(),)), "ease")
