"""Joints that an edit left with a kink become smooth, and nothing else moves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sizewright.drafting import Settled, faired, with_stretch
from sizewright.geometry import Path
from sizewright.model import Notch, Outline, Piece, Point, Run, Spot


def kinked(drop: float = 15.0, *, notch: float | None = None) -> Piece:
    """A panel 400 wide whose hem turns at its middle, which hangs `drop` mm lower."""
    path = Path.polyline([(0, 0), (200, -drop), (400, 0), (400, 300), (0, 300)], closed=True)
    outline = Outline.of(path, points=[Point(1, "hem-middle")], runs=[Run(0, 2, "hem")])
    piece = Piece("panel", outline, kind="sew")
    if notch is None:
        return piece
    along = float(path.cumulative[1]) + notch
    return Piece("panel", outline, kind="sew", notches=(Notch(outline.spot(along)),))


def middle(piece: Piece) -> int:
    return piece.outline.vertex("hem-middle")


@settings(max_examples=30)
@given(st.floats(8, 60))
def test_a_faired_joint_is_smooth_and_the_rest_stays(drop: float) -> None:
    piece = kinked(drop)
    new, findings = faired(piece, [middle(piece)], Settled())
    path = new.outline.path
    v = middle(new)
    assert abs(path.turns[v]) < 0.01
    assert v not in new.outline.corners
    assert len(new.outline.corners) == 4
    # The window ends 40 mm to each side, and the line runs on smoothly there.
    for end in (v - 1, v + 1):
        assert abs(path.turns[end]) < 1e-6
    reach = [np.hypot(*(path.vertices[e] - (200, -drop))) for e in (v - 1, v + 1)]
    assert reach == pytest.approx([40.0, 40.0])
    run = new.outline.run("hem")
    short = piece.outline.run_length(piece.run("hem")) - new.outline.run_length(run)
    assert short > 0
    told = [f for f in findings if f.code == "faired"]
    assert bool(told) == (short > 0.05)


def test_fairing_stops_at_a_notch() -> None:
    piece = kinked(notch=12.0)
    new, _ = faired(piece, [middle(piece)], Settled())
    v = middle(new)
    assert np.hypot(*(new.outline.path.vertices[v + 1] - (200, -15))) == pytest.approx(12.0)
    (before,), (after,) = piece.notches, new.notches
    here = piece.outline.path.at(piece.outline.arc_length_of(before.at))
    assert new.outline.path.at(new.outline.arc_length_of(after.at)) == pytest.approx(here)


def test_without_room_the_joint_stays_and_is_told() -> None:
    piece = kinked(notch=1.0)
    new, findings = faired(piece, [middle(piece)], Settled())
    assert new.outline.path == piece.outline.path
    assert [f.code for f in findings] == ["not-faired"]


def test_another_line_on_a_stretch_keeps_names_and_notches_in_their_share() -> None:
    path = Path.polyline([(0, 0), (400, 0), (400, 300), (0, 300)], closed=True)
    outline = Outline.of(path, runs=[Run(0, 1, "hem")])
    piece = Piece("panel", outline, kind="sew", notches=(Notch(Spot(0, 100.0)),))
    piece, _ = piece.with_vertex(300.0, name="slit")
    bow = Path.of([[(0, 0), (130, -60), (270, -60), (400, 0)]], closed=False)
    done = with_stretch(piece, 0, piece.outline.vertex("#2"), bow)
    new = done.piece
    assert new.outline.run_length(new.run("hem")) == pytest.approx(bow.length)
    along = new.outline.path.cumulative
    start = along[new.run("hem").start]
    assert along[new.outline.vertex("slit")] - start == pytest.approx(0.75 * bow.length)
    assert new.notches[0].at.distance == pytest.approx(0.25 * bow.length)
