"""Pages of PDFs that lie turned, or leave out a strip between them, and pages that we print."""

from __future__ import annotations

import numpy as np
import pytest

from sizewright.formats import read_pdf
from sizewright.geometry import Path as Line
from tests.formats.drawing import codes
from tests.formats.test_pdf import NEAR, apart
from tests.formats.test_pdf_pages import A4, LETTER, Tiles, came_back, pieces, printed, told
from tests.printing import drawn as features
from tests.printing import written

#: The same where lines were cut into chords first, whose directions tell how wide a strip is.
LED_ON = 0.08

# --- strips that no page shows -----------------------------------------------------------


@pytest.mark.parametrize(
    "tiles",
    [
        Tiles(A4, 8.0, -4.2),
        Tiles(LETTER, 6.35, -6.0, "column"),
        Tiles(A4, 3.0, -2.0),
    ],
)
def test_lines_are_led_on_over_a_strip_that_no_page_shows(tiles: Tiles) -> None:
    reading = read_pdf(printed(pieces(), tiles, cut=True, furniture=True))
    came_back(reading, pieces(), LED_ON)
    found = [f.text for f in reading.findings if f.code == "page-gap"]
    assert found
    assert all(f"a strip of {-tiles.overlap:.1f} mm" in text for text in found)
    # What was straight is straight.
    assert any(p.outline.path.lines.all() for p in reading.pattern.pieces)


def test_a_corner_within_the_strip_is_told_and_not_made_up() -> None:
    # Pages are 190 mm wide; the tips lie between two of them.
    tiles = Tiles(A4, 10.0, -8.0)
    tip = Line.polyline([(60, 150), (184, 200), (60, 330)], closed=True)
    reading = read_pdf(printed([*pieces()[:2], tip], tiles, cut=True))
    assert "page-gap" in codes(reading)
    assert "go on nowhere" in told(reading, "joint-open")


def test_a_strip_that_is_said() -> None:
    tiles = Tiles(A4, 8.0, -4.2)
    data = printed(pieces(), tiles, cut=True)
    came_back(read_pdf(data, overlap=-4.2), pieces(), LED_ON)


# --- turned pages -----------------------------------------------------------------------


@pytest.mark.parametrize("turned", [{3: 180}, {2: 90}, {1: 270, 5: 180}])
@pytest.mark.parametrize("cut", [True, False])
def test_pages_that_lie_turned(turned: dict[int, int], cut: bool) -> None:
    data = printed(pieces(), Tiles(overlap=7.5), cut=cut, turned=turned, furniture=not cut)
    reading = read_pdf(data)
    came_back(reading, pieces(), NEAR + 0.005)
    listed = ", ".join(f"page {k} by {360 - t} degrees" for k, t in sorted(turned.items()))
    assert told(reading, "pages-turned").endswith(listed)
    assert "pages-apart" not in codes(reading)


# --- what we print ------------------------------------------------------------------------


@pytest.mark.parametrize("paper", ["A4", "Letter", "A0"])
def test_our_own_pages_come_back(paper: str) -> None:
    pattern = features()
    reading = read_pdf(written(pattern, paper=paper).data)
    lines = [line.path for p in pattern.pieces for line in (p.outline, p.cut_line) if line]
    found = [line.path for p in reading.pattern.pieces for line in (p.outline, p.cut_line) if line]
    assert len(reading.pattern.pieces) == len(pattern.pieces)
    for line in lines:
        same = [p for p in found if abs(p.length - line.length) < 1]
        assert same
        far = [
            apart(_at_origin(p, quarter), _at_origin(line)) for p in same for quarter in range(4)
        ]
        assert min(far) < NEAR
    squares = [f.text for f in reading.findings if f.code == "test-square"]
    assert [text.partition(" is as")[0] for text in squares] == [
        "the test square of 5 cm",
        "the test square of 2 in",
    ]
    assert "pages-turned" not in codes(reading)


def _at_origin(path: Line, quarters: int = 0) -> Line:
    """A line turned by quarters of a turn, its lower left at the origin."""
    turn = np.linalg.matrix_power(np.array([[0.0, 1.0], [-1.0, 0.0]]), quarters)
    turned = path.with_controls(path.controls @ turn)
    return turned.with_controls(turned.controls - turned.bounds[:2])
