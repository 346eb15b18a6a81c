"""Pieces cut along a line: area and lengths kept, darts in the seam, seams and notches declared."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely

from sizewright.errors import GeometryError, InputError, LookupFailed, SizewrightError, UsageError
from sizewright.geometry import Path, affine, nearest
from sizewright.grading import grade
from sizewright.model import (
    Dart,
    Grain,
    Outline,
    Pattern,
    Piece,
    Point,
    Quantity,
    Run,
    format_seam,
    match_seam,
    parse_seams,
)
from tests.operations import codes, do, drawn, nest, off, polygon, steps

YOKE = {
    "piece": "front",
    "through": ["armhole-middle", "2/3 along fold"],
    "parts": {"yoke": "neck-side", "lower": "waist-centre"},
}
PRINCESS = {
    "piece": "front",
    "through": ["1/3 along shoulder", "waist-dart-tip"],
    "parts": {"centre": "neck-side", "panel": "underarm"},
    "seam": "princess",
}


def test_area_lengths_and_seams_are_kept_in_every_size() -> None:
    before, after = nest("supper-top"), do(nest("supper-top"), "style-line", **YOKE).pattern
    assert "front" not in after.names
    for size in before.sizes:
        front, *parts = (
            before.piece("front", size),
            after.piece("yoke", size),
            after.piece("lower", size),
        )
        area = sum(part.outline.path.area for part in parts)
        assert area == pytest.approx(front.outline.path.area, rel=1e-12)
        shapes = [polygon(part) for part in parts]
        assert shapes[0].intersection(shapes[1]).area < 1.0
        assert shapes[0].union(shapes[1]).symmetric_difference(polygon(front)).area < 1.0
        assert off(after, size) == pytest.approx(off(before, size) | {"yoke": 0.0}, abs=1e-6)
        for part in parts:
            assert part.fold is not None
            assert not part.pair
            for run in part.outline.runs:
                if run.name in {r.name for r in front.outline.runs}:
                    assert part.outline.run_length(run) == pytest.approx(
                        front.outline.run_length(front.run(run.name)), abs=1e-9
                    )


def test_cut_then_graded_is_graded_then_cut() -> None:
    """Named places: to 1e-9 mm at corners, within 0.15 mm along curves."""
    rules = steps("supper-top")
    for asked in (YOKE, PRINCESS, PRINCESS | {"through": ["1/3 along shoulder", "bust-point"]}):
        if asked["through"][-1] == "bust-point":
            asked = asked | {"through": [*asked["through"], "waist-dart-tip"]}
        cut = do(drawn("supper-top"), "style-line", **asked).pattern
        first = grade(cut, rules, list(rules.sizes)).pattern
        then = do(nest("supper-top"), "style-line", **asked).pattern
        for size in rules.sizes:
            for name in asked["parts"]:
                a, b = (p.piece(name, size).outline for p in (first, then))
                assert a.corners == b.corners
                assert {p.name for p in a.points if p.name} == {p.name for p in b.points if p.name}
                corners = [*a.corners]
                apart = np.abs(a.path.vertices[corners] - b.path.vertices[corners]).max()
                assert apart < 1e-9, (asked["through"], name, size)
                for one, other in ((a.path, b.path), (b.path, a.path)):
                    way = one.at(np.linspace(0, one.length, 400))
                    assert nearest(other, way).distance.max() < 0.15


def test_a_dart_that_the_line_leads_to_goes_into_the_seam() -> None:
    before = nest("supper-top")
    done = do(before, "style-line", **PRINCESS)
    after = done.pattern
    assert "dart-in-seam" in codes(done)
    assert "now-a-pair" in codes(done)
    for size in before.sizes:
        front = before.piece("front", size)
        centre, panel = after.piece("centre", size), after.piece("panel", size)
        assert [d.name for d in centre.darts] == []
        assert [d.name for d in panel.darts] == ["bust"]
        assert panel.pair
        assert not centre.pair
        assert panel.quantity == (Quantity("main", 2),)
        # The waist is as long as it was sewn with its dart; the legs lie in the seam.
        assert off(after, size) == pytest.approx(off(before, size) | {"princess": 0.0}, abs=1e-4)
        tip = front.outline.vertex_at(front.outline.vertex("waist-dart-tip"))
        for part in (centre, panel):
            at = part.outline.vertex_at(part.outline.vertex("waist-dart-tip"))
            assert at == pytest.approx(tip, abs=1e-9)
        area = centre.outline.path.area + panel.outline.path.area
        assert area == pytest.approx(front.outline.path.area, rel=1e-12)


def darted() -> Pattern:
    """200 by 300, a dart of 40 from the right side at half its height with its tip 100 inside."""
    corners = [(0, 0), (200, 0), (200, 130), (100, 150), (200, 170), (200, 300), (0, 300)]
    names = [
        "low-left",
        "low-right",
        "dart-low",
        "dart-tip",
        "dart-high",
        "high-right",
        "high-left",
    ]
    outline = Outline.of(
        Path.polyline(corners, closed=True),
        points=[Point(k, name) for k, name in enumerate(names)],
        runs=[Run(0, 1, "hem"), Run(1, 5, "side"), Run(5, 6, "top")],
    )
    piece = Piece("block", outline, kind="sew", grain=Grain((40, 50), (40, 250)), pair=True)
    return Pattern((replace(piece, darts=(Dart("bust", 2, 4, (100.0, 150.0), 3),)),))


@pytest.mark.parametrize("over", [False, True])
@pytest.mark.parametrize("turn", [0.0, 37.0, 180.0])
def test_a_dart_that_the_line_passes_is_closed(turn: float, over: bool) -> None:
    """The turn is that between the legs: 2 atan(20 / 100)."""
    m = affine.compose(affine.rotation(turn), affine.scaling(-1.0 if over else 1.0, 1.0))
    pattern = darted().replacing(lambda p: p.transformed(m))
    done = do(
        pattern,
        "style-line",
        piece="block",
        through=["middle of hem", "dart-tip", "middle of top"],
        parts={"left": "low-left", "right": "low-right"},
        seam="cut",
    )
    right = done.pattern.piece("right")
    assert right.darts == ()
    assert right.outline.path.area == pytest.approx(200 * 300 / 2 - 40 * 100 / 2)
    assert right.sewn_length(right.run("side")) == pytest.approx(260)
    assert right.outline.run_length(right.run("cut")) == pytest.approx(300)
    at = [right.outline.vertex_at(right.outline.vertex(n)) for n in ("low-right", "high-right")]
    tip = right.outline.vertex_at(right.outline.vertex("dart-tip"))
    low, high = (np.hypot(*(p - tip)) for p in at)
    assert low == pytest.approx(np.hypot(100, 150))
    assert high == pytest.approx(np.hypot(100, 150))
    turned = np.degrees(2 * np.arctan2(20, 100))
    between = np.degrees(2 * np.arctan2(150, 100)) - turned
    a, b = (p - tip for p in at)
    assert np.degrees(np.arccos(a @ b / low / high)) == pytest.approx(between)
    assert match_seam(done.pattern, done.pattern.seams[0]).off == pytest.approx(0)
    assert shapely.Polygon(right.outline.path.vertices).is_valid


def test_every_notch_stands_20_cm_from_the_one_before() -> None:
    tall = Path.polyline([(0, 0), (300, 0), (300, 650), (0, 650)], closed=True)
    for name, count in (("front", 1), ("back", 2)):
        piece = Piece(name, Outline.of(tall, runs=[Run(0, 1, "hem"), Run(2, 3, "top")]), kind="sew")
        asked = {"piece": name, "through": ["middle of hem", "middle of top"]}
        asked["parts"] = {"a": "#1", "b": "#2"}
        (seam,) = do(Pattern((piece,)), "style-line", **asked).pattern.seams
        assert seam.name == "a"
        assert [n.along * 650 for n in seam.notches] == pytest.approx([200, 400, 600])
        assert {n.count for n in seam.notches} == {count}
        (seam,) = do(Pattern((piece,)), "style-line", notches=0, **asked).pattern.seams
        assert seam.notches == ()


def test_both_sides_of_the_seam_are_walked_alike() -> None:
    """Whichever way the parts count, the seam's ends meet: proved on places, not on lengths."""
    for a, b in (("armhole-middle", "1/2 along fold"), ("1/2 along neck", "1/2 along armhole")):
        asked = YOKE | {"through": [a, b], "parts": {"one": "shoulder-tip", "two": "waist-centre"}}
        after = do(drawn("supper-top"), "style-line", **asked).pattern
        seam = next(s for s in after.seams if s.name == "one")
        match = match_seam(after, seam)
        for share in (0.0, 0.3, 1.0):
            places = []
            for chain in (match.first, match.second):
                piece, s = chain.place(share * chain.length)
                places.append(piece.outline.path.at(s))
            assert places[0] == pytest.approx(places[1], abs=1e-6), format_seam(seam)


