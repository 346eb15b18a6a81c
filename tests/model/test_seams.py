"""Seam phrases, and walking chains as they are sewn."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import GeometryError, InputError, LookupFailed
from sizewright.model import (
    ChainPart,
    Ease,
    PairedNotch,
    Pattern,
    Seam,
    format_seam,
    parse_chain,
    parse_seam,
    parse_seams,
    walk,
    walk_chain,
)
from tests.shapes import bodice

WAIST = 90 + float(np.hypot(120, 10))

words = st.text("abcdefghijklmnopqrstuvwxyz-", min_size=1, max_size=8).filter(
    lambda t: not t.startswith("-")
)
parts = st.builds(ChainPart, words, words, st.booleans(), st.integers(1, 4))
chains = st.lists(parts, min_size=1, max_size=3).map(tuple)
amounts = st.one_of(
    st.tuples(st.floats(-500, 500).map(lambda v: round(v, 3)), st.just(False)),
    st.tuples(st.integers(-90, 300).map(lambda v: v / 100), st.just(True)),
)
eases = st.one_of(
    st.none(),
    st.builds(
        lambda a, kind, between: Ease(a[0], a[1], kind, between),
        amounts,
        st.sampled_from(["ease", "gather"]),
        st.one_of(st.none(), st.tuples(words, words)),
    ),
)
notches = st.lists(
    st.builds(
        lambda a, n, name: PairedNotch(abs(a[0]), a[1], n, name),
        amounts,
        st.integers(1, 3),
        st.one_of(st.none(), words),
    ),
    max_size=2,
).map(tuple)


@given(st.builds(Seam, words, chains, chains, eases, notches))
def test_phrase_and_seam_are_inverse(seam: Seam) -> None:
    again = parse_seam(format_seam(seam))
    assert (again.name, again.first, again.second) == (seam.name, seam.first, seam.second)
    assert format_seam(again) == format_seam(seam)
    if seam.ease and again.ease:
        assert again.ease.amount == pytest.approx(seam.ease.amount, abs=1e-9)
        assert dataclasses.replace(again.ease, amount=0) == dataclasses.replace(seam.ease, amount=0)
    else:
        assert seam.ease is again.ease is None


def test_a_phrase_as_people_write_it() -> None:
    seam = parse_seam(
        "cap: sleeve:cap = front:armhole + -back:armhole, ease 1 in between a and b, "
        "notch 1/3 double"
    )
    assert seam.first == (ChainPart("sleeve", "cap"),)
    assert seam.second == (ChainPart("front", "armhole"), ChainPart("back", "armhole", True))
    assert seam.ease == Ease(25.4, False, "ease", ("a", "b"))
    assert seam.notches == (PairedNotch(1 / 3, True, 2),)
    assert seam.pieces() == {"sleeve", "front", "back"}
    two = parse_seams("a: x:y = z:w; b: 2 x x:y = z:w, gather 50%;")
    assert [s.name for s in two] == ["a", "b"]
    assert two[1].first[0].count == 2
    assert two[1].ease == Ease(0.5, True, "gather")


@pytest.mark.parametrize(
    "text",
    [
        "side",
        "side: front:side",
        "side: front = back:side",
        "side: front:a = back:b = c:d",
        "side: front:a = back:b, easing 2 cm",
        "side: front:a = back:b, ease 2",
        "side: 0 x front:a = back:b",
        ": front:a = back:b",
    ],
)
def test_phrases_that_cannot_be_read_say_how(text: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_seam(text)
    assert "seam" in str(caught.value)
    assert caught.value.cure


def test_walk_closes_the_dart() -> None:
    piece = bodice()
    waist = walk(piece, piece.run("waist"))
    assert waist.length == pytest.approx(WAIST)
    path = piece.outline.path
    assert path.at(waist.arc_length(50)) == pytest.approx([50, 0])
    beyond = path.at(waist.arc_length(100))
    assert beyond == pytest.approx(
        np.array([120, 0]) + 10 * np.array([120, 10]) / np.hypot(120, 10)
    )
    with pytest.raises(GeometryError, match="beyond"):
        waist.arc_length(WAIST + 1)


@given(st.floats(0, 1), st.sampled_from(["waist", "side", "armhole", "neck", "fold"]))
def test_distance_and_arc_length_are_inverse(share: float, name: str) -> None:
    piece = bodice()
    way = walk(piece, piece.run(name))
    d = share * way.length
    back = way.distance(way.arc_length(d))
    assert back == pytest.approx(d, abs=1e-6)


def test_places_off_the_run_have_no_distance() -> None:
    piece = bodice()
    way = walk(piece, piece.run("side"))
    assert way.distance(10.0) is None


def test_chain_counts_and_turns() -> None:
    pattern = Pattern((bodice(),))
    chain = walk_chain(pattern, parse_chain("2 x front:waist + -front:side"))
    side = float(np.hypot(20, 200))
    assert chain.length == pytest.approx(2 * WAIST + side)
    path = pattern.pieces[0].outline.path
    for d in (10.0, 2 * WAIST - 10.0):
        _piece, s = chain.place(d)
        assert path.at(s) == pytest.approx([10, 0], abs=1e-6)
    _piece, s = chain.place(chain.length)
    assert path.at(s) == pytest.approx([240, 10], abs=1e-6)
    with pytest.raises(LookupFailed, match="front"):
        walk_chain(pattern, parse_chain("front:brim"))
