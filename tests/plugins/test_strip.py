"""Strips for loops, ties and bindings."""

from __future__ import annotations

from typing import Any

import pytest

from sizewright.errors import SizewrightError
from sizewright.model import Pattern
from sizewright.plugin import Outcome
from tests.operations import do
from tests.shapes import bodice

INCH = 25.4


def strip(**given: Any) -> Outcome:
    return do(Pattern((bodice(),)), "strip", **given)


def box(outcome: Outcome) -> tuple[float, float]:
    x0, y0, x1, y1 = outcome.pattern.piece("strip").bounds
    return x1 - x0, y1 - y0


def test_four_layers_of_three_sixteenths_are_three_quarters_wide() -> None:
    # Common practice: a 3/4 in strip, edges folded to the centre and then in half, is 3/16 in.
    made = strip(width="3/16 in", length="12 in")
    assert box(made) == pytest.approx((12 * INCH, 0.75 * INCH))
    folds = [
        m.path.start[1] - made.pattern.piece("strip").bounds[1]
        for m in made.pattern.piece("strip").marks
    ]
    assert folds == pytest.approx([0.1875 * INCH * k for k in (1, 2, 3)])


def test_loops_are_as_long_as_both_sides_of_a_buttonhole_and_two_ends() -> None:
    # Buttonhole = diameter + thickness: common practice.
    made = strip(width="5 mm", loops=12, button="12 mm", thickness="4 mm", seam="8 mm")
    assert box(made)[0] == pytest.approx(12 * (2 * 16 + 2 * 8))
    assert [f.code for f in made.findings] == ["loops"]


def test_a_bias_strip_takes_its_area_over_the_width() -> None:
    # Exact: area over width; 2 m of 4 cm from cloth 100 cm wide are 8 cm of it.
    made = strip(width="1 cm", length="2 m", bias=True, cloth_width="100 cm", seam="0 cm")
    (told,) = made.findings
    assert "about 8 cm" in told.text
    # The longest strip of a square of 1 m, its diagonal less its width, is 1.374 m.
    assert "1 joins" in told.text
    (x0, y0), (x1, y1) = (
        made.pattern.piece("strip").grain.start,
        made.pattern.piece("strip").grain.end,
    )  # type: ignore[union-attr]
    assert abs(x1 - x0) == pytest.approx(abs(y1 - y0))


def test_a_strip_longer_than_the_cloth_is_joined() -> None:
    # Parts of 98 cm without their seams: 2.98 m needs 3 of them and two joins.
    made = strip(width="2 cm", length="296 cm", layers=2, cloth_width="100 cm")
    (told,) = made.findings
    assert "3 parts and joined 2 times" in told.text
    assert "300 cm" in told.text


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"width": "1 cm"}, "a length, or"),
        ({"width": "1 cm", "length": "1 m", "loops": 3, "button": "1 cm"}, "a length, or"),
        ({"width": "1 cm", "loops": 3}, "diameter"),
        ({"width": "10 cm", "length": "30 cm"}, "wide and only"),
        ({"width": "-1 cm", "length": "30 cm"}, "width"),
        ({"width": "1 cm", "length": "30 cm", "name": "front"}, "already"),
        ({"width": "9 cm", "length": "90 cm", "bias": True, "cloth_width": "20 cm"}, "no strip"),
    ],
)
def test_strips_that_cannot_be(given: dict[str, Any], said: str) -> None:
    with pytest.raises(SizewrightError) as caught:
        strip(**given)
    assert said in f"{caught.value} {caught.value.cure}"


def test_a_strip_too_narrow_to_fold_raises_an_eyebrow() -> None:
    assert "too-narrow" in {f.code for f in strip(width="2 mm", length="30 cm").findings}


def test_loops_wider_than_their_buttons_raise_an_eyebrow() -> None:
    codes = {
        w: {f.code for f in strip(width=w, loops=5, button="1 cm").findings}
        for w in ("5 mm", "2 cm")
    }
    assert "loop-wide" in codes["2 cm"] - codes["5 mm"]
