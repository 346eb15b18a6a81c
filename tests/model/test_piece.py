"""Pieces and patterns: new things from old ones, closed darts, and refusals."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import InputError, LookupFailed
from sizewright.geometry import affine
from sizewright.geometry.path import Path
from sizewright.model import (
    Axis,
    Cutout,
    Drill,
    Fold,
    Grain,
    Label,
    Mark,
    Notch,
    Outline,
    Pattern,
    Piece,
    Quantity,
    Run,
    Spot,
    format_quantity,
    parse_quantity,
)
from tests.shapes import bodice, rectangle


def full() -> Piece:
    """The bodice with something of every free kind on it."""
    return dataclasses.replace(
        bodice(),
        grain=Grain((50, 100), (50, 250)),
        axis=Axis((60, 100), (60, 300)),
        notches=(Notch(Spot(5, 40.0)), Notch(Spot(4, 100.0), "v", 5.0)),
        drills=(Drill((105, 155)),),
        marks=(Mark(Path.polyline([(20, 40), (60, 40)]), "pocket"),),
        cutouts=(Cutout(rectangle(20, 10, 30, 60)),),
        labels=(Label("Front", (40, 200), 6.0, 15.0),),
        quantity=(Quantity("main", 1),),
    )


def test_area_is_less_its_cutouts() -> None:
    piece = full()
    assert piece.area == pytest.approx(piece.outline.path.area - 200)


@given(st.floats(-180, 180), st.floats(-1e4, 1e4), st.floats(-1e4, 1e4), st.booleans())
def test_moving_whole_keeps_every_length_and_leaves_the_old(
    turn: float, dx: float, dy: float, flip: bool
) -> None:
    piece = full()
    before = dataclasses.replace(piece)
    m = affine.compose(
        affine.translation(dx, dy),
        affine.rotation(turn),
        affine.scaling(-1 if flip else 1, 1),
    )
    moved = piece.transformed(m)
    assert piece == before
    assert moved.area == pytest.approx(piece.area, rel=1e-9)
    for old, new in zip(piece.notches, moved.notches, strict=True):
        at_old = piece.outline.path.at(piece.outline.arc_length_of(old.at))
        at_new = moved.outline.path.at(moved.outline.arc_length_of(new.at))
        assert at_new == pytest.approx(affine.apply(m, at_old), abs=1e-6)
    assert moved.sewn_length(moved.run("waist")) == pytest.approx(
        piece.sewn_length(piece.run("waist")), abs=1e-8
    )
    fold = moved.outline.run_path(Run(moved.fold.start, moved.fold.end)) if moved.fold else None
    assert fold is not None
    assert fold.length == pytest.approx(320)
    tip = moved.darts[0].tip
    assert tip is not None
    assert moved.outline.vertex_at(tip) == pytest.approx(moved.darts[0].apex, abs=1e-8)


def test_closed_darts_shorten_the_waist_by_their_mouths() -> None:
    piece = bodice()
    waist = piece.run("waist")
    legs = 2 * float(np.hypot(15, 140))
    assert piece.outline.run_length(waist) == pytest.approx(90 + legs + np.hypot(120, 10))
    assert piece.sewn_length(waist) == pytest.approx(90 + np.hypot(120, 10))
    side = piece.run("side")
    assert piece.sewn_length(side) == piece.outline.run_length(side)
    whole = piece.outline.run("waist-centre..waist-centre")
    assert piece.sewn_length(whole) == pytest.approx(piece.outline.path.length - legs)


def test_fold_is_a_run_by_that_word() -> None:
    piece = bodice()
    assert piece.outline.run_length(piece.run("fold")) == pytest.approx(320)
    with pytest.raises(LookupFailed):
        dataclasses.replace(piece, fold=None).run("fold")


def test_up_follows_axis_then_grain_then_page() -> None:
    piece = bodice()
    assert piece.up == (0.0, 1.0)
    down = dataclasses.replace(piece, grain=Grain((0, 100), (0, 0)))
    assert down.up == pytest.approx((0.0, 1.0))
    one_way = dataclasses.replace(piece, grain=Grain((0, 100), (0, 0), 1))
    assert one_way.up == pytest.approx((0.0, -1.0))
    across = dataclasses.replace(one_way, axis=Axis((0, 0), (10, 0)))
    assert across.up == pytest.approx((1.0, 0.0))


def test_a_vertex_added_keeps_features_in_place() -> None:
    piece = full()
    more, point = piece.with_vertex(20.0, name="pin")
    assert point.name == "pin"
    assert more.outline.vertex("pin") == 1
    assert more.darts[0].tip == 3
    assert more.fold == Fold(9, 0)
    for old, new in zip(piece.notches, more.notches, strict=True):
        assert more.outline.path.at(more.outline.arc_length_of(new.at)) == pytest.approx(
            piece.outline.path.at(piece.outline.arc_length_of(old.at))
        )


def test_story_grows_and_the_old_keeps_its_own() -> None:
    piece = bodice()
    told = piece.with_changes("hem let down by 2 cm", pair=True)
    assert told.story == ("hem let down by 2 cm",)
    assert piece.story == ()
    assert told.pair
    assert not piece.pair


def test_frozen_everywhere() -> None:
    for thing in (bodice(), full().notches[0], Pattern((bodice(),)), Label("a", (0, 0))):
        name = dataclasses.fields(thing)[0].name
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(thing, name, None)


@pytest.mark.parametrize("name", ["", "a:b", "a=b", "a;b", "a,b", "a+b", "two\nlines"])
def test_names_that_references_could_not_hold(name: str) -> None:
    with pytest.raises(InputError, match="name"):
        dataclasses.replace(bodice(), name=name)


def test_a_sewing_line_bears_no_allowance() -> None:
    with pytest.raises(InputError, match="front"):
        dataclasses.replace(bodice(), allowance=15.0)


def test_pattern_lookups() -> None:
    a, b = bodice(), dataclasses.replace(bodice(), size="14")
    a = dataclasses.replace(a, size="12")
    back = Piece("back", Outline.of(rectangle()))
    pattern = Pattern((a, b, back), base_size="12")
    assert pattern.sizes == ("12", "14")
    assert pattern.names == ("front", "back")
    assert pattern.piece("front").size == "12"
    assert pattern.piece("front", "14") is b
    assert pattern.piece("back", "14") is back
    assert pattern.in_size("14").pieces == (b, back)
    with pytest.raises(LookupFailed, match="12, 14"):
        pattern.in_size("16")
    with pytest.raises(LookupFailed, match="front, back"):
        pattern.piece("sleeve")
    with pytest.raises(InputError, match="front 12"):
        Pattern((a, a))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("main 2, interfacing 1", "main 2, interfacing 1"),
        ("2", "main 2"),
        ("2 lining", "lining 2"),
        ("cotton lawn x 4", "cotton lawn 4"),
        ("1 x main", "main 1"),
    ],
)
def test_quantities(text: str, expected: str) -> None:
    assert format_quantity(parse_quantity(text)) == expected
    assert parse_quantity(format_quantity(parse_quantity(text))) == parse_quantity(text)


@pytest.mark.parametrize("text", ["", "main", "main two", "main 2,,lining 1"])
def test_quantities_without_a_count(text: str) -> None:
    with pytest.raises(InputError, match="how many"):
        parse_quantity(text)
