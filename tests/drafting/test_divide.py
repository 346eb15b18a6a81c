"""Cutting a piece in two: nothing is lost, nothing changes but the cut."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from sizewright.drafting import Ring, Settled, divide, redraft
from sizewright.errors import GeometryError, LookupFailed
from sizewright.geometry import Path, affine, bezier, flatten, nearest
from sizewright.grading import grade, with_mixtures, with_rule_weights
from sizewright.model import (
    Adjust,
    Cutout,
    Drill,
    Grain,
    Label,
    Mark,
    Notch,
    Pattern,
    Piece,
    Quantity,
    Spot,
    find_place,
    format_chain,
    match_seam,
    parse_seams,
)
from tests.operations import drawn, steps
from tests.shapes import bodice, rectangle

PARTS = {"yoke": "neck-side", "lower": "waist-centre"}


def full() -> Piece:
    return replace(
        bodice(),
        grain=Grain((60, 150), (60, 300)),
        notches=(Notch(Spot(5, 30.0), name="front"), Notch(Spot(4, 50.0), name="side")),
        drills=(Drill((105, 155), "bust-point"), Drill((50, 370), "button")),
        marks=(Mark(Path.polyline([(30, 100), (30, 380)]), "stripe", "stripe"),),
        cutouts=(Cutout(rectangle(10, 10, 40, 60)),),
        labels=(Label("Front", (60, 100)), Label("Top", (60, 360))),
        adjusts=(Adjust(Path.polyline([(-20, 120), (300, 120)]), "waist-length"),),
    )


def cut(pattern: Pattern, a: str, b: str, parts: Mapping[str, str] = PARTS) -> Pattern:
    def edit(pieces: Mapping[str, Piece], _: Settled) -> Mapping[str, Ring]:
        piece = pieces["front"]
        ends = [piece.outline.path.at(find_place(piece, place)) for place in (a, b)]
        return divide(piece, Path.polyline(ends), parts, seam="yoke", step="cut")

    return redraft(pattern, ["front"], edit).pattern


@given(st.floats(0.05, 0.95), st.floats(0.3, 0.95), st.floats(-180, 180), st.booleans())
def test_area_and_lengths_are_kept_however_the_piece_lies(
    along: float, up: float, turn: float, over: bool
) -> None:
    m = affine.compose(affine.rotation(turn), affine.scaling(-1.0 if over else 1.0, 1.0))
    piece = full().transformed(m)
    places = (f"{along:.4%} along armhole", f"{up:.4%} along fold")
    try:
        after = cut(Pattern((piece,)), *places)
    except GeometryError:
        assume(False)
    yoke, lower = after.piece("yoke"), after.piece("lower")
    whole = piece.outline
    parts = (yoke.outline, lower.outline)
    assert sum(p.path.area for p in parts) == pytest.approx(whole.path.area, rel=1e-12)
    # The same by shapely, which knows nothing of spans.
    shapes = [shapely.Polygon(flatten(p.path, 0.01)) for p in (*parts, whole)]
    assert shapes[0].intersection(shapes[1]).area < 1e-6 * shapes[2].area
    armhole = yoke.outline.run("armhole-1"), lower.outline.run("armhole-2")
    both = yoke.outline.run_length(armhole[0]) + lower.outline.run_length(armhole[1])
    assert both == pytest.approx(whole.run_length(whole.run("armhole")), abs=1e-9)
    for part, name in ((yoke, "neck"), (yoke, "shoulder"), (lower, "side"), (lower, "waist")):
        # To the bit: these stretches lie still.
        assert np.array_equal(
            part.outline.run_path(part.outline.run(name)).controls,
            whole.run_path(whole.run(name)).controls,
        )
    edges = [p.run_length(p.run("yoke")) for p in parts]
    assert edges[0] == pytest.approx(edges[1], abs=1e-9)


@given(st.floats(-180, 180), st.booleans())
def test_drafting_does_not_mind_how_the_piece_lies(turn: float, over: bool) -> None:
    m = affine.compose(affine.rotation(turn), affine.scaling(-1.0 if over else 1.0, 1.0))
    places = ("1/3 along armhole", "3/4 along fold")
    # A grain with one end says which way is up, wherever that lies on the page.
    piece = replace(full(), grain=Grain((60, 150), (60, 300), 1))
    here = cut(Pattern((piece,)), *places)
    there = cut(Pattern((piece.transformed(m),)), *places)
    for name in PARTS:
        a, b = here.piece(name), there.piece(name)
        for point in a.outline.points:
            at = b.outline.vertex_at(b.outline.vertex(str(point.name)))
            moved = affine.apply(m, a.outline.vertex_at(point.vertex)[None])[0]
            assert at == pytest.approx(moved, abs=1e-6)
            assert b.outline.point(b.outline.vertex(str(point.name))).rule == point.rule
        assert {r.name for r in a.outline.runs} == {r.name for r in b.outline.runs}
        for run in a.outline.runs:
            length = b.outline.run_length(b.run(str(run.name)))
            assert length == pytest.approx(a.outline.run_length(run), abs=1e-6)
        for kind in ("notches", "drills", "marks", "cutouts", "labels", "adjusts", "darts"):
            assert len(getattr(a, kind)) == len(getattr(b, kind)), kind
        assert a.grain is not None
        assert b.grain is not None
        ends = affine.apply(m, np.array([a.grain.start, a.grain.end]))
        assert np.array([b.grain.start, b.grain.end]) == pytest.approx(ends, abs=1e-6)


def test_all_that_the_piece_bears_is_on_one_part_or_the_other() -> None:
    after = cut(Pattern((full(),)), "1/2 along armhole", "270 mm along fold")
    yoke, lower = after.piece("yoke"), after.piece("lower")
    assert {p.name for p in yoke.outline.points} == {
        *("yoke-armhole", "shoulder-tip", "neck-side", "neck-centre", "yoke-fold"),
    }
    assert {p.name for p in lower.outline.points} == {
        *("yoke-armhole", "yoke-fold", "waist-centre", "waist-side", "underarm"),
    }
    assert [n.name for n in yoke.notches] == []
    assert [n.name for n in lower.notches] == ["front", "side"]
    assert [d.name for d in yoke.drills] == ["button"]
    assert [d.name for d in lower.drills] == ["bust-point"]
    assert [d.name for d in lower.darts] == ["waist"]
    assert [x.text for x in yoke.labels] == ["Top"]
    assert [x.text for x in lower.labels] == ["Front"]
    assert lower.cutouts == full().cutouts
    # An adjust line that is drawn out over the edges is not cut at them.
    assert lower.adjusts == full().adjusts
    stripes = [part.marks[0].path for part in (yoke, lower)]
    assert sum(s.length for s in stripes) == pytest.approx(280.0)
    assert yoke.fold is not None
    assert lower.fold is not None
    assert yoke.grain is not None
    assert yoke.story[-1] == "cut"
    (ax, ay), (bx, by) = yoke.grain.start, yoke.grain.end
    assert ax == pytest.approx(bx)
    assert by > ay > 270


def test_a_part_off_the_fold_is_cut_as_a_pair() -> None:
    piece = replace(full(), marks=(), cutouts=())
    piece = replace(piece, quantity=(Quantity("main", 1),))
    parts = {"side-panel": "underarm", "middle": "waist-centre"}
    after = cut(Pattern((piece,)), "1/4 along shoulder", "80% along waist", parts)
    panel, middle = after.piece("side-panel"), after.piece("middle")
    assert panel.pair
    assert panel.quantity[0].count == 2
    assert panel.axis is not None
    assert panel.axis.away == "right"
    assert not middle.pair
    assert middle.quantity[0].count == 1


def test_seams_name_the_parts_in_their_order() -> None:
    seams = parse_seams(
        "side: front:side = back:side; armhole: front:armhole + -back:armhole = sleeve:cap;"
        "neck: front:neck = facing:neck"
    )
    mates = [replace(bodice(), name=n) for n in ("back", "facing")]
    sleeve = Piece("sleeve", bodice().outline.with_run(bodice().run("armhole")))
    outline = replace(sleeve.outline, runs=(replace(bodice().run("armhole"), name="cap"),))
    pattern = Pattern((full(), *mates, replace(sleeve, outline=outline)), seams=seams)
    after = cut(pattern, "1/2 along armhole", "270 mm along fold")
    chains = {s.name: (format_chain(s.first), format_chain(s.second)) for s in after.seams}
    assert chains["side"] == ("lower:side", "back:side")
    assert chains["neck"] == ("yoke:neck", "facing:neck")
    # The armhole counts from the shoulder, the end nearer the centre.
    assert chains["armhole"][0] == "yoke:armhole-1 + lower:armhole-2 + -back:armhole"
    for seam in after.seams:
        was = match_seam(pattern, next(s for s in seams if s.name == seam.name))
        assert match_seam(after, seam).first.length == pytest.approx(was.first.length, abs=1e-9)


def test_a_dropped_part_takes_its_seams_and_says_so() -> None:
    seams = parse_seams("side: front:side = back:side; neck: front:neck = facing:neck")
    mates = [replace(bodice(), name=n) for n in ("back", "facing")]
    pattern = Pattern((full(), *mates), seams=seams)

    def edit(pieces: Mapping[str, Piece], _: Settled) -> Mapping[str, Ring]:
        piece = pieces["front"]
        places = ("1/2 along armhole", "270 mm along fold")
        ends = [piece.outline.path.at(find_place(piece, p)) for p in places]
        return divide(piece, Path.polyline(ends), {"top": "neck-side"}, seam="cut", step="cut")

    done = redraft(pattern, ["front"], edit)
    assert done.pattern.names == ("top", "back", "facing")
    assert [s.name for s in done.pattern.seams] == ["neck"]
    told = {(f.code, f.place or f.text.split(" is ")[0]) for f in done.findings}
    assert ("seam-gone", "side") in told
    assert {t for c, t in told if c == "left-behind"} == {
        *("notch front", "notch side", "drill hole bust-point", "dart waist", "a cut-out"),
        *("label Front", "adjust line waist-length"),
    }
    assert {t for c, t in told if c == "point-gone"} == {
        *("the point waist-centre", "the point waist-side", "the point underarm"),
    }


def test_lines_that_cannot_cut_say_where() -> None:
    with pytest.raises(GeometryError, match="leaves the piece near"):
        cut(Pattern((full(),)), "1/20 along armhole", "middle of side")
    with pytest.raises(GeometryError, match="outside the piece"):
        cut(Pattern((full(),)), "1/3 along neck", "2/3 along neck")
    with pytest.raises(GeometryError, match="one place"):
        cut(Pattern((full(),)), "underarm", "underarm")
    holed = replace(full(), cutouts=(Cutout(rectangle(10, 10, 40, 268)),))
    with pytest.raises(GeometryError, match="lies across the cut"):
        cut(Pattern((holed,)), "1/2 along armhole", "270 mm along fold")
    with pytest.raises(LookupFailed, match="same part"):
        cut(
            Pattern((full(),)),
            "1/2 along armhole",
            "270 mm along fold",
            {"a": "neck-side", "b": "neck-centre"},
        )


def test_cut_then_graded_is_graded_then_cut() -> None:
    """The demo's front, cut across, in all its sizes; places by share of the base's segments."""
    demo = drawn("supper-top")
    rules = steps("supper-top")
    base = demo.piece("front")
    places = ("1/2 along armhole", "2/3 along fold")
    found = [base.outline.path.locate(find_place(base, place)) for place in places]
    located = [(int(i), float(t)) for i, t in found]

    def edit(pieces: Mapping[str, Piece], _: Settled) -> Mapping[str, Ring]:
        controls = pieces["front"].outline.path.controls
        ends = [
            bezier.evaluate(controls[int(i)][None], np.array([float(t)]))[0] for i, t in located
        ]
        return divide(pieces["front"], Path.polyline(ends), PARTS, seam="yoke", step="cut")

    sizes = ["8", "10", "14", "16"]
    base_cut = with_mixtures(redraft(with_rule_weights(demo), ["front"], edit).pattern)
    first = grade(base_cut, rules, sizes).pattern
    then = redraft(grade(demo, rules, sizes).pattern, ["front"], edit).pattern
    for size in sizes:
        for name in PARTS:
            a, b = (p.piece(name, size).outline for p in (first, then))
            assert (a.corners, a.runs) == (b.corners, b.runs)
            assert [(p.vertex, p.name) for p in a.points] == [(p.vertex, p.name) for p in b.points]
            assert np.abs(a.path.vertices - b.path.vertices).max() < 1e-9
            for one, other in ((a.path, b.path), (b.path, a.path)):
                assert nearest(other, one.at(np.linspace(0, one.length, 500))).distance.max() < 0.02
            straight = np.flatnonzero(a.path.lines)
            middles = [p.path.controls[straight].mean(axis=1) for p in (a, b)]
            assert np.abs(middles[0] - middles[1]).max() < 1e-9
