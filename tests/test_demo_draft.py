"""The demo garment: drafted true in its base size, and true in every size of its table.

The drawing is measured twice: as the program reads it, and straight from its XML with
svgelements, scipy and shapely. Body figures are those of the US pattern-industry misses'
table of 1967-68 (a sewing-history page, 2011), typed in again here; ease and gather lie in
published ranges (costume-making and household texts named beside them).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely

from sizewright.formats import Reading, read_interchange, read_svg, write_interchange
from sizewright.geometry import flatten
from sizewright.grading import read_chart
from sizewright.jobs.commands import Told, run_job_file
from sizewright.jobs.job_file import read_job
from sizewright.model import match_seam
from sizewright.shipped import shipped
from tests.drawn import angle, at, curvature, flattened, length, sewn
from tests.drawn import drawn as drawn_segments
from tests.operations import nest, steps

IN = 25.4
SIZES = ("6", "8", "10", "12", "14", "16", "18", "20")
CHART = {
    "bust": (30.5, 31.5, 32.5, 34, 36, 38, 40, 42),
    "waist": (23, 24, 25, 26.5, 28, 30, 32, 34),
    "hip": (32.5, 33.5, 34.5, 36, 38, 40, 42, 44),
    "back-waist-length": (15.5, 15.75, 16, 16.25, 16.5, 16.75, 17, 17.25),
}
BASE = SIZES.index("12")
#: Wearing ease, in: within the published 1 1/2 to 4 at the bust and 1/2 to 1 1/2 at the waist.
BUST_EASE, WAIST_EASE = 2.0, 1.0
#: Gather, within the published 1.5 to 2 : 1.
RATIO = 1.75
#: Width of the button stand beyond the centre back, mm.
STAND = 15.0
#: Seams must match this well, mm.
TRUE = 0.05
PIECES = (
    "front",
    "back",
    "facing-front",
    "facing-back",
    "peplum-front",
    "peplum-back",
    "band",
)


@cache
def drawing() -> Reading:
    return read_svg(shipped("examples/supper-top/supper-top.svg"))


@dataclass(frozen=True)
class Order:
    """Numbers of the segments of a bodice outline, as drawn; darts' legs are in none."""

    parts: dict[str, tuple[int, ...]]

    def of(self, segments: tuple[np.ndarray, ...], part: str) -> list[np.ndarray]:
        return [segments[k] for k in self.parts[part]]


FRONT = Order(
    {
        "waist": (0, 1, 2, 5, 6, 7, 8, 9),
        "side": (10, 13),
        "armhole": (14, 15),
        "shoulder": (16,),
        "neck": (17,),
    }
)
#: The first segment of the back's waist and the last of its neck are the button stand's.
BACK = Order(
    {
        "waist": (0, 1, 2, 3, 6, 7, 8, 9, 10),
        "side": (11,),
        "armhole": (12, 13),
        "shoulder": (14,),
        "neck": (15, 16),
    }
)


# --- the drawing, without the program ------------------------------------------------


def drawn(name: str) -> tuple[np.ndarray, ...]:
    """Segments of a piece's outline, each (2, 2) or (4, 2), by svgelements, y down."""
    return drawn_segments(shipped("examples/supper-top/supper-top.svg"), name)


# --- the base size ---------------------------------------------------------------------


def test_the_drawing_is_read_whole() -> None:
    reading = drawing()
    assert reading.findings == ()
    assert reading.pattern.names == PIECES
    assert reading.pattern.base_size == "12"
    assert all(piece.kind == "sew" for piece in reading.pattern.pieces)
    assert [p.name for p in reading.pattern.pieces if p.fold] == [
        "front",
        "facing-front",
        "peplum-front",
        "band",
    ]
    # Nothing that bounds an area was left out but marks.
    assert {s.kind for s in reading.set_aside} <= {"line", "circle", "text"}


def test_finished_measures_are_the_body_and_its_ease_without_the_program() -> None:
    front, back = drawn("front"), drawn("back")
    waist = length(*FRONT.of(front, "waist")) + length(*BACK.of(back, "waist")[1:])
    assert 2 * waist == pytest.approx((CHART["waist"][BASE] + WAIST_EASE) * IN, abs=TRUE)
    underarm = FRONT.of(front, "armhole")[0][0], BACK.of(back, "armhole")[0][0]
    bust = 2 * (underarm[0][0] - underarm[1][0])
    assert bust == pytest.approx((CHART["bust"][BASE] + BUST_EASE) * IN, abs=TRUE)
    neck = BACK.of(back, "neck")[0][-1]
    assert neck[0] == 0
    assert -neck[1] == pytest.approx(CHART["back-waist-length"][BASE] * IN, abs=TRUE)


