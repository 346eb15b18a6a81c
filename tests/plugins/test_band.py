"""Bands as long as the edges that they finish."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from sizewright.errors import SizewrightError
from sizewright.geometry import Path, affine, circular_arc, flatten
from sizewright.model import (
    Fold,
    Outline,
    Pattern,
    Piece,
    Pleat,
    Run,
    format_seam,
    match_seam,
    parse_seam,
)
from tests.operations import do, drawn, nest
from tests.shapes import bodice

INCH = 25.4
ENDS = ("middle", "right")


def band(pattern: Pattern, **given: Any) -> Pattern:
    return do(pattern, "band", **given).pattern


def seam_off(pattern: Pattern, edge: str) -> float:
    """How far the seam along an edge of the band is off, mm."""
    seam = next(s for s in pattern.seams if s.name == f"band-{edge}")
    return match_seam(pattern, seam).off


def both_halves() -> Pattern:
    back = replace(
        bodice().transformed(affine.mirror(np.zeros(2), np.array([0.0, 1.0]))), name="back"
    )
    back = back.transformed(affine.translation(-100, 0))
    return Pattern((bodice(), back), seams=(parse_seam("side: front:side = back:side"),))


def length(piece: Piece, run: str) -> float:
    return piece.outline.run_length(piece.run(run))


def test_a_half_of_a_finished_length_is_half_as_long() -> None:
    # Common practice: a band of finished length 14 1/2 in drafted on the half is 7 1/4 in.
    made = band(Pattern((bodice(),)), length="14 1/2 in", height="3 in", on_fold=True).piece("band")
    assert length(made, "lower") == pytest.approx(7.25 * INCH, abs=1e-9)
    assert made.fold is not None


def test_a_slanted_band_obeys_pythagoras() -> None:
    # Half 7 1/4 in, height 3, slant 1: upper edge 6 1/4 in, end the root of 3^2 + 1^2.
    made = band(
        Pattern((bodice(),)), length="14 1/2 in", height="3 in", slant="1 in", on_fold=True
    ).piece("band")
    assert length(made, "upper") == pytest.approx(6.25 * INCH, abs=1e-9)
    end = np.hypot(
        *(
            made.outline.vertex_at(made.outline.vertex("lower-right"))
            - made.outline.vertex_at(made.outline.vertex("upper-right"))
        )
    )
    assert end / INCH == pytest.approx(np.sqrt(10), abs=1e-9)


@pytest.mark.parametrize("on_fold", [True, False])
def test_it_is_as_long_as_the_edges_as_sewn_and_its_seam_closes(on_fold: bool) -> None:
    pattern = both_halves()
    front = pattern.piece("front")
    waist = front.sewn_length(front.run("waist"))  # the dart closed
    for chain in ("front:waist + back:waist", "front:waist + -back:waist"):
        made = band(pattern, for_=chain, height="3 cm", on_fold=on_fold)
        piece = made.piece("band")
        assert length(piece, "lower") == pytest.approx((2 if on_fold else 4) * waist, abs=1e-9)
        seam = next(s for s in made.seams if s.name == "band-lower")
        match = match_seam(made, seam)
        assert match.first.length == pytest.approx(match.second.length, abs=1e-9)
        marks = {n.name: n.at.distance for n in piece.notches}
        at = piece.outline.arc_length_of(next(n for n in piece.notches if n.name == "seam-1").at)
        start = piece.outline.path.cumulative[piece.run("lower").start]
        middle = 0.0 if on_fold else 2 * waist
        assert at - start == pytest.approx(middle + waist, abs=1e-9)
        assert ("middle" in marks) == (not on_fold)


@pytest.mark.parametrize(
    "chain",
    ["sleeve:hem", "trousers-front:hem + trousers-back:hem", "front:armhole + back:armhole"],
)
@pytest.mark.parametrize("on_fold", [True, False])
def test_a_band_round_an_arm_or_a_leg_is_for_one_of_them(chain: str, on_fold: bool) -> None:
    # The edges measured by shapely, along their chords.
    pattern = drawn("basic-set")
    edges = []
    for part in chain.split(" + "):
        name, run = part.split(":")
        piece = pattern.piece(name)
        path = piece.outline.run_path(piece.run(run))
        edges.append(shapely.LineString(flatten(path, 0.001)).length)
    made = band(pattern, for_=chain, height="3 cm", on_fold=on_fold)
    cuff = made.piece("band")
    assert length(cuff, "lower") == pytest.approx(sum(edges) / (1 + on_fold), abs=0.05)
    match = match_seam(made, next(s for s in made.seams if s.name == "band-lower"))
    assert match.first.length == pytest.approx(match.second.length, abs=1e-6)
    start = float(cuff.outline.path.cumulative[cuff.run("lower").start])
    at = {n.name: cuff.outline.arc_length_of(n.at) - start for n in cuff.notches}
    told = {} if on_fold else {f"seam-{k}": sum(edges[:k]) for k in range(1, len(edges))}
    assert {n: d for n, d in at.items() if n and n != "middle"} == pytest.approx(told, abs=0.05)


@pytest.mark.parametrize(("cut", "codes"), [(1, ["band-once"]), (2, [])])
def test_a_cuff_that_is_cut_once_is_told(cut: int, codes: list[str]) -> None:
    pattern = drawn("basic-set")
    done = do(pattern, "band", for_="sleeve:hem", height="3 cm", cut=cut)
    assert [f.code for f in done.findings] == codes


def test_a_doubled_band_has_its_fold_line_at_its_height() -> None:
    made = band(both_halves(), for_="front:waist + back:waist", height="3 cm", doubled=True)
    piece = made.piece("band")
    assert piece.bounds[3] - piece.bounds[1] == pytest.approx(60)
    (line,) = piece.marks
    assert line.path.start[1] - piece.bounds[1] == pytest.approx(30)


@pytest.mark.parametrize(("over", "longer"), [("right", "left"), ("left", "right")])
def test_the_end_that_laps_over_is_the_wearers(over: str, longer: str) -> None:
    # The middle lies in front: on the band as drawn the wearer's right is left.
    made = band(
        both_halves(),
        for_="front:waist + back:waist",
        height="3 cm",
        overlap="4 cm",
        underlap="1 cm",
        over=over,
    )
    piece = made.piece("band")
    x = {p.name: piece.outline.vertex_at(p.vertex)[0] for p in piece.outline.points}
    laps = {
        "right": x["lower-right"] - x["end-right"],
        "left": x["end-left"] - x["lower-left"],
    }
    assert laps[longer] == pytest.approx(40)
    assert sorted(laps.values()) == pytest.approx([10, 40])
    # What laps is not sewn to the waist.
    match = match_seam(made, next(s for s in made.seams if s.name == "band-lower"))
    assert match.first.length == pytest.approx(match.second.length, abs=1e-9)


def test_pleats_are_closed_and_gathers_count_as_gathered() -> None:
    front = bodice()
    pleated = replace(front, darts=(), pleats=(Pleat("p", 1, 3),))
    made = band(Pattern((pleated,)), for_="front:waist", height="3 cm", on_fold=True)
    assert length(made.piece("band"), "lower") == pytest.approx(
        pleated.sewn_length(pleated.run("waist"))
    )
    skirt = replace(front.transformed(affine.scaling(1.5)), name="skirt")
    seams = (parse_seam("waist: skirt:waist = front:waist, gather 50%"),)
    made = band(
        Pattern((front, skirt), seams=seams), for_="skirt:waist", height="3 cm", on_fold=True
    )
    assert length(made.piece("band"), "lower") == pytest.approx(
        front.sewn_length(front.run("waist"))
    )


def test_in_every_size_of_the_demo() -> None:
    sizes = ["8", "10", "12", "14", "16"]
    made = band(
        nest("supper-top", *sizes),
        for_="front:waist + back:waist",
        height="1 1/2 in",
        name="waistband",
    )
    seam = next(s for s in made.seams if s.name == "waistband-lower")
    for size in sizes:
        match = match_seam(made, seam, size)
        assert match.first.length == pytest.approx(match.second.length, abs=1e-6), size


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"height": "3 cm"}, "needs one of both"),
        ({"height": "3 cm", "length": "70 cm", "for_": "front:waist"}, "needs one of both"),
        ({"height": "3 cm", "length": "70 cm", "slant": "40 cm"}, "leaves nothing"),
        ({"height": "3 cm", "for_": "front:brim"}, "brim"),
        ({"height": "3 cm", "for_": "frnt:waist"}, "frnt"),
        ({"height": "3 cm", "length": "70 cm", "name": "front"}, "already"),
        ({"height": "3 cm", "length": "70 cm", "on_fold": True, "overlap": "2 cm"}, "both ends"),
        ({"height": "-3 cm", "length": "70 cm"}, "height"),
        ({"height": "3 cm", "for_": "front:waist + front:waist"}, "named twice"),
        ({"height": "3 cm", "for_": "front:waist, back:waist"}, 'joined by "+"'),
    ],
)
def test_bands_that_cannot_be(given: dict[str, Any], said: str) -> None:
    with pytest.raises(SizewrightError) as caught:
        band(Pattern((bodice(),)), **given)
    assert said in f"{caught.value} {caught.value.cure}"


@pytest.mark.parametrize("on_fold", [True, False])
@pytest.mark.parametrize("laps", [{}, {"overlap": "2 cm", "underlap": "2 cm"}])
def test_a_shaped_band_follows_the_edges_as_they_are_sewn(
    on_fold: bool, laps: dict[str, str]
) -> None:
    pattern = both_halves()
    given: dict[str, Any] = {"for_": "front:waist + back:waist", "height": "3 cm", **laps}
    made = band(pattern, **given, on_fold=on_fold, shaped=True)
    piece, straight = made.piece("band"), band(pattern, **given, on_fold=on_fold).piece("band")
    assert length(piece, "lower") == pytest.approx(length(straight, "lower"), abs=1e-6)
    assert seam_off(made, "lower") == pytest.approx(0, abs=1e-6)
    assert {n.name for n in piece.notches} == {n.name for n in straight.notches}
    # The upper edge is 3 cm away everywhere.
    path = piece.outline.path
    lower, upper = (
        shapely.LineString(flatten(piece.outline.run_path(piece.run(r)), 0.002))
        for r in ("lower", "upper")
    )
    if not laps:
        assert shapely.hausdorff_distance(lower, upper) < 31
        assert lower.distance(upper) == pytest.approx(30, abs=0.01)
    assert shapely.Polygon(flatten(path, 0.01)).is_valid
    assert (piece.fold is not None) == on_fold
    assert piece.grain is not None
    grain = shapely.LineString([piece.grain.start, piece.grain.end])
    assert shapely.Polygon(flatten(path, 0.01)).contains(grain)


def test_a_shaped_band_of_a_round_edge_is_a_ring() -> None:
    # Exact: an edge of radius 300 and angle 60 degrees under a band 40 high, whose upper edge
    # has the radius 260 and is shorter by 40 times the angle.
    outer = Path.of(circular_arc((0.0, 0.0), 300.0, 30.0, 90.0), closed=False)
    inner = Path.of(circular_arc((0.0, 0.0), 300.0, 90.0, 30.0), closed=False)
    assert outer.length == pytest.approx(inner.length)
    top = Path.of(circular_arc((0.0, 0.0), 300.0, 330.0, 270.0), closed=False)
    low = Path.of(circular_arc((0.0, 0.0), 700.0, 270.0, 330.0), closed=False)
    sides = Path.polyline([low.end, top.start]), Path.polyline([top.end, low.start])
    path = Path.join([low, sides[0], top, sides[1]], closed=True)
    n = len(low)
    runs = [Run(n + 1, n + 1 + len(top), "waist")]
    fold = Fold(n + 1 + len(top), 0)
    skirt = Piece("skirt", Outline.of(path, runs=runs), kind="sew", fold=fold)
    made = band(Pattern((skirt,)), for_="skirt:waist", height="4 cm", on_fold=True, shaped=True)
    piece = made.piece("band")
    assert length(piece, "lower") == pytest.approx(300 * np.pi / 3, abs=0.01)
    assert length(piece, "upper") == pytest.approx(260 * np.pi / 3, abs=0.02)
    assert piece.outline.path.area == pytest.approx((300**2 - 260**2) * np.pi / 6, rel=1e-4)


@pytest.mark.parametrize("slant", [25.0, 0.01, -25.0])
def test_a_shaped_band_with_a_slant_is_a_part_of_a_ring(slant: float) -> None:
    # By the sum for a ring: its area is the mean of its edges times its height, and by shapely
    # its edges lie the height apart everywhere.
    made = band(
        Pattern((bodice(),)),
        length="40 cm",
        height="4 cm",
        slant=f"{slant} mm",
        on_fold=True,
        shaped=True,
    )
    piece = made.piece("band")
    path = piece.outline.path
    assert length(piece, "lower") == pytest.approx(200, abs=1e-3)
    assert length(piece, "upper") == pytest.approx(200 - slant, abs=1e-3)
    assert length(piece, "end") == pytest.approx(40, abs=1e-6)
    assert path.area == pytest.approx(40 * (200 - slant / 2), rel=1e-5)
    corners = [piece.outline.vertex(f"{n}-{m}") for n in ("lower", "upper") for m in ENDS]
    assert path.turns[corners] == pytest.approx([90.0] * 4, abs=1e-4)
    low, high = (
        path.at(path.cumulative[run.start] + np.linspace(0, piece.outline.run_length(run), 501))
        for run in (piece.run("lower"), piece.run("upper"))
    )
    apart = shapely.distance(shapely.LineString(low), shapely.points(high))
    assert apart == pytest.approx(np.full(501, 40.0), abs=1e-3)


def test_a_ring_between_two_edges_is_as_long_as_both() -> None:
    made = band(
        both_waists(),
        for_="front-skirt:waist + back-skirt:waist",
        for_upper="front:waist",
        height="30 cm",
        shaped=True,
    )
    (lower, upper) = (
        next(s for s in made.seams if s.name == f"band-{n}") for n in ("lower", "upper")
    )
    for seam in (lower, upper):
        assert match_seam(made, seam).off == pytest.approx(0, abs=1e-3)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"length": "70 cm"}, "Say for"),
        ({"length": "70 cm", "slant": "1 cm", "doubled": True}, "doubled"),
        ({"for_": "front:waist", "doubled": True}, "leave"),
        ({"for_": "front:waist + back:shoulder"}, "no seam joins"),
    ],
)
def test_shaped_bands_that_cannot_be(given: dict[str, Any], said: str) -> None:
    with pytest.raises(SizewrightError) as caught:
        band(both_halves(), height="3 cm", shaped=True, **given)
    assert said in f"{caught.value} {caught.value.cure}"


def both_waists() -> Pattern:
    """Front and back, each sewn at its waist to a skirt of the same shape turned down."""
    pattern = both_halves()
    skirts = []
    for piece in pattern.pieces:
        skirt = piece.transformed(affine.translation(0, -900))
        skirts.append(replace(skirt, name=f"{piece.name}-skirt"))
    seams = (
        *pattern.seams,
        parse_seam("skirt-side: front-skirt:side = back-skirt:side"),
        parse_seam("waist: front-skirt:waist + -back-skirt:waist = front:waist + -back:waist"),
    )
    return Pattern((*pattern.pieces, *skirts), seams=seams)


def waist_of(pattern: Pattern) -> str | None:
    return next((format_seam(s) for s in pattern.seams if s.name == "waist"), None)


def test_a_band_parts_only_what_it_lies_between() -> None:
    pattern, asked = both_waists(), {"height": "3 cm", "on_fold": True}
    front = band(
        pattern, for_="front-skirt:waist", for_upper="front:waist", name="band-front", **asked
    )
    assert waist_of(front) == "waist: -back-skirt:waist = -back:waist"
    both = band(front, for_="back-skirt:waist", for_upper="back:waist", name="band-back", **asked)
    assert waist_of(both) is None
    whole = band(
        pattern,
        for_="front-skirt:waist + back-skirt:waist",
        for_upper="front:waist + back:waist",
        **asked,
    )
    assert waist_of(whole) is None


def test_a_band_for_one_half_leaves_the_seam_of_both() -> None:
    # Whole pieces: each waist is sewn from side to side, but only the fronts get a band.
    pattern = both_waists()
    seams = tuple(
        parse_seam("waist: 2 x front-skirt:waist = 2 x front:waist") if s.name == "waist" else s
        for s in pattern.seams
    )
    whole = replace(pattern, seams=seams).replacing(lambda p: replace(p, fold=None))
    given = {"for": "front-skirt:waist", "for_upper": "front:waist", "height": "3 cm"}
    outcome = do(whole, "band", **given)
    assert waist_of(outcome.pattern) == "waist: 2 x front-skirt:waist = 2 x front:waist"
    (told,) = [f for f in outcome.findings if f.code == "band-in-part"]
    assert told.level == "warn"
    assert "2 x front-skirt:waist" in told.cure


@pytest.mark.parametrize("shaped", [False, True])
@pytest.mark.parametrize(
    ("on_fold", "laps"),
    [
        (False, {"overlap": "2 cm"}),
        (False, {"underlap": "3 cm"}),
        (False, {"overlap": "2 cm", "underlap": "3 cm"}),
        (True, {"overlap": "2 cm", "underlap": "2 cm"}),
    ],
)
def test_laps_lie_free_of_both_edges(on_fold: bool, laps: dict[str, str], shaped: bool) -> None:
    made = band(
        both_waists(),
        for_="front-skirt:waist + back-skirt:waist",
        for_upper="front:waist + back:waist",
        height="3 cm",
        on_fold=on_fold,
        shaped=shaped,
        **laps,
    )
    for edge in ("lower", "upper"):
        assert seam_off(made, edge) == pytest.approx(0, abs=1e-6)
    piece = made.piece("band")
    assert length(piece, "end") == pytest.approx(30, abs=0.01)
    free = piece.outline.path.length - sum(length(piece, run.name) for run in piece.outline.runs)
    centre = 30 if on_fold else 0
    assert free == pytest.approx(
        2 * sum(int(lap[0]) * 10 for lap in laps.values()) / (1 + on_fold) + centre, abs=1e-6
    )


@pytest.mark.parametrize("how", [{}, {"shaped": True}, {"doubled": True}, {"slant": "3 cm"}])
def test_its_ends_are_edges_that_can_be_sewn(how: dict[str, Any]) -> None:
    # Across the edge, twice that when doubled; on a slope by Pythagoras: 4, 3 and 5.
    across = {"doubled": 80.0, "slant": 50.0}.get(next(iter(how), ""), 40.0)
    how = {"for_": "front:waist + back:waist", "height": "4 cm"} | how
    whole = band(both_halves(), **how, overlap="2 cm").piece("band")
    assert [length(whole, end) for end in ("start", "end")] == pytest.approx([across, across])
    half = band(both_halves(), **how, on_fold=True).piece("band")
    assert length(half, "end") == pytest.approx(across)
    assert "start" not in {run.name for run in half.outline.runs}


@pytest.mark.parametrize(
    ("how", "code"), [({"slant": "8 cm"}, "band-leans"), ({"overlap": "80 cm"}, "band-laps")]
)
def test_bands_that_are_hardly_meant_raise_an_eyebrow(how: dict[str, Any], code: str) -> None:
    given = {"length": "60 cm", "height": "3 cm"} | how
    found = do(Pattern((bodice(),)), "band", **given).findings
    assert code in {f.code for f in found}
