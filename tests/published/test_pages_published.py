"""Printed pages against published paper sizes, and against other programs' eyes.

Poppler reads and renders the PDF; librsvg renders the same drawing written as SVG.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import binary_dilation

from sizewright.model import Pattern
from sizewright.pictures import Sketch, Stroke, Words
from sizewright.pictures.canvas import Canvas
from sizewright_plugins.tiling import pages as furniture
from sizewright_plugins.tiling.layout import Layout
from sizewright_plugins.tiling.pen import Pen
from tests.printing import drawn, in_sizes, layout_of, raster, rectangle, told, written
from tests.programs import need

# ISO 216, mm; ANSI Y14.1 and architects' sheets, in (university plotter FAQ).
ISO = {
    "A0": (841, 1189),
    "A1": (594, 841),
    "A2": (420, 594),
    "A3": (297, 420),
    "A4": (210, 297),
    "A5": (148, 210),
}
INCH = {
    "Letter": (8.5, 11),
    "Legal": (8.5, 14),
    "Tabloid": (11, 17),
    "ANSI C": (17, 22),
    "ANSI D": (22, 34),
    "ANSI E": (34, 44),
    "ARCH A": (9, 12),
    "ARCH B": (12, 18),
    "ARCH C": (18, 24),
    "ARCH D": (24, 36),
    "ARCH E": (36, 48),
    "ARCH E1": (30, 42),
}

# 5 pixels to the millimetre: pages and steps of whole millimetres are whole pixels.
DPI, SCALE = 127.0, 5
# Thin lines are grey between pixels, more so with one program than with the other.
_DARK, _GREY = 0.5, 0.85


@pytest.mark.parametrize("name", [*ISO, *INCH])
def test_page_sizes_are_the_published_ones(name: str, tmp_path: Path) -> None:
    pdf = tmp_path / "pages.pdf"
    pattern = Pattern((rectangle("band", 300, 90),))
    pdf.write_bytes(written(pattern, paper=name, cover=False, orientation="portrait").data)
    facts = told("pdfinfo", "-box", str(pdf))
    points = 72 / 25.4
    wide, tall = ISO[name] if name in ISO else (25.4 * v for v in INCH[name])
    boxes = [line.split(":")[1].split() for line in facts.splitlines() if "Box:" in line]
    assert len(boxes) == 5
    for found in boxes:
        # pdfinfo rounds to 0.01 point.
        assert [float(v) for v in found] == pytest.approx(
            [0, 0, wide * points, tall * points], abs=0.0051
        )


def test_a_page_is_never_longer_than_readers_take(tmp_path: Path) -> None:
    pdf = tmp_path / "roll.pdf"
    pattern = Pattern((rectangle("sail", 500, 12000),))
    pdf.write_bytes(written(pattern, page="24 in", cover=False).data)
    pages = told("pdfinfo", "-f", "1", "-l", "9", str(pdf))
    heights = [float(h) for h in re.findall(r"Page +\d+ size: +[\d.]+ x ([\d.]+)", pages)]
    assert len(heights) == 3
    # 14400 units, the limit of the PDF reference (recalled).
    assert max(heights) <= 14400


@pytest.fixture(scope="module")
def nest_pdf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    pdf = tmp_path_factory.mktemp("pages") / "nest.pdf"
    pdf.write_bytes(written(in_sizes(drawn())).data)
    return pdf


def test_all_fonts_are_embedded_and_nothing_is_a_picture(nest_pdf: Path) -> None:
    fonts = told("pdffonts", str(nest_pdf)).splitlines()[2:]
    assert fonts
    for line in fonts:
        name, *_, embedded, subset, _unicode, _number, _generation = line.split()
        assert "Vera" in name
        assert (embedded, subset) == ("yes", "yes"), line
    assert len(told("pdfimages", "-list", str(nest_pdf)).splitlines()) == 2


def test_the_test_squares_measure_5_cm_and_2_in(nest_pdf: Path) -> None:
    dpi = 508
    dark = 1 - raster(nest_pdf, 1, dpi)
    per_mm = dpi / 25.4
    for rows in (dark, dark.T):
        edges = _long_lines(rows, 45 * per_mm)
        sides = sorted({round(b - a, 1) for a in edges for b in edges if b > a})
        for want in (50.0, 50.8):
            best = min(sides, key=lambda s, w=want: abs(s / per_mm - w))
            assert best / per_mm == pytest.approx(want, rel=0.002)


def _long_lines(dark: np.ndarray[Any, Any], least: float) -> list[float]:
    """Middles of the upright lines that are `least` to three times `least` pixels long."""
    ink = (dark > 0.4).sum(axis=0)
    columns = np.flatnonzero((ink > least) & (ink < 3 * least))
    lines: list[list[int]] = []
    for column in columns:
        if lines and column - lines[-1][-1] == 1:
            lines[-1].append(int(column))
        else:
            lines.append([int(column)])
    weight = dark.sum(axis=0)
    return [float(np.average(line, weights=weight[line])) for line in lines]


# --- the pages put together -------------------------------------------------------


def test_pages_stuck_together_are_the_drawing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    layout = _without_words(layout_of(in_sizes(drawn()), overlap="12 mm"))
    alone = _alone(layout, tmp_path)
    for name in ("_joints", "_corners", "_margins"):
        monkeypatch.setattr(furniture._Furniture, name, lambda self, *_: None)
    monkeypatch.setattr(Pen, "text", lambda self, *_args, **_more: 0.0)
    joined, strips = _joined(layout, tmp_path)
    assert (alone < _DARK).sum() > 20_000
    assert _lacking(alone, joined) <= 0.001
    assert _lacking(joined, alone) <= 0.001
    # Pages that lie on each other show the same.
    assert strips
    for first, second in strips:
        assert np.abs(first - second).mean() < 0.002


def test_the_whole_product_shows_the_drawing_too(tmp_path: Path) -> None:
    layout = _without_words(layout_of(drawn(), paper="A3"))
    alone = _alone(layout, tmp_path)
    joined, _ = _joined(layout, tmp_path)
    assert _lacking(alone, joined) <= 0.001


def _lacking(one: np.ndarray[Any, Any], other: np.ndarray[Any, Any]) -> float:
    """Share of the dark pixels of one picture that the other has not within a pixel, 0.2 mm."""
    dark = one < _DARK
    near = binary_dilation(other < _GREY, np.ones((3, 3), dtype=bool))
    return float((dark & ~near).sum() / dark.sum())


def _without_words(layout: Layout) -> Layout:
    """Letters look different in every typeface: only lines are compared."""
    plain = replace(layout)
    # Worked out once and kept; here what is kept is put in.
    vars(plain)["drawings"] = tuple(
        (Sketch([p for p in d.parts if not isinstance(p, Words)]), x, y)
        for d, x, y in layout.drawings
    )
    return plain


def _alone(layout: Layout, folder: Path) -> np.ndarray[Any, Any]:
    """The whole sheet as librsvg renders it."""
    canvas = Canvas(layout.width, layout.height)
    for sketch, dx, dy in layout.drawings:
        assert any(isinstance(p, Stroke) for p in sketch.parts)
        sketch.put(canvas, dx, dy)
    wide, tall = round(layout.width * SCALE), round(layout.height * SCALE)
    source, out = folder / "alone.svg", folder / "alone.png"
    source.write_text(canvas.svg(title="alone", pixels=max(wide, tall)), encoding="utf-8")
    subprocess.run(
        [need("rsvg-convert"), "-w", str(wide), "-h", str(tall), "-o", str(out), str(source)],
        check=True,
    )
    with Image.open(out) as image:
        return np.asarray(image.convert("L"), dtype=np.float64) / 255


def _joined(
    layout: Layout, folder: Path
) -> tuple[np.ndarray[Any, Any], list[tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]]]:
    """All pages in their places, the darker where two lie on each other; and those strips."""
    pen = Pen("pages")
    furniture.draw_sheet(pen, layout)
    for page in layout.pages:
        furniture.draw_page(pen, layout, page)
    pdf = folder / "pages.pdf"
    pdf.write_bytes(pen.bytes())
    sheet = np.ones((round(layout.height * SCALE), round(layout.width * SCALE)))
    shown: dict[tuple[int, int], np.ndarray[Any, Any]] = {}
    wide, tall = (round(v * SCALE) for v in layout.tile)
    margin = round(layout.margin * SCALE)
    for number, page in enumerate(layout.pages, start=1):
        image = raster(pdf, number, DPI)[margin : margin + tall, margin : margin + wide]
        shown[page.row, page.column] = image
        x = round(page.column * layout.step[0] * SCALE)
        y = round(page.row * layout.step[1] * SCALE)
        part = sheet[y : y + tall, x : x + wide]
        np.minimum(part, image, out=part)
    return sheet, list(_strips(shown, round(layout.overlap * SCALE)))


def _strips(
    shown: dict[tuple[int, int], np.ndarray[Any, Any]], overlap: int
) -> Iterator[tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]]:
    for (row, column), image in shown.items():
        beside, under = shown.get((row, column + 1)), shown.get((row + 1, column))
        # The outermost pixels are half inside the window.
        if beside is not None:
            yield image[2:-2, -overlap:-2], beside[2:-2, : overlap - 2]
        if under is not None:
            yield image[-overlap:-2, 2:-2], under[: overlap - 2, 2:-2]
