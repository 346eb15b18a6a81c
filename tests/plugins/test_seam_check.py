"""Seams judged in every size."""

from __future__ import annotations

import dataclasses
import math
import tomllib

import pytest

from sizewright.findings import told
from sizewright.geometry import Path, affine
from sizewright.model import (
    Dart,
    Grain,
    Outline,
    Pattern,
    Piece,
    Point,
    Run,
    parse_seams,
    sewn_joints,
)
from tests.operations import do, judge, nest
from tests.shapes import rectangle


def pattern(phrase: str, top: float = 100.0, low: float = 100.0) -> Pattern:
    a = Piece("top", Outline.of(rectangle(top, 50)), kind="sew")
    b = Piece("low", Outline.of(rectangle(low, 50, 0, 80)), kind="sew")
    return Pattern((a, b), seams=parse_seams(phrase))


@pytest.mark.parametrize(
    ("phrase", "top", "code"),
    [
        ("join: top:#1 = low:#1", 100.0, "seam-matches"),
        ("join: top:#1 = low:#1", 101.4, "seam-matches"),
        ("join: top:#1 = low:#1", 101.6, "seam-long"),
        ("join: top:#1 = low:#1", 98.4, "seam-short"),
        ("join: top:#1 = low:#1, ease 25 mm", 125.0, "seam-matches"),
        ("join: top:#1 = low:#1, ease 25 mm", 100.0, "seam-short"),
        ("join: top:#1 = low:#1, gather 50%", 150.0, "seam-matches"),
        ("join: top:#1 = low:#1, gather 50%", 160.0, "seam-long"),
        ("join: top:#1 = low:#9", 100.0, "seam-broken"),
        ("join: top:#1 = lower:#1", 100.0, "seam-broken"),
    ],
)
def test_codes(phrase: str, top: float, code: str) -> None:
    (finding,) = judge(pattern(phrase, top), "seams")
    assert finding.code == code
    assert finding.level == ("note" if code == "seam-matches" else "fail")
    assert finding.place == "join"


def test_the_failing_size_is_named_and_by_how_much() -> None:
    base = pattern("join: top:#1 = low:#1")
    pieces = []
    for size, extra in (("10", 0.0), ("12", 0.0), ("14", 4.0)):
        for p in base.pieces:
            grown = (100 + extra) / 100 if p.name == "top" else 1.0
            bigger = p.transformed(affine.scaling(grown, 1))
            pieces.append(dataclasses.replace(bigger, size=size))
    findings = judge(dataclasses.replace(base, pieces=tuple(pieces)), "seams")
    bad, good = findings
    assert (bad.code, bad.size) == ("seam-long", "14")
    assert "0.4 cm" in bad.text
    assert "in sizes 10, 12, at most 0.00 mm" in good.text
    assert "top:#1 is 0.4 cm" in bad.text
    assert " longer than low:#1: " in bad.text


def test_the_tolerance_is_a_setting() -> None:
    assert (
        judge(pattern("join: top:#1 = low:#1", 102.0), "seams", tolerance='1/8"')[0].level == "note"
    )


def test_unknown_outlines_are_not_judged() -> None:
    base = pattern("join: top:#1 = low:#1", 150)
    doubtful = dataclasses.replace(base.pieces[0], kind="unknown")
    (finding,) = judge(base.with_pieces([doubtful, base.pieces[1]]), "seams")
    assert (finding.code, finding.level, finding.piece) == ("seam-not-judged", "note", "top")


def test_a_fault_of_the_drawing_is_not_laid_to_the_rules() -> None:
    """Top and low differ by 4 mm in size 12; in 14 by so much again, or only there."""
    drawn = pattern("join: top:#1 = low:#1", 104.0)
    sound = pattern("join: top:#1 = low:#1")
    for base, rules in ((drawn, False), (sound, True)):
        grown = [
            dataclasses.replace(
                p.transformed(affine.scaling(1.04 if p.name == "top" else 1.0, 1)),
                size="14",
                base=dataclasses.replace(p, size="12"),
            )
            for p in base.pieces
        ]
        findings = judge(base.with_pieces(grown), "seams")
        assert [f.code for f in findings] == ["seam-long"]
        assert ("rules" in findings[0].cure) == rules
        assert ("in the drawing already" in findings[0].cure) != rules


