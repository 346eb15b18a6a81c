"""Notches at places and on both sides of seams."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from sizewright.errors import InputError, LookupFailed
from sizewright.geometry import Path, affine
from sizewright.model import Notch, Outline, Pattern, Piece, Run, match_seam, parse_seams, walk
from sizewright.plugin import Outcome
from tests.operations import do
from tests.shapes import bodice, rectangle

SIDE = float(np.hypot(20, 200))


def notch(pattern: Pattern, **given: object) -> Outcome:
    return do(pattern, "notches", **given)


def bodices(*phrases: str) -> Pattern:
    back = dataclasses.replace(bodice(), name="back").transformed(
        affine.compose(affine.translation(600, 0), affine.scaling(-1, 1))
    )
    return Pattern((bodice(), back), seams=parse_seams("; ".join(phrases)))


def placed(piece: Piece, n: Notch) -> np.ndarray:
    return piece.outline.path.at(piece.outline.arc_length_of(n.at))


def test_at_a_place() -> None:
    pattern = notch(
        bodices(), at=["front: 12 cm along armhole from underarm"], kind="v", depth="4 mm", count=2
    ).pattern
    (one,) = pattern.piece("front").notches
    assert (one.kind, one.depth, one.count) == ("v", 4.0, 2)
    armhole = pattern.piece("front").outline.run("armhole")
    assert (one.at.start, one.at.distance) == (armhole.start, pytest.approx(120))
    assert pattern.piece("back").notches == ()
    assert pattern.piece("front").story == ("notch at front: 12 cm along armhole from underarm",)


def test_a_seam_notch_stands_at_the_same_distance_on_both_sides() -> None:
    pattern = notch(bodices("side: front:side = back:side, notch 5 cm, notch 3/4 double")).pattern
    for name, expected in (("front", [50, 0.75 * SIDE]), ("back", [50, 0.75 * SIDE])):
        piece = pattern.piece(name)
        way = walk(piece, piece.run("side"))
        along = [way.distance(piece.outline.arc_length_of(n.at)) for n in piece.notches]
        assert along == pytest.approx(expected)
        assert [n.count for n in piece.notches] == [1, 2]
        assert all(n.seam == "side" for n in piece.notches)
    # The back lies mirrored, so matching notches are mirror images.
    front, back = pattern.piece("front"), pattern.piece("back")
    for a, b in zip(front.notches, back.notches, strict=True):
        assert placed(back, b) == pytest.approx(placed(front, a) * [-1, 1] + [600, 0])


def test_again_moves_them_and_makes_no_more() -> None:
    once = notch(bodices("side: front:side = back:side, notch 5 cm"), kind="v").pattern
    twice = notch(once, kind="slit").pattern
    assert twice == once


def gathered(between: str = "") -> Pattern:
    """A straight edge of 300 mm gathered onto one of 200 mm."""
    frill = Piece("frill", Outline.of(rectangle(300, 80)), kind="sew")
    band = Piece("band", Outline.of(rectangle(200, 30, 0, 200)), kind="sew")
    text = f'join: frill:#1 = band:#1, gather 100 mm{between}, notch "a" 1/4, notch "b" 150 mm'
    return Pattern((frill, band), seams=parse_seams(text))


def test_gathers_spread_evenly_carry_notches_in_proportion() -> None:
    pattern = notch(gathered()).pattern
    assert [n.at.distance for n in pattern.piece("band").notches] == pytest.approx([50, 150])
    assert [n.at.distance for n in pattern.piece("frill").notches] == pytest.approx([75, 225])


def test_gathers_between_notches_leave_the_ends_flat() -> None:
    pattern = notch(gathered(" between a and b")).pattern
    assert [n.at.distance for n in pattern.piece("frill").notches] == pytest.approx([50, 250])
    match = match_seam(pattern, pattern.seams[0])
    assert match.to_first(20) == pytest.approx(20)
    assert match.to_first(100) == pytest.approx(150)
    assert match.to_first(190) == pytest.approx(290)
    with pytest.raises(LookupFailed, match="named notches: a, b"):
        notch(gathered(" between a and c"))


def test_back_is_told_from_front() -> None:
    sleeve = Piece(
        "sleeve",
        Outline.of(
            Path.polyline([(0, -900), (400, -900), (400, -600), (0, -600)], closed=True)
        ).with_run(Run(2, 3, "cap")),
        kind="sew",
    )
    pattern = bodices("cap: sleeve:cap = front:armhole + -back:armhole, ease 40 mm")
    pattern = dataclasses.replace(pattern, pieces=(*pattern.pieces, sleeve))
    pattern = notch(pattern, **{"tell-back": ["cap"]}).pattern
    assert [n.count for n in pattern.piece("front").notches] == [1]
    assert [n.count for n in pattern.piece("back").notches] == [2]
    caps = pattern.piece("sleeve").notches
    assert [n.count for n in caps] == [1, 2]
    assert [n.at.distance for n in caps] == pytest.approx([100, 300])
    with pytest.raises(InputError, match="cap"):
        notch(pattern, **{"tell-back": ["cuff"]})


def test_every_size_has_its_own_place() -> None:
    small = dataclasses.replace(gathered(), pieces=())
    pieces = []
    for size, factor in (("10", 1.0), ("12", 1.2)):
        for p in gathered().pieces:
            larger = p.transformed(affine.scaling(factor))
            pieces.append(dataclasses.replace(larger, size=size))
    pattern = notch(dataclasses.replace(small, pieces=tuple(pieces))).pattern
    assert pattern.piece("band", "12").notches[0].at.distance == pytest.approx(60)
    assert pattern.piece("band", "12").notches[1].at.distance == pytest.approx(150)


def test_a_notch_into_the_stitching_is_reported() -> None:
    cut = Outline.of(rectangle(212, 112, -6, -6))
    piece = Piece("yoke", Outline.of(rectangle(200, 100)), kind="sew", cut_line=cut)
    deep = notch(Pattern((piece,)), at=["middle of #2"], depth="5 mm")
    assert [f.code for f in deep.findings] == ["notch-deep"]
    assert not notch(Pattern((piece,)), at=["middle of #2"], depth="2 mm").findings


def test_a_place_that_names_no_piece_or_a_wrong_one() -> None:
    with pytest.raises(InputError, match="front: middle of side"):
        notch(bodices(), at=["middle of side"])
    with pytest.raises(LookupFailed, match="front, back"):
        notch(bodices(), at=["sleeve: middle of side"])
    with pytest.raises(LookupFailed, match="notches: front: "):
        notch(bodices(), at=["front: middle of brim"])
