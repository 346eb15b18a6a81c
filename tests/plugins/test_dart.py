"""Darts made: mouths, legs and caps, over seams, in every size, and what is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from sizewright.errors import GeometryError, InputError, LookupFailed, SizewrightError
from sizewright.geometry import Floats, Path, affine, nearest
from sizewright.grading import grade
from sizewright.model import (
    Axis,
    Cutout,
    Dart,
    Fold,
    Mark,
    Notch,
    Outline,
    Pattern,
    Piece,
    Point,
    Run,
    match_seam,
    parse_seams,
)
from tests.operations import codes, do, drawn, nest, off, polygon, steps

INCH = 25.4


def block(**changes: object) -> Piece:
    """A half on the fold, 200 by 300 mm, its waist at the top."""
    path = Path.polyline([(0, 0), (200, 0), (200, 300), (0, 300)], closed=True)
    runs = [Run(1, 2, "side"), Run(2, 3, "waist"), Run(3, 0, "centre-back")]
    outline = Outline.of(path, points=[Point(2, "waist-side")], runs=runs)
    return replace(Piece("back", outline, kind="sew", fold=Fold(3, 0)), **changes)  # type: ignore[arg-type]


def legs(piece: Piece, dart: Dart) -> list[float]:
    ends = [piece.outline.vertex_at(v) for v in (dart.a, dart.b)]
    return [float(np.hypot(*(end - np.array(dart.apex)))) for end in ends]


def make(piece: Piece, **given: object) -> Piece:
    return do(Pattern((piece,)), "dart", **{"piece": piece.name} | given).pattern.piece(piece.name)


def test_legs_and_takes_of_a_straight_waist() -> None:
    """Exact geometry: 3 1/4 in over 9 in has legs of hypot(9, 1.625) = 9.146 in; an excess of
    6 1/2 in over a half with one dart is 3 1/4 in each (common practice)."""
    done = do(
        Pattern((block(),)),
        "dart",
        piece="back",
        at="middle of waist",
        excess="6 1/2 in",
        length="9 in",
    )
    piece = done.pattern.piece("back")
    (dart,) = piece.darts
    a, b = (piece.outline.vertex_at(v) for v in (dart.a, dart.b))
    assert dart.name == "waist"
    assert dart.apex == pytest.approx((100.0, 300 - 9 * INCH))
    assert math.dist(a, b) == pytest.approx(3.25 * INCH)
    assert [leg / INCH for leg in legs(piece, dart)] == pytest.approx([math.hypot(9, 1.625)] * 2)
    assert legs(piece, dart)[0] / INCH == pytest.approx(9.146, abs=5e-4)
    sewn = piece.sewn_length(piece.run("waist"))
    assert sewn == pytest.approx(200 - 3.25 * INCH, abs=0.2)
    assert "length-changed" in codes(done)


def test_the_edge_runs_on_square_to_both_legs() -> None:
    piece = make(block(), at="middle of waist", take="3 1/4 in", length="9 in")
    (dart,) = piece.darts
    path = piece.outline.path
    for vertex, tangent in (
        (dart.a, path.tangents_in[dart.a - 1]),
        (dart.b, path.tangents_out[dart.b]),
    ):
        leg = path.vertices[vertex] - np.array(dart.apex)
        assert abs(float(leg @ tangent)) / np.hypot(*leg) < 1e-9
    unfair = make(block(), at="middle of waist", take="3 1/4 in", length="9 in", fair=False)
    assert unfair.sewn_length(unfair.run("waist")) == pytest.approx(200 - 3.25 * INCH, abs=1e-9)


@pytest.mark.parametrize(
    ("pressed", "left", "right"),
    [(None, True, False), ("centre", True, False), ("side", False, True), ("open", True, True)],
)
def test_the_cap_lies_on_the_edge_when_pressed(
    pressed: str | None, left: bool, right: bool
) -> None:
    """The cloth of the dart, folded, lies along the edge of the side that it is pressed to."""
    curved = Path.of(
        [
            [(0, 0), (200, 0)],
            [(200, 0), (200, 310)],
            [(200, 310), (130, 290), (60, 280), (0, 300)],
            [(0, 300), (0, 0)],
        ],
        closed=True,
    )
    piece = block(outline=Outline.of(curved, runs=[Run(2, 3, "waist")]))
    given = {"at": "middle of waist", "take": "5 cm", "length": "15 cm"}
    piece = make(piece, **given | ({"pressed": pressed} if pressed else {}))
    (dart,) = piece.darts
    tip = np.array(dart.apex)
    path = piece.outline.path
    cap = path.segments(dart.a, dart.b)
    before = path.segments(dart.b, dart.a)
    a, b = path.vertices[[dart.a, dart.b]]
    # Half of the cap lies mirrored over its leg on the edge beside it; the other half too, where
    # the dart is pressed open; else it lies folded on the first.
    s = np.linspace(0.0, cap.length, 41)
    points = cap.at(s)
    middle = (a - tip) / np.hypot(*(a - tip)) + (b - tip) / np.hypot(*(b - tip))
    side = (points - tip) @ np.array([-middle[1], middle[0]])
    first = points[side * ((a - tip) @ np.array([-middle[1], middle[0]])) > 1e-3]
    second = points[side * ((b - tip) @ np.array([-middle[1], middle[0]])) > 1e-3]

    def lies(half: Floats, end: Floats) -> bool:
        image = affine.apply(affine.mirror(tip, end), half)
        return bool(nearest(before, image).distance.max() < limit)

    # Pressed open, both halves end at one height.
    limit = 0.5 if pressed == "open" else 1e-6
    # Looking along the outline, a lies to the right here, away from the centre.
    assert lies(first, a) == right
    assert lies(second, b) == left
    if pressed != "open":
        folded = affine.apply(affine.mirror(tip, tip + middle), first)
        assert nearest(cap, folded).distance.max() < 1e-6


def test_several_darts_of_one_excess() -> None:
    piece = make(
        block(), at="middle of waist", excess="12 cm", count=2, apart="7 cm", length="12 cm"
    )
    assert [d.name for d in piece.darts] == ["waist-2", "waist-1"]
    assert [d.apex[0] for d in piece.darts] == pytest.approx([135, 65])
    for dart in piece.darts:
        assert math.dist(*(piece.outline.vertex_at(v) for v in (dart.a, dart.b))) == pytest.approx(
            30
        )
    both = make(block(), at=["1/4 along waist", "3/4 along waist"], excess="12 cm", length="12 cm")
    assert [d.apex[0] for d in both.darts] == pytest.approx([150, 50])


def test_a_tip_to_one_side_makes_both_legs_their_mean() -> None:
    tip = "8 cm back from waist-side, 14 cm down"
    piece = make(block(), at="middle of waist", take="3 cm", tip=tip)
    (dart,) = piece.darts
    assert dart.apex == pytest.approx((120, 160))
    one, other = legs(piece, dart)
    assert one == pytest.approx(other)
    assert one == pytest.approx(
        (math.dist((115, 300), (120, 160)) + math.dist((85, 300), (120, 160))) / 2
    )


def test_every_size_of_the_demo_and_seams_over_a_band() -> None:
    """The back waist, the band between and the gathered peplum: all stay as long as each other."""
    given = {"piece": "back", "at": "3/4 along waist", "take": "2.5 cm", "length": "12 cm"}
    before = nest("supper-top")
    done = do(before, "dart", **given, across=["waist", "gather"])
    alone = do(before, "dart", **given)
    assert "mate-to-follow" in codes(alone)
    for size in before.sizes:
        was, now = off(before, size), off(done.pattern, size)
        assert now["waist"] == pytest.approx(was["waist"], abs=0.1)
        assert off(alone.pattern, size)["waist"] == pytest.approx(was["waist"] - 25, abs=0.1)
        band, old = (p.piece("band", size) for p in (done.pattern, before))
        for edge in ("top", "bottom"):
            shorter = old.sewn_length(old.run(edge)) - band.sewn_length(band.run(edge))
            assert shorter == pytest.approx(25, abs=1e-6)
        assert old.area - band.area == pytest.approx(25 * 35, rel=1e-6)
        back = done.pattern.piece("back", size)
        dart = next(d for d in back.darts if d.name == "waist-2")
        assert legs(back, dart)[0] == pytest.approx(legs(back, dart)[1])
    base = off(done.pattern, before.base_size)
    assert base["gather"] == pytest.approx(0, abs=0.1)
    # Where the gathers are a share, so much of the dart is off in the other sizes, and told.
    (told,) = [f for f in done.findings if f.code == "gathers-off"]
    for size in before.sizes:
        assert f"{off(done.pattern, size)['gather']:+.1f} mm in {size}" in told.text
    assert not [f for f in done.findings if f.place == "gather" and f is not told]


def test_matching_darts_meet_by_sewn_distance() -> None:
    """A skirt's darts meet those of the bodice where the seam is sewn, both with their takes."""
    done = do(
        drawn("basic-set"),
        "dart",
        piece="back",
        at="4/5 along waist",
        take="2 cm",
        length="10 cm",
        across="skirt-waist",
        across_length="14 cm",
    )
    seam = next(s for s in done.pattern.seams if s.name == "skirt-waist")
    match = match_seam(done.pattern, seam)
    was = match_seam(drawn("basic-set"), seam)
    assert match.off == pytest.approx(was.off, abs=0.2)
    places = []
    for name, chain in (("back", match.first), ("skirt-back", match.second)):
        piece = done.pattern.piece(name)
        new = next(d for d in piece.darts if d.name == "waist-2")
        s = float(piece.outline.path.cumulative[new.a])
        places.append(next(iter(chain.distances(name, s))))
    assert match.to_second(places[0]) == pytest.approx(places[1], abs=0.2)