def test_a_cap_that_falls_short_of_its_armholes_fails_where_it_does() -> None:
    """The armholes grow by 5 mm each a size, the cap by 10 mm, in one size only by 7.5 mm."""
    cap = {"10": 445.0, "12": 455.0, "14": 462.5, "16": 475.0}
    pieces = []
    for k, (size, top) in enumerate(cap.items()):
        for name, width, y in (
            ("sleeve", top, 0.0),
            ("front", 215.0 + 5 * k, 80.0),
            ("back", 205.0 + 5 * k, 160.0),
        ):
            outline = Outline.of(rectangle(width, 50, 0, y))
            pieces.append(Piece(name, outline, kind="sew", size=size))
    seams = parse_seams("cap: sleeve:#1 = front:#1 + back:#1, ease 25 mm")
    sleeved = Pattern(tuple(pieces), "12", seams)
    short, good = judge(sleeved, "seams")
    assert (short.code, short.level, short.size, short.place) == ("seam-short", "fail", "14", "cap")
    assert short.text.startswith("sleeve:#1 is 0.25 cm")
    assert "shorter than front:#1 + back:#1 plus the 2.5 cm · ≈ 1 in of ease" in short.text
    assert "in sizes 10, 12, 16, " in good.text
    (fine,) = judge(sleeved, "seams", tolerance="3 mm")
    assert fine.code == "seam-matches"


def dart_findings(mouth: float, cut_out: bool = True) -> list[str]:
    points = [(0, 0), (100, 0), (110, 80), (mouth, 0), (200, 0), (200, 100), (0, 100)]
    path = Path.polyline(points if cut_out else points[:2] + points[3:], closed=True)
    dart = Dart("waist", 1, 3 if cut_out else 2, (110.0, 80.0), 2 if cut_out else None)
    piece = Piece("front", Outline.of(path), kind="sew", darts=(dart,))
    found = judge(Pattern((piece,)), "darts")
    return [f"{f.code} {f.place}" for f in found if f.code == "dart-legs"]


@pytest.mark.parametrize("cut_out", [True, False])
def test_legs_of_darts(cut_out: bool) -> None:
    assert dart_findings(120.0, cut_out) == []
    assert dart_findings(128.0, cut_out) == []  # 1.4 mm
    assert dart_findings(130.0, cut_out) == ["dart-legs waist"]  # 1.8 mm


def hemmed(front: float, back: float, *sizes: str, side: float = 200.0) -> Pattern:
    """Two panels whose hems meet their sides at these angles, in degrees, in each size."""
    pieces = []
    for size in sizes or (None,):
        for name, angle, long in (("front", front, 200.0), ("back", back, side)):
            drop = 100.0 / math.tan(math.radians(angle))
            path = Path.polyline([(0, drop), (100, 0), (100, long), (0, long)], closed=True)
            points = [Point(v, n) for v, n in ((0, "hem-centre"), (1, "hem-side"), (2, "top-side"))]
            runs = [Run(0, 1, "hem"), Run(1, 2, "side"), Run(2, 3, "top")]
            outline = Outline.of(path, points=points, runs=runs)
            grain = Grain((50, 50), (50, 150), ends=1)
            pieces.append(Piece(name, outline, kind="sew", size=size, grain=grain))
    return Pattern(tuple(pieces), seams=parse_seams("side: front:side = back:side"))


def test_a_kink_across_a_seam_is_told_with_its_places_in_every_size() -> None:
    found = [f for f in judge(hemmed(96, 90, "10", "12", "14"), "seams") if f.code == "joint-kink"]
    assert [(f.level, f.size) for f in found] == [("warn", size) for size in ("10", "12", "14")]
    (line,) = told(found)
    assert "front:hem runs on into back:hem across the seam with a kink of 6.0 degrees" in line
    assert "(a dip) and a step of 0.0 mm" in line
    assert "in 10, 12, 14 side at front:hem-side and back:hem-side" in line
    assert [f for f in judge(hemmed(96, 90), "seams", kink=7) if f.code == "joint-kink"] == []
    assert [f.code for f in judge(hemmed(92, 90), "seams", kink=1)] == [
        "seam-matches",
        "joint-kink",
    ]


def pasted(cure: str) -> list[dict[str, object]]:
    """The steps of a cure, read as a job has them."""
    steps = tomllib.loads(cure[cure.index("[[steps]]") :])["steps"]
    assert isinstance(steps, list)
    return steps


def test_what_mends_a_seam_can_be_pasted_into_a_job() -> None:
    pattern = hemmed(90, 90, "10", "12", side=192.0)
    off = [f for f in judge(pattern, "seams") if f.level == "fail"]
    assert {f.cure for f in off} == {off[0].cure}  # so that the sizes are one line
    (step,) = pasted(off[0].cure)
    assert step == {"do": "true-edge", "seam": "side", "move": "back:hem-side"}
    mended = applied(pattern, step)
    assert [f.code for f in judge(mended, "seams")] == ["seam-matches"]


