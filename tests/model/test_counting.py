"""Which way a run counts, on pieces that lie any way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.geometry import Path, affine
from sizewright.model import (
    Axis,
    Grain,
    Mark,
    Outline,
    Pattern,
    Piece,
    Point,
    Run,
    counts_backward,
    find_place,
    match_seam,
    parse_seam,
    run_ends,
)
from tests.shapes import bodice

RUNS = ("waist", "side", "armhole", "shoulder", "neck")


def lying(turn: float, over: bool) -> tuple[Piece, np.ndarray]:
    """A bodice with a grain line, turned on the page by degrees and turned over; the map too."""
    m = affine.rotation(turn)
    if over:
        m = affine.compose(m, affine.scaling(-1.0, 1.0))
    piece = replace(bodice(), grain=Grain((40, 40), (40, 200), 1))
    return piece.transformed(m), m


@given(st.floats(-180, 180), st.booleans())
def test_a_run_counts_alike_however_the_piece_lies(turn: float, over: bool) -> None:
    plain, _ = lying(0.0, False)
    piece, m = lying(turn, over)
    for name in (*RUNS, "fold"):
        ends = plain.outline.path.vertices[list(run_ends(plain, plain.run(name)))]
        there = piece.outline.path.vertices[list(run_ends(piece, piece.run(name)))]
        assert there == pytest.approx(affine.apply(m, ends), abs=1e-9)
        for phrase in (f"1/3 along {name}", f"5 cm along {name}", f"start of {name}"):
            here = plain.outline.path.at(find_place(plain, phrase))
            now = piece.outline.path.at(find_place(piece, phrase))
            assert now == pytest.approx(affine.apply(m, here[None])[0], abs=1e-6)


def test_from_the_centre_outwards_else_from_below() -> None:
    piece, _ = lying(0.0, False)
    starts = {n: piece.outline.point(run_ends(piece, piece.run(n))[0]).name for n in RUNS}
    assert starts == {
        "waist": "waist-centre",
        "side": "waist-side",
        "armhole": "shoulder-tip",
        "shoulder": "neck-side",
        "neck": "neck-centre",
    }
    # Both ends of the fold lie on the centre: it counts from the lower one.
    assert run_ends(piece, piece.run("fold")) == (0, 8)


def test_an_inner_line_named_as_the_centre_serves_as_one() -> None:
    path = Path.polyline([(-300, 0), (300, 0), (250, 400), (-250, 400)], closed=True)
    outline = Outline.of(path, runs=[Run(1, 2, "right"), Run(3, 0, "left"), Run(0, 1, "hem")])
    centre = Mark(Path.polyline([(0, 0), (0, 400)]), "centre", "centre")
    piece = Piece("whole", outline, marks=(centre,), grain=Grain((0, 50), (0, 300)))
    assert run_ends(piece, outline.run("right")) == (2, 1)
    assert run_ends(piece, outline.run("left")) == (3, 0)
    # Both ends of the hem lie alike: counter-clockwise.
    assert run_ends(piece, outline.run("hem")) == (0, 1)


def test_without_a_centre_from_the_lower_end_by_the_axis() -> None:
    path = Path.polyline([(0, 0), (300, 0), (300, 400), (0, 400)], closed=True)
    outline = Outline.of(path, runs=[Run(1, 2, "a"), Run(3, 0, "b")])
    piece = Piece("sleeve", outline, axis=Axis((0, 0), (0, 100)))
    assert run_ends(piece, outline.run("a")) == (1, 2)
    assert run_ends(piece, outline.run("b")) == (0, 3)
    upside_down = replace(piece, axis=Axis((0, 100), (0, 0)))
    assert run_ends(upside_down, outline.run("a")) == (2, 1)


def test_a_graded_piece_counts_as_its_base() -> None:
    """A side seam that leans out in one size and in in another counts one way in both."""
    path = Path.polyline([(0, 0), (300, 0), (296, 400), (0, 400)], closed=True)
    outline = Outline.of(
        path, points=[Point(0, "hem-centre")], runs=[Run(1, 2, "side"), Run(3, 0, "centre-front")]
    )
    base = Piece("skirt", outline, size="10", grain=Grain((50, 50), (50, 300)))
    assert counts_backward(base, outline.run("side"))
    wider = outline.with_path(Path.polyline([(0, 0), (300, 0), (310, 400), (0, 400)], closed=True))
    alone = replace(base, outline=wider, size="12")
    assert not counts_backward(alone, wider.run("side"))
    graded = replace(alone, base=base)
    assert counts_backward(graded, wider.run("side"))
    # Vertices that an operation puts in change nothing.
    more, _ = graded.with_vertex(500.0)
    assert len(more.outline.path) == 5
    assert counts_backward(more, more.run("side"))


def test_mirrored_pieces_are_sewn_without_a_sign() -> None:
    front, _ = lying(0.0, False)
    back, _ = lying(0.0, True)
    back = replace(back, name="back")
    pattern = Pattern((front, back), seams=(parse_seam("side: front:side = back:side"),))
    match = match_seam(pattern, pattern.seams[0])
    for share in (0.0, 0.25, 1.0):
        (a, s), (b, t) = (
            chain.place(share * chain.length) for chain in (match.first, match.second)
        )
        assert b.outline.path.at(t) == pytest.approx(a.outline.path.at(s) * [-1, 1], abs=1e-9)