def test_before_grading_a_dart_grades_with_its_edge() -> None:
    """Legs stay alike and the take stays what it is, in every size."""
    rules = steps("supper-top")
    cut = do(
        drawn("supper-top"), "dart", piece="back", at="3/4 along waist", take="2 cm", length="9 cm"
    )
    sizes = grade(cut.pattern, rules, list(rules.sizes)).pattern
    then = do(
        nest("supper-top"), "dart", piece="back", at="3/4 along waist", take="2 cm", length="9 cm"
    )
    for size in sizes.sizes:
        piece, other = sizes.piece("back", size), then.pattern.piece("back", size)
        dart, same = (next(d for d in p.darts if d.name == "waist-2") for p in (piece, other))
        assert legs(piece, dart)[0] == pytest.approx(legs(piece, dart)[1], abs=1e-6)
        a, b = (piece.outline.vertex_at(v) for v in (dart.a, dart.b))
        assert math.dist(a, b) == pytest.approx(20, abs=1e-6)
        assert legs(other, same) == pytest.approx(legs(piece, dart), abs=0.01)


@pytest.mark.parametrize("turn", [37.0, -120.0])
def test_turned_and_mirrored_pieces_get_the_same_dart(turn: float) -> None:
    given = {"at": "1/3 along waist", "take": "3 cm", "length": "12 cm", "pressed": "side"}
    upright = block(axis=Axis((100, 10), (100, 200)))
    plain = make(upright, **given)
    for move in (
        affine.rotation(turn),
        affine.mirror(np.array([0.0, 0.0]), np.array([0.0, 1.0])),
    ):
        other = make(upright.transformed(move), **given)
        image = plain.transformed(move)
        assert (
            nearest(
                image.outline.path, other.outline.path.at(np.linspace(0, 900, 400))
            ).distance.max()
            < 1e-6
        )
        assert other.darts[0].apex == pytest.approx(image.darts[0].apex)


