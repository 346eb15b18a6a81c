"""An end slid along its own run until its side has the length that the other asks for."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from sizewright.errors import SizewrightError
from sizewright.findings import Finding
from sizewright.geometry import Path, affine, flatten
from sizewright.model import (
    Axis,
    Dart,
    Fold,
    Grain,
    Hold,
    Mark,
    Notch,
    Outline,
    Pattern,
    Piece,
    Point,
    Run,
    Spot,
    match_seam,
    parse_seams,
)
from tests.operations import do, nest

NAMES = ("hem-centre", "hem-side", "side-waist", "waist-centre")


def panel(name: str, side: float, *, curve: bool = False, size: str | None = None) -> Piece:
    """A half panel on the fold, its waist level or sloping up to the centre; hem at y = 0."""
    hem, fold = [[0, 0], [200, 0]], [[0, side], [0, 0]]
    upright = [[200, 0], [220, side / 3], [195, side * 2 / 3], [190, side]]
    waist = [[190, side], [0, side]]
    path = Path.of([hem, upright if curve else [[200, 0], [190, side]], waist, fold], closed=True)
    points = [Point(v, n) for v, n in enumerate(NAMES)]
    runs = [Run(0, 1, "hem"), Run(1, 2, "side"), Run(2, 3, "waist")]
    return Piece(
        name,
        Outline.of(path, points=points, runs=runs),
        kind="sew",
        size=size,
        fold=Fold(3, 0),
        grain=Grain((50, 20), (50, 150), ends=1),
    )


def skirt(front: float, back: float, seams: str = "", **options: bool) -> Pattern:
    pieces = panel("front", front, **options), panel("back", back, **options)
    return Pattern(pieces, seams=parse_seams("side: front:side = back:side" + seams))


def true(pattern: Pattern, **given: object) -> tuple[Pattern, tuple[Finding, ...]]:
    done = do(pattern, "true-edge", **{"seam": "side", **given})
    return done.pattern, done.findings


def angles(piece: Piece) -> list[float]:
    return [float(piece.outline.path.turns[v]) for v in piece.outline.corners]


def place(piece: Piece, point: str) -> np.ndarray:
    return piece.outline.vertex_at(piece.outline.vertex(point))


def off(pattern: Pattern, size: str | None = None, seam: int = 0) -> float:
    return match_seam(pattern, pattern.seams[seam], size).off


@pytest.mark.parametrize("curve", [False, True])
def test_the_named_end_drops_by_what_is_missing_and_the_waist_is_faired_to_it(curve: bool) -> None:
    before = skirt(210.0, 200.0, curve=curve)
    missing = off(before)
    after, (note,) = true(before, move="back:side-waist")
    assert abs(off(after)) < 1e-6
    old, new = before.piece("back"), after.piece("back")
    moved = new.outline.vertex_at(2) - old.outline.vertex_at(2)
    along = old.outline.path.tangents_in[1]
    assert abs(moved[0] * along[1] - moved[1] * along[0]) < 1e-9  # along its own tangent
    if not curve:
        assert float(moved @ along) == pytest.approx(missing)
    assert angles(new) == pytest.approx(angles(old), abs=1e-9)
    # Hem and centre keep their bits, the side stays as straight as it was.
    assert np.array_equal(new.outline.path.controls[0], old.outline.path.controls[0])
    for name in ("hem-centre", "hem-side", "waist-centre"):
        assert np.array_equal(place(new, name), place(old, name))
    assert bool(new.outline.path.lines[1]) is not curve
    assert after.piece("front") == before.piece("front")
    assert (note.code, note.level, note.piece, note.place) == ("edge-trued", "note", "back", "side")
    assert "back:side-waist slid out 1 cm" in note.text or curve
    assert shapely.is_simple(shapely.LinearRing(flatten(new.outline.path, 0.01)))
    assert new.story[-1] == "side: brought to its mate"


def test_ease_and_counts_are_counted() -> None:
    eased = skirt(210.0, 200.0)
    eased = dataclasses.replace(eased, seams=parse_seams("side: front:side = back:side, ease 4 mm"))
    after, _ = true(eased, move="back:hem-side")
    lengths = [after.piece(n).sewn_length(after.piece(n).run("side")) for n in ("front", "back")]
    assert lengths[0] - lengths[1] == pytest.approx(4.0)
    shared = dataclasses.replace(
        eased, seams=parse_seams("side: front:side = back:side, gather 5%")
    )
    after, _ = true(shared, move="back:hem-side")
    lengths = [after.piece(n).sewn_length(after.piece(n).run("side")) for n in ("front", "back")]
    assert lengths[0] == pytest.approx(1.05 * lengths[1])


def test_share_takes_half_on_each_side() -> None:
    before = skirt(210.0, 200.0)
    after, notes = true(before, move="back:hem-side", share=True)
    assert [n.piece for n in notes] == ["front", "back"]
    assert abs(off(after)) < 1e-6
    for name, way in (("front", 1.0), ("back", -1.0)):
        step = place(after.piece(name), "hem-side") - place(before.piece(name), "hem-side")
        assert np.hypot(*step) == pytest.approx(off(before) / 2)
        assert step[1] * way > 0  # the front goes up, the back down


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, ("nothing says which", '"back:hem-side", "back:side-waist"', '"front:hem-side"')),
        ({"share": True}, ("nothing says which", "Name one of them with share")),
        ({"move": "back:waist-centre"}, ("is no end of a run of it", '"back:hem-side"')),
        ({"move": "back:hem-side", "limit": "8 mm"}, ("slide", "more than the limit of 0.8 cm")),
        ({"seam": "sides", "move": "back:hem-side"}, ("no seam or dart", "Seams: side")),
    ],
)
def test_refused_with_what_would_be_right(given: dict[str, object], words: Sequence[str]) -> None:
    with pytest.raises(SizewrightError) as caught:
        true(skirt(210.0, 200.0), **given)
    assert all(word in str(caught.value) for word in words)
    assert "back" in str(caught.value) or "sides" in str(caught.value)


def test_ends_on_folds_and_held_ones_and_cutting_lines_are_refused() -> None:
    seams = parse_seams("waist: front:waist = back:waist")
    narrow = panel("back", 200.0)
    path = narrow.outline.path.transformed(affine.scaling(0.95, 1))
    narrow = dataclasses.replace(narrow, outline=narrow.outline.with_path(path))
    waist = Pattern((panel("front", 200.0), narrow), seams=seams)
    with pytest.raises(SizewrightError, match="waist-centre cannot slide: it lies on the fold"):
        true(waist, seam="waist", move="back:waist-centre")
    held = skirt(210.0, 200.0)
    back = dataclasses.replace(held.piece("back"), holds=(Hold((2,)),))
    with pytest.raises(SizewrightError, match="back:side-waist cannot slide: it is held"):
        true(held.with_pieces([held.piece("front"), back]), move="back:side-waist")
    cut = [dataclasses.replace(p, kind="cut") for p in held.pieces]
    with pytest.raises(SizewrightError, match="cutting line"):
        true(held.with_pieces(cut), move="back:side-waist")


def test_what_other_seams_gain_is_told() -> None:
    before = skirt(210.0, 200.0, "; waist: front:waist = back:waist")
    after, (_, changed) = true(before, move="back:side-waist")
    lost = off(after, seam=1) - off(before, seam=1)
    assert lost > 0.05  # the side leans in, and takes the end of the waist along
    assert (changed.code, changed.level, changed.place) == ("seam-changed", "note", "waist")
    assert changed.text.startswith(f"by this, back:waist is {lost / 10:.2f} cm")
    assert changed.text.endswith("shorter, and still matches")


def test_notches_keep_their_distances_and_paired_ones_follow_the_seam() -> None:
    before = skirt(210.0, 200.0)
    back = before.piece("back")
    notches = (Notch(Spot(1, 30.0)), Notch(Spot(2, 20.0)))
    before = before.with_pieces([before.piece("front"), dataclasses.replace(back, notches=notches)])
    after, _ = true(before, move="back:side-waist")
    assert [n.at.distance for n in after.piece("back").notches] == pytest.approx([30.0, 20.0])


def test_the_legs_of_a_dart_are_made_alike() -> None:
    points = [(0, 0), (100, 0), (110, 80), (130, 0), (200, 0), (200, 100), (0, 100)]
    path = Path.polyline(points, closed=True)
    outline = Outline.of(path, points=[Point(3, "outer")], runs=[Run(0, 4, "waist")])
    dart = Dart("waist", 1, 3, (110.0, 80.0), 2)
    pattern = Pattern((Piece("front", outline, kind="sew", darts=(dart,)),))
    after, _ = true(pattern, seam="front:waist", move="front:outer")
    (piece,) = after.pieces
    path = piece.outline.path
    (dart,) = piece.darts
    legs = [piece.outline.run_length(r) for r in (Run(dart.a, dart.tip), Run(dart.tip, dart.b))]
    assert legs[0] == pytest.approx(math.hypot(10, 80))
    assert legs[1] == pytest.approx(legs[0], abs=1e-6)
    with pytest.raises(SizewrightError, match="cannot slide"):
        true(pattern, seam="front:waist", move="front:#3")


@settings(max_examples=30)
@given(st.floats(-20, 20), st.floats(0, 360), st.booleans(), st.booleans())
def test_turned_and_mirrored_pieces_come_out_alike(
    more: float, turned: float, over: bool, curve: bool
) -> None:
    before = skirt(210.0, 210.0 + more, curve=curve)
    m = affine.rotation(turned, (40, 70))
    if over:
        m = affine.compose(m, affine.mirror(np.array([0, 0]), np.array([0, 100])))
    laid = before.with_pieces([before.piece("front"), before.piece("back").transformed(m)])
    plain, _ = true(before, move="back:hem-side")
    other, _ = true(laid, move="back:hem-side")
    assert abs(off(plain)) < 1e-6
    wanted = plain.piece("back").transformed(m).outline.path
    assert np.allclose(other.piece("back").outline.path.controls, wanted.controls, atol=1e-6)


def test_true_ones_are_left_to_the_bit() -> None:
    before = skirt(210.0, 210.0)
    after, (note,) = true(before, move="back:hem-side")
    assert after.pieces == before.pieces
    assert note.code == "edge-true"


def test_every_size_of_the_demo_is_brought_to_its_mate() -> None:
    """Shoulders of the back cut 4 mm too long are brought back in each size, the armhole faired."""
    sizes = ["8", "10", "12", "14", "16"]
    demo = nest("supper-top", *sizes)
    wanted = [
        dataclasses.replace(s, ease=parse_seams("x: a:b = c:d, ease 4 mm")[0].ease)
        if s.name == "shoulder"
        else s
        for s in demo.seams
    ]
    demo = dataclasses.replace(demo, seams=tuple(wanted))
    after, findings = true(demo, seam="shoulder", move="back:shoulder-tip")
    for size in sizes:
        match = match_seam(after, next(s for s in after.seams if s.name == "shoulder"), size)
        assert match.surplus == pytest.approx(4.0, abs=1e-6)
        was, now = (p.piece("back", size).outline for p in (demo, after))
        for point in ("shoulder-tip", "underarm", "neck-side"):
            assert now.path.turns[now.vertex(point)] == pytest.approx(
                was.path.turns[was.vertex(point)], abs=1e-9
            )
        smooth = [v for v in range(len(now.path)) if v not in now.corners]
        assert np.abs(now.path.turns[smooth]).max() < 0.5
    assert {f.code for f in findings} == {"edge-trued"}
    assert [f.size for f in findings] == sizes


# --- a cap -----------------------------------------------------------------------------------


def sleeve(seams: str = "cap: sleeve:cap = band:top") -> Pattern:
    """A cap over 300 mm, 120 high, and a band that is 6 mm shorter; a mark up to the cap's top."""
    left, right = (
        [[150, 400], [100, 400], [60, 520], [0, 520]],
        [[0, 520], [-60, 520], [-100, 400], [-150, 400]],
    )
    path = Path.of(
        [[[-100, 0], [100, 0]], [[100, 0], [150, 400]], left, right, [[-150, 400], [-100, 0]]],
        closed=True,
    )
    points = [Point(2, "front"), Point(3, "cap-top"), Point(4, "back")]
    runs = [Run(2, 4, "cap"), Run(2, 3, "cap-front"), Run(3, 4, "cap-back")]
    outline = Outline.of(path, points=points, runs=runs)
    mark = Mark(Path.polyline([[0, 100], [0, 520]]), name="middle")
    cap = Piece("sleeve", outline, kind="sew", axis=Axis((0, 0), (0, 500)), marks=(mark,))
    long = cap.sewn_length(cap.run("cap")) - 6.0
    box = Path.polyline([[0, 0], [long, 0], [long, 50], [0, 50]], closed=True)
    band = Piece("band", Outline.of(box, runs=[Run(2, 3, "top")]), kind="sew")
    return Pattern((cap, band), seams=parse_seams(seams))


