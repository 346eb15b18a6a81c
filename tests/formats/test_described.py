"""What a piece puts on paper, before any format: shapes that say their places exactly."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from sizewright.formats import read_svg, write_svg
from sizewright.formats.drawing.described import describe
from sizewright.formats.drawing.described_lines import marked_edges
from sizewright.formats.drawing.settled import rounded, settled
from sizewright.geometry import ellipse
from sizewright.geometry.flatten import flatten
from sizewright.geometry.path import Path
from sizewright.grading import Asked, grade, read_chart, read_rules
from sizewright.model import NOTCH_KINDS, Notch, Outline, Pattern, Piece, Run, Spot, run_ends
from sizewright.shipped import shipped
from tests.operations import drawn


def oval(count: int = 1) -> Piece:
    path = ellipse(100.1234567, 80.7654321, 90.0, 60.0)
    places = np.linspace(0.03, 0.97, 30) * path.length
    notches = tuple(
        Notch(Spot(0, float(s)), kind, 4.0, count) for s in places for kind in NOTCH_KINDS
    )
    return Piece("disc", Outline.of(path), notches=notches)


def test_a_notch_alone_says_its_place_by_its_feet() -> None:
    """Its feet, projected by shapely on fine chords, lie about the place that was meant."""
    piece = oval()
    (said,) = describe(Pattern((piece,))).pieces
    drawn = [shape for shape in said.shapes if shape.role == "notch"]
    # Now and then no rounded foot leads back to itself: then words say the place beside it.
    assert sum(shape.says["at"] is not None for shape in drawn) < 0.05 * len(drawn)
    ring = shapely.LineString(
        np.vstack([flatten(said.piece.outline.path, 1e-6), said.piece.outline.path.start])
    )
    shapely.prepare(ring)
    scale = said.piece.outline.path.length / ring.length
    for notch, shape in zip(piece.notches, drawn, strict=True):
        points = np.concatenate([path.vertices for path in shape.paths])
        feet = [p for p in map(shapely.Point, points) if shapely.dwithin(ring, p, 1e-3)]
        places = [ring.project(p) * scale for p in feet]
        assert len(feet) == (1 if notch.kind in ("slit", "t") else 2)
        assert np.mean(places) == pytest.approx(notch.at.distance, abs=2e-3)


def test_described_again_it_says_the_same() -> None:
    """A piece as read from what was written gives the same shapes to the last digit."""
    for count in (1, 2):
        (first,) = describe(Pattern((oval(count),))).pieces
        (again,) = describe(Pattern((first.piece,))).pieces
        assert [s.paths for s in first.shapes] == [s.paths for s in again.shapes]
        assert [s.says for s in first.shapes] == [s.says for s in again.shapes]


def test_numbers_settle_once() -> None:
    piece = settled(oval())
    assert settled(piece) == piece
    tie = np.array([0.00000005])
    assert rounded(tie) == rounded(tie + 1e-13) == rounded(tie - 1e-13)


def test_an_edge_is_marked_where_no_other_is_near() -> None:
    """Two edges 0.005 mm apart cannot be told by a mark at the middle; 0.5 mm apart they can."""
    for gap, names in ((0.005, {"hem"}), (0.5, {"hem", "in", "out"})):
        corners = [(0, 0), (300, 0), (300, 200), (100 + gap, 200), (100 + gap, 50), (100, 50)]
        path = Path.polyline([*corners, (100, 200), (0, 200)], closed=True)
        outline = Outline.of(path)
        runs = (Run(0, 1, "hem"), Run(3, 4, "in"), Run(5, 6, "out"))
        outline = Outline(path, outline.corners, (), runs)
        marked = marked_edges(outline)
        assert {run.name for run in marked} == names
        assert marked[runs[0]] == (150.0, 0.0)


def test_a_size_without_its_base_keeps_which_way_its_seams_run() -> None:
    """A run counts by the base; in a file without it a far size may count the other way."""
    pattern = drawn("basic-set")
    rules = read_rules(shipped("grade_tables/basic-set-shares.csv"))
    chart = read_chart(shipped("grade_tables/misses-1967-body.csv"))
    asked = Asked(measures={"bust": 1240.0, "waist": 1100.0, "hip": 1280.0}, label="own")
    own = grade(pattern, rules, ["20"], chart=chart, asked=asked, allow_far=True).pattern
    again = read_svg(write_svg(own).data).pattern
    turned = 0
    for before, after in zip(own.seams, again.seams, strict=True):
        assert before.name == after.name
        parts = [(*seam.first, *seam.second) for seam in (before, after)]
        for a, b in zip(*parts, strict=True):
            steps = []
            for made, part in ((own, a), (again, b)):
                piece = made.piece(part.piece, "own")
                start, end = run_ends(piece, piece.run(part.run))
                way = piece.outline.vertex_at(end) - piece.outline.vertex_at(start)
                steps.append(-way if part.reverse else way)
            np.testing.assert_allclose(steps[0], steps[1], atol=1e-3)
            turned += a.reverse != b.reverse
    assert turned > 0
