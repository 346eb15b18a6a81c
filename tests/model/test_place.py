"""Places said in one phrase."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from sizewright.errors import GeometryError, InputError, LookupFailed
from sizewright.model import Axis, Place, find_place, parse_place
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
    assert parse_place(" back : 1/3 along side from hip ") == Place(
        "back : 1/3 along side from hip", "back", "hip", "side", 1 / 3, True
    )
