"""The remake that is shipped: every seam closes in every size, by lengths that shapely measures."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString, Point

from sizewright.jobs.job_file import read_job
from sizewright.jobs.run_job import Performed, perform
from sizewright.model import ChainPart
from sizewright.shipped import shipped
from tests.operations import plugins

SIZES = ("8", "10", "12", "14", "16")


@pytest.fixture(scope="module")
def frock() -> Performed:
    """The job, carried out without its files."""
    job = shipped("examples/supper-frock/supper-frock.toml")
    return perform(read_job(job), plugins(), write=False)


def drawn(made: Performed, piece: str, run: str, size: str) -> float:
    """The length of an edge as it is drawn, mm, by shapely."""
    outline = made.pattern.piece(piece, size).outline
    path = outline.run_path(outline.run(run))
    return float(LineString(path.at(np.linspace(0, path.length, 2001))).length)


def test_nothing_is_left_to_mend(frock: Performed) -> None:
    assert frock.pattern.sizes == SIZES
    assert [f.line() for f in frock.findings if f.level != "note"] == []


@pytest.mark.parametrize("size", SIZES)
def test_edges_are_as_long_as_their_mates(frock: Performed, size: str) -> None:
    def long(piece: str, run: str) -> float:
        return drawn(frock, piece, run, size)

    assert long("front", "shoulder") - long("back", "shoulder") == pytest.approx(15, abs=0.05)
    assert long("front", "neck") == pytest.approx(long("front-facing", "neck"), abs=0.05)
    assert long("back", "neck") == pytest.approx(long("back-facing", "neck"), abs=0.05)
    assert long("skirt-front", "side") == pytest.approx(long("skirt-back", "side"), abs=0.05)
    # The band slants by what the waists differ: 1 cm on each quarter, but for fairing at the darts.
    for band in ("band-front", "band-back"):
        lower, upper = (long(band, run) for run in ("lower", "upper"))
        assert lower - upper == pytest.approx(10, abs=0.25)
    hem = 380 + 5 * (int(size) - 8)
    assert long("skirt-front", "hem") == pytest.approx(hem, abs=0.5)


def test_the_slanted_bands_run_on_over_the_sides(frock: Performed) -> None:
    """Each edge leaves the end at a right angle, by the slope of shapely's points beside it, so
    that front and back lie in one line; their upper and lower edges are parallel."""
    for size in SIZES:
        for name in ("band-front", "band-back"):
            outline = frock.pattern.piece(name, size).outline
            path = outline.path
            lines = {
                run: LineString(
                    path.at(
                        (
                            path.cumulative[outline.run(run).start]
                            + np.linspace(0, outline.run_length(outline.run(run)), 4001)
                        )
                        % path.length
                    )
                )
                for run in ("lower", "end", "upper")
            }
            low, end, high = (np.array(lines[run].coords) for run in ("lower", "end", "upper"))
            over = end[-1] - end[0]
            for step in (low[-1] - low[-2], high[1] - high[0]):
                turn = over @ step / np.hypot(*over) / np.hypot(*step)
                assert np.degrees(np.arcsin(turn)) == pytest.approx(0, abs=0.1)
            apart = [lines["lower"].distance(Point(at)) for at in high[::400]]
            assert apart == pytest.approx([40] * len(apart), abs=0.01)


def sewn(made: Performed, chain: tuple[ChainPart, ...], size: str) -> float:
    """The length of a chain, mm, by shapely: mouths of darts and pleats are left out."""
    total = 0.0
    for part in chain:
        piece = made.pattern.piece(part.piece, size)
        outline, run = piece.outline, piece.run(part.run)
        corners = outline.path.controls
        n = len(corners)
        shut = {
            (mouth.a + k) % n
            for mouth in (*piece.darts, *piece.pleats)
            for k in range((mouth.b - mouth.a) % n)
        }
        t = np.linspace(0, 1, 801)[:, None]
        for k in range((run.end - run.start) % n or n):
            if (number := (run.start + k) % n) not in shut:
                a, b, c, d = corners[number]
                cubic = (
                    a * (1 - t) ** 3 + 3 * b * t * (1 - t) ** 2 + 3 * c * t**2 * (1 - t) + d * t**3
                )
                total += part.count * float(LineString(cubic).length)
    return total


@pytest.mark.parametrize("size", SIZES)
def test_every_seam_closes_by_other_code(frock: Performed, size: str) -> None:
    assert len(frock.pattern.seams) > 12
    for seam in frock.pattern.seams:
        first, second = (sewn(frock, chain, size) for chain in (seam.first, seam.second))
        asked = 0.0
        if seam.ease is not None:
            asked = seam.ease.amount * (second if seam.ease.share else 1.0)
        assert first - second == pytest.approx(asked, abs=0.5), seam.name


def test_the_zip_is_32_cm_and_its_allowance_goes_through_the_band(frock: Performed) -> None:
    for size in SIZES:
        edges = [frock.pattern.piece(name, size) for name in ("front", "band-front", "skirt-front")]
        long = [drawn(frock, piece.name, "zip", size) for piece in edges]
        assert sum(long) == pytest.approx(320, abs=1)
        stops = [mark.name for piece in edges for mark in piece.marks if "stop" in mark.kind]
        assert stops == ["zip-stop"]
        for piece in edges:
            assert piece.cut_line is not None
            path = piece.outline.path
            run = piece.outline.run("zip")
            middle = path.cumulative[run.start] + piece.outline.run_length(run) / 2
            cut = LineString(
                piece.cut_line.path.at(np.linspace(0, piece.cut_line.path.length, 9001))
            )
            off = cut.distance(Point(path.at(middle % path.length)))
            assert off == pytest.approx(0.75 * 25.4, abs=0.02)
