"""What a cut takes along is the same in every size, or it says what would be."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

import pytest

from sizewright.drafting import Redrafted, Ring, Settled, divide, redraft
from sizewright.errors import GeometryError
from sizewright.geometry import Path, affine
from sizewright.model import Pattern, Piece, parse_place
from tests.shapes import bodice


def nest(*, at: float | None = None) -> Pattern:
    """The bodice in three sizes, with a smooth point `at` mm along the side of the middle one."""
    sizes = []
    for size, scale in (("10", 1.0), ("8", 0.9), ("12", 1.1)):
        piece = replace(bodice().transformed(affine.scaling(scale)), size=size)
        if at is not None:
            s = float(piece.outline.path.cumulative[4]) + at * scale
            piece, _ = piece.with_vertex(s, name="hip")
        sizes.append(piece)
    return Pattern(tuple(sizes), "10")


def cut(pattern: Pattern, place: str) -> Redrafted:
    """The bodice cut level, from `place` on its side to the fold."""

    def edit(pieces: Mapping[str, Piece], settled: Settled) -> Mapping[str, Ring]:
        piece = pieces["front"]
        end = settled.place(piece, parse_place(place)).point
        line = Path.polyline([(0.0, end[1]), end])
        return divide(
            piece, line, {"upper": "neck-side", "lower": "waist-side"}, seam="cut", step="cut"
        )

    return redraft(pattern, ["front"], edit)


def test_a_smooth_point_that_is_passed_in_some_size_is_dropped_from_all() -> None:
    done = cut(nest(at=185.0), "175 mm along side from waist-side")
    assert [f.code for f in done.findings if f.place == "hip"] == ["point-passed"]
    names = [{p.name for p in piece.outline.points} for piece in done.pattern.pieces]
    assert not any("hip" in one for one in names)


def test_a_smooth_point_that_no_size_passes_stays() -> None:
    done = cut(nest(at=185.0), "160 mm along side from waist-side")
    uppers = [p for p in done.pattern.pieces if p.name == "upper"]
    assert all("hip" in {q.name for q in p.outline.points} for p in uppers)


def test_a_corner_that_is_passed_stops_with_the_lengths_that_are_good() -> None:
    pattern = nest()
    low = min(p.outline.run_length(p.run("side")) for p in pattern.pieces)
    with_run = []
    for piece in pattern.pieces:
        outline = piece.outline
        run = replace(outline.run("side"), end=outline.run("armhole").end, name="edge")
        with_run.append(replace(piece, outline=outline.with_run(run)))
    with pytest.raises(GeometryError) as caught:
        cut(pattern.with_pieces(with_run), "195 mm along edge from waist-side")
    assert "front 8" in str(caught.value)
    assert "underarm" in str(caught.value)
    # The least side is that of size 8, in whole tenths of a millimetre.
    (good,) = re.findall(r"to ([\d.]+) cm", caught.value.cure)
    assert float(good) == pytest.approx(low / 10, abs=0.0101)
