"""Seams trued after grading: by a free end, within a bound, and told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.geometry import Path
from sizewright.grading import grade, read_rules, true_seams
from sizewright.model import (
    Fold,
    Notch,
    Outline,
    Pattern,
    Piece,
    Point,
    Run,
    Spot,
    match_seam,
    parse_seams,
)

from .outlines import UP

NAMES = ("hem-centre", "hem-side", "underarm", "top")
SIDE = "side: front:side = back:side"


def panel(name: str, side: list[list[float]] | None = None) -> Piece:
    """A half panel on the fold: hem below, side at the right (a line, or a curve)."""
    right = side or [[200, 0], [220, 300]]
    path = Path.of(
        [[[0, 0], [200, 0]], right, [[220, 300], [0, 310]], [[0, 310], [0, 0]]], closed=True
    )
    points = [Point(v, n, f"{name}-{n}") for v, n in enumerate(NAMES)]
    runs = [Run(0, 1, "hem"), Run(1, 2, "side"), Run(2, 3, "top")]
    return Piece(
        name, Outline.of(path, points=points, runs=runs), kind="sew", axis=UP, fold=Fold(3, 0)
    )


def graded(lengths: dict[str, float], seams: str = SIDE, **pieces: Piece) -> Pattern:
    """Both panels in 10 (drawn) and 12: `lengths` is what each underarm gains upwards."""
    both = [pieces.get(name, panel(name)) for name in ("front", "back")]
    rows = ["rule,axis,unit,10,12"]
    for piece in both:
        for point in piece.outline.points:
            up = lengths[piece.name] if point.name == "underarm" else 0.0
            rows.append(f"{point.rule},length,mm,,{up}")
    pattern = Pattern(tuple(both), "10", parse_seams(seams))
    return grade(pattern, read_rules("\n".join(rows)), ["10", "12"]).pattern


def off(pattern: Pattern, size: str = "12", seam: int = 0) -> float:
    match = match_seam(pattern, pattern.seams[seam], size)
    return match.surplus - match.wanted


def test_the_free_end_of_the_second_side_moves_along_its_line() -> None:
    before = graded({"front": 6.0, "back": 4.5})
    assert off(before) == pytest.approx(1.5, abs=0.02)
    after, (told,) = true_seams(before)
    assert abs(off(after)) < 1e-6
    old, new = before.piece("back", "12"), after.piece("back", "12")
    assert (told.code, told.level, told.piece, told.size, told.place) == (
        "seam-trued",
        "note",
        "back",
        "12",
        "side",
    )
    moved = new.outline.vertex_at(1) - old.outline.vertex_at(1)
    assert f"{np.hypot(*moved):.2f} mm along back:side" in told.text
    assert "back:hem-side" in told.text
    # Down along the straight side, by what was missing; the side stays one straight line.
    along = old.outline.vertex_at(1) - old.outline.vertex_at(2)
    assert np.hypot(*moved) == pytest.approx(off(before), abs=1e-6)
    assert moved[0] * along[1] - moved[1] * along[0] == pytest.approx(0.0, abs=1e-9)
    assert moved @ along > 0
    for v in (0, 2, 3):
        assert np.array_equal(new.outline.vertex_at(v), old.outline.vertex_at(v))
    assert after.piece("front", "12") == before.piece("front", "12")
    assert "trued" in new.story[-1]
    # The drawn size keeps its bits.
    for name in ("front", "back"):
        assert after.piece(name, "10") is before.piece(name, "10")
    # Once true, nothing is left to do.
    again, findings = true_seams(after)
    assert findings == ()
    assert again == after


@given(st.floats(-2.8, 2.8), st.sampled_from(["", ", ease 3 mm", ", ease 1%"]))
def test_any_difference_within_the_bound_is_trued(difference: float, ease: str) -> None:
    curve = [[200, 0], [212, 90], [196, 190], [220, 300]]
    bent = {name: panel(name, curve) for name in ("front", "back")}
    seams = SIDE + ease
    front = {"": 0.0, ", ease 3 mm": 3.0, ", ease 1%": 3.0}[ease]
    before = graded({"front": 5.0 + front, "back": 5.0 + difference}, seams, **bent)
    after, findings = true_seams(before, most=4.0)
    assert all(f.code == "seam-trued" for f in findings)
    assert abs(off(after)) <= 0.05 + 1e-9
    if abs(off(before)) > 0.05:
        assert abs(off(after)) < 1e-4


def test_the_bound_is_kept_and_the_rest_is_told() -> None:
    before = graded({"front": 10.0, "back": 5.0})
    after, (told,) = true_seams(before)
    assert (told.code, told.level, told.place) == ("seam-not-trued", "warn", "side")
    assert "more than 3.88 mm" in told.text  # an eightieth of 310 mm
    assert after == before
    after, (told,) = true_seams(before, most=6.0)
    assert told.code == "seam-trued"
    assert abs(off(after)) < 1e-6


def test_an_end_that_another_seam_needs_stays() -> None:
    """With the back's hem sewn to something the front moves; with both, nothing does."""
    hems = SIDE + "; hem: back:hem = back:top"
    before = graded({"front": 6.0, "back": 5.0}, hems)
    after, told = true_seams(before)
    trued = [f for f in told if f.code == "seam-trued"]
    assert [f.piece for f in trued] == ["front"]
    assert abs(off(after)) < 1e-6
    both = hems + "; low: front:hem = front:top"
    # What the check of seams lets pass, 1 mm here, is no more than a note.
    for back, level in ((5.0, "note"), (3.0, "warn")):
        after, told = true_seams(graded({"front": 6.0, "back": back}, both))
        (side,) = [f for f in told if f.place == "side"]
        assert (side.code, side.level) == ("seam-not-trued", level)
        assert "none of its ends is free" in side.text


