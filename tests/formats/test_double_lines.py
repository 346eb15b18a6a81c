"""A cutting and a sewing line drawn as two lines that nothing names."""

from __future__ import annotations

import pytest

from sizewright.formats import read_svg
from sizewright.model import Piece

CUT = "M 20 20 H 220 V 200 H 20 Z"


def read(inner: str, style: str = "") -> tuple[Piece, ...]:
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="300mm" '
        f'viewBox="0 0 300 300" fill="none" stroke="black"><path d="{CUT}"/>'
        f'<path d="{inner}" {style}/></svg>'
    )
    return read_svg(drawing.encode()).pattern.pieces


@pytest.mark.parametrize(
    "inner",
    [
        "M 30 35 H 210 V 185 H 30 Z",  # 10 and 15 mm
        "M 30 35 H 110 L 120 120 L 130 35 H 210 V 185 H 30 Z",  # with a dart in it
        "M 20 35 H 210 V 185 H 20 Z",  # one line along the fold
        "M 20 35 H 210 V 185 H 20",  # from fold to fold
    ],
)
def test_the_inner_one_is_sewn(inner: str) -> None:
    (piece,) = read(inner, 'stroke-dasharray="4 2"')
    assert piece.cut_line is not None
    assert piece.kind == "sew"
    assert piece.cut_line.path.bounds == pytest.approx((20, 100, 220, 280))
    left, low, right, high = piece.outline.path.bounds
    assert (low, right, high) == pytest.approx((115, 210, 265))
    assert left == pytest.approx(20 if inner.startswith("M 20") else 30)


@pytest.mark.parametrize(
    "inner",
    [
        "M 20 20 H 220 V 185 H 40 Z",  # one line with the outline on two sides
        "M 100 60 H 140 V 100 H 100 Z",  # far within
    ],
)
def test_what_does_not_run_beside_it_is_not_sewn(inner: str) -> None:
    assert all(piece.cut_line is None for piece in read(inner))