def test_a_part_that_is_not_named_is_dropped_and_told() -> None:
    done = do(drawn("supper-top"), "style-line", **(YOKE | {"parts": {"yoke": "neck-side"}}))
    assert "front" not in done.pattern.names
    assert "lower" not in done.pattern.names
    assert {"side", "waist"} <= {f.place for f in done.findings if f.code == "seam-gone"}
    assert "yoke" not in [s.name for s in done.pattern.seams]


def test_several_pieces_are_cut_alike() -> None:
    asked = {
        "pieces": ["peplum-front", "peplum-back"],
        "through": ["middle of top", "middle of hem"],
    }
    done = do(drawn("supper-top"), "style-line", parts={"inner": "hem-centre"}, **asked)
    assert {"peplum-front-inner", "peplum-back-inner"} <= {*done.pattern.names}


@pytest.mark.parametrize(
    ("change", "error", "words"),
    [
        (
            {"through": ["1/2 along armhole", "middle of waist"]},
            GeometryError,
            'cuts the dart "bust"',
        ),
        ({"through": ["underarm", "underarm"]}, GeometryError, "one place"),
        ({"through": ["underarm"]}, InputError, "two places"),
        ({"through": ["elbow", "underarm"]}, LookupFailed, "elbow"),
        ({"through": ["1/3 along neck", "2/3 along neck"]}, GeometryError, "outside the piece"),
        ({"parts": {}}, UsageError, "two parts"),
        ({"parts": {"a": "neck-side", "b": "neck-centre"}}, LookupFailed, "same part"),
        ({"parts": {"a": "elbow"}}, LookupFailed, "elbow"),
        ({"parts": {"back": "neck-side"}}, InputError, 'piece "back" already'),
        ({"seam": "waist"}, InputError, 'edge or run "waist" already'),
        ({"seam": "peplum-side"}, InputError, 'seam "peplum-side" already'),
        ({"piece": "skirt"}, LookupFailed, "skirt"),
        ({"piece": None}, UsageError, "which piece"),
        ({"beside": "neck", "by": "5 cm"}, InputError, "not both"),
    ],
)
def test_what_cannot_be_cut_says_why(
    change: dict[str, object], error: type[Exception], words: str
) -> None:
    asked = {k: v for k, v in (YOKE | change).items() if v is not None}
    with pytest.raises(error, match=words):
        do(drawn("supper-top"), "style-line", **asked)


