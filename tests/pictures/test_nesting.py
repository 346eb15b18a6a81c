"""Sizes laid over each other, and pieces made larger or smaller for a picture."""

from __future__ import annotations

import numpy as np
import pytest

from sizewright.errors import LookupFailed
from sizewright.geometry import affine
from sizewright.model import Pattern, find_place, parse_place
from sizewright.pictures import laid_over, nested, sizes_in_order
from sizewright.pictures.piece_lines import notch_places, scaled
from tests.pictures.patterns import bodice, pocket, rectangle


def nest() -> Pattern:
    """A bodice in three sizes, listed out of order, and a pocket of one."""
    base = bodice()
    pieces = [
        base.with_changes(size=size).transformed(affine.scaling(k))
        for size, k in (("12", 1.0), ("16", 1.1), ("8", 0.9))
    ]
    return Pattern((*pieces, pocket()), base_size="12")


def test_order_is_by_size_of_the_pieces() -> None:
    assert sizes_in_order(Pattern(nest().pieces[:3])) == ("8", "12", "16")
    groups = nested(nest())
    assert [[p.size for p in g] for g in groups] == [["8", "12", "16"], ["12"]]


@pytest.mark.parametrize("phrase", ["underarm", "front: middle of shoulder", "30% along armhole"])
def test_a_place_lies_on_itself_in_all_sizes(phrase: str) -> None:
    place = parse_place(phrase)
    laid = laid_over(nest(), [place])
    fronts = [p for p in laid.pieces if p.name == "front"]
    at = np.array([p.outline.path.at(find_place(p, place)) for p in fronts])
    assert np.ptp(at, axis=0) == pytest.approx([0, 0], abs=1e-9)
    # The base stays, to the bit, and so does a piece without the place.
    assert laid.piece("front", "12") == nest().piece("front", "12")
    assert laid.piece("pocket") == nest().piece("pocket")
    # Nothing is turned or stretched.
    assert fronts[1].outline.path.length == pytest.approx(
        nest().piece("front", "16").outline.path.length, abs=1e-9
    )


def test_a_place_of_a_piece_counts_before_a_general_one() -> None:
    laid = laid_over(nest(), [parse_place("underarm"), parse_place("front: hem-side")])
    at = [p.outline.vertex_at(p.outline.vertex("hem-side")) for p in laid.pieces[:3]]
    assert np.ptp(at, axis=0) == pytest.approx([0, 0], abs=1e-9)


def test_without_places_they_stay_or_meet_at_the_first_corner() -> None:
    assert laid_over(nest()) == nest()
    a, b = (rectangle("tab", w, 40, size=s) for w, s in ((50, "S"), (60, "M")))
    laid = laid_over(Pattern((a, b.transformed(affine.translation(300, 80))), base_size="S"))
    assert laid.piece("tab", "M").bounds == pytest.approx((0, 0, 60, 40))


@pytest.mark.parametrize("phrase", ["elbow", "sleeve: underarm", "front: elbow"])
def test_a_place_that_is_not_there_is_refused(phrase: str) -> None:
    with pytest.raises(LookupFailed):
        laid_over(nest(), [parse_place(phrase)])


def test_notches_of_an_enlarged_piece_stay_where_they_are() -> None:
    piece = bodice()
    larger = scaled(piece, 3.0)
    assert piece.notches
    for one, big, (at, along), (there, same) in zip(
        piece.notches, larger.notches, notch_places(piece), notch_places(larger), strict=True
    ):
        assert there == pytest.approx(3 * at, abs=1e-9)
        assert same == pytest.approx(along, abs=1e-9)
        assert big.depth == 3 * one.depth