def test_what_was_there_stays() -> None:
    """Names, notches, marks and edges that the dart does not touch keep their bits."""
    mark = Mark(Path.polyline([(20, 20), (60, 20)]), "pocket", "pocket")
    was = block(marks=(mark,))
    was = replace(was, notches=(Notch(was.outline.spot(350.0), name="hip"),))
    now = make(was, at="middle of waist", take="3 cm", length="12 cm")
    assert now.marks == was.marks
    assert [n.name for n in now.notches] == ["hip"]
    assert now.outline.path.at(now.outline.arc_length_of(now.notches[0].at)) == pytest.approx(
        (200, 150)
    )
    assert {r.name for r in now.outline.runs} == {"waist", "side", "centre-back"}
    assert now.outline.run_path(now.run("side")) == was.outline.run_path(was.run("side"))
    assert now.quantity == was.quantity
    assert now.fold is not None


def test_a_double_dart_lies_within() -> None:
    piece = make(
        block(),
        at="10 cm back from waist-side, 12 cm down",
        kind="double",
        take="3 cm",
        length_up="8 cm",
        length_down="10 cm",
    )
    (mark,) = piece.marks
    assert mark.kind == "dart"
    assert abs(mark.path.area) == pytest.approx(30 * 180 / 2)
    assert mark.path.bounds == pytest.approx((85, 80, 115, 260))
    assert piece.outline.path == block().outline.path


def test_finished_measures_take_a_double_dart_off_at_its_level() -> None:
    from sizewright_plugins.finished_measures.across import across

    piece = make(
        block(),
        at="10 cm back from waist-side, 12 cm down",
        kind="double",
        take="3 cm",
        length_up="8 cm",
        length_down="10 cm",
    )
    assert across(piece, 180.0) == pytest.approx(200 - 30, abs=0.05)
    assert across(piece, 220.0) == pytest.approx(200 - 15, abs=0.05)
    assert across(piece, 270.0) == pytest.approx(200)