def test_a_line_that_leaves_the_piece_tells_all_places() -> None:
    comb = [(0, 0), (300, 0), (300, 200), (200, 200), (200, 50), (100, 50), (100, 200), (0, 200)]
    names = Outline.of(Path.polyline(comb, closed=True), runs=[Run(3, 4, "slot")])
    with pytest.raises(GeometryError, match=r"near \(100, 67\) and near \(200, 133\) on slot"):
        do(
            Pattern((Piece("comb", names, kind="sew"),)),
            "style-line",
            piece="comb",
            through=["#1", "#3"],
            parts={"a": "#2"},
        )


def test_a_cutting_line_is_refused() -> None:
    piece = replace(drawn("supper-top").piece("front"), kind="cut")
    with pytest.raises(InputError, match=r"cutting line.*inward"):
        do(Pattern((piece,)), "style-line", **YOKE)


def test_any_line_across_the_basic_set_cuts_or_says_why() -> None:
    """From a third of every edge to a third of every other: area and seams are kept."""
    pattern = drawn("basic-set")
    was = off(pattern)
    done = 0
    for piece in pattern.pieces:
        outline = piece.outline
        for a, b in combinations([r for r in outline.runs if r.name], 2):
            parts = {"one": outline.reference(a.start), "two": outline.reference(a.end)}
            asked = {"through": [f"1/3 along {a.name}", f"1/3 along {b.name}"], "parts": parts}
            try:
                cut = do(pattern, "style-line", piece=piece.name, seam="new", **asked).pattern
            except SizewrightError as error:
                told = str(error)
                assert "leaves the piece" in told or "outside" in told or "cuts the dart" in told
                continue
            done += 1
            one, two = (cut.piece(name).outline.path.area for name in parts)
            assert one + two == pytest.approx(outline.path.area, rel=1e-12)
            assert polygon(cut.piece("one")).intersection(polygon(cut.piece("two"))).area < 1.0
            assert off(cut) == pytest.approx(was | {"new": 0.0}, abs=1e-6), (a, b)
    assert done > 40


def test_seams_follow_in_their_order() -> None:
    back = replace(drawn("supper-top").piece("front"), name="back")
    pattern = Pattern(
        (drawn("supper-top").piece("front"), back),
        seams=parse_seams("arm: front:armhole = back:armhole"),
    )
    after = do(pattern, "style-line", **YOKE).pattern
    assert format_seam(after.seams[0]) == "arm: -yoke:armhole-1 + lower:armhole-2 = back:armhole"