def test_seams_match_without_the_program() -> None:
    front, back, band = drawn("front"), drawn("back"), drawn("band")
    side = [length(*FRONT.of(front, "side")), length(*BACK.of(back, "side"))]
    assert side[0] == pytest.approx(side[1], abs=TRUE)
    shoulder = [length(*FRONT.of(front, "shoulder")), length(*BACK.of(back, "shoulder"))]
    assert shoulder[0] == pytest.approx(shoulder[1], abs=TRUE)
    waist = length(*FRONT.of(front, "waist")) + length(*BACK.of(back, "waist"))
    assert waist == pytest.approx(length(band[0]), abs=TRUE)
    # The facings' neck edges are those of the bodice, to the digit.
    for mine, its in (
        (FRONT.of(front, "neck"), drawn("facing-front")[3:4]),
        (BACK.of(back, "neck"), drawn("facing-back")[3:5]),
    ):
        assert all(np.array_equal(a, b) for a, b in zip(mine, its, strict=True))
    gathered = length(*drawn("peplum-front")[4:7]) + length(*drawn("peplum-back")[4:7])
    assert gathered == pytest.approx(RATIO * length(band[0]), abs=TRUE)


def test_darts_are_true() -> None:
    front, back = (drawing().pattern.piece(name) for name in ("front", "back"))
    assert {d.name for d in front.darts} == {"waist", "bust"}
    assert {d.name for d in back.darts} == {"waist"}
    for piece in (front, back):
        for dart in piece.darts:
            legs = [
                float(np.hypot(*(piece.outline.vertex_at(v) - dart.apex))) for v in (dart.a, dart.b)
            ]
            assert legs[0] == pytest.approx(legs[1], abs=0.005)
            if dart.name == "waist":
                # The waist crosses the closed dart without a kink: square to both legs.
                for v in (dart.a, dart.b):
                    assert 180 - piece.outline.path.turns[v] == pytest.approx(90, abs=0.02)


def test_lines_meet_square_where_they_ought_to() -> None:
    pattern = drawing().pattern
    square = {
        "front": ["waist-centre", "side-waist", "underarm", "shoulder-tip", "neck-centre"],
        "back": ["waist-end", "side-waist", "underarm", "shoulder-tip", "neck-end"],
        "facing-front": ["outer-centre", "neck-centre"],
        "facing-back": ["outer-end", "neck-end"],
        "peplum-front": ["hem-centre", "hem-side", "top-side", "top-centre"],
        "peplum-back": ["hem-centre", "hem-side", "top-side", "top-centre"],
        "band": ["bottom-centre", "bottom-end", "top-end", "top-centre"],
    }
    for name, points in square.items():
        for point in points:
            assert angle(pattern.piece(name), point) == pytest.approx(90, abs=0.01), (name, point)


def test_lines_run_on_across_seams() -> None:
    """Neck and facing at the shoulder, side above and below the closed dart: no kink."""
    pattern = drawing().pattern
    front, back = pattern.piece("front"), pattern.piece("back")
    assert angle(front, "neck-side") + angle(back, "neck-side") == pytest.approx(180, abs=0.02)
    facing = [angle(pattern.piece(f"facing-{x}"), "outer-side") for x in ("front", "back")]
    assert sum(facing) == pytest.approx(180, abs=0.02)
    assert angle(front, "bust-dart-lower") + angle(front, "bust-dart-upper") == pytest.approx(
        180, abs=0.02
    )


@pytest.mark.parametrize(
    ("piece", "curve"),
    [
        ("front", (14, 15)),
        ("back", (12, 13)),
        ("front", (17,)),
        ("back", (15,)),
        ("facing-front", (1,)),
        ("facing-back", (1,)),
        ("peplum-front", (2,)),
        ("peplum-front", (4,)),
    ],
)
def test_curves_are_fair(piece: str, curve: tuple[int, ...]) -> None:
    """Each bends one way only, its curvature has one crest at most, and runs on at joints."""
    parts = [curvature(drawn(piece)[k]) for k in curve]
    whole = np.concatenate(parts)
    assert (np.sign(whole) == np.sign(whole[0])).all()
    size = np.abs(whole)
    steps = np.diff(size)
    turns = np.flatnonzero(np.diff(np.sign(steps[np.abs(steps) > 1e-6 * size.max()])) != 0)
    assert len(turns) <= 2
    for before, after in pairwise(parts):
        assert before[-1] == pytest.approx(after[0], rel=0.02)


