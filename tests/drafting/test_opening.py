"""Halves opened and closed: every seam follows, nothing is lost, closing gives it back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import InputError
from sizewright.geometry import Path, affine
from sizewright.model import (
    Drill,
    Grain,
    Mark,
    Notch,
    Pattern,
    Piece,
    format_seam,
    match_seam,
    parse_seams,
)
from tests.operations import do, drawn
from tests.shapes import bodice

DEMO = drawn("supper-top")
HALVES = [p.name for p in DEMO.pieces if p.fold is not None]


def folds(pattern: Pattern, **given: object) -> Pattern:
    return do(pattern, "fold-marks", **{"words": "", **given}).pattern


def off(pattern: Pattern) -> dict[str, float]:
    matches = {s.name: match_seam(pattern, s) for s in pattern.seams}
    return {name: m.surplus - m.wanted for name, m in matches.items()}


def places(piece: Piece) -> np.ndarray:
    path = piece.outline.path
    found = [path.at(piece.outline.arc_length_of(n.at)) for n in piece.notches]
    return np.array(sorted(found, key=lambda at: tuple(np.round(at, 3)))).reshape(-1, 2)


@given(st.sets(st.sampled_from(HALVES), min_size=1))
def test_every_seam_closes_whichever_halves_are_opened(names: set[str]) -> None:
    opened = folds(DEMO, open=sorted(names))
    assert all(abs(left) < 0.01 for left in off(opened).values()), off(opened)
    assert all(opened.piece(name).fold is None for name in names)
    # Every seam that was there is there, and none speaks of a run that is not.
    assert {s.name.removesuffix("-mirrored") for s in opened.seams} == {s.name for s in DEMO.seams}
    shut = folds(opened, close=sorted(names))
    assert [format_seam(s) for s in shut.seams] == [format_seam(s) for s in DEMO.seams]
    for name in names:
        was, now = DEMO.piece(name), shut.piece(name)
        # It may have been moved aside when it was opened.
        shift = was.outline.vertex_at(was.fold.start) - now.outline.vertex_at(now.fold.start)
        back = now.transformed(affine.translation(*map(float, shift)))
        assert back.outline.path.area == pytest.approx(was.outline.path.area, abs=1e-6)
        for point in was.outline.points:
            if point.name:
                at = back.outline.vertex_at(back.outline.vertex(point.name))
                assert at == pytest.approx(was.outline.vertex_at(point.vertex), abs=1e-9)
        for run in was.outline.runs:
            assert back.sewn_length(back.run(run.name)) == pytest.approx(was.sewn_length(run))
        assert places(back) == pytest.approx(places(was), abs=1e-6)
        for kind in ("drills", "marks", "cutouts", "labels", "adjusts", "darts", "pleats"):
            a, b = ([getattr(x, "name", 0) for x in getattr(p, kind)] for p in (was, back))
            assert a == b, kind
        assert (back.quantity, back.pair, back.side) == (was.quantity, was.pair, was.side)


def test_the_wearers_left_is_on_the_right_of_a_front_and_on_the_left_of_a_back() -> None:
    zip_ = Mark(Path.polyline([(200, 50), (210, 150)]), "zip", "zip", side="left")
    for name, lies_right in (("front", True), ("back", False), ("sleeve", None)):
        half = replace(bodice(), name=name, marks=(zip_,), grain=Grain((60, 100), (60, 200)))
        pattern = Pattern((half,))
        if lies_right is None:
            with pytest.raises(InputError, match="for one side only"):
                folds(pattern, open=[name])
            pattern, lies_right = Pattern((replace(half, faces="back"),)), False
        opened = folds(pattern, open=[name]).pieces[0]
        (zip_now,) = (m for m in opened.marks if m.kind == "zip")
        x = float(zip_now.path.start[0])
        assert (x > 0) == lies_right, name
        # Closed again it is there still, for its side.
        shut = folds(Pattern((opened,)), close=[name]).pieces[0]
        (kept,) = (m for m in shut.marks if m.kind == "zip")
        assert kept.side == "left"
        assert kept.path.start == pytest.approx([200, 50])


def test_what_one_half_of_a_whole_alone_bears_is_for_that_side() -> None:
    whole = folds(Pattern((bodice(),)), open=["front"]).pieces[0]
    path = whole.outline.path
    s = float(path.length / 2 + 40)
    whole = replace(
        whole,
        drills=(Drill((-80, 200), "pocket"), Drill((80, 100)), Drill((-80, 100))),
        notches=(Notch(whole.outline.spot(s), name="zip-end"),),
    )
    half = folds(Pattern((whole,)), close=["front"]).pieces[0]
    assert [(d.name, d.side) for d in half.drills] == [(None, "both"), ("pocket", "right")]
    assert half.drills[1].at == pytest.approx((80, 200))
    (notch,) = half.notches
    x, y = path.at(s)
    assert notch.side == ("left" if x > 0 else "right")
    at = half.outline.path.at(half.outline.arc_length_of(notch.at))
    assert at == pytest.approx([abs(x), y], abs=1e-6)


def test_ease_in_mm_counts_for_both_halves() -> None:
    back = replace(bodice(), name="back")
    seams = parse_seams("waist: front:waist = back:waist, ease 6 mm; neck: front:neck = back:neck")
    pattern = Pattern((bodice(), back), seams=seams)
    opened = folds(pattern, open=["front"])
    (waist,) = (s for s in opened.seams if s.name == "waist")
    assert waist.ease is not None
    assert waist.ease.amount == pytest.approx(12.0)
    assert off(opened)["waist"] == pytest.approx(2 * off(pattern)["waist"])
    (again,) = (s for s in folds(opened, close=["front"]).seams if s.name == "waist")
    assert again == seams[0]


def test_paired_notches_meet_on_both_sides_of_an_opened_seam() -> None:
    from sizewright.model import place_seam_notches

    back = replace(bodice(), name="back", notches=()).transformed(affine.translation(800, 0))
    seams = parse_seams("waist: front:waist = back:waist, notch 60 mm")
    opened = folds(Pattern((bodice(), back), seams=seams), open=["front"])
    front, back = place_seam_notches(opened).pieces
    assert len(front.notches) == 2
    assert len(back.notches) == 1
    along = [front.outline.path.at(front.outline.arc_length_of(n.at)) for n in front.notches]
    assert sorted(float(x) for x, _ in along) == pytest.approx([-60, 60], abs=1e-6)
    spot = back.outline.path.at(back.outline.arc_length_of(back.notches[0].at))
    assert float(spot[0]) == pytest.approx(860, abs=1e-6)