def test_two_runs_on_each_side_are_left_and_told() -> None:
    seams = "all: front:side + front:top = back:side + back:top"
    before = graded({"front": 6.0, "back": 5.0}, seams)
    assert abs(off(before)) > 0.1
    after, (told,) = true_seams(before)
    assert (told.code, "neither side is one run" in told.text) == ("seam-not-trued", True)
    assert after == before


def test_a_run_that_counts_twice_moves_half_as_far() -> None:
    seams = "twice: 2 x front:side = 2 x back:side"
    before = graded({"front": 6.0, "back": 5.0}, seams.replace("-2 x back", "- 2 x back"))
    after, (told,) = true_seams(before)
    assert abs(off(after)) < 1e-6
    moved = after.piece("back", "12").outline.vertex_at(1) - before.piece(
        "back", "12"
    ).outline.vertex_at(1)
    assert np.hypot(*moved) == pytest.approx(off(before) / 2, abs=1e-6)
    assert "back:hem-side" in told.text


def test_notches_keep_their_distance() -> None:
    """From the underarm, whichever end of the edge moved."""

    def notched(name: str, keep: str) -> Piece:
        notch = Notch(Spot(1, 220.0), keep=keep)  # type: ignore[arg-type]
        return replace(panel(name), notches=(notch,))

    for keep in ("end", "start"):
        before = graded({"front": 6.0, "back": 5.0}, back=notched("back", keep))
        after, _ = true_seams(before)
        old, new = before.piece("back", "12"), after.piece("back", "12")
        places = [p.outline.edge_from(1).length - p.notches[0].at.distance for p in (old, new)]
        if keep == "end":
            assert places[1] == pytest.approx(places[0], abs=1e-9)
        else:
            assert new.notches[0].at.distance == old.notches[0].at.distance


def test_paired_notches_meet_after_truing() -> None:
    seams = SIDE + ', notch "m" 1/2'

    def notched(name: str) -> Piece:
        half = panel(name).outline.edge_from(1).length / 2
        return replace(panel(name), notches=(Notch(Spot(1, half), name="m", seam="side"),))

    before = graded(
        {"front": 6.0, "back": 5.0}, seams, front=notched("front"), back=notched("back")
    )
    after, _ = true_seams(before)
    for name in ("front", "back"):
        piece = after.piece(name, "12")
        whole = piece.outline.edge_from(1).length
        assert piece.notches[0].at.distance == pytest.approx(whole / 2, abs=1e-6)


def test_outlines_of_unknown_kind_are_left_alone() -> None:
    before = graded({"front": 6.0, "back": 5.0})
    doubtful = before.replacing(lambda p: replace(p, kind="unknown"))
    assert true_seams(doubtful) == (doubtful, ())


def test_a_drawing_is_left_alone() -> None:
    drawn = graded({"front": 6.0, "back": 4.0}).replacing(lambda p: replace(p, base=None))
    assert true_seams(drawn) == (drawn, ())