def test_allowance_goes_on_over_the_mouth() -> None:
    """The cutting line lies as far from the cap as from the edge that it is pressed to."""
    wide = do(Pattern((block(),)), "seam-allowance", width="1 cm", widths={"waist": "2 cm"}).pattern
    piece = do(
        wide, "dart", piece="back", at="middle of waist", take="4 cm", length="12 cm"
    ).pattern.piece("back")
    assert piece.cut_line is not None
    cap = piece.outline.path.segments(piece.darts[0].a, piece.darts[0].b)
    off_by = nearest(piece.cut_line.path, cap.at(np.linspace(0, cap.length, 30))).distance
    assert off_by.min() == pytest.approx(20, abs=0.05)


BAD = [
    ({"at": "middle of waist", "length": "9 cm"}, "take and excess"),
    (
        {"at": "middle of waist", "take": "3 cm", "excess": "5 cm", "length": "9 cm"},
        "take and excess",
    ),
    (
        {"at": "middle of waist", "take": "3 cm", "length": "9 cm", "tip": "waist-side"},
        "length and tip",
    ),
    ({"at": "5 mm along waist", "take": "3 cm", "length": "9 cm"}, "corner"),
    ({"at": "middle of waist", "take": "25 cm", "length": "9 cm"}, "corner"),
    ({"at": "middle of waist", "take": "3 cm", "length": "40 cm"}, "outside"),
    ({"at": "middle of waist", "take": "3 cm", "tip": "9 cm up from waist-side"}, "outside"),
    (
        {"at": "middle of waist", "take": "3 cm", "count": 2, "apart": "2 cm", "length": "9 cm"},
        "meet",
    ),
    ({"at": "middle of hem", "take": "3 cm", "length": "9 cm"}, "hem"),
    ({"at": "9 cm back from waist-side, 2 cm down", "take": "3 cm", "length": "9 cm"}, "mm off"),
    ({"at": "middle of waist", "take": "3 cm", "length": "9 cm", "pressed": "down"}, "no side"),
    ({"at": "middle of waist", "take": "3 cm", "length": "9 cm", "across": "nothing"}, "no seam"),
    ({"at": "middle of waist", "take": "3 cm", "kind": "double", "length_up": "9 cm"}, "both"),
    ({"at": "middle of waist", "take": "3 cm"}, "where a dart ends"),
    ({"at": "30% along waist", "take": "3 cm", "length": "9 cm"}, "notch"),
    ({"at": "middle of side", "take": "3 cm", "length": "9 cm"}, "cut-out"),
]


@pytest.mark.parametrize(("given", "words"), BAD)
def test_what_does_not_fit_is_refused_with_its_place(given: dict[str, object], words: str) -> None:
    piece = block()
    hole = Path.polyline([(120, 130), (160, 130), (160, 170), (120, 170)], closed=True)
    notch = Notch(piece.outline.spot(200 + 300 + 140.0), name="third")
    piece = replace(piece, cutouts=(Cutout(hole),), notches=(notch,))
    with pytest.raises(SizewrightError, match=words):
        make(piece, **given)


def test_a_dart_that_would_meet_another_is_refused() -> None:
    piece = make(block(), at="middle of waist", take="3 cm", length="12 cm")
    with pytest.raises(GeometryError, match="meet"):
        make(
            piece,
            at="55% along waist",
            take="3 cm",
            length="12 cm",
        )
    again = make(piece, at="1/4 along waist", take="2 cm", length="12 cm")
    assert sorted(d.name for d in again.darts) == ["waist", "waist-2"]


def test_a_dart_over_a_seam_that_its_edge_is_not_in() -> None:
    pattern = replace(
        Pattern((block(), replace(block(), name="front"))),
        seams=parse_seams("side: front:side = back:side"),
    )
    with pytest.raises(InputError, match="none of the seams"):
        do(
            pattern,
            "dart",
            piece="back",
            at="middle of waist",
            take="3 cm",
            length="9 cm",
            across="side",
        )
    with pytest.raises(LookupFailed, match="belt"):
        do(pattern, "dart", piece="belt", at="middle of waist", take="3 cm", length="9 cm")


def test_area_by_shapely() -> None:
    """Without fairing the outline is the rectangle with a cap: its area, by shapely, is that of
    the rectangle and the two triangles that mirror the waist over the legs."""
    piece = make(block(), at="middle of waist", take="4 cm", length="12 cm", fair=False)
    half = math.atan(20 / 120)
    # A right triangle over half the mouth: its height leans in by twice the half angle.
    peak = 20 * math.tan(2 * half)
    assert polygon(piece).area == pytest.approx(200 * 300 + 20 * peak, rel=1e-9)
    assert shapely.is_valid(polygon(piece))
