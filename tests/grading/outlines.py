"""Outlines for grading tests: random ones, and pieces that are hard to grade."""

from __future__ import annotations

import numpy as np
from hypothesis import assume
from hypothesis import strategies as st

from sizewright.geometry.crossings import is_simple
from sizewright.geometry.path import Path
from sizewright.geometry.types import Floats
from sizewright.model import Axis, Fold, Outline, Piece, Point

UP = Axis((0.0, 0.0), (0.0, 100.0))


def _edge(draw: st.DrawFn, a: Floats, b: Floats) -> list[Floats]:
    """Segments from corner a to corner b: straight, one curve, or smooth chains of two."""
    kind = draw(st.sampled_from(["line", "curve", "curve", "two", "line-curve"]))
    chord = b - a
    normal = np.array([chord[1], -chord[0]])
    share = st.floats(-0.22, 0.22)
    if kind == "line":
        return [np.array([a, b])]
    if kind == "curve":
        p, q = draw(share), draw(share)
        return [np.array([a, a + 0.35 * chord + p * normal, b - 0.35 * chord + q * normal, b])]
    at, bow, turn = draw(st.floats(0.35, 0.65)), draw(share) / 2, draw(st.floats(-0.3, 0.3))
    middle = a + at * chord + bow * normal
    if kind == "two":
        tangent = chord + turn * normal
        return [
            np.array([a, a + 0.15 * chord + bow * normal, middle - 0.15 * tangent, middle]),
            np.array([middle, middle + 0.12 * tangent, b - 0.15 * chord + bow * normal, b]),
        ]
    tangent = middle - a
    return [
        np.array([a, middle]),
        np.array([middle, middle + 0.2 * tangent, b - 0.2 * chord, b]),
    ]


@st.composite
def paths(draw: st.DrawFn) -> Path:
    """Simple counter-clockwise loops of 4 to 8 corners, 200 to 900 mm across."""
    count = draw(st.integers(4, 8))
    spread = [draw(st.floats(-0.3, 0.3)) for _ in range(count)]
    angles = (np.arange(count) + spread) * 2 * np.pi / count
    radii = np.array([draw(st.floats(0.75, 1.25)) for _ in range(count)])
    size = np.array([draw(st.floats(100, 300)), draw(st.floats(150, 450))])
    points = np.stack([np.cos(angles), np.sin(angles)], axis=1) * radii[:, None] * size
    segments = []
    for k in range(count):
        segments += _edge(draw, points[k], points[(k + 1) % count])
    path = Path.of(segments, closed=True)
    assume(path.area > 0 and is_simple(path))
    return path


@st.composite
def pieces(draw: st.DrawFn, *, every_corner: bool = True) -> Piece:
    """Pieces with a rule of its own at each corner (or at some), and at some smooth points."""
    path = draw(paths())
    outline = Outline.of(path)
    assume(len(outline.corners) >= 3)
    points = []
    for v in range(len(path)):
        corner = v in outline.corners
        if (corner and every_corner) or draw(st.booleans()):
            points.append(Point(v, f"p{v}", f"r{v}"))
    assume(points)
    return Piece("piece", Outline.of(path, points=points), kind="sew", axis=UP)


def amounts(count: int, most: float = 15.0) -> st.SearchStrategy[Floats]:
    """Amounts for `count` columns, mm."""
    one = st.floats(-most, most, allow_subnormal=False)
    return st.lists(one, min_size=count, max_size=count).map(np.array)


def ruled(path: Path, rules: dict[int, str], **more: object) -> Piece:
    """A sewing piece with an upright axis and these rules at its vertices."""
    points = [Point(v, f"p{v}", rule) for v, rule in rules.items()]
    return Piece("piece", Outline.of(path, points=points), kind="sew", axis=UP, **more)  # type: ignore[arg-type]


def bodice_half() -> Piece:
    """A half front on the fold: square neckline and fold, armhole, smooth waist on the side."""
    path = Path.of(
        [
            [[0, 0], [250, 0]],
            [[250, 0], [252, 60], [235, 150], [235, 200]],
            [[235, 200], [235, 270], [250, 330], [250, 380]],
            [[250, 380], [215, 380], [190, 430], [190, 520]],
            [[190, 520], [80, 560]],
            [[80, 560], [80, 500], [45, 470], [0, 470]],
            [[0, 470], [0, 0]],
        ],
        closed=True,
    )
    names = ["hem-centre", "hem-side", "waist", "underarm", "shoulder", "neck", "neck-centre"]
    points = [Point(v, name, name) for v, name in enumerate(names)]
    outline = Outline.of(path, points=points)
    return Piece("front", outline, kind="sew", axis=UP, fold=Fold(6, 0))
