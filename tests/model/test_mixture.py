"""Mixtures of rules as text, and the weights that they are read from."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import InputError
from sizewright.model import (
    Mixture,
    format_mixture,
    is_mixture,
    parse_mixture,
)
from sizewright.model.mixture import turned_over

TEXT = "width underarm 0.25 armhole 0.85 shoulder-tip -0.1; length underarm 0.55 armhole 0.45"

names = st.text(
    st.characters(exclude_categories=("C", "Z"), include_characters=' ";'), min_size=1
).filter(lambda name: name == name.strip() and not is_mixture(name))
weights = st.floats(-20, 20).filter(lambda w: abs(w) > 1e-11)
terms = st.dictionaries(names, weights, max_size=3).map(lambda d: tuple(d.items()))


def test_a_mixture_is_read_and_written() -> None:
    found = parse_mixture(TEXT)
    assert found.width == (("underarm", 0.25), ("armhole", 0.85), ("shoulder-tip", -0.1))
    assert found.length == (("underarm", 0.55), ("armhole", 0.45))
    assert found.rules == ("underarm", "armhole", "shoulder-tip")
    assert format_mixture(found) == TEXT


def test_a_rule_is_a_mixture_of_itself() -> None:
    assert parse_mixture("waist side") == Mixture((("waist side", 1.0),), (("waist side", 1.0),))
    assert format_mixture(parse_mixture("waist side")) == "waist side"
    assert format_mixture(parse_mixture("width waist 1; length waist 1")) == "waist"
    assert format_mixture(parse_mixture("width waist 1")) == "width waist 1"
    assert parse_mixture("width").rules == ("width",)


def test_nothing_is_a_mixture_too() -> None:
    assert format_mixture(Mixture()) == "width 0; length 0"
    assert parse_mixture("width 0; length 0") == Mixture()


def test_numbers_and_quotes_are_names() -> None:
    found = parse_mixture('width 7 0.5 "side ""a""; b" -1; length from width 7 0.2')
    assert found == Mixture((("7", 0.5), ('side "a"; b', -1.0)), (), (), (("7", 0.2),))
    assert parse_mixture(format_mixture(found)) == found


def test_curves_beside_a_point_are_told() -> None:
    text = "width a 1; length a 1; before width a -0.002; after width 0"
    found = parse_mixture(text)
    assert found.before == Mixture((("a", -0.002),))
    assert found.after == Mixture()
    assert format_mixture(found) == text
    assert turned_over(text) == "width a 1; length a 1; before width 0; after width a -0.002"
    assert [turned_over(rule) for rule in (None, "a")] == [None, "a"]


def test_weights_keep_a_billionth_of_a_thousandth_and_no_more() -> None:
    assert format_mixture(Mixture((("a", 1 / 3), ("b", 1e-13)))) == "width a 0.333333333333"
    assert format_mixture(Mixture((("a", 0.1 + 0.2),))) == "width a 0.3"


curves = st.none() | st.builds(Mixture, terms, terms, terms, terms)


@given(st.builds(Mixture, terms, terms, terms, terms, curves, curves))
def test_what_is_written_reads_back(mixture: Mixture) -> None:
    text = format_mixture(mixture)
    back = parse_mixture(text)
    for mine, its in zip(mixture._parts, back._parts, strict=True):
        assert [r for r, _ in mine] == [r for r, _ in its]
        assert np.allclose([w for _, w in mine], [w for _, w in its], rtol=0, atol=1.01e-12)
    assert format_mixture(back) == text


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("width underarm", 'after "underarm" in width, no weight follows'),
        ("width underarm armhole 0.5", 'after "underarm" in width, "armhole" is no weight'),
        ("width a 1; b 2", '"b 2" does not begin with width or length'),
        ("width a 1; width b 1", "width is there twice"),
        ("length a 1 a 2", '"a" is there twice in length'),
        ("length a nan", '"nan" is no weight'),
        ('width "a 1', "a quote is not closed"),
        ("width a 1;", '"" does not begin with width or length'),
    ],
)
def test_a_broken_mixture_says_what_is_wrong(text: str, what: str) -> None:
    with pytest.raises(InputError) as told:
        parse_mixture(text)
    assert what in told.value.what
    assert "width underarm 0.25" in told.value.cure
