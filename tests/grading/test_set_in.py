"""A set-in sleeve between sizes: its cap takes the size in which it matches the armhole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sizewright.formats import read_svg
from sizewright.geometry import Path
from sizewright.grading import Asked, grade, read_rules, size_from_nest, true_seams
from sizewright.model import Fold, Outline, Pattern, Piece, Point, Run, match_seam, parse_seams
from sizewright.shipped import shipped
from tests.operations import drawn, steps

from ..drawn import length
from .outlines import UP

PATTERN = drawn("basic-set")
STEPS = steps("basic-set")
#: The ease that is drawn into the cap, 1/2 in before and 5/8 in behind, mm.
EASE = 12.7 + 15.875


def blend(at: dict[str, str], to: str = "12") -> tuple[Pattern, list[str]]:
    done = grade(PATTERN, STEPS, [to], asked=Asked(at=at, label="own"), allow_far=True)
    return done.pattern, [f.text for f in done.findings if f.code == "cap-follows"]


def eased(pattern: Pattern) -> float:
    """How much longer the cap is than both armholes, by quadrature, mm."""

    def way(name: str, start: str, end: str) -> float:
        outline = pattern.piece(name, "own").outline
        a, b = sorted((outline.vertex(start), outline.vertex(end)))
        return sum(length(s) for s in outline.path.controls[a:b])

    cap = way("sleeve", "underarm-front", "underarm-back")
    return cap - way("front", "underarm", "shoulder-tip") - way("back", "underarm", "shoulder-tip")


def arm(pattern: Pattern, size: str, a: str = "underarm-front", b: str = "underarm-back") -> float:
    outline = pattern.piece("sleeve", size).outline
    ends = outline.path.vertices[[outline.vertex(a), outline.vertex(b)]]
    return float(np.hypot(*(ends[0] - ends[1])))


@pytest.mark.parametrize(
    "at", [{"bust": "16"}, {"bust": "8"}, {"bust": "14"}, {"shoulder": "14"}, {"front": "16"}]
)
def test_a_cap_takes_the_size_of_its_armhole(at: dict[str, str]) -> None:
    pattern, told = blend(at)
    assert eased(pattern) == pytest.approx(EASE, abs=0.02)
    assert len(told) == 1
    # The wrist keeps the size for all the rest.
    plain = grade(PATTERN, STEPS, ["12"]).pattern
    ends = ("hem-front", "hem-back")
    assert arm(pattern, "own", *ends) == pytest.approx(arm(plain, "12", *ends), abs=1e-9)


def test_its_size_lies_between_and_is_told() -> None:
    pattern, (told,) = blend({"bust": "16"})
    assert "size 14.35" in told
    nest = grade(PATTERN, STEPS, ["14", "16"]).pattern
    assert arm(nest, "14") < arm(pattern, "own") < arm(nest, "16")


def test_a_sleeve_with_a_size_of_its_own_keeps_it() -> None:
    pattern, told = blend({"bust": "16", "sleeve": "16"})
    assert told == []
    assert arm(pattern, "own") == pytest.approx(arm(grade(PATTERN, STEPS, ["16"]).pattern, "16"))
    assert eased(pattern) == pytest.approx(EASE + 10.7, abs=0.1)


@pytest.mark.parametrize("at", [{"hip": "16"}, {"waist": "14"}])
def test_levels_that_no_armhole_feels_leave_the_sleeve_alone(at: dict[str, str]) -> None:
    pattern, told = blend(at)
    assert told == []
    np.testing.assert_array_equal(
        pattern.piece("sleeve", "own").outline.path.vertices,
        PATTERN.piece("sleeve").outline.path.vertices,
    )


def test_out_of_a_drawn_nest_too() -> None:
    nest = grade(PATTERN, STEPS, ["12", "14", "16"]).pattern
    done = size_from_nest(nest, "12", Asked(at={"bust": "16"}, label="own"))
    (told,) = [f for f in done.findings if f.code == "cap-follows"]
    assert (told.level, told.piece, told.place) == ("note", "sleeve", "cap")
    cap = next(seam for seam in done.pattern.seams if seam.name == "cap")
    assert abs(match_seam(done.pattern, cap, "own").off) < 0.1


def _ring(name: str, lines: list[list[list[float]]], names: list[str], *, fold: bool) -> Piece:
    """A piece drawn from its lower left corner round, with a rule at each point of a name."""
    path = Path.of(lines, closed=True)
    points = [Point(v, n, f"{name}-{n}") for v, n in enumerate(names) if n]
    last = len(lines) - 1
    runs = [Run(2, 3, "armhole")]
    if name == "sleeve":
        runs = [Run(2, last, "cap"), Run(1, 2, "seam"), Run(last, 0, "other-seam")]
    return Piece(
        name,
        Outline.of(path, points=points, runs=runs),
        kind="sew",
        axis=UP,
        fold=Fold(last, 0) if fold else None,
    )


def _body(name: str) -> Piece:
    armhole = [[240, 220], [205, 220], [195, 320], [200, 430]]
    lines = [[[0, 0], [240, 0]], [[240, 0], [240, 220]], armhole, [[200, 430], [0, 450]]]
    names = ["hem-centre", "hem-side", "underarm", "shoulder-tip", "shoulder-neck"]
    return _ring(name, [*lines, [[0, 450], [0, 0]]], names, fold=True)


#: Sleeves by how their caps are drawn: from the underarm to the top, or down to the other one.
CAPS: dict[str, list[list[list[float]]]] = {
    "half": [[[142, 200], [90, 200], [70, 360], [0, 360]]],
    "half, straight": [[[142, 200], [60, 330]], [[60, 330], [0, 360]]],
    "whole, straight": [
        [[142, 200], [60, 330]],
        [[60, 330], [-60, 330]],
        [[-60, 330], [-142, 200]],
    ],
}
#: What points gain from size to size in width and length, mm; all others nothing.
GAINS = {
    "hem-side": (5.0, 0.0),
    "underarm": (5.0, -3.0),
    "shoulder-tip": (2.0, 1.0),
    "sleeve-hem-side": (0.0, 0.0),
    "sleeve-underarm": (5.0, 0.0),
    "sleeve-other-underarm": (-5.0, 0.0),
    "sleeve-cap-top": (0.0, 1.0),
}


def blouse(cap: str) -> Pattern:
    """A blouse in 12 whose sleeve is drawn as half on the fold, or whole."""
    up = CAPS[cap]
    hem = [[0, 0], [120, 0]] if cap.startswith("half") else [[-120, 0], [120, 0]]
    back = [up[-1][-1], hem[0]]
    names = ["other-hem" * (hem[0][0] < 0), "hem-side", "underarm"]
    names += ["", "cap-top"][-len(up) :] if hem[0][0] == 0 else ["", "", "other-underarm"]
    sleeve = _ring("sleeve", [hem, [[120, 0], [142, 200]], *up, back], names, fold=hem[0][0] == 0)
    count = "2 x " if hem[0][0] == 0 else ""
    seam = f"cap: {count}sleeve:cap = front:armhole + back:armhole, ease 5 mm"
    seam += "" if sleeve.fold else "; sleeve: sleeve:seam = sleeve:other-seam"
    return Pattern((_body("front"), _body("back"), sleeve), "12", parse_seams(seam))


def cap_and_armholes(pattern: Pattern, size: str) -> tuple[float, float]:
    """Both lengths by quadrature, mm; that of a half cap twice."""
    sleeve = pattern.piece("sleeve", size)
    last = len(sleeve.outline.path) - 1
    cap = sum(length(s) for s in sleeve.outline.path.controls[2:last])
    holes = sum(length(pattern.piece(n, size).outline.path.controls[2]) for n in ("front", "back"))
    return cap * (2 if sleeve.fold else 1), holes


def graded_blouse(cap: str, at: dict[str, str]) -> tuple[Pattern, Pattern]:
    before = blouse(cap)
    rows = ["rule,axis,unit,10,12,14,16"]
    for point in (p for piece in before.pieces for p in piece.outline.points):
        gains = GAINS.get(point.rule, GAINS.get(point.rule.partition("-")[2], (0.0, 0.0)))
        for axis, gain in zip(("width", "length"), gains, strict=True):
            rows.append(f"{point.rule},{axis},mm,,{gain},{gain},{gain}")
    asked = Asked(at=at, label="own")
    return before, grade(before, read_rules("\n".join(rows)), ["12"], asked=asked).pattern


@pytest.mark.parametrize("cap", CAPS)
def test_caps_drawn_as_a_half_and_of_straight_lines_follow_too(cap: str) -> None:
    before, after = graded_blouse(cap, {"bust": "16"})
    bases = before.with_pieces(replace(p, size="12") for p in before.pieces)
    was, is_ = cap_and_armholes(bases, "12"), cap_and_armholes(after, "own")
    assert abs(is_[1] - was[1]) > 2.0
    assert is_[0] - is_[1] == pytest.approx(was[0] - was[1], abs=0.02)


@pytest.mark.parametrize("cap", CAPS)
def test_they_are_drawn_higher_or_lower_too(cap: str) -> None:
    _, before = graded_blouse(cap, {"bust": "14", "sleeve": "14"})
    longer, _ = cap_and_armholes(before, "own")
    after, (told,) = true_seams(before, most=60.0)
    now, armholes = cap_and_armholes(after, "own")
    assert "at its top" in told.text
    assert abs(now - longer) > 1.0
    assert now - armholes == pytest.approx(5.0, abs=1e-4)
    old, new = (p.piece("sleeve", "own") for p in (before, after))
    np.testing.assert_array_equal(old.outline.path.vertices[:3], new.outline.path.vertices[:3])
    if new.fold is not None:
        # The fold goes on being one straight line, and the cap meets it as it did.
        assert new.outline.path.lines[-1]
        assert new.outline.vertex_at(new.fold.start)[0] == pytest.approx(0.0, abs=1e-12)
        if cap == "half":
            slope = new.outline.path.tangents_in[len(new.outline.path) - 2]
            np.testing.assert_allclose(slope, (-1.0, 0.0), atol=1e-12)


def test_a_flat_cap_follows_an_armhole_that_comes_to_lean() -> None:
    """With a wider chest alone the armholes lean and grow longer than a size has them."""
    shirt = read_svg(shipped("examples/plain-shirt/plain-shirt.svg")).pattern
    steps = read_rules(shipped("grade_tables/plain-shirt-men-steps.csv"))
    done = grade(shirt, steps, ["100"], asked=Asked(at={"chest": "108"}, label="own"))
    (told,) = [f for f in done.findings if f.code == "cap-follows"]
    assert "size 108.5" in told.text
    cap = next(seam for seam in done.pattern.seams if seam.name == "cap")
    assert abs(match_seam(done.pattern, cap, "own").off) < 0.5
    # A shoulder that lies flat is no cap: the back keeps its size, and the seam is told.
    done = grade(shirt, steps, ["100"], asked=Asked(at={"front": "108"}, label="own"))
    assert {f.place for f in done.findings if f.code == "sizes-apart"} >= {"shoulder"}
    back = done.pattern.piece("back", "own").outline.path.vertices
    np.testing.assert_array_equal(back, shirt.piece("back").outline.path.vertices)
