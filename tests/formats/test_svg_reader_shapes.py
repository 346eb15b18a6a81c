"""Path data, basic shapes and transforms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import InputError
from sizewright.formats.svg.path_data import parse_path
from sizewright.formats.svg.transforms import parse_transform
from sizewright.geometry import affine
from tests.formats.drawing import box, codes, names, only, read


def _points(text: str) -> list[list[tuple[float, ...]]]:
    return [[s[-1] for s in sub.segments] for sub in parse_path(text).subpaths]


@pytest.mark.parametrize(
    ("text", "points"),
    [
        ("M1 2L3 4", [[(3, 4)]]),
        ("M1 2 3 4 5 6", [[(3, 4), (5, 6)]]),
        ("m1 2 3 4 5 6", [[(4, 6), (9, 12)]]),
        ("M10-20l.5.5-1e1,+2E-1", [[(10.5, -19.5), (0.5, -19.3)]]),
        ("M1,2h3v4H0V0", [[(4, 2), (4, 6), (0, 6), (0, 0)]]),
        ("M0 0h1h1zm5 5h1", [[(1, 0), (2, 0)], [(6, 5)]]),
        ("M0 0H9V9ZL5 5", [[(9, 0), (9, 9)], [(5, 5)]]),
        ("M 0 0 m 1 1 m 1 1 h 1", [[(3, 2)]]),
        ("\n\tM0,0 , ,L1 1", [[(1, 1)]]),
        ("none", []),
        ("", []),
    ],
)
def test_path_grammar(text: str, points: list[list[tuple[float, float]]]) -> None:
    data = parse_path(text)
    assert data.rest == ""
    assert [[pytest.approx(p) for p in sub] for sub in points] == _points(text)


@pytest.mark.parametrize(
    ("text", "count", "rest"),
    [
        ("M0 0L1 1 2", 1, "2"),
        ("M0 0 1 1 X 2 2", 1, "X 2 2"),
        ("L1 1", 0, "L1 1"),
        ("M0 0C1 1 2 2", 0, "C1 1 2 2"),
        ("M0 0A5 5 0 2 1 9 9", 0, "A5 5 0 2 1 9 9"),
        ("M0 0Z1 1", 0, "1 1"),
        ("M0 0L1 1;L2 2", 1, ";L2 2"),
    ],
)
def test_path_is_read_up_to_the_first_error(text: str, count: int, rest: str) -> None:
    """SVG 1.1, appendix F.2: drawn up to, and not including, the command in error."""
    data = parse_path(text)
    assert sum(len(s.segments) for s in data.subpaths) == count
    assert data.rest == rest


@pytest.mark.parametrize("word", ["NaN", "nan", "Infinity", "-inf", "1e999"])
@pytest.mark.parametrize("before", ["M0 0L", "M0 0L1 1 ", "M0 0L1 ", "M", "M0 0C1 2 3 4 5 "])
def test_numbers_that_are_not_finite_are_refused(before: str, word: str) -> None:
    with pytest.raises(InputError, match="finite"):
        parse_path(f"{before}{word} 5Z")


def test_smooth_commands_mirror_the_last_handle() -> None:
    (sub,) = parse_path("M0 0C1 2 3 4 5 5S9 9 10 10 h5 S20 20 30 30").subpaths
    assert sub.segments[1][1] == (7, 6)
    assert sub.segments[3][1] == (15, 10)  # after a line: the point itself
    (sub,) = parse_path("M0 0Q3 6 6 0T12 0t6 0").subpaths
    # The quadratic's handles are (3, 6), (9, -6), (15, 6): two thirds of the way to each.
    assert sub.segments[1][1] == pytest.approx((8, -4))
    assert sub.segments[2][1] == pytest.approx((14, 4))


def test_arc_flags_may_run_together() -> None:
    a = parse_path("M0 0a1 1 0 01.5.5").subpaths
    b = parse_path("M0,0 a 1,1 0 0 1 0.5,0.5").subpaths
    assert a == b


def test_arcs_are_cut_by_their_size_in_mm() -> None:
    """A circle of 800 mm drawn in metres keeps to its radius within 0.001 mm."""
    page = 'width="2000mm" height="2000mm" viewBox="0 0 2 2"'
    for shape in (
        '<circle id="a" cx="1" cy="1" r=".8"/>',
        '<path id="a" d="M.2 1a.8.8 0 111.6 0 .8.8 0 01-1.6 0z"/>',
    ):
        path = only(read(shape, page)).outline.path
        around = path.at(np.linspace(0, path.length, 3000, endpoint=False)) - 1000
        assert np.abs(np.hypot(*around.T) - 800).max() < 1e-3


@pytest.mark.parametrize(
    ("shape", "area"),
    [
        ('<rect id="a" width="50" height="40"/>', 2000.0),
        ('<rect id="a" width="50" height="40" rx="5"/>', 2000 - (4 - math.pi) * 25),
        ('<rect id="a" width="50" height="40" ry="99" rx="10"/>', 2000 - (4 - math.pi) * 200),
        ('<circle id="a" r="40"/>', math.pi * 1600),
        ('<ellipse id="a" rx="40" ry="20"/>', math.pi * 800),
        ('<ellipse id="a" ry="20"/>', math.pi * 400),
        ('<polygon id="a" points="0,0 50,0 50 40"/>', 1000.0),
        ('<polyline id="a" points="0 0,50 0,50 40,0 0"/>', 1000.0),
        ('<path id="a" d="M0 0H50V40"/>', None),
        ('<rect id="a" width="50" height="0"/>', None),
        ('<circle id="a" r="0"/>', None),
        ('<polyline id="a" points="0 0,50 0,50 40"/>', None),
        ('<line id="a" x2="50" y2="9"/>', None),
    ],
)
def test_basic_shapes(shape: str, area: float | None) -> None:
    reading = read(f'<g transform="translate(100 100)">{shape}</g>')
    if area is None:
        assert names(reading) == []
    else:
        assert only(reading).area == pytest.approx(area, rel=3e-6)


def test_negative_sizes_are_refused_with_their_place() -> None:
    with pytest.raises(InputError, match=r'test\.svg: line 1, <circle id="a">.*below zero'):
        read('<circle id="a" r="-5"/>')
    with pytest.raises(InputError, match="cx"):
        read('<circle id="a" r="5" cx="2em"/>')


@pytest.mark.parametrize(
    ("text", "matrix"),
    [
        ("translate(3)", affine.translation(3, 0)),
        ("scale(2)", affine.scaling(2)),
        ("rotate(90)", affine.rotation(90)),
        ("rotate(45,1,2)", affine.rotation(45, (1, 2))),
        ("skewX(45)", affine.affine(1, 0, 1, 1, 0, 0)),
        ("matrix(1,2,3,4,5,6)", affine.affine(1, 2, 3, 4, 5, 6)),
        ("translate(1,2)scale(2) , rotate(0)", affine.affine(2, 0, 0, 2, 1, 2)),
        ("translate(25.4mm, 1in)", affine.translation(96, 96)),
        ("rotate(0.25turn)", affine.rotation(90)),
        ("translateX(3px) translateY(4px) scaleX(2)", affine.affine(2, 0, 0, 1, 3, 4)),
        ("none", affine.identity()),
    ],
)
def test_transform_lists(text: str, matrix: affine.Floats) -> None:
    assert parse_transform(text) == pytest.approx(matrix, abs=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        "twist(3)",
        "rotate()",
        "rotate(1,2)",
        "scale(1 2 3)",
        "matrix(1 0 0 1 0)",
        "rotate(3",
        "3",
        "scale(a)",
        "perspective(3px)",
    ],
)
def test_transforms_that_cannot_be_read_are_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_transform(text)


def test_style_transform_and_origin() -> None:
    styled = read(f'<g style="transform: translate(10px, 20px)">{box(0, 0, 50, 50, id="a")}</g>')
    assert only(styled).bounds == pytest.approx((10, 230, 60, 280))
    about = '<g transform="rotate(180)" style="transform-origin: 50px 50px">'
    turned = read(f"{about}{box(10, 10, 50, 50, id='a')}</g>")
    assert only(turned).bounds == pytest.approx((40, 210, 90, 260))
    centred = '<g transform="rotate(9)" style="transform-origin: center">'
    told = read(f"{centred}{box(99, 9, 50, 50, id='a')}</g>")
    assert "transform-origin" in codes(told)


def test_geometry_in_a_style_is_told() -> None:
    reading = read('<rect id="a" width="40" height="50" style="width: 90px"/>')
    assert "style-geometry" in codes(reading)


def test_relative_coordinates_that_miss_their_start_close_without_a_crumb() -> None:
    text = "m 50 50 l 33.333333 0 l 0 33.333333 l -33.333334 0.000001 z"
    piece = only(read(f'<path id="a" d="{text}"/>'))
    assert len(piece.outline.path) == 4
    assert len(piece.outline.corners) == 4
    text = "m 50 50 h 40 v 40 h -40 v -39.9995 z"
    assert len(only(read(f'<path id="a" d="{text}"/>')).outline.path) == 4


def test_segments_of_no_length_are_dropped_and_short_ones_kept() -> None:
    piece = only(read('<path id="a" d="M50 50H90h1e-7v0V90h-.01H50v-40Z"/>'))
    assert len(piece.outline.path) == 5
    assert min(piece.outline.path.segment_lengths) == pytest.approx(0.01)


@given(st.text(alphabet="MmLlHhVvCcSsQqTtAaZz0123456789.,-+eE \n", max_size=60))
def test_any_path_text_is_read_or_refused(text: str) -> None:
    try:
        data = parse_path(text)
    except InputError:
        return
    for sub in data.subpaths:
        for before, after in zip(sub.segments, sub.segments[1:], strict=False):
            assert before[-1] == after[0]


@pytest.mark.parametrize(
    "shape",
    [
        '<path id="a" d="M0 0A1e-320 9 0 0 1 50 0V50Z"/>',
        '<path id="a" d="M0 0A0 9 0 0 1 50 0V50Z"/>',
        '<rect id="a" width="50" height="25" rx="1e-320"/>',
    ],
)
def test_radii_that_are_nothing_draw_straight(shape: str) -> None:
    assert only(read(shape)).area == pytest.approx(1250)


def test_a_viewport_beyond_measure_does_no_harm() -> None:
    inner = '<svg width="1e300" height="1e300"><circle id="a" r="50%"/></svg>'
    with pytest.raises(InputError, match="100 km"):
        read(inner)
