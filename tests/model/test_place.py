"""Places said in one phrase."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sizewright.drafting import open_out, redraft
from sizewright.errors import GeometryError, InputError, LookupFailed
from sizewright.geometry import affine
from sizewright.model import (
    Axis,
    Drill,
    Pattern,
    Piece,
    Place,
    find_place,
    locate,
    parse_place,
)
from tests.shapes import bodice


def spot(phrase: str, **changes: object) -> np.ndarray:
    piece = dataclasses.replace(bodice(), **changes)  # type: ignore[arg-type]
    return piece.outline.path.at(find_place(piece, phrase))


@pytest.mark.parametrize(
    ("phrase", "place"),
    [
        ("underarm", (260, 210)),
        ("#1", (0, 0)),
        ("middle of fold", (0, 160)),
        ("start of side", (240, 10)),
        ("end of side", (260, 210)),
        ("1/4 along fold", (0, 80)),
        ("25% along fold", (0, 80)),
        ("30 mm along fold from waist-centre", (0, 30)),
        ("30 mm along fold from neck-centre", (0, 290)),
        ("3 in up fold from waist-centre", (0, 76.2)),
        ("2 cm down fold from neck-centre", (0, 300)),
        ("9 cm along waist from waist-centre", (90, 0)),
        ("front: 5 cm along waist", (50, 0)),
    ],
)
def test_phrases(phrase: str, place: tuple[float, float]) -> None:
    assert spot(phrase) == pytest.approx(place, abs=1e-6)


def test_past_a_dart_the_mouth_does_not_count() -> None:
    x, _ = spot("100 mm along waist from waist-centre")
    assert x == pytest.approx(120 + 10 * 120 / np.hypot(120, 10))
    x, _ = spot("50 mm along waist from waist-side")
    assert x == pytest.approx(240 - 50 * 120 / np.hypot(120, 10))


def test_up_follows_the_axis() -> None:
    upside_down = Axis((0, 300), (0, 0))
    assert spot("20 mm up fold from neck-centre", axis=upside_down) == pytest.approx([0, 300])


def test_armhole_length_is_true_arc_length() -> None:
    piece = bodice()
    s = find_place(piece, "12 cm along armhole from underarm")
    start = piece.outline.path.cumulative[5]
    assert s - start == pytest.approx(120)


@pytest.mark.parametrize(
    ("phrase", "error"),
    [
        ("underram", LookupFailed),
        ("middle of brim", LookupFailed),
        ("2 cm along side from neck-side", LookupFailed),
        ("90 cm along side", GeometryError),
        ("2 cm up fold from neck-centre", GeometryError),
        ("2 along side", InputError),
        ("", InputError),
        ("front:", InputError),
        ("half way along", InputError),
        ("middle of", InputError),
    ],
)
def test_places_that_are_not_there_say_where(phrase: str, error: type[Exception]) -> None:
    with pytest.raises(error) as caught:
        spot(phrase)
    assert "place" in str(caught.value)


def test_a_place_keeps_its_words() -> None:
    whole = "back : 1/3 along side from hip"
    hip = Place(whole, "back", "hip")
    assert parse_place(f"  {whole} ") == Place(
        whole, "back", None, "side", 1 / 3, True, "along", hip
    )


@pytest.mark.parametrize(
    ("phrase", "place"),
    [
        ("level with underarm along fold", (0, 210)),
        ("plumb with 3 cm across from waist-centre along waist", (30, 0)),
        ("9 cm down from underarm", (260, 120)),
        ("9 cm up from waist-side", (240, 100)),
        ("4 cm across from waist-centre", (40, 0)),
        ("4 cm back from underarm", (220, 210)),
        ("2.5 cm inside middle of fold", (25, 160)),
        ("1/2 towards underarm from waist-centre", (130, 105)),
        ("50 mm towards neck-centre from waist-centre", (0, 50)),
        ("4 cm across from waist-centre, 9 in up", (40, 228.6)),
        ("4 cm across from waist-centre, 9 in up, 1 cm back", (30, 228.6)),
        ("bust-point", (90, 180)),
        ("1 cm down from bust-point", (90, 170)),
        ("1 in towards bust-point from waist-dart-tip", None),
    ],
)
def test_places_within_the_piece(phrase: str, place: tuple[float, float] | None) -> None:
    piece = dataclasses.replace(bodice(), drills=(Drill((90.0, 180.0), "bust-point"),))
    found = locate(piece, phrase).point
    if place is None:
        (dart,) = piece.darts
        way = np.array([90.0, 180.0]) - dart.apex
        assert found == pytest.approx(dart.apex + way / np.hypot(*way) * 25.4)
    else:
        assert found == pytest.approx(place, abs=1e-6)


@settings(max_examples=25)
@given(
    st.sampled_from(
        [
            "1/3 along side",
            "12 cm along armhole from underarm",
            "level with underarm along fold",
            "9 cm down from underarm",
            "4 cm across from waist-centre, 9 in up",
            "2.5 cm inside middle of side",
            "1/2 towards underarm from waist-centre",
        ]
    ),
    st.floats(-180, 180),
    st.booleans(),
)
def test_a_place_goes_with_a_piece_that_is_turned_or_mirrored(
    phrase: str, degrees: float, over: bool
) -> None:
    piece = dataclasses.replace(bodice(), axis=Axis((0, 0), (0, 300)))
    move = affine.rotation(degrees, (30.0, 40.0))
    if over:
        move = affine.compose(affine.mirror(np.zeros(2), np.array([0.0, 1.0])), move)
    here = affine.apply(move, locate(piece, phrase).point[None])[0]
    assert locate(piece.transformed(move), phrase).point == pytest.approx(here, abs=1e-6)


def opened() -> Piece:
    """The bodice opened out at its fold."""
    pattern = Pattern((bodice(),))
    return redraft(pattern, ["front"], open_out).pattern.pieces[0]


def test_opened_pieces_count_alike_on_both_sides() -> None:
    # Of a front, drawn as seen, the wearer's left lies on the right.
    for phrase in ("underarm", "1/3 along side", "4 cm across from waist-centre, 2 cm up"):
        left, right = (locate(opened(), f"{side} {phrase}").point for side in ("left", "right"))
        assert left[0] > 0
        assert right == pytest.approx([-left[0], left[1]], abs=1e-6)
    whole = locate(bodice(), "10 cm along waist").point
    assert locate(opened(), "left 10 cm along waist").point == pytest.approx(whole)
    assert locate(opened(), "right 10 cm along waist").point == pytest.approx(whole * [-1, 1])
    assert locate(opened(), "middle of waist").point == pytest.approx([0, 0], abs=1e-6)
    assert locate(opened(), "front: left underarm-mirrored").point[0] < 0


@pytest.mark.parametrize(
    "phrase", ["underarm", "1/3 along side", "10 cm along waist", "4 cm across from waist-centre"]
)
def test_a_place_on_an_opened_piece_says_its_side(phrase: str) -> None:
    with pytest.raises(LookupFailed, match=r"Begin the place with left or right"):
        locate(opened(), phrase)
    assert (
        locate(opened(), f"left {phrase}").point[0]
        > 0
        > locate(opened(), f"right {phrase}").point[0]
    )


@pytest.mark.parametrize("phrase", ["-2 cm down fold from hem", "underarm, -9 in up"])
def test_a_place_with_a_minus_says_the_other_way(phrase: str) -> None:
    with pytest.raises(InputError, match=r"negative length\. Leave the minus out") as caught:
        parse_place(phrase)
    assert phrase in str(caught.value)


@pytest.mark.parametrize(
    ("phrase", "form"),
    [
        ("level at underarm along fold", "level with underarm along centre-front"),
        ("3 cm inside", "2.5 cm inside middle of waist"),
        ("1 in towards bust-point", "1 in towards bust-point from waist-dart-tip"),
        ("4 cm across waist from side", "4 cm across from waist-centre"),
        ("4 cm across from waist-centre, 3 cm sideways", "4 cm across from waist-centre"),
    ],
)
def test_a_phrase_that_cannot_be_read_is_shown_the_nearest_form(phrase: str, form: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_place(phrase)
    assert form in caught.value.cure


def test_a_place_within_the_piece_is_none_on_the_outline() -> None:
    with pytest.raises(GeometryError, match="off the outline"):
        find_place(bodice(), "9 cm down from underarm, 1 cm back")


def test_one_of_several_crossings_is_the_nearest_and_told() -> None:
    piece = bodice()
    found = locate(piece, "plumb with 2 cm across from waist-centre along #1..#1")
    assert found.point == pytest.approx([20, 0])
    assert [f.code for f in found.findings] == ["place-of-several"]