# --- the tables ------------------------------------------------------------------------


def test_the_chart_is_the_published_table() -> None:
    chart = read_chart(shipped("grade_tables/misses-1967.csv"))
    assert chart.sizes == SIZES
    assert chart.measures == tuple(CHART)
    for measure, inches in CHART.items():
        assert chart.values[measure] == pytest.approx(np.array(inches) * IN, abs=1e-9)


def test_the_rules_share_out_the_steps_of_the_chart() -> None:
    """A quarter of the girth at each side seam (Rosenfeld 1911; trade practice since)."""
    table = steps("supper-top")
    assert table.sizes == SIZES
    for small, large in pairwise(range(len(SIZES))):
        gained = table.growth(SIZES[small], SIZES[large])
        step = {m: (v[large] - v[small]) * IN for m, v in CHART.items()}
        assert 4 * gained["underarm"]["width"] == pytest.approx(step["bust"], abs=1e-6)
        assert 4 * gained["side-waist"]["width"] == pytest.approx(step["waist"], abs=1e-6)
        assert 2 * gained["band-end"]["width"] == pytest.approx(step["waist"], abs=1e-6)
        assert gained["neck-back"]["length"] == pytest.approx(step["back-waist-length"], abs=1e-6)
        # A quarter of the bust step is half across the back and the depth of the armhole.
        across = gained["armhole"]["width"]
        assert across == pytest.approx(gained["underarm"]["width"] - across, abs=1e-6)
        # The peplum keeps its ratio to the band.
        assert gained["peplum-side"]["width"] == pytest.approx(
            RATIO * gained["side-waist"]["width"], abs=2e-4
        )


def test_every_rule_is_used_and_every_corner_has_one() -> None:
    pattern = drawing().pattern
    used = {p.rule for piece in pattern.pieces for p in piece.outline.points}
    assert used - {None} == set(steps("supper-top").names)
    for piece in pattern.pieces:
        assert all(piece.outline.point(v).rule for v in piece.outline.corners), piece.name


# --- every size --------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES)
def test_every_seam_matches_in_every_size(size: str) -> None:
    pattern = nest("supper-top")
    names = [seam.name for seam in pattern.seams]
    assert names == [
        "shoulder",
        "side",
        "waist",
        "gather",
        "peplum-side",
        "neck-front",
        "neck-back",
        "facing-shoulder",
    ]
    for seam in pattern.seams:
        match = match_seam(pattern, seam, size)
        assert match.surplus == pytest.approx(match.wanted, abs=TRUE), seam.name
        if seam.name == "gather":
            assert match.first.length / match.second.length == pytest.approx(RATIO, abs=1e-4)


@pytest.mark.parametrize("size", SIZES)
def test_finished_measures_grow_as_the_body_does(size: str) -> None:
    pattern, k = nest("supper-top"), SIZES.index(size)
    front, back = pattern.piece("front", size), pattern.piece("back", size)
    across = at(front, "underarm") - at(front, "waist-centre")
    across_back = at(back, "waist-centre") - at(back, "underarm")
    bust = 2 * (across[0] + across_back[0])
    assert bust == pytest.approx((CHART["bust"][k] + BUST_EASE) * IN, abs=TRUE)
    waist = 2 * (sewn(front, "waist") + sewn(back, "waist") - STAND)
    assert waist == pytest.approx((CHART["waist"][k] + WAIST_EASE) * IN, abs=TRUE)
    assert 2 * (sewn(pattern.piece("band", size), "top") - STAND) == pytest.approx(waist, abs=TRUE)
    tall = at(back, "neck-centre") - at(back, "waist-centre")
    assert tall[0] == pytest.approx(0, abs=1e-9)
    assert tall[1] == pytest.approx(CHART["back-waist-length"][k] * IN, abs=TRUE)
    # The gathered peplum goes round the hip with room to spare.
    hem = sewn(pattern.piece("peplum-front", size), "hem") + sewn(
        pattern.piece("peplum-back", size), "hem"
    )
    assert 2 * (hem - RATIO * STAND) > 1.25 * CHART["hip"][k] * IN


