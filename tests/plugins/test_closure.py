"""Buttons, buttonholes, loops and zips on the edges that they close."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
import shapely.affinity

from sizewright.errors import SizewrightError
from sizewright.geometry import Path, flatten
from sizewright.model import Fold, Mark, Outline, Pattern, Piece, Point, Run, parse_seams
from sizewright.plugin import Outcome
from tests.operations import do, drawn

INCH = 25.4


def panel(name: str = "front", *, flip: bool = False, pair: bool = True) -> Piece:
    """A rectangle 200 by 500 whose left side closes (the right one of a flipped piece)."""
    path = Path.polyline([(0, 0), (200, 0), (200, 500), (0, 500)], closed=True)
    runs = [Run(3, 0, "edge"), Run(1, 2, "side")]
    if flip:
        runs = [Run(1, 2, "edge"), Run(3, 0, "side")]
    points = [Point(0, "low"), Point(3, "high")]
    return Piece(name, Outline.of(path, points=points, runs=runs), kind="sew", pair=pair)


def heights(piece: Piece) -> list[float]:
    return [drill.at[1] for drill in piece.drills]


@pytest.mark.parametrize("given", [{"count": 5}, {"spacing": "11 cm"}])
def test_buttons_are_spaced_evenly_from_first_to_last(given: dict[str, Any]) -> None:
    made = do(
        Pattern((panel(),)), "closure", along=["front:edge"], size="12 mm", first="2 cm",
        last="4 cm", **given,
    )  # fmt: skip
    piece = made.pattern.piece("front")
    assert heights(piece) == pytest.approx(np.linspace(480, 40, 5))
    assert {drill.side for drill in piece.drills} == {"left"}
    # A stand of half a button and 1/4 in: common practice.
    stand = 6 + INCH / 4
    assert [d.at[0] for d in piece.drills] == pytest.approx([stand] * 5)
    assert made.findings == ()
    # A buttonhole is as long as the button's diameter and thickness: common practice.
    holes = [m for m in piece.marks if m.kind == "buttonhole"]
    assert [m.path.length for m in holes] == pytest.approx([15.0] * 5)
    assert [m.path.start[0] for m in holes] == pytest.approx([stand - INCH / 8] * 5)
    assert [m.path.start[1] for m in holes] == pytest.approx(heights(piece))
    assert {m.side for m in holes} == {"right"}


def test_over_and_side_are_the_wearers() -> None:
    given = {"along": ["front:edge"], "size": "12 mm", "count": 3}
    piece = do(Pattern((panel(),)), "closure", **given, over="left").pattern.piece("front")
    assert {d.side for d in piece.drills} == {"right"}
    assert {m.side for m in piece.marks} == {"left"}
    piece = do(Pattern((panel(),)), "closure", **given, side="right").pattern.piece("front")
    assert piece.drills == ()
    assert len(piece.marks) == 3


def test_two_edges_are_matched_from_their_upper_ends() -> None:
    pattern = Pattern((panel("front"), panel("back", flip=True)))
    made = do(
        pattern, "closure", along=["front:edge", "back:edge"], size="1 cm", count=4, side="left"
    ).pattern
    front, back = made.piece("front"), made.piece("back")
    assert not front.drills
    assert not back.marks
    assert [m.path.start[1] for m in front.marks] == pytest.approx(heights(back))
    assert {d.side for d in back.drills} == {"left"}
    stand = 5 + INCH / 4
    assert [d.at[0] for d in back.drills] == pytest.approx([200 - stand] * 4)


def test_a_drawn_centre_line_has_the_buttons() -> None:
    pattern = drawn("supper-top")
    made = do(pattern, "closure", along=["back:centre-back"], size="15 mm", count=5)
    back = made.pattern.piece("back")
    (centre,) = [m for m in back.marks if m.kind == "centre-back"]
    line = shapely.LineString(centre.path.vertices)
    assert all(line.distance(shapely.Point(d.at)) < 1e-6 for d in back.drills)
    assert len(back.drills) == 5
    # 15 mm of stand hold half a button of 15 mm and 1/4 in; not those of 20 mm.
    assert made.findings == ()
    told = do(pattern, "closure", along=["back:centre-back"], size="20 mm", count=5).findings
    assert [f.code for f in told] == ["stand-narrow"]


def test_loops_lie_on_the_edge_and_are_as_high_as_their_buttons() -> None:
    made = do(
        Pattern((panel(),)), "closure", along=["front:edge"], kind="loops", size="1 cm", count=3
    ).pattern
    piece = made.piece("front")
    loops = [m for m in piece.marks if m.kind == "loop"]
    assert [m.path.length for m in loops] == pytest.approx([10.0] * 3)
    assert [m.path.bounds[0] for m in loops] == pytest.approx([0.0] * 3)
    assert [d.at[0] for d in piece.drills] == pytest.approx([0.0] * 3)


def test_buttons_closer_than_their_size_are_told() -> None:
    (told,) = do(
        Pattern((panel(),)), "closure", along=["front:edge"], size="20 mm", count=40
    ).findings
    assert told.code == "buttons-close"


def zipped(**given: Any) -> Outcome:
    seams = parse_seams("side: front:side = back:side")
    pattern = Pattern((panel("front"), panel("back", flip=True)), seams=tuple(seams))
    pattern = do(pattern, "seam-allowance", width="1 cm").pattern
    return do(pattern, "closure", along=["front:side"], kind="zip", **given)


def test_a_zip_ends_at_one_place_on_both_pieces() -> None:
    made = zipped(length="20 cm", first="1 cm", side="left").pattern
    for name, x in (("front", 200), ("back", 0)):
        piece = made.piece(name)
        zip_run = piece.run("zip")
        assert piece.outline.run_length(zip_run) == pytest.approx(200)
        ends = {
            notch.name: piece.outline.path.at(piece.outline.arc_length_of(notch.at))
            for notch in piece.notches
        }
        assert ends["zip-begins"] == pytest.approx([x, 490])
        assert ends["zip-end"] == pytest.approx([x, 290])
        assert {notch.side for notch in piece.notches} == {"left"}
        (stop,) = piece.marks
        assert (stop.kind, stop.side) == ("zip stop", "left")
        assert stop.path.start == pytest.approx([x, 290])
        # Workroom rule (Threads 200): 3/4 in beside a zip, stepping to 1/2 in where it ends.
        assert piece.cut_line is not None
        area = shapely.Polygon(flatten(piece.cut_line.path, 0.005))
        outward = 1 if x else -1
        for y, wide in ((480, 0.75), (300, 0.75), (280, 0.5), (20, 0.5)):
            ray = shapely.LineString([(x, y), (x + outward * 60, y)])
            assert ray.intersection(area).length == pytest.approx(wide * INCH, abs=0.01)


@pytest.mark.parametrize("length", ["20 cm", "50 cm"])
def test_two_zips_on_one_stretch_are_told(length: str) -> None:
    made = zipped(length=length, side="left").pattern
    given: dict[str, Any] = {"along": ["front:side"], "kind": "zip", "length": "10 cm"}
    again = do(made, "closure", **given, name="other")
    assert "zip-and-pocket" in {f.code for f in again.findings}
    # On the other side of the wearer, or past its end, there is room.
    there = do(made, "closure", **given, name="other", side="right")
    assert "zip-and-pocket" not in {f.code for f in there.findings}
    if length == "20 cm":
        below = do(made, "closure", **given, name="other", first="20 cm")
        assert "zip-and-pocket" not in {f.code for f in below.findings}


def test_a_pocket_beside_a_zip_over_the_whole_edge_is_told() -> None:
    made = zipped(length="50 cm").pattern
    told = do(
        made, "pocket", at="front: 10 cm along side from #3", kind="inseam", width="9 cm",
        depth="16 cm", opening="9 cm",
    ).findings  # fmt: skip
    assert {f.code for f in told} == {"zip-and-pocket"}


@pytest.mark.parametrize("kind", ["buttons", "loops"])
def test_the_same_buttons_twice_are_refused(kind: str) -> None:
    given: dict[str, Any] = {"along": ["front:edge"], "size": "1 cm", "count": 3, "kind": kind}
    made = do(Pattern((panel(),)), "closure", **given).pattern
    with pytest.raises(SizewrightError) as caught:
        do(made, "closure", **given)
    assert "name =" in caught.value.cure
    others = do(made, "closure", **{**given, "along": ["front:side"]}, name="cuff").pattern
    assert len(others.piece("front").drills) == 6


def test_a_spacing_that_there_is_no_room_for_is_told() -> None:
    given: dict[str, Any] = {"along": ["front:edge"], "size": "1 cm"}
    (told,) = do(Pattern((panel(),)), "closure", **given, spacing="90 cm").findings
    assert told.code == "buttons-apart"
    assert do(Pattern((panel(),)), "closure", **given, spacing="9 cm").findings == ()


def test_a_zip_over_a_dart_is_told() -> None:
    pattern = drawn("basic-set")
    given: dict[str, Any] = {"along": ["front:side"], "kind": "zip"}
    long = do(pattern, "closure", **given, length="18 cm").findings
    assert {f.place for f in long if f.code == "zip-over-dart"} == {"zip"}
    short = do(pattern, "closure", **given, length="4 cm").findings
    assert "zip-over-dart" not in {f.code for f in short}


@pytest.mark.parametrize("side", ["left", "right"])
def test_beside_an_opened_front_only_one_of_the_backs_has_the_zip(side: str) -> None:
    back = panel("back", flip=True)
    seams = parse_seams("side: front:side = back:side")
    pattern = Pattern((half_front().piece("front"), back), seams=tuple(seams))
    pattern = do(pattern, "fold-marks", open=["front"]).pattern
    edge = "side" if side == "left" else "side-mirrored"
    given: dict[str, Any] = {"kind": "zip", "length": "20 cm"}
    for along, said in ((f"front:{edge}", {}), ("back:side", {"side": side})):
        made = do(pattern, "closure", along=[along], **given, **said).pattern
        assert {n.side for n in made.piece("back").notches} == {side}
        (stop,) = [m for m in made.piece("front").marks if m.kind == "zip stop"]
        assert (stop.path.start[0] > 0) == (side == "left")
    with pytest.raises(SizewrightError, match="one on each side"):
        do(pattern, "closure", along=["back:side"], **given)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"along": ["edge"], "size": "1 cm", "count": 2}, "whose edge"),
        ({"along": ["front:egde"], "size": "1 cm", "count": 2}, "egde"),
        ({"along": ["front:edge"], "count": 2}, "how large"),
        ({"along": ["front:edge"], "size": "1 cm"}, "so far apart"),
        ({"along": ["front:edge"], "size": "1 cm", "count": 2, "spacing": "1 cm"}, "apart"),
        ({"along": ["front:edge"], "size": "1 cm", "count": 2, "first": "80 cm"}, "50 cm"),
        ({"along": ["front:edge"], "size": "1 cm", "count": 2, "first": "brim"}, "brim"),
        ({"along": ["front:edge"], "size": "1 cm", "count": 2, "first": "20"}, "unit"),
        ({"along": ["front:edge"], "kind": "zip"}, "how long"),
        ({"along": ["front:edge"], "kind": "zip", "length": "70 cm"}, "shorter zip"),
        ({"along": ["front:edge"], "kind": "zip", "length": "9 cm", "count": 3}, "no count"),
        ({"along": ["front:edge"], "size": "1 cm", "count": 3, "length": "9 cm"}, "no length"),
        ({"along": ["front:edge"], "size": "30 cm", "count": 2}, "smaller buttons"),
        (
            {
                "along": ["front:edge"],
                "size": "1 cm",
                "count": 2,
                "first": "40 cm",
                "last": "20 cm",
            },
            "10 cm · ≈ 3 15/16 in above the first",
        ),
    ],
)
def test_closures_that_cannot_be(given: dict[str, Any], said: str) -> None:
    with pytest.raises(SizewrightError) as caught:
        do(Pattern((panel(),)), "closure", **given)
    assert said in f"{caught.value} {caught.value.cure}"


def test_a_place_tells_the_first_and_the_centre_of_a_mark_is_kept() -> None:
    mark = Mark(Path.polyline([(20, 0), (20, 500)]), "centre-front", "centre-front")
    pattern = Pattern((replace(panel(), marks=(mark,)),))
    made = do(
        pattern, "closure", along=["front:edge"], size="1 cm", count=2,
        first="3 cm down edge from high", last="3 cm up edge from low",
    ).pattern  # fmt: skip
    at = np.array([drill.at for drill in made.piece("front").drills])
    assert at == pytest.approx(np.array([(20, 470), (20, 30)]))


# --- zips on one side, and over several edges -----------------------------------------------


def half_front() -> Pattern:
    """A front on the fold, the side seam at its right, with 1 cm of allowance."""
    path = Path.polyline([(0, 0), (200, 0), (200, 500), (0, 500)], closed=True)
    points = [Point(0, "low"), Point(1, "low-side"), Point(2, "high-side"), Point(3, "high")]
    runs = [Run(0, 1, "hem"), Run(1, 2, "side"), Run(2, 3, "top")]
    outline = Outline.of(path, points=points, runs=runs)
    piece = Piece("front", outline, kind="sew", fold=Fold(3, 0))
    return do(Pattern((piece,)), "seam-allowance", width="1 cm").pattern


def beyond(piece: Piece, x: float, y: float, outward: int) -> float:
    """How far the cutting line lies outside a point of the sewing line, by shapely, mm."""
    assert piece.cut_line is not None
    area = shapely.Polygon(flatten(piece.cut_line.path, 0.005))
    ray = shapely.LineString([(x, y), (x + outward * 90, y)])
    return float(ray.intersection(area).length)


ZIP: dict[str, Any] = {"along": ["front:side"], "kind": "zip", "length": "20 cm"}


@pytest.mark.parametrize("side", ["left", "right", "both"])
def test_only_the_side_with_the_zip_is_wider_once_it_is_opened_out(side: str) -> None:
    made = do(half_front(), "closure", side=side, **ZIP)
    half = made.pattern.piece("front")
    # One line cuts both sides of a half: it is as wide as the wider of them needs.
    assert beyond(half, 200, 400, 1) == pytest.approx(0.75 * INCH, abs=0.01)
    assert beyond(half, 200, 100, 1) == pytest.approx(0.5 * INCH, abs=0.01)
    assert ("zip-cut-for-both" in {f.code for f in made.findings}) == (side != "both")
    opened = do(made.pattern, "fold-marks", open=["front"]).pattern
    whole = opened.piece("front")
    x0, _, x1, _ = whole.outline.path.bounds
    # A front is seen from outside: the wearer's left is at the right.
    for wearers, x, outward in (("left", x1, 1), ("right", x0, -1)):
        zipped_side = side in (wearers, "both")
        wide, rest = (0.75 * INCH, 0.5 * INCH) if zipped_side else (10.0, 10.0)
        assert beyond(whole, x, 400, outward) == pytest.approx(wide, abs=0.01)
        assert beyond(whole, x, 100, outward) == pytest.approx(rest, abs=0.01)
    # Closed and opened again it is as it was.
    again = do(do(opened, "fold-marks", close=["front"]).pattern, "fold-marks", open=["front"])
    one, other = (
        shapely.Polygon(flatten(p.cut_line.path, 0.005))
        for p in (whole, again.pattern.piece("front"))
    )
    other = shapely.affinity.translate(
        other, one.bounds[0] - other.bounds[0], one.bounds[1] - other.bounds[1]
    )
    assert one.symmetric_difference(other).area == pytest.approx(0, abs=1.0)


def test_a_side_on_which_the_edge_does_not_lie_is_refused() -> None:
    opened = do(half_front(), "fold-marks", open=["front"]).pattern
    with pytest.raises(SizewrightError) as caught:
        do(opened, "closure", side="right", **ZIP)
    assert "the wearer's left" in str(caught.value)
    assert "front:side-mirrored" in caught.value.cure
    right = do(opened, "closure", side="right", **{**ZIP, "along": ["front:side-mirrored"]})
    whole = right.pattern.piece("front")
    x0, _, x1, _ = whole.outline.path.bounds
    assert beyond(whole, x0, 400, -1) == pytest.approx(0.75 * INCH, abs=0.01)
    assert beyond(whole, x1, 400, 1) == pytest.approx(10, abs=0.01)


def test_a_zip_that_goes_on_past_its_edge_has_no_stop() -> None:
    made = zipped(length="20 cm", first="30 cm", side="left")
    for name, x, outward in (("front", 200, 1), ("back", 0, -1)):
        piece = made.pattern.piece(name)
        assert not piece.marks
        (notch,) = piece.notches
        at = piece.outline.path.at(piece.outline.arc_length_of(notch.at))
        assert (notch.name, at.tolist()) == ("zip-begins", pytest.approx([x, 200]))
        assert beyond(piece, x, 20, outward) == pytest.approx(0.75 * INCH, abs=0.01)
        assert beyond(piece, x, 400, outward) == pytest.approx(10, abs=0.01)
    assert "zip-goes-on" in {f.code for f in made.findings}
    # Over the whole of an edge, as the end of a band: wide all along, drawn along it, no stop.
    whole = zipped(length="50 cm").pattern.piece("front")
    assert [(m.kind, m.name) for m in whole.marks] == [("zip", "zip")]
    assert whole.marks[0].path.bounds == pytest.approx((195, 0, 195, 500))
    assert not whole.notches
    for y in (10, 250, 490):
        assert beyond(whole, 200, y, 1) == pytest.approx(0.75 * INCH, abs=0.01)
