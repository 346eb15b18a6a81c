"""The remake that is shipped: every seam closes in every size, by lengths that shapely measures."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString

from sizewright.jobs.job_file import read_job
from sizewright.jobs.run_job import Performed, perform
from sizewright.plugin import Plugins
from sizewright.shipped import shipped

SIZES = ("8", "10", "12", "14", "16")


@pytest.fixture(scope="module")
def frock() -> Performed:
    """The job, carried out without its files."""
    job = shipped("examples/supper-frock/supper-frock.toml")
    return perform(read_job(job), Plugins.discover(), write=False)


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
    # The band slants by what the waists differ: 6 mm on each quarter, but for fairing at the darts.
    for band in ("band-front", "band-back"):
        lower, upper = (long(band, run) for run in ("lower", "upper"))
        assert lower - upper == pytest.approx(6, abs=0.2)
    hem = 380 + 5 * (int(size) - 8)
    assert long("skirt-front", "hem") == pytest.approx(hem, abs=0.5)
