"""SVG against outside readers: fontTools' path parser, svgelements, and librsvg's pixels."""

from __future__ import annotations

import io
import math
import subprocess

import pytest
from fontTools.misc.transform import Transform
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.transformPen import TransformPen
from fontTools.svgLib.path import parse_path

from tests.formats.drawing import drawing, read
from tests.programs import need

#: Closed paths with every command that needs no arc.
PATHS = {
    "lines": "M20 30H120L150 90 140 160V170h-80l-30-20z",
    "relative": "m20 30h100l30 60-10 70v10h-80l-30-20z",
    "cubics": "M20 30C60 0 100 60 140 30S160 100 140 140s-60 30-100 10Z",
    "quadratics": "M20 30Q60 0 100 30T160 60q20 60-30 90t-100-20Z",
    "terse": "M2e1 30-.5.5e2 4E1 140.5.5e2 120l50.5-.5z",
}
MATRICES = {
    "identity": (1, 0, 0, 1, 0, 0),
    "mirrored": (-1, 0, 0, 1, 300, 0),
    "turned": (math.cos(0.5), math.sin(0.5), -math.sin(0.5), math.cos(0.5), 120, 0),
    "sheared": (1, 0.3, -0.4, 1, 90, 10),
    "squeezed": (1.7, 0, 0, 0.6, 5, 6),
}


@pytest.mark.parametrize("matrix", MATRICES.values(), ids=MATRICES)
@pytest.mark.parametrize("text", PATHS.values(), ids=PATHS)
def test_area_and_box_as_fonttools_reads_them(
    text: str, matrix: tuple[float, float, float, float, float, float]
) -> None:
    """fontTools: svgLib.path, transformPen, areaPen and boundsPen; all exact for cubics."""
    area, box = AreaPen(), BoundsPen(None)
    parse_path(text, TransformPen(area, Transform(*matrix)))
    parse_path(text, TransformPen(box, Transform(*matrix)))
    words = " ".join(repr(float(v)) for v in matrix)
    # A frame so far out that it sets nothing aside; only the piece is looked at.
    page = 'width="900mm" height="900mm" viewBox="-300 -300 900 900"'
    (piece,) = read(f'<path id="a" transform="matrix({words})" d="{text}"/>', page).pattern.pieces
    assert piece.area == pytest.approx(abs(area.value), rel=1e-9)
    x0, y0, x1, y1 = box.bounds
    expected = (x0 + 300, 600 - y1, x1 + 300, 600 - y0)
    assert piece.bounds == pytest.approx(expected, abs=1e-6)


ARCS = [
    "M40 100A60 30 0 0 1 160 100L150 150z",
    "M40 100a60 30 25 1 1 60 40z",
    "M40 100A20 50-30 1 0 120 120z",
    "M40 100a5 5 0 0080 0z",
]


@pytest.mark.parametrize("text", ARCS)
def test_arcs_as_svgelements_samples_them(text: str) -> None:
    """svgelements 1.9.6: `Path(d).point(t)` of each arc, which it keeps as an ellipse."""
    import numpy as np
    import svgelements

    from sizewright.geometry.nearest import nearest

    (piece,) = read(f'<path id="a" d="{text}"/>').pattern.pieces
    (arc,) = [s for s in svgelements.Path(text) if isinstance(s, svgelements.Arc)]
    points = np.array([arc.point(float(t)) for t in np.linspace(0, 1, 201)], dtype=float)
    points[:, 1] = 300 - points[:, 1]
    assert nearest(piece.outline.path, points).distance.max() < 1e-3


DRAWINGS = {
    "nested": (
        'width="160mm" height="150mm" viewBox="0 0 320 300"',
        '<g transform="translate(20 10) rotate(15)"><g transform="skewX(10) scale(1.2 .8)">'
        '<path id="a" d="M40 40H120L165 125V205C165 235 145 255 115 255H40Z"/></g></g>',
    ),
    "fitted": (
        'width="160mm" height="120mm" viewBox="10 20 100 100" preserveAspectRatio="xMaxYMid"',
        '<ellipse id="a" cx="60" cy="70" rx="40" ry="25" transform="rotate(30 60 70)"/>',
    ),
    "stretched": (
        'width="6in" height="4in" viewBox="0 0 100 100" preserveAspectRatio="none"',
        '<rect id="a" x="10" y="20" width="70" height="50" rx="15" ry="20"/>',
    ),
    "symbol": (
        'width="400" height="300"',
        '<symbol id="s" viewBox="0 0 50 100"><path d="M5 5H45V95A20 40 0 0 1 5 60z"/></symbol>'
        '<use id="a" xlink:href="#s" x="1cm" y="20" width="200" height="50%"/>',
    ),
    "inner": (
        'width="160mm" height="120mm"',
        '<svg x="10%" y="5mm" width="300" height="200" viewBox="0 0 30 40">'
        '<polygon id="a" points="2,3 28,5 25,38 4,30"/></svg>',
    ),
    "styled": (
        'width="160mm" height="120mm" viewBox="0 0 160 120"',
        "<style>.off { display: none } g rect { visibility: hidden } #b { visibility: visible }"
        '</style><g><rect class="off" width="90" height="90"/><rect width="50" height="50"/>'
        '<rect id="b" x="20" y="30" width="70" height="40"/></g>',
    ),
}


@pytest.mark.parametrize("name", DRAWINGS)
def test_area_as_librsvg_paints_it(name: str) -> None:
    """The ink that rsvg-convert lays down (alpha of each pixel, 4 to the CSS px) is the area."""
    from PIL import Image

    page, body = DRAWINGS[name]
    program = need("rsvg-convert")
    image = subprocess.run(
        [program, "--zoom=4", "--format=png"],
        input=drawing(body, page),
        capture_output=True,
        check=True,
        timeout=60,
    ).stdout
    alpha = Image.open(io.BytesIO(image)).convert("RGBA").getchannel("A")
    ink = sum(value * count for value, count in enumerate(alpha.histogram())) / 255.0
    pixel = 25.4 / 96 / 4
    (piece,) = read(body, page).pattern.pieces
    assert piece.area == pytest.approx(ink * pixel * pixel, rel=2e-3)
    left, top, right, bottom = alpha.point(lambda a: 255 if a > 127 else 0).getbbox()
    height = alpha.size[1]
    seen = (left * pixel, (height - bottom) * pixel, right * pixel, (height - top) * pixel)
    assert piece.bounds == pytest.approx(seen, abs=2.5 * pixel)
