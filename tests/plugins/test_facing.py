"""Facings have the shape of the edges that they finish."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from sizewright.errors import SizewrightError
from sizewright.geometry import Path, affine, flatten
from sizewright.model import (
    Dart,
    Fold,
    Notch,
    Outline,
    Pattern,
    Piece,
    Run,
    match_seam,
    parse_seams,
    sewn_joints,
)
from sizewright.plugin import Outcome
from tests.operations import do, judge, nest
from tests.shapes import bodice

SEAMS = "side: front:side = back:side; shoulder: front:shoulder = back:shoulder"


def facing(pattern: Pattern, **given: Any) -> Outcome:
    return do(pattern, "facing", **given)


def two(*, mirrored: bool = False) -> Pattern:
    """A front and a back that differ in the neck."""
    back = replace(bodice(), name="back")
    controls = back.outline.path.controls.copy()
    controls[7, 1:] = [(75, 400), (40, 390), (0, 390)]
    controls[8, 0] = (0, 390)
    back = replace(back, outline=back.outline.with_path(back.outline.path.with_controls(controls)))
    if mirrored:
        back = back.transformed(affine.mirror(np.zeros(2), np.array([0.0, 1.0])))
    back = back.transformed(affine.translation(700, 0))
    return Pattern((bodice(), back), seams=parse_seams(SEAMS))


def closes(made: Pattern, size: str | None = None) -> None:
    for seam in made.seams:
        match = match_seam(made, seam, size)
        assert match.off == pytest.approx(0, abs=1e-5), seam.name


def area(piece: Piece) -> shapely.Polygon:
    return shapely.Polygon(flatten(piece.outline.path, 0.005))


def test_a_facing_is_what_lies_within_its_width_of_the_edge() -> None:
    # shapely's buffer of the edge, within the piece.
    made = facing(Pattern((bodice(),)), along=["front:armhole"], width="4 cm").pattern
    piece, front = made.piece("front-facing"), bodice()
    edge = shapely.LineString(flatten(front.outline.run_path(front.run("armhole")), 0.005))
    strip = edge.buffer(40, cap_style="flat", quad_segs=64).intersection(area(front))
    # The ends on side and shoulder lie outside the flat buffer, by triangles of some mm.
    assert piece.area == pytest.approx(strip.area, rel=0.06)
    closes(made)


@settings(max_examples=15)
@given(st.floats(50, 130))
def test_its_end_lies_along_the_seam_beside_the_edge(degrees: float) -> None:
    # Exact: a facing 50 mm wide on a shoulder that meets the neck at 70 degrees is 53.2 mm
    # along it.
    rad = np.radians(degrees)
    side = np.array([np.cos(rad), np.sin(rad)]) * 200
    path = Path.polyline([(0, 0), (300, 0), (300 + side[0], side[1]), side], closed=True)
    outline = Outline.of(path, runs=[Run(0, 1, "neck"), Run(3, 0, "shoulder")])
    made = facing(
        Pattern((Piece("panel", outline, kind="sew"),)), along=["panel:neck"], width="5 cm"
    )
    piece = made.pattern.piece("panel-facing")
    along = piece.outline.run_length(piece.run("shoulder"))
    assert along == pytest.approx(50 / np.sin(rad), abs=1e-6)
    assert 50 / np.sin(np.radians(70)) == pytest.approx(53.2, abs=0.01)


def test_facings_that_are_sewn_together_are_as_wide_there() -> None:
    made = facing(two(), along=["front:neck", "back:neck"], width="5 cm").pattern
    closes(made)
    assert {s.name for s in made.seams} >= {
        "front-facing-neck",
        "back-facing-neck",
        "facing-shoulder",
    }
    front = made.piece("front-facing")
    assert front.fold is not None
    assert [(q.material, q.count) for q in front.quantity] == [("main", 1), ("interfacing", 1)]


@pytest.mark.parametrize("mirrored", [False, True])
def test_one_piece_over_the_shoulder(mirrored: bool) -> None:
    pattern = two(mirrored=mirrored)
    outcome = facing(pattern, along=["front:neck", "back:neck"], width="5 cm", one_piece=True)
    assert outcome.drafted == ("facing",)
    closes(outcome.pattern)
    piece = outcome.pattern.piece("facing")
    necks = [
        pattern.piece(n).outline.run_length(pattern.piece(n).run("neck")) for n in ("front", "back")
    ]
    runs = {r.name: piece.outline.run_length(r) for r in piece.outline.runs}
    assert sum(runs[n] for n in runs if n and n.endswith("neck")) == pytest.approx(sum(necks))
    assert not any(r.name == "shoulder" for r in piece.outline.runs)
    assert "two-folds" in {f.code for f in outcome.findings}


def test_an_all_in_one_facing_of_neck_and_armhole() -> None:
    outcome = facing(two(), along=["front:neck", "front:armhole"], width="8 cm")
    piece = outcome.pattern.piece("front-facing")
    names = {r.name for r in piece.outline.runs}
    assert {"neck", "armhole", "shoulder", "side"} <= names
    closes(outcome.pattern)
    with pytest.raises(SizewrightError, match="do not meet"):
        facing(two(), along=["front:neck", "front:armhole"], width="2 cm")


def test_darts_are_closed_in_it() -> None:
    made = facing(Pattern((bodice(),)), along=["front:waist"], width="5 cm").pattern
    piece, front = made.piece("front-facing"), bodice()
    assert not piece.darts
    assert piece.outline.run_length(piece.run("waist")) == pytest.approx(
        front.sewn_length(front.run("waist")), abs=1e-9
    )
    closes(made)
    short = replace(bodice(), darts=(Dart("waist", 1, 3, (105.0, 140.0), 2),))
    with pytest.raises(SizewrightError, match="the dart waist ends within"):
        facing(Pattern((short,)), along=["front:waist"], width="15 cm")


def test_short_of_its_free_ends_it_finishes_part_of_the_edge() -> None:
    made = facing(
        Pattern((bodice(),)), along=["front:armhole"], width="5 cm", shorter="1 cm"
    ).pattern
    closes(made)
    front, piece = made.piece("front"), made.piece("front-facing")
    faced = front.run("armhole-faced")
    whole = front.outline.run_length(front.run("armhole"))
    assert whole - front.outline.run_length(faced) == pytest.approx(20.4, abs=0.5)
    assert piece.outline.run_length(piece.run("armhole")) < whole


@pytest.mark.parametrize("mirrored", [False, True])
def test_short_of_its_free_ends_over_a_seam(mirrored: bool) -> None:
    made = facing(
        two(mirrored=mirrored),
        along=["front:armhole", "back:armhole"],
        width="5 cm",
        shorter="1 cm",
        one_piece=True,
    ).pattern
    closes(made)
    for name in ("front", "back"):
        outline = made.piece(name).outline
        faced = made.piece(name).run("armhole-faced")
        ends = {outline.point(faced.start).name, outline.point(faced.end).name}
        assert "shoulder-tip" in ends, "short of the side, not of the shoulder"
        assert "underarm" not in ends


def sizes() -> Pattern:
    """Front and back in three sizes, each 24 mm wider and 30 mm longer at the neck."""
    pieces = []
    for size, more in (("8", -2), ("12", 0), ("16", 2)):
        m = np.array([[1 + 0.05 * more, 0, 0], [0, 1 + 0.04 * more, 0]])
        pieces += [replace(p.transformed(m), size=size) for p in two().pieces]
    return Pattern(tuple(pieces), seams=parse_seams(SEAMS), base_size="12")


@pytest.mark.parametrize("one_piece", [False, True])
@pytest.mark.parametrize("edges", [["neck"], ["neck", "armhole"]])
def test_a_roll_in_every_size_lies_as_the_parallel_does(edges: list[str], one_piece: bool) -> None:
    # shapely's parallel of the sewn edge of the same facing without a roll, within it.
    how = {"along": [f"{p}:{e}" for e in edges for p in ("front", "back")], "width": "8 cm"}
    plain, made = (
        facing(sizes(), **how, one_piece=one_piece, roll=roll).pattern for roll in ("0 mm", "2 mm")
    )
    seams = [s for s in made.seams if s.ease]
    assert len(seams) == 2 * len(edges)
    for seam in seams:
        (own,) = seam.first
        for size in made.sizes:
            flat, piece = plain.piece(own.piece, size), made.piece(own.piece, size)
            was = flat.outline.run_path(flat.run(own.run))
            now = piece.outline.run_path(piece.run(own.run))
            ends = was.tangents(np.array([0.0, was.length]))
            long = Path.polyline([was.start - 9 * ends[0], *flatten(was, 0.001), was.end])
            line = shapely.LineString([*long.vertices, was.end + 9 * ends[1]])
            inward = line.parallel_offset(2, "left", resolution=64)
            shift = np.subtract(*(p.outline.run_path(p.run("inner")).start for p in (flat, piece)))
            there = shapely.LineString(flatten(now, 0.001) + shift)
            assert inward.buffer(0.02).covers(there)
            match = match_seam(made, seam, size)
            assert match.off == pytest.approx(0, abs=0.1)
            assert match.surplus == pytest.approx(there.length - line.length + 18, abs=0.02)


def test_a_roll_that_is_wrong_is_told() -> None:
    made = facing(sizes(), along=["front:neck", "back:neck"], width="5 cm", roll="2 mm").pattern
    flat = facing(sizes(), along=["front:neck", "back:neck"], width="5 cm").pattern
    names = {"front-facing", "back-facing"}
    wrong = made.replacing(lambda p: flat.piece(p.name, p.size) if p.name in names else p)
    told = [f for f in judge(wrong, "seams") if f.level == "fail"]
    assert {f.place for f in told} >= {"front-facing-neck", "back-facing-neck"}
    assert not [f for f in judge(made, "seams") if "facing" in f.place and f.level == "fail"]


@pytest.mark.parametrize("edge", ["neck", "inner"])
def test_a_facing_has_a_facing_too(edge: str) -> None:
    made = facing(two(), along=["front:neck", "back:neck"], width="5 cm").pattern
    along = [f"front-facing:{edge}", f"back-facing:{edge}"]
    made = facing(made, along=along, width="2 cm", name="second", shorter="5 mm").pattern
    closes(made)
    names = {run.name for run in made.piece("front-facing-second").outline.runs}
    assert {edge, "inner-edge" if edge == "inner" else "inner"} <= names
    # It is turned back on the first: no edge of one runs on into the other, that of its mates does.
    kinks = {joint.seam for joint in sewn_joints(made) if joint.kink is not None}
    assert "second-facing-shoulder" in kinks
    assert not kinks & {f"{piece}-facing-second-{edge}" for piece in ("front", "back")}


def test_a_roll_takes_its_notches_along() -> None:
    front = bodice()
    way = front.outline.path.cumulative[7] + 40.0
    front = replace(front, notches=(Notch(front.outline.spot(float(way)), name="gather"),))
    made = facing(Pattern((front,)), along=["front:neck"], width="5 cm", roll="2 mm").pattern
    piece = made.piece("front-facing")
    (notch,) = piece.notches
    run = piece.run("neck")
    along = piece.outline.arc_length_of(notch.at) - piece.outline.path.cumulative[run.start]
    share = 40.0 / front.outline.run_length(front.run("neck"))
    assert along == pytest.approx(share * piece.outline.run_length(run), abs=1e-6)


def test_in_every_size_of_the_demo_it_fits_and_takes_the_place_of_the_old() -> None:
    sizes = ["8", "10", "12", "14", "16"]
    graded = nest("supper-top", *sizes)
    old = [n for n in dict.fromkeys(graded.names) if "facing" in n]
    made = facing(graded, along=["front:neck"], width="2 in", replaces=old[:1]).pattern
    assert made.names.count(old[0]) == 1
    for size in sizes:
        seam = next(s for s in made.seams if s.name == f"{old[0]}-neck")
        assert match_seam(made, seam, size).off == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"along": ["neck"], "width": "5 cm"}, "whose edge"),
        ({"along": ["front:nek"], "width": "5 cm"}, "nek"),
        ({"along": ["front:neck"], "width": "60 cm"}, "smaller width"),
        ({"along": ["front:neck"], "width": "5 cm", "replaces": ["cuff"]}, "cuff"),
        (
            {"along": ["front:neck", "back:side"], "width": "4 cm", "one_piece": True},
            "no seam joins",
        ),
        ({"along": ["front:neck", "front:waist"], "width": "4 cm"}, "too far apart"),
        ({"along": ["front:neck", "front:neck"], "width": "4 cm"}, "named twice"),
        ({"along": ["front:neck"], "width": "4 cm", "name": ""}, "need a name"),
        ({"along": ["front:neck"], "width": "4 cm", "roll": "4 cm"}, "leaves nothing"),
        ({"along": ["front:armhole"], "width": "4 cm", "shorter": "40 cm"}, "leaves nothing"),
    ],
)
def test_facings_that_cannot_be(given: dict[str, Any], said: str) -> None:
    with pytest.raises(SizewrightError) as caught:
        facing(two(), **given)
    assert said in f"{caught.value} {caught.value.cure}"


@pytest.mark.parametrize(
    ("width", "fold", "told"), [("6 cm", 0, 1), ("4 cm", 0, 0), ("6 cm", 1, 0)]
)
def test_a_facing_over_half_its_piece_raises_an_eyebrow(width: str, fold: int, told: int) -> None:
    # 100 mm wide: 60 mm are more than half, but not where the cloth goes on past a fold.
    path = Path.polyline([(0, 0), (100, 0), (100, 300), (0, 300)], closed=True)
    strap = Piece("strap", Outline.of(path, runs=[Run(1, 2, "side")]), kind="sew")
    strap = replace(strap, fold=Fold(3, 0) if fold else None)
    found = facing(Pattern((strap,)), along=["strap:side"], width=width).findings
    assert [f.code for f in found] == ["facing-wide"] * told