def test_far_too_long_is_rather_gathered() -> None:
    pattern = hemmed(90, 90, side=120.0)
    (fail,) = (f for f in judge(pattern, "seams") if f.level == "fail")
    (step,) = pasted(fail.cure)
    assert step == {
        "do": "seam-ease",
        "seam": "side",
        "side": "front:side",
        "kind": "gather",
        "amount": "8 cm",
    }
    assert [f.code for f in judge(applied(pattern, step), "seams")] == ["seam-matches"]


def test_an_ease_that_is_not_there_is_brought_or_stated_as_it_is() -> None:
    """Stated and missing: the mate is brought to it. A cap without a free end is stated anew."""
    stated = hemmed(90, 90)
    gathered = parse_seams("side: front:side = back:side, gather 4 cm")
    (fail,) = judge(dataclasses.replace(stated, seams=gathered), "seams")
    assert pasted(fail.cure) == [
        {"do": "true-edge", "seam": "side", "move": "back:hem-side", "limit": "4 cm"}
    ]
    sides = "side: front:side = back:side, ease 1 cm; hem: front:hem = back:hem"
    eased = hemmed(90, 90, side=194.0)
    eased = dataclasses.replace(eased, seams=parse_seams(sides + "; top: front:top = back:top"))
    (fail,) = (f for f in judge(eased, "seams") if f.level == "fail")
    (step,) = pasted(fail.cure)
    assert (step["do"], step["amount"], step["kind"]) == ("seam-ease", "0.6 cm", "ease")
    assert [f.code for f in judge(applied(eased, step), "seams")] == ["seam-matches"] * 3


def applied(pattern: Pattern, step: dict[str, object]) -> Pattern:
    return do(pattern, str(step["do"]), **{k: v for k, v in step.items() if k != "do"}).pattern


def test_what_makes_legs_alike_can_be_pasted_into_a_job() -> None:
    points = [(0, 0), (100, 0), (110, 80), (130, 0), (200, 0), (200, 100), (0, 100)]
    dart = Dart("waist", 1, 3, (110.0, 80.0), 2)
    outline = Outline.of(Path.polyline(points, closed=True), runs=[Run(0, 4, "waist")])
    pattern = Pattern((Piece("front", outline, kind="sew", darts=(dart,)),))
    (legs,) = judge(pattern, "darts", kink=180)
    (step,) = pasted(legs.cure)
    assert step == {"do": "true-edge", "seam": "front:waist", "move": "front:#4"}
    assert judge(applied(pattern, step), "darts", kink=180) == ()


def test_a_waist_that_kinks_over_its_dart_is_told() -> None:
    points = [(0, 0), (100, 0), (110, 80), (120, 0), (200, 0), (200, 100), (0, 100)]
    dart = Dart("waist", 1, 3, (110.0, 80.0), 2)
    outline = Outline.of(Path.polyline(points, closed=True), runs=[Run(0, 4, "waist")])
    pattern = Pattern((Piece("front", outline, kind="sew", darts=(dart,)),))
    (kink,) = judge(pattern, "darts")
    assert (kink.code, kink.level, kink.piece, kink.place) == (
        "dart-kink",
        "warn",
        "front",
        "waist",
    )
    # Exact: the dart's angle, 2 atan(10 / 80).
    assert "waist runs on across the closed dart with a kink of 14.3 degrees (a dip)" in kink.text
    assert [step["to"] for step in pasted(kink.cure)] == ["#2", "#4"]


@pytest.mark.parametrize("angles", [(96.0, 90.0), (80.0, 95.0), (93.0, 83.0)])
def test_what_mends_a_kink_can_be_pasted_into_a_job(angles: tuple[float, float]) -> None:
    pattern = hemmed(*angles, "10", "12")
    cures = {f.cure for f in judge(pattern, "seams") if f.code == "joint-kink"}
    (cure,) = cures  # the same in both sizes, so that they are one line
    mended = pattern
    for step in pasted(cure):
        mended = applied(mended, step)
    kinks = [joint.kink for joint in sewn_joints(mended) if joint.first.line == "hem"]
    assert kinks == pytest.approx([0.0, 0.0], abs=1e-6)
    for piece in mended.pieces:
        outline = piece.outline
        smooth = [v for v in range(len(outline.path)) if v not in outline.corners]
        assert all(abs(turn) < 0.5 for turn in outline.path.turns[smooth])


def test_all_kinks_of_the_graded_basic_set_are_mended_by_their_cures() -> None:
    sizes = nest("basic-set", "6", "12", "20")
    for cure in dict.fromkeys(f.cure for f in judge(sizes, "seams") if f.code == "joint-kink"):
        for step in pasted(cure):
            sizes = applied(sizes, step)
    assert [f.text for f in judge(sizes, "seams") if f.code == "joint-kink"] == []
