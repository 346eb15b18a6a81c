"""A set-in sleeve between sizes: its cap takes the size in which it matches the armhole."""

from __future__ import annotations

import numpy as np
import pytest

from sizewright.formats import read_svg
from sizewright.grading import Asked, grade, read_rules, size_from_nest
from sizewright.model import Pattern, match_seam
from sizewright.shipped import shipped

from ..drawn import length

PATTERN = read_svg(shipped("examples/basic-set/basic-set.svg")).pattern
STEPS = read_rules(shipped("grade_tables/basic-set-steps.csv"))
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
