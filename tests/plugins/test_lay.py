"""The writer `lay`: what its files hold, read by others."""

from __future__ import annotations

import io
from pathlib import Path

import ezdxf
import pytest
from shapely import Polygon

from sizewright.laying import Cloth, Lay, Panel
from sizewright.model import Pattern
from sizewright.plugin import Plugins, check_settings, run_writer
from tests.laying.lays import gore, items
from tests.programs import need
from tests.shapes import rectangle

PIECES = (gore("gore", 300, 500, 4, pair=True), gore("tab", 60, 80, 2))
PATTERN = Pattern(PIECES, title="Skirt")


class Fixed:
    """Cloths whose lays are found already."""

    def __init__(self, lay: Lay) -> None:
        self.cloths = (lay.cloth,)
        self._lay = lay

    def lay(self, *_: object) -> tuple[Lay, tuple[()]]:
        """The lay."""
        return self._lay, ()

    def homeless(self, _: Pattern) -> list[object]:
        """Nothing."""
        return []


@pytest.fixture(scope="module")
def on_length() -> Lay:
    """All pieces in a row along a length, by hand."""
    from sizewright.laying import Laid

    cloth = Cloth("bolt", width=800.0, selvedge=10.0, length=2200.0)
    at, laid = 0.0, []
    for item in items(cloth, *PIECES):
        laid.append(Laid(item, "", at, 12.0, 0))
        at += float(item.turned(0.0)[:, 0].max()) + 5
    return Lay(cloth, tuple(laid))


def write(lay: Lay, ending: str, **settings: object) -> tuple[bytes, list[str]]:
    """A file of a lay, and what was told."""
    writer = Plugins.discover().writer("lay")
    given = {"cloths": Fixed(lay), "ending": ending, **settings}
    output = run_writer(writer, PATTERN, check_settings("lay", writer.settings, given))
    return output.data, [finding.text for finding in output.findings]


def test_a_cutters_file_has_every_piece_where_it_lies(on_length: Lay) -> None:
    data, told = write(on_length, ".dxf")
    doc = ezdxf.read(io.StringIO(data.decode("ascii")))
    cut = [
        Polygon([p[:2] for p in line.get_points()] if line.dxftype() == "LWPOLYLINE" else
                [(v.dxf.location.x, v.dxf.location.y) for v in line.vertices])
        for line in doc.modelspace()
        if line.dxf.layer == "CUT"
    ]  # fmt: skip
    assert len(cut) == len(on_length.laid) == 6
    for one, area in zip(on_length.laid, on_length.areas, strict=True):
        assert min(area.symmetric_difference(other).area for other in cut) < 0.01, one
    assert "pieces cover" in told[0]


def test_full_size_pages_are_as_large_as_the_lay(on_length: Lay, tmp_path: Path) -> None:
    import subprocess

    data, _ = write(on_length, ".pdf", scale="full", page="80 cm x 220 cm", cover=False)
    file = tmp_path / "full.pdf"
    file.write_bytes(data)
    told = subprocess.run([need("pdfinfo"), str(file)], capture_output=True, text=True, check=True)
    assert "Pages:" in told.stdout
    size = next(row for row in told.stdout.splitlines() if row.startswith("Page size"))
    wide = [float(word) for word in size.split() if word.replace(".", "").isdigit()]
    assert max(wide) == pytest.approx(2200 / 25.4 * 72, abs=1)


def test_pictures_name_every_piece(on_length: Lay) -> None:
    svg = write(on_length, ".svg")[0].decode()
    assert svg.count("gore") >= 4
    assert "In the order to cut" in svg
    assert "selvedge" in svg
    assert write(on_length, ".pdf")[0].startswith(b"%PDF")
    assert write(on_length, ".svg")[0].decode() == svg


def test_what_is_left_is_told_with_advice(on_length: Lay) -> None:
    from dataclasses import replace

    short = replace(on_length, laid=on_length.laid[:4], left=(on_length.laid[4].item,))
    told = write(short, ".svg")[1]
    assert any(text.startswith("not found") and "tab" in text for text in told)
    assert "NOT ON IT" in write(short, ".svg")[0].decode()


def test_the_largest_piece_left_over() -> None:
    from sizewright.laying import largest_left

    panel = Panel("p", rectangle(400, 300), 0.0, flaws=(rectangle(100, 300),))
    long, wide, name = largest_left(Lay(Cloth("c", panels=(panel,)), ()))
    assert (long, wide, name) == (pytest.approx(300, abs=11), pytest.approx(300, abs=11), "p")
    upright = Panel("p", rectangle(400, 200), 90.0)
    long, wide, _ = largest_left(Lay(Cloth("c", panels=(upright,)), ()))
    assert (long, wide) == (pytest.approx(200, abs=11), pytest.approx(400, abs=11))