@pytest.mark.parametrize(
    ("seams", "move"),
    [
        ("cap: sleeve:cap = band:top", "sleeve:cap"),
        ("cap: band:top = sleeve:cap", "sleeve:cap"),
        (
            "cap: sleeve:cap-front + sleeve:cap-back = band:top",
            "sleeve:cap-front + sleeve:cap-back",
        ),
    ],
)
def test_a_cap_is_drawn_lower(seams: str, move: str) -> None:
    before = sleeve(seams)
    after, (told,) = true(before, seam="cap", move=move)
    assert abs(off(after)) < 1e-6
    assert told.code == "edge-trued"
    assert "lower at its top" in told.text
    old, new = (p.piece("sleeve").outline for p in (before, after))
    share = new.vertex_at(3)[1] - 400
    assert 110 < share < 120
    # Only heights above the line between its ends change, all by one share.
    rise = (new.path.controls[2:4, :, 1] - 400) / 120
    np.testing.assert_allclose(rise, (old.path.controls[2:4, :, 1] - 400) / 120 * share / 120)
    np.testing.assert_array_equal(new.path.controls[2:4, :, 0], old.path.controls[2:4, :, 0])
    np.testing.assert_array_equal(new.path.vertices[[0, 1, 2, 4]], old.path.vertices[[0, 1, 2, 4]])
    # The cap by shapely, as another one measures it.
    line = shapely.LineString(flatten(new.path.segments(2, 4), 1e-5))
    band = shapely.LineString(before.piece("band").outline.path.vertices[[2, 3]])
    assert line.length == pytest.approx(band.length, abs=1e-3)
    # A mark up to its top still ends there.
    ends = after.piece("sleeve").marks[0].path.vertices
    np.testing.assert_allclose(ends, [[0, 100], [0, 400 + share]], atol=1e-9)


def test_a_cap_has_a_limit_and_is_named_among_the_ends() -> None:
    with pytest.raises(SizewrightError, match="more than the limit"):
        true(sleeve(), seam="cap", move="sleeve:cap", limit="1 mm")
    with pytest.raises(SizewrightError) as stopped:
        true(sleeve(), seam="cap")
    assert "sleeve:cap" in stopped.value.cure


def test_a_neck_that_dips_is_no_cap() -> None:
    upside_down = sleeve().replacing(
        lambda p: dataclasses.replace(p, axis=Axis((0, 500), (0, 0))) if p.axis else p
    )
    with pytest.raises(SizewrightError):
        true(upside_down, seam="cap", move="sleeve:cap")