@pytest.mark.parametrize("size", SIZES)
def test_darts_and_corners_stay_true(size: str) -> None:
    pattern = nest("supper-top")
    for name in ("front", "back"):
        piece = pattern.piece(name, size)
        for dart in piece.darts:
            a, b = (piece.outline.vertex_at(v) for v in (dart.a, dart.b))
            legs = [float(np.hypot(*(p - dart.apex))) for p in (a, b)]
            assert legs[0] == pytest.approx(legs[1], abs=0.01)
            base = drawing().pattern.piece(name).outline
            mouth = np.hypot(*(base.vertex_at(dart.a) - base.vertex_at(dart.b)))
            assert np.hypot(*(a - b)) == pytest.approx(mouth, abs=1e-6)
    square = {
        "front": ["waist-centre", "neck-centre"],
        "back": ["waist-end", "neck-end"],
        "facing-front": ["outer-centre", "neck-centre"],
        "facing-back": ["outer-end", "neck-end"],
        "peplum-front": ["hem-centre", "top-centre"],
        "peplum-back": ["hem-centre", "top-centre"],
    }
    for name, points in square.items():
        for point in points:
            assert angle(pattern.piece(name, size), point) == pytest.approx(90, abs=0.01)
    # Length added straight down turns the slanted sides of the peplum a little.
    for name in ("peplum-front", "peplum-back"):
        for point in ("hem-side", "top-side"):
            assert angle(pattern.piece(name, size), point) == pytest.approx(90, abs=0.5)
    # The armhole's middle stays smooth, and the joins at the shoulder run on, nearly.
    for name in ("front", "back"):
        path = pattern.piece(name, size).outline.path
        assert abs(path.turns[pattern.piece(name).outline.vertex("armhole-middle")]) < 0.01
    for point in ("neck-side", "shoulder-tip"):
        both = sum(angle(pattern.piece(name, size), point) for name in ("front", "back"))
        assert both == pytest.approx(180, abs=2.5), point


@pytest.mark.parametrize("size", SIZES)
def test_every_size_is_simple_and_keeps_its_notches_paired(size: str) -> None:
    pattern = nest("supper-top")
    for name in PIECES:
        piece = pattern.piece(name, size)
        ring = flattened(tuple(piece.outline.path.controls))
        assert ring.is_valid, name
    band = pattern.piece("band", size)
    places = {
        round(float(band.outline.path.at(band.outline.arc_length_of(n.at))[0]), 6)
        for n in band.notches
        if n.name == "side-seam"
    }
    left = at(band, "top-centre")[0]
    (side,) = places
    assert side - left == pytest.approx(sewn(pattern.piece("front", size), "waist"), abs=TRUE)


def test_the_job_grades_to_sizes_that_the_tables_have() -> None:
    job = read_job(shipped("examples/supper-top/supper-top.toml"))
    assert job.source == shipped("examples/supper-top/supper-top.svg")
    assert job.grade is not None
    assert job.grade.rules == shipped("grade_tables/supper-top-steps.csv")
    assert job.base in job.grade.to
    assert set(job.grade.to) <= set(SIZES)
    assert len(job.grade.to) >= 5


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Told]:
    """What the demo's job makes, and what it tells."""
    folder = tmp_path_factory.mktemp("demo")
    job = shipped("examples/supper-top/supper-top.toml")
    return folder, run_job_file(job, into=folder, notes=True)


@pytest.mark.parametrize("size", ["12", "14"])
def test_through_interchange_no_line_comes_back_more_than_promised_off(
    made: tuple[Path, Told], size: str
) -> None:
    pattern = read_svg(made[0] / "graded" / f"{size}.svg").pattern
    back = read_interchange(write_interchange(pattern).dxf).pattern
    lines = {p.name.lower(): p.drawn.path for p in back.pieces}
    assert len(lines) == 7
    for piece in pattern.pieces:
        rings = [
            shapely.LinearRing(flatten(path, 0.001))
            for path in (piece.drawn.path, lines[piece.name.lower()])
        ]
        assert shapely.hausdorff_distance(*rings) < 0.05, piece.name


def test_the_job_tells_no_more_than_can_be_read(made: tuple[Path, Told]) -> None:
    done = made[1]
    assert len(done.findings) > 50
    assert sum(line.startswith("note:") for line in done.lines) < 10
    assert not any(line.startswith("fail:") for line in done.lines)
