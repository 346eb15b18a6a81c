"""Widths of allowances by edge, measured on drawings whose widths are known."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import LinearRing
from shapely import Point as Place

from sizewright.drafting import edge_allowances
from sizewright.geometry import flatten
from sizewright.geometry.path import Path
from sizewright.model import Dart, Fold, Outline, Piece, Run
from tests.pictures.patterns import bodice
from tests.plugins.allowances import allowed


def panel(wide: float, tall: float, sides: tuple[float, float, float, float]) -> Piece:
    """A rectangle with so much outside it below, at the right, above and at the left."""
    low, right, high, left = sides
    sewn = Path.polyline([(0, 0), (wide, 0), (wide, tall), (0, tall)], closed=True)
    cut = Path.polyline(
        [(-left, -low), (wide + right, -low), (wide + right, tall + high), (-left, tall + high)],
        closed=True,
    )
    outline = Outline.of(sewn, runs=[Run(0, 1, "hem"), Run(1, 3, "round")])
    return Piece("panel", outline, kind="sew", cut_line=Outline.of(cut))


def test_each_edge_has_its_width_and_its_name() -> None:
    piece = panel(200, 300, (30, 15, 10, 6))
    assert [name for name, _, _ in edge_allowances(piece)] == ["hem", "round", "round", "#4"]
    assert [w for _, w, _ in edge_allowances(piece)] == pytest.approx([30, 15, 10, 6], abs=1e-6)
    assert edge_allowances(replace(piece, cut_line=None)) == ()


def test_a_narrow_piece_is_measured_outwards() -> None:
    # Through the piece the way to the other side's cutting line is shorter than the hem is wide.
    widths = {name: w for name, w, _ in edge_allowances(panel(200, 6, (30, 15, 10, 15)))}
    assert widths["hem"] == pytest.approx(30)


def test_the_fold_is_left_out_where_nothing_is_added() -> None:
    folded = replace(panel(200, 300, (30, 15, 10, 0)), fold=Fold(3, 0))
    assert [name for name, _, _ in edge_allowances(folded)] == ["hem", "round", "round"]
    added = replace(panel(200, 300, (30, 15, 10, 8)), fold=Fold(3, 0))
    assert edge_allowances(added)[-1] == ("#4", pytest.approx(8), pytest.approx(8))


def test_the_legs_of_a_dart_have_no_width() -> None:
    sewn = [(0, 0), (80, 0), (100, 90), (120, 0), (200, 0), (200, 200), (0, 200)]
    cut = [(-10, -10), (210, -10), (210, 210), (-10, 210)]
    dart = Dart("waist", 1, 3, (100.0, 90.0), 2)
    piece = Piece(
        "panel",
        Outline.of(Path.polyline(sewn, closed=True)),
        kind="sew",
        cut_line=Outline.of(Path.polyline(cut, closed=True)),
        darts=(dart,),
    )
    assert edge_allowances(piece) == tuple(
        (f"#{n}", pytest.approx(10), pytest.approx(10)) for n in (1, 4, 5, 6, 7)
    )


def test_curved_edges_agree_with_shapely() -> None:
    piece = allowed(bodice(), width="15 mm", widths={"neck": "10 mm"})
    assert piece.cut_line is not None
    ring = LinearRing(flatten(piece.cut_line.path, 0.001))
    outline = piece.outline
    piece = replace(piece, allowances=None)
    found = {name: w for name, w, _ in edge_allowances(piece)}
    named = [e for e in outline.edges if e.name in found]
    assert len(named) >= 3
    for edge in named:
        x, y = outline.path.at(edge.offset + edge.length / 2)
        apart = ring.distance(Place(float(x), float(y)))
        assert found[edge.name or ""] == pytest.approx(apart, abs=0.02)
    assert found["neck"] == pytest.approx(10, abs=0.05)
