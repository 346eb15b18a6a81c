"""DXF and other programs: GDAL reads what we write; what they exported is read here."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest
import shapely

from sizewright.formats import read_dxf
from sizewright.formats.dxf.writer import write_dxf
from sizewright.formats.svg.reader import read_svg
from tests.cli.runs import FIXTURES
from tests.programs import need

DXF = FIXTURES / "dxf"
EXPECTED = json.loads((DXF / "expected.json").read_text())


@pytest.mark.parametrize("profile", ["curves", "cutter"])
def test_gdal_sees_the_same_areas(tmp_path: Path, profile: str) -> None:
    pattern = read_svg(FIXTURES / "features.svg").pattern
    source, out = tmp_path / "a.dxf", tmp_path / "a.json"
    source.write_bytes(write_dxf(pattern, profile).data)
    subprocess.run(
        [need("ogr2ogr"), "-f", "GeoJSON", out, source, "entities"], check=True, capture_output=True
    )
    layers = ("CUT", "OUTLINE") if any(p.drawn_kind != "sew" for p in pattern.pieces) else ("SEW",)
    lines = [
        shapely.LineString(f["geometry"]["coordinates"])
        for f in json.loads(out.read_text())["features"]
        if f["properties"]["Layer"] in (*layers, "SEW") and "LineString" in f["geometry"]["type"]
    ]
    # Ends meet to fifteen figures or so; GDAL rounds them differently here and there.
    made = shapely.polygonize([shapely.set_precision(line, 1e-6) for line in lines])
    areas = sorted(abs(shapely.Polygon(p.exterior).area) for p in made.geoms)
    for piece in pattern.pieces:
        wanted = piece.drawn.path.area
        assert min(abs(a - wanted) for a in areas) <= 1e-3 * wanted, piece.name


@pytest.mark.parametrize("name", EXPECTED)
def test_drawings_that_other_programs_exported(name: str) -> None:
    reading = read_dxf((DXF / name).read_bytes(), name=name)
    assert all(f.level != "fail" for f in reading.findings)
    pieces = reading.pattern.pieces
    assert len(pieces) == len(EXPECTED[name])
    for piece, wanted in zip(pieces, EXPECTED[name], strict=True):
        path = piece.drawn.path
        assert path.area == pytest.approx(wanted["area"], rel=1e-6)
        assert path.length == pytest.approx(wanted["perimeter"], rel=1e-6)
        assert len(piece.outline.corners) == wanted["corners"]
        assert piece.bounds == pytest.approx(wanted["bounds"], abs=0.01)
