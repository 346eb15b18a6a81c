"""Grading to a body: measures by shares, and by the sizes that they tell in a table of steps."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import LookupFailed, UsageError
from sizewright.grading import Asked, Graded, grade, grade_map, main_measure, read_chart, read_rules
from sizewright.model import Pattern

from .outlines import bodice_half

CHART = read_chart(
    "measure,unit,10,12,14,16\nbust,cm,84,88,92,97\nwaist,cm,66,70,74,79\nhip,cm,90,94,98,103\n"
    "back,cm,40,40.5,41,41.5\nupper-chest,cm,80,83,86,89\n",
    name="chart.csv",
)
SHARES = read_rules(
    "rule,axis,bust,waist,hip,back,upper-chest\nhem-side,width,,,0.25,,\nwaist,width,,0.25,,,\n"
    "underarm,width,0.25,,,,\nunderarm,length,,,,0.5,\nshoulder,width,,,,,0.1\n"
    "shoulder,length,,,,1,\nneck,width,,,,,0.05\nneck,length,,,,1,\nneck-centre,length,,,,1,\n"
    "hem-centre,width,,,,,\n",
    name="shares.csv",
)
STEPS = read_rules(
    "rule,axis,unit,10,12,14,16\nhem-side,width,cm,,1,1,1.25\nwaist,width,cm,,1,1,1.25\n"
    "underarm,width,cm,,1,1,1.25\nunderarm,length,mm,,2.5,2.5,2.5\nshoulder,width,mm,,3,3,3\n"
    "shoulder,length,mm,,5,5,5\nneck,width,mm,,1.5,1.5,1.5\nneck,length,mm,,5,5,5\n"
    "neck-centre,length,mm,,5,5,5\nhem-centre,width,mm,,0,0,0\n",
    name="steps.csv",
)
SIDES = {"hem-side": "hip", "waist": "waist", "underarm": "bust"}


def pattern() -> Pattern:
    return Pattern((bodice_half(),), "12")


def widths(graded: Graded) -> dict[str, float]:
    """How much each side point went out from the base, mm."""
    (piece,) = graded.pattern.pieces
    base = bodice_half().outline
    return {
        name: float(
            (piece.outline.vertex_at(base.vertex(name)) - base.vertex_at(base.vertex(name)))[0]
        )
        for name in SIDES
    }


def codes(graded: Graded) -> dict[str, str]:
    return {f.code: f.text for f in graded.findings}


@given(
    st.fixed_dictionaries(
        {"bust": st.floats(840, 970), "waist": st.floats(660, 790), "hip": st.floats(900, 1030)}
    )
)
def test_shares_take_each_side_to_its_own_measure(body: dict[str, float]) -> None:
    out = grade(pattern(), SHARES, chart=CHART, asked=Asked(body))
    (piece,) = out.pattern.pieces
    assert piece.size == "body"
    for name, out_by in widths(out).items():
        # A quarter of what the body differs from the chart's base, whatever the other measures.
        measure = SIDES[name]
        assert out_by == pytest.approx((body[measure] - CHART.value(measure, "12")) / 4, abs=1e-9)


def test_what_is_not_given_comes_from_the_size_or_the_nearest() -> None:
    out = grade(pattern(), SHARES, ["14"], chart=CHART, asked=Asked({"bust": 880.0}))
    assert widths(out) == pytest.approx({"underarm": 0.0, "waist": 10.0, "hem-side": 10.0})
    assert codes(out)["measures-filled"].endswith(
        "from size 14 of the chart: waist, hip, back, upper-chest"
    )
    near = grade(pattern(), SHARES, chart=CHART, asked=Asked({"waist": 745.0}))
    assert widths(near) == pytest.approx({"underarm": 10.0, "waist": 11.25, "hem-side": 10.0})
    assert "waist 74.5 cm" in codes(near)["size-by-measure"]
    assert codes(near)["size-by-measure"].endswith(": 14")


def test_a_body_of_the_chart_is_that_size() -> None:
    body = {m: CHART.value(m, "16") for m in CHART.measures}
    asked = grade(pattern(), SHARES, chart=CHART, asked=Asked(body)).pattern.pieces[0]
    size = grade(pattern(), SHARES, ["16"], chart=CHART).pattern.pieces[0]
    assert np.array_equal(asked.outline.path.controls, size.outline.path.controls)


def test_the_base_body_keeps_the_base_s_bits() -> None:
    body = {m: CHART.value(m, "12") for m in CHART.measures}
    (out,) = grade(pattern(), SHARES, chart=CHART, asked=Asked(body)).pattern.pieces
    assert out.size == "body"
    assert np.array_equal(out.outline.path.controls, bodice_half().outline.path.controls)


def test_steps_take_each_level_to_the_size_of_its_measure() -> None:
    asked = Asked({"bust": 940.0, "waist": 680.0}, label="Ada")
    out = grade(pattern(), STEPS, chart=CHART, asked=asked)
    assert out.pattern.pieces[0].size == "Ada"
    # Bust 94 is 0.4 of the way from 14 to 16: 1 cm and 0.4 of 1.25 cm; waist 68 is 11.
    got = widths(out)
    assert got["underarm"] == pytest.approx(15.0, abs=1e-9)
    assert got["waist"] == pytest.approx(-5.0, abs=1e-9)
    assert codes(out)["size-by-measure"].endswith(": 14.8")
    with_size = grade(pattern(), STEPS, ["14"], chart=CHART, asked=asked)
    shoulder = with_size.pattern.pieces[0].outline.vertex_at(4) - bodice_half().outline.vertex_at(4)
    np.testing.assert_allclose(shoulder, [3.0, 5.0], rtol=0, atol=1e-9)
    assert widths(with_size)["underarm"] == pytest.approx(15.0, abs=1e-9)


def test_the_upper_chest_tells_the_frame_where_it_is_given() -> None:
    assert main_measure(["hip", "bust", "upper-chest"]) == "upper-chest"
    assert main_measure(["waist", "hip"]) == "hip"
    assert main_measure(["inseam"]) == "inseam"
    asked = Asked({"bust": 970.0, "upper-chest": 830.0})
    out = grade(pattern(), STEPS, chart=CHART, asked=asked)
    shoulder = out.pattern.pieces[0].outline.vertex_at(4)
    np.testing.assert_allclose(shoulder, bodice_half().outline.vertex_at(4), rtol=0, atol=1e-9)
    assert widths(out)["underarm"] == pytest.approx(22.5, abs=1e-9)


def test_measures_that_change_nothing_are_told() -> None:
    out = grade(pattern(), STEPS, chart=CHART, asked=Asked({"bust": 880.0, "back": 410.0}))
    assert "back" in codes(out)["measures-unused"]
    # No point of this piece is at the hip.
    out = grade(pattern(), STEPS, chart=CHART, asked=Asked({"bust": 880.0, "hip": 980.0}))
    assert "hip" in codes(out)["level-missing"]
    fewer = read_rules(
        "rule,axis,bust\nhem-side,width,0.25\nwaist,width,0.25\nunderarm,width,0.25\n"
        "shoulder,width,0\nneck,width,0\nneck-centre,width,0\nhem-centre,width,0\n"
    )
    out = grade(pattern(), fewer, chart=CHART, asked=Asked({"upper-chest": 850.0}))
    assert "upper-chest" in codes(out)["measures-unused"]


def test_refusals() -> None:
    def asks(sizes: list[str], asked: Asked, **more: object) -> Graded:
        given = {"chart": CHART} | more
        return grade(pattern(), STEPS, sizes, asked=asked, **given)  # type: ignore[arg-type]

    with pytest.raises(UsageError, match="need a size chart"):
        asks([], Asked({"bust": 900.0}), chart=None)
    with pytest.raises(LookupFailed, match="no measure"):
        asks([], Asked({"calf": 900.0}))
    with pytest.raises(UsageError, match="goes with one size"):
        asks(["12", "14"], Asked({"bust": 900.0}))
    with pytest.raises(UsageError, match=r"bust 120 cm .* beyond the chart"):
        asks([], Asked({"bust": 1200.0}))
    with pytest.raises(UsageError, match="size for all the rest"):
        asks([], Asked(at={"waist": "14"}))
    with pytest.raises(UsageError, match="name of a plain size"):
        asks(["12"], Asked(at={"waist": "14"}, label="16"))
    with pytest.raises(UsageError, match="no size is asked for"):
        asks([], Asked())
    out = asks([], Asked({"bust": 1020.0}), allow_far=True)
    assert {"beyond-table", "far-from-base"} <= set(codes(out))
    assert widths(out)["underarm"] == pytest.approx(10 + 12.5 + 12.5)


def test_a_chart_with_other_columns_goes_by_labels() -> None:
    wide = read_chart("measure,unit,14,16,18\nbust,cm,92,97,102\n")
    out = grade(pattern(), STEPS, chart=wide, asked=Asked({"bust": 945.0}))
    assert codes(out)["size-by-measure"].endswith(": 15")
    assert widths(out)["underarm"] == pytest.approx(16.25)
    with pytest.raises(UsageError, match=r"size 18 lies beyond.* bust 100 cm .* is size 17.2"):
        grade(pattern(), STEPS, chart=wide, asked=Asked({"bust": 1000.0}))


@given(st.lists(st.floats(-60, 60), min_size=15, max_size=15), st.floats(0, 1))
def test_bodies_are_linear_in_their_measures(values: list[float], share: float) -> None:
    one = grade_map(bodice_half())
    changes = np.array(values).reshape(3, 5)
    changes[2] = share * changes[0] + (1 - share) * changes[1]
    growth = SHARES.growth_of(dict(zip(SHARES.measures, changes.T, strict=True)))
    a, b, mixed = one.batch(one.amounts(growth))
    np.testing.assert_allclose(mixed, share * a + (1 - share) * b, rtol=0, atol=1e-9)


@pytest.mark.parametrize("bodies", [1_000, 4_000])
def test_the_memory_of_many_bodies_is_that_of_their_points(bodies: int) -> None:
    one = grade_map(bodice_half())
    amounts = np.random.default_rng(2).uniform(-9, 9, (bodies, one.columns))
    one.batch(amounts[:1])
    tracemalloc.start()
    try:
        places = one.batch(amounts)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    # The output, and one more copy of the amounts.
    assert peak <= places.nbytes + 1.2 * amounts.nbytes + 100_000
