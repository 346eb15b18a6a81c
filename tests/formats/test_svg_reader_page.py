"""Page, units and viewBox: every drawing true to scale."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import InputError
from sizewright.geometry import affine
from sizewright.units import Unit
from tests.formats.drawing import box, codes, only, read

SQUARE = box(0, 0, 100, 100, id="square")


def _bounds(page: str, **settings: Unit) -> tuple[float, ...]:
    return only(read(box(0, 0, 100, 50, id="a"), page, **settings)).bounds


@pytest.mark.parametrize(
    ("width", "mm"),
    [
        ("1000mm", 1000.0),
        ("100cm", 1000.0),
        ("10in", 254.0),
        ("96px", 25.4),
        ("96", 25.4),
        ("72pt", 25.4),
        ("6pc", 25.4),
        ("400Q", 100.0),
        ("1E1IN", 254.0),
        (" 40.5 mm ", 40.5),
    ],
)
def test_page_units_are_exact(width: str, mm: float) -> None:
    """CSS units are fixed multiples (CSS Values and Units); no figure may be lost."""
    reading = read(box(0, 0, 50, 50, id="a"), f'width="{width}" height="{width}"')
    assert reading.pattern.page == (mm, mm)


def test_a_thousand_mm_stay_a_thousand() -> None:
    page = 'width="1000mm" height="1000mm" viewBox="0 0 1000 1000"'
    piece = only(read(box(0, 0, 1000, 400, id="a"), page))
    assert piece.bounds == (0.0, 600.0, 1000.0, 1000.0)


def test_origin_is_the_page_s_lower_left() -> None:
    page = 'width="200mm" height="100mm" viewBox="-10 -20 400 200"'
    assert _bounds(page) == pytest.approx((5.0, 65.0, 55.0, 90.0), abs=1e-12)


@pytest.mark.parametrize(
    ("aspect", "expected"),
    [
        # 100 by 100 units on 300 by 100 mm.
        ("", (100, 50, 200, 100)),
        ("xMinYMin", (0, 50, 100, 100)),
        ("xMaxYMid meet", (200, 50, 300, 100)),
        ("none", (0, 50, 300, 100)),
        ("xMidYMin slice", (0, -50, 300, 100)),
        ("xMidYMax slice", (0, 150, 300, 300)),
        ("defer xMinYMid meet", (0, 50, 100, 100)),
    ],
)
def test_preserve_aspect_ratio(aspect: str, expected: tuple[float, ...]) -> None:
    page = f'width="300mm" height="100mm" viewBox="0 0 100 100" preserveAspectRatio="{aspect}"'
    assert _bounds(page) == pytest.approx(expected, abs=1e-9)


def test_without_a_page_size_a_unit_is_a_pixel_and_it_is_told() -> None:
    for page in ("", 'viewBox="0 0 400 300"', 'width="100%" height="100%" viewBox="0 0 400 300"'):
        reading = read(box(0, 0, 192, 96, id="a"), page)
        x0, y0, x1, y1 = only(reading).bounds
        assert (x1 - x0, y1 - y0) == pytest.approx((50.8, 25.4))
        assert [f.level for f in reading.findings if f.code == "scale-assumed"] == ["warn"]


def test_one_size_gives_the_other_by_the_viewbox() -> None:
    reading = read(SQUARE, 'height="150mm" viewBox="0 0 400 300"')
    assert reading.pattern.page == (200.0, 150.0)
    assert "scale-assumed" not in codes(reading)


@pytest.mark.parametrize("unit", [Unit.MM, Unit.CM, Unit.IN, Unit.PT])
def test_units_override_the_page(unit: Unit) -> None:
    size = unit.to_mm(1.0)
    for page in ('viewBox="0 0 400 300"', 'width="8in" height="9in" viewBox="0 0 400 300"'):
        reading = read(box(10, 0, 100, 100, id="a"), page, units=unit)
        expected = (10 * size, 200 * size, 110 * size, 300 * size)
        assert only(reading).bounds == pytest.approx(expected, rel=1e-12)
        assert "scale-assumed" not in codes(reading)
    reading = read(box(0, 0, 100, 100, id="a"), 'width="400" height="300"', units=unit)
    assert reading.pattern.page == pytest.approx((400 * size, 300 * size))


def test_inner_svg_has_a_scale_of_its_own() -> None:
    inner = f'<svg x="10" y="20" width="50" height="50" viewBox="0 0 100 100">{SQUARE}</svg>'
    assert only(read(inner)).bounds == pytest.approx((10, 230, 60, 280))
    rect = '<rect id="a" width="100%" height="50%"/>'
    percent = f'<svg x="25%" y="10%" width="50%" height="50%">{rect}</svg>'
    assert only(read(percent)).bounds == pytest.approx((100, 195, 300, 270))


@pytest.mark.parametrize(
    "page",
    [
        'width="0" height="10mm"',
        'width="-5mm"',
        'width="21em"',
        'width="12furlong"',
        'width="nan"',
        'width="1e999mm"',
        'width="wide"',
        'width="10mm" viewBox="0 0 0 10"',
        'width="10mm" viewBox="0 0 10 inf"',
        'width="10mm" viewBox="0 0 10"',
        'width="10mm" viewBox="a b c d"',
    ],
)
def test_bad_pages_are_refused_with_file_and_line(page: str) -> None:
    with pytest.raises(InputError, match=r"test\.svg.*line 1"):
        read(SQUARE, page)


@pytest.mark.parametrize(
    ("page", "told"),
    [
        ('width="744.09448" height="1052.36220"', True),  # 210 by 297 mm at 90 to the inch
        ('width="595.27559" height="841.88976"', True),  # the same at 72 to the inch
        ('width="1240.157" height="1753.937"', True),  # at 150 to the inch
        ('width="2480.315" height="3507.874"', True),  # at 300
        ('width="8.5mm" height="11mm" viewBox="0 0 850 1100"', True),
        ('width="210mm" height="297mm"', False),
        ('width="500mm" height="333mm"', False),
    ],
)
def test_a_usual_slip_of_scale_is_hinted_and_never_applied(page: str, told: bool) -> None:
    reading = read(box(0, 0, 192, 96, id="a"), page)
    found = [f for f in reading.findings if f.code == "scale-doubtful"]
    assert [f.level for f in found] == (["warn"] if told else [])
    if told and "mm" not in page:
        assert 'width="210.0mm" height="297.0mm"' in found[0].cure


FINITE = st.floats(-500, 500)


@given(
    points=st.lists(st.tuples(FINITE, FINITE), min_size=3, max_size=3, unique=True),
    unit=st.sampled_from(["mm", "cm", "in", "px", "pt", "pc", "Q"]),
    box_=st.tuples(FINITE, FINITE, st.floats(10, 2000)),
    factor=st.floats(0.05, 20),
    moves=st.lists(
        st.sampled_from(
            [
                ("translate(12.5 -40)", affine.translation(12.5, -40)),
                ("rotate(33)", affine.rotation(33)),
                ("rotate(90, 20, 30)", affine.rotation(90, (20, 30))),
                ("scale(1.5,-0.75)", affine.scaling(1.5, -0.75)),
                ("skewX(20)", affine.affine(1, 0, math.tan(math.radians(20)), 1, 0, 0)),
                ("skewY(-35)", affine.affine(1, math.tan(math.radians(-35)), 0, 1, 0, 0)),
                ("matrix(0.8 0.6 -0.6 0.8 5 6)", affine.affine(0.8, 0.6, -0.6, 0.8, 5, 6)),
            ]
        ),
        max_size=5,
    ),
)
def test_a_triangle_through_any_nest_of_units_and_groups_comes_back(
    points: list[tuple[float, float]],
    unit: str,
    box_: tuple[float, float, float],
    factor: float,
    moves: list[tuple[str, affine.Floats]],
) -> None:
    """What is written for a place in mm is read as that place (within rounding)."""
    (x0, y0), (x1, y1), (x2, y2) = points
    area = abs((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)) / 2
    longest = max(abs(x1 - x0), abs(y1 - y0), abs(x2 - x0), abs(y2 - y0), abs(x2 - x1))
    if area < 500 or longest < 30 or area < 5 * longest:
        return
    left, top, width = box_
    mm = {u.symbol: u.to_mm(1.0) for u in Unit}[unit]
    side = width * factor  # of the square page, in mm
    root = affine.compose(
        affine.affine(1, 0, 0, -1, 0, side),
        affine.affine(factor, 0, 0, factor, -left * factor, -top * factor),
    )
    nest = affine.compose(root, *(m for _, m in moves))
    user = affine.apply(np.linalg.inv(np.vstack([nest, [0, 0, 1]]))[:2], np.array(points))
    body = '<path id="a" d="M' + " L ".join(f"{x!r} {y!r}" for x, y in user.tolist()) + 'Z"/>'
    for text, _ in reversed(moves):
        body = f'<g transform="{text}">{body}</g>'
    page = f'width="{side / mm!r}{unit}" height="{side / mm!r}{unit}" '
    page += f'viewBox="{left!r} {top!r} {width!r} {width!r}"'
    piece = only(read(body, page))
    found = {tuple(round(float(v), 6) + 0.0 for v in p) for p in piece.outline.path.vertices}
    assert found == {tuple(round(v, 6) + 0.0 for v in p) for p in points} or all(
        min(math.dist(p, q) for q in piece.outline.path.vertices) < 1e-7 for p in points
    )


def test_a_page_of_bare_numbers_is_in_pixels_and_that_is_told() -> None:
    body = '<path id="a" d="M10 10H210V310z"/>'
    (told,) = read(body, page='width="900" height="1100" viewBox="0 0 900 1100"').findings
    assert (told.code, told.level) == ("scale-assumed", "warn")
    assert "no unit" in told.text
    assert read(body, page='width="900px" height="1100px" viewBox="0 0 900 1100"').findings == ()
    assert read(body, page='width="900" viewBox="0 0 900 9"', units=Unit.MM).findings == ()


def test_a_piece_beside_the_page_is_told_where_others_lie_on_it() -> None:
    page = 'width="200mm" height="200mm" viewBox="0 0 200 200"'
    on, over = box(10, 10, 80, 80, id="on"), box(150, 10, 100, 80, id="over")
    off = box(250, 10, 80, 80, id="off")
    told = read(on + over + off, page)
    assert [p.name for p in told.pattern.pieces] == ["on", "over", "off"]
    assert [f.piece for f in told.findings if f.code == "beside-page"] == ["off"]
    # A page that nothing lies on says nothing.
    assert "beside-page" not in codes(read(off, page))
