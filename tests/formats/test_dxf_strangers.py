"""Drawings of other programs: shapes drawn in every way, units, blocks, loose lines.

Areas and lengths are checked against exact formulas, or against shapely on fine chords.
"""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import InputError, UnitError
from sizewright.formats import read_dxf
from sizewright.formats.reading import Reading
from sizewright.units import Unit
from tests.formats.drawing import only
from tests.formats.dxf_made import bare, document, fresh, line

BAG = [(0.0, 0.0), (120.0, 0.0), (130.0, 200.0), (60.0, 240.0), (-10.0, 190.0)]


def codes(reading: Reading) -> set[str]:
    return {f.code for f in reading.findings}


def area(points: list[tuple[float, float]]) -> float:
    return float(shapely.Polygon(points).area)


# --- kinds of line ---------------------------------------------------------------------


def test_circle_and_ellipse() -> None:
    doc = fresh()
    doc.modelspace().add_circle((50, 60), 40)
    doc.modelspace().add_ellipse((300, 0), (80, 60), 0.5)
    circle, ellipse = read_dxf(document(doc)).pattern.pieces
    assert circle.area == pytest.approx(math.pi * 1600, rel=1e-6)
    assert circle.outline.path.length == pytest.approx(80 * math.pi, rel=1e-6)
    assert circle.bounds == pytest.approx((10, 20, 90, 100), abs=1e-9)
    assert ellipse.area == pytest.approx(math.pi * 100 * 50, rel=1e-6)
    from scipy.special import ellipe

    assert ellipse.outline.path.length == pytest.approx(400 * ellipe(0.75), rel=1e-6)


@pytest.mark.parametrize("kind", ["LWPOLYLINE", "POLYLINE"])
def test_bulges(kind: str) -> None:
    """A stadium: two straight sides of 100 and two half circles of radius 30."""
    points = [(0, 0, 0), (100, 0, 1), (100, 60, 0), (0, 60, 1)]
    doc = fresh()
    if kind == "LWPOLYLINE":
        doc.modelspace().add_lwpolyline(points, format="xyb", close=True)
    else:
        doc.modelspace().add_polyline2d(points, format="xyb", close=True)
    piece = only(read_dxf(document(doc)))
    assert piece.area == pytest.approx(6000 + math.pi * 900, rel=1e-7)
    assert piece.outline.path.length == pytest.approx(200 + 60 * math.pi, rel=1e-7)
    assert piece.outline.corners == ()


def test_widths_do_not_matter_and_negative_bulges_dent() -> None:
    points = [(0, 0, 5, 1, -1), (60, 0, 2, 2, 0), (60, 90, 0, 0, 0), (0, 90, 0, 0, 0)]
    doc = fresh()
    doc.modelspace().add_lwpolyline(points, format="xyseb", close=True)
    assert only(read_dxf(document(doc))).area == pytest.approx(5400 - math.pi * 450, rel=1e-7)


def test_a_rational_spline_is_the_circle_that_it_is() -> None:
    """Nine points of degree 2 with weights: an exact circle (any text on NURBS)."""
    r, w = 75.0, math.sqrt(0.5)
    ring = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    spline = fresh()
    entity = spline.modelspace().add_spline(degree=2)
    entity.control_points = [(r * x, r * y, 0) for x, y in ring]
    entity.weights = [1, w, 1, w, 1, w, 1, w, 1]
    entity.knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
    piece = only(read_dxf(document(spline)))
    away = np.hypot(*piece.outline.path.at(np.linspace(0, 1, 500) * 470).T) - r
    assert np.abs(away).max() < 1e-3
    assert piece.area == pytest.approx(math.pi * r * r, rel=1e-5)
    assert len(piece.outline.path) <= 16


def test_splines_of_degree_five_and_through_points() -> None:
    from scipy.interpolate import BSpline

    rng = np.random.default_rng(3)
    angles = np.linspace(0, 2 * np.pi, 12)[:-1]
    ring = 100 * np.column_stack([np.cos(angles), np.sin(angles)]) * rng.uniform(0.8, 1.1, (11, 1))
    points = np.vstack([ring, ring[:5]])
    knots = np.arange(len(points) + 6.0)
    doc = fresh()
    entity = doc.modelspace().add_spline(degree=5)
    entity.control_points = [(x, y, 0) for x, y in points]
    entity.knots = list(knots)
    entity.dxf.flags = 1 | 2
    piece = only(read_dxf(document(doc)))
    curve = BSpline(knots, points, 5)(np.linspace(5, len(points), 20001))
    assert piece.area == pytest.approx(abs(shapely.Polygon(curve).area), rel=1e-5)

    doc = fresh()
    fitted = doc.modelspace().add_spline([(*p, 0) for p in [*ring, ring[0]]])
    piece = only(read_dxf(document(doc)))
    flat = [tuple(p)[:2] for p in fitted.construction_tool().approximate(4000)]
    assert piece.area == pytest.approx(area(flat), rel=1e-5)  # type: ignore[arg-type]


def test_turned_over_planes() -> None:
    """Extrusion (0, 0, -1): x runs the other way, as mirrored drawings have it."""
    doc = fresh()
    over = {"extrusion": (0, 0, -1)}
    doc.modelspace().add_lwpolyline(
        [(0, 0, 0.5), (100, 0, 0), (100, 50, 0), (0, 50, 0)], "xyb", close=True, dxfattribs=over
    )
    doc.modelspace().add_arc((-200, 0), 40, 0, 180, dxfattribs=over)
    doc.modelspace().add_line((160, 0), (240, 0))
    poly, half = read_dxf(document(doc)).pattern.pieces
    radius = 100 * 1.25 / 2
    angle = 4 * math.atan(0.5)
    segment = radius**2 / 2 * (angle - math.sin(angle))
    assert poly.area == pytest.approx(5000 + segment, rel=1e-6)
    assert poly.bounds[0] == pytest.approx(-100)
    assert half.area == pytest.approx(math.pi * 800, rel=1e-6)
    assert half.bounds == pytest.approx((160, 0, 240, 40), abs=1e-4)


def test_a_tilted_line_is_told() -> None:
    doc = fresh()
    doc.modelspace().add_polyline3d([(0, 0, 0), (90, 0, 0), (90, 90, 30), (0, 90, 30)], close=True)
    reading = read_dxf(document(doc))
    assert only(reading).area == pytest.approx(8100)
    assert "non-planar" in codes(reading)


# --- loose lines ------------------------------------------------------------------------


@given(seed=st.integers(0, 2**31), gap=st.floats(0.0, 0.03))
def test_loose_lines_in_any_order_and_direction(seed: int, gap: float) -> None:
    rng = random.Random(seed)
    parts = []
    for i, a in enumerate(BAG):
        b = BAG[(i + 1) % len(BAG)]
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        parts += [(a, middle), (middle, b)] if rng.random() < 0.5 else [(a, b)]
    entities = []
    for a, b in rng.sample(parts, len(parts)):
        jig = [(x + rng.uniform(-gap, gap), y + rng.uniform(-gap, gap)) for x, y in (a, b)]
        entities.append(line(*(jig if rng.random() < 0.5 else jig[::-1])))
    piece = only(read_dxf(bare(*entities), units=Unit.MM))
    assert piece.area == pytest.approx(area(BAG), abs=4 * gap * 800 + 1e-9)
    assert len(piece.outline.corners) == len(BAG)


def test_arcs_and_lines_chained() -> None:
    """A D: a half circle of radius 50 in two arcs, one drawn as an ellipse's, and a line."""
    doc = fresh()
    space = doc.modelspace()
    space.add_ellipse((0, 0), (50, 0), 1.0, 0, math.pi / 2)
    space.add_line((0, -50), (0, 50))
    space.add_arc((0, 0), 50, -90, 0)
    assert only(read_dxf(document(doc))).area == pytest.approx(math.pi * 1250, rel=1e-7)


def test_the_join_tolerance_is_a_limit() -> None:
    ring = [line(BAG[i], BAG[(i + 1) % 5]) for i in range(4)]
    near = [*ring, line(BAG[4], (0.0, 0.08))]
    far = [*ring, line(BAG[4], (0.0, 0.3))]
    reading = read_dxf(bare(*near), units=Unit.MM)
    assert only(reading).area == pytest.approx(area(BAG), abs=10)
    assert "ends-joined" in codes(reading)
    reading = read_dxf(bare(*far), units=Unit.MM)
    assert reading.pattern.pieces == ()
    assert "open-outline" in codes(reading)
    assert only(read_dxf(bare(*far), units=Unit.MM, join_tolerance=0.5)).area > 0


def test_lines_drawn_twice_and_a_line_across() -> None:
    ring = [line(BAG[i], BAG[(i + 1) % 5]) for i in range(5)]
    reading = read_dxf(bare(*ring, ring[2], line(BAG[0], BAG[2])), units=Unit.MM)
    piece = only(reading)
    assert piece.area == pytest.approx(area(BAG))
    assert len(piece.marks) == 1
    assert codes(reading) >= {"copies", "lines-branch"}


def test_crumbs_of_a_flattened_curve_come_back_as_few_cubics() -> None:
    """A circle exploded into lines of a tenth of a millimetre is still one curve."""
    n = 3000
    ring = [
        (60 * math.cos(2 * math.pi * i / n), 60 * math.sin(2 * math.pi * i / n)) for i in range(n)
    ]
    reading = read_dxf(bare(*(line(ring[i], ring[(i + 1) % n]) for i in range(n))), units=Unit.MM)
    piece = only(reading)
    assert piece.area == pytest.approx(math.pi * 3600, rel=1e-4)
    assert len(piece.outline.path) < 40
    assert "refitted" in codes(reading)


# --- units --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "mm"),
    [(1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0), (10, 914.4), (14, 100)],
)
def test_units_of_the_header(code: int, mm: float) -> None:
    doc = fresh(units=code)
    doc.modelspace().add_lwpolyline([(x / mm, y / mm) for x, y in BAG], close=True)
    reading = read_dxf(document(doc))
    assert only(reading).area == pytest.approx(area(BAG), rel=1e-12)
    assert codes(reading) == set()
    given = read_dxf(document(doc), units=Unit.MM)
    assert given.pattern.pieces == () or only(given).area == pytest.approx(
        area(BAG) / mm**2, rel=1e-9
    )


def test_no_header_is_read_in_mm_and_said() -> None:
    ring = [line(BAG[i], BAG[(i + 1) % 5]) for i in range(5)]
    reading = read_dxf(bare(*ring))
    assert only(reading).area == pytest.approx(area(BAG))
    (finding,) = reading.findings
    assert (finding.code, finding.level) == ("units-assumed", "warn")
    assert "--units" in finding.cure


def test_measurement_decides_where_the_code_is_silent() -> None:
    doc = fresh(units=0)
    doc.modelspace().add_lwpolyline([(x / 25.4, y / 25.4) for x, y in BAG], close=True)
    doc.header["$MEASUREMENT"] = 0
    reading = read_dxf(document(doc))
    assert only(reading).area == pytest.approx(area(BAG))
    assert codes(reading) == {"units-assumed"}


def test_contradictions_and_absurd_units_are_told() -> None:
    doc = fresh()
    doc.modelspace().add_lwpolyline(BAG, close=True)
    doc.header["$MEASUREMENT"] = 0
    assert "units-contradict" in codes(read_dxf(document(doc)))
    doc.header["$INSUNITS"] = 19
    with pytest.raises(UnitError, match="light years"):
        read_dxf(document(doc))
    assert only(read_dxf(document(doc), units=Unit.MM)).area == pytest.approx(area(BAG))
    doc.header["$INSUNITS"], doc.header["$MEASUREMENT"] = 7, 1
    reading = read_dxf(document(doc))
    assert [f.level for f in reading.findings if f.code == "impossible-size"] == ["fail"]


def test_inches_read_as_mm_are_told() -> None:
    doc = fresh()
    doc.modelspace().add_lwpolyline([(x / 25.4, y / 25.4) for x, y in BAG], close=True)
    reading = read_dxf(document(doc))
    assert "units-doubtful" in codes(reading)
    assert only(read_dxf(document(doc), units=Unit.IN)).area == pytest.approx(area(BAG))


# --- blocks -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("xs", "ys", "turn"), [(1, 1, 0), (-1, 1, 0), (2, 2, 30), (-0.5, 0.5, 200), (1.5, -3, 77)]
)
def test_inserts_scaled_turned_and_mirrored(xs: float, ys: float, turn: float) -> None:
    doc = fresh()
    block = doc.blocks.new("bag", base_point=(10, 20))
    block.add_lwpolyline(BAG, close=True)
    block.add_circle((60, 100), 10)
    block.add_text("grain", height=5).set_placement((40, 50))
    doc.modelspace().add_blockref(
        "bag", (500, 300), dxfattribs={"xscale": xs, "yscale": ys, "rotation": turn}
    )
    piece = only(read_dxf(document(doc)))
    assert piece.area == pytest.approx(area(BAG) * abs(xs * ys), rel=1e-6)
    assert abs(piece.marks[0].path.area) == pytest.approx(math.pi * 100 * abs(xs * ys), rel=1e-6)
    # The corner (0, 0) by hand: scaled, turned, moved, about the base point.
    x, y, a = -10 * xs, -20 * ys, math.radians(turn)
    corner = (500 + x * math.cos(a) - y * math.sin(a), 300 + x * math.sin(a) + y * math.cos(a))
    away = np.hypot(*(piece.outline.path.vertices - corner).T)
    assert away.min() < 1e-9
    assert piece.name == "grain"


def test_nested_blocks_and_grids() -> None:
    doc = fresh()
    doc.blocks.new("inner").add_lwpolyline([(0, 0), (30, 0), (30, 40), (0, 40)], close=True)
    outer = doc.blocks.new("outer")
    outer.add_blockref("inner", (0, 0), dxfattribs={"xscale": -2, "yscale": 2})
    outer.add_blockref("inner", (100, 0), dxfattribs={"rotation": 90})
    grid = {"row_count": 2, "column_count": 3, "row_spacing": 200, "column_spacing": 300}
    doc.modelspace().add_blockref("outer", (0, 0), dxfattribs=grid)
    pieces = read_dxf(document(doc)).pattern.pieces
    assert len(pieces) == 12
    assert sum(p.area for p in pieces) == pytest.approx(6 * (4800 + 1200))
    assert len({p.name for p in pieces}) == 12
    assert max(p.bounds[2] for p in pieces) == pytest.approx(700)


def test_names_from_blocks_attributes_texts_and_layers() -> None:
    doc = fresh()
    square = [(0, 0), (80, 0), (80, 80), (0, 80)]
    doc.blocks.new("yoke").add_lwpolyline(square, close=True)
    space = doc.modelspace()
    space.add_blockref("yoke", (0, 0))
    named = space.add_blockref("yoke", (100, 0))
    named.add_attrib("NAME", "Collar stand", (110, 10))
    space.add_lwpolyline([(x + 200, y) for x, y in square], close=True)
    space.add_text("small", height=3).set_placement((210, 10))
    space.add_mtext("SLEEVE\\PSize: 40\\PQuantity: main 2, lining 1").dxf.update(
        {"insert": (210, 60), "char_height": 10}
    )
    space.add_lwpolyline(
        [(x + 300, y) for x, y in square], close=True, dxfattribs={"layer": "back neck"}
    )
    space.add_lwpolyline([(x + 400, y) for x, y in square], close=True)
    pieces = read_dxf(document(doc)).pattern.pieces
    names = ["yoke", "Collar stand", "SLEEVE", "back neck", "piece-1"]
    assert sorted(p.name for p in pieces) == sorted(names)
    sleeve = next(p for p in pieces if p.name == "SLEEVE")
    assert sleeve.size == "40"
    assert [(q.material, q.count) for q in sleeve.quantity] == [("main", 2), ("lining", 1)]
    assert [t.text for t in sleeve.labels] == ["small"]


def test_a_block_that_holds_itself_is_refused() -> None:
    doc = fresh()
    a, b = doc.blocks.new("a"), doc.blocks.new("b")
    a.add_blockref("b", (0, 0))
    b.add_blockref("a", (1, 1))
    b.add_lwpolyline(BAG, close=True)
    doc.modelspace().add_blockref("a", (0, 0))
    with pytest.raises(InputError, match="holds itself"):
        read_dxf(document(doc))


def test_blocks_that_multiply_are_refused_soon() -> None:
    doc = fresh()
    doc.blocks.new("b0").add_line((0, 0), (1, 1))
    for level in range(1, 12):
        block = doc.blocks.new(f"b{level}")
        for i in range(10):
            block.add_blockref(f"b{level - 1}", (i, 0))
    doc.modelspace().add_blockref("b11", (0, 0))
    from sizewright.formats.dxf import entities

    limit = entities.MOST_ENTITIES
    entities.MOST_ENTITIES = 5000
    try:
        with pytest.raises(InputError, match="shows more than"):
            read_dxf(document(doc))
    finally:
        entities.MOST_ENTITIES = limit
    doc = fresh()
    doc.blocks.new("b").add_line((0, 0), (1, 1))
    doc.modelspace().add_blockref("b", (0, 0), dxfattribs={"row_count": 9999, "column_count": 9999})
    with pytest.raises(InputError, match="placed 9999 x 9999 times"):
        read_dxf(document(doc))


# --- what belongs to a piece ----------------------------------------------------------------


def test_layers_say_what_lines_are() -> None:
    doc = fresh()
    space = doc.modelspace()

    def poly(points: list[tuple[float, float]], layer: str, close: bool = True) -> None:
        space.add_lwpolyline(points, close=close, dxfattribs={"layer": layer})

    def rect(x0: float, y0: float, x1: float, y1: float) -> list[tuple[float, float]]:
        return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]

    poly(rect(0, 0, 200, 300), "Cut")
    poly(rect(0, 10, 190, 290), "Stitch lines")
    poly(rect(50, 50, 60, 60), "Cut")
    poly(rect(50, 100, 60, 110), "pockets")
    poly([(100, 20), (100, 280)], "GRAIN LINE", close=False)
    poly([(0, 150), (6, 150)], "notches", close=False)
    poly([(0, 0), (0, 300)], "fold", close=False)
    space.add_circle((150, 200), 2, dxfattribs={"layer": "drill"})
    space.add_point((150, 250), dxfattribs={"layer": "DRILL_HOLES"})
    space.add_point((200, 100), dxfattribs={"layer": "NOTCH"})
    poly([(20, 250), (180, 250)], "internal", close=False)
    reading = read_dxf(document(doc))
    piece = only(reading)
    assert piece.cut_line is not None
    assert piece.cut_line.path.area == pytest.approx(60000)
    assert piece.outline.path.area == pytest.approx(190 * 280)
    assert [c.path.area for c in piece.cutouts] == pytest.approx([100])
    assert sorted((m.kind, round(m.path.length)) for m in piece.marks) == [
        ("internal", 160),
        ("pockets", 40),
    ]
    assert piece.grain is not None
    assert {piece.grain.start, piece.grain.end} == {(100.0, 20.0), (100.0, 280.0)}
    assert piece.fold is not None
    assert len(piece.notches) == 2
    assert sorted(d.at for d in piece.drills) == [
        pytest.approx((150, 200), abs=1e-6),
        pytest.approx((150, 250), abs=1e-6),
    ]
    assert codes(reading) == {"inner-cutouts", "inner-marks"}


def test_sizes_by_layer_and_frames() -> None:
    doc = fresh()
    space = doc.modelspace()
    for i, size in enumerate(("38", "40", "42")):
        points = [(x * (1 + i / 50), y * (1 + i / 50)) for x, y in BAG]
        space.add_lwpolyline(points, close=True, dxfattribs={"layer": size})
    pattern = read_dxf(document(doc)).pattern
    assert [p.size for p in pattern.pieces] == ["38", "40", "42"]
    assert len({p.name for p in pattern.pieces}) == 1
    doc = fresh()
    space = doc.modelspace()
    space.add_lwpolyline([(-20, -20), (420, -20), (420, 260), (-20, 260)], close=True)
    space.add_lwpolyline(BAG, close=True)
    space.add_lwpolyline([(x + 180, y) for x, y in BAG], close=True)
    reading = read_dxf(document(doc))
    assert [p.area for p in reading.pattern.pieces] == pytest.approx([area(BAG)] * 2)
    assert "page-frame" in codes(reading)


def test_a_nest_on_one_layer_is_no_heap_of_cutouts() -> None:
    doc = fresh()
    for k in (1.0, 0.95, 0.9):
        doc.modelspace().add_lwpolyline(
            [(x * k + 5 * (1 - k), y * k + 99 * (1 - k)) for x, y in BAG], close=True
        )
    reading = read_dxf(document(doc))
    assert sorted(p.area for p in reading.pattern.pieces) == pytest.approx(
        [area(BAG) * k * k for k in (0.9, 0.95, 1.0)]
    )
    assert "sizes-asked" in codes(reading)
    assert set(reading.pattern.sizes) == {"line 1", "line 2", "line 3"}


def test_what_is_hidden_or_no_line_is_set_aside() -> None:
    doc = fresh()
    space = doc.modelspace()
    space.add_lwpolyline(BAG, close=True)
    doc.layers.add("off").off()
    doc.layers.add("ice").freeze()
    moved = [(x + 500, y) for x, y in BAG]
    for layer in ("off", "ice", "Defpoints"):
        space.add_lwpolyline(moved, close=True, dxfattribs={"layer": layer})
    space.add_lwpolyline(moved, close=True, dxfattribs={"invisible": 1})
    doc.layout("Layout1").add_lwpolyline(moved, close=True)
    space.add_hatch().paths.add_polyline_path([(0, 0), (9, 0), (9, 9)])
    space.add_3dface([(0, 0), (99, 0), (99, 99)])
    space.add_linear_dim((0, -20), (0, 0), (120, 0)).render()
    doc.add_xref_def("other.dxf", "other")
    space.add_blockref("other", (0, 0))
    reading = read_dxf(document(doc))
    assert only(reading).area == pytest.approx(area(BAG))
    kinds = {s.kind for s in reading.set_aside}
    assert kinds >= {"hatch", "3dface", "dimension", "insert", "lwpolyline"}
    assert "outside-reference" in codes(reading)


def test_a_drawing_all_on_one_drawing_layer() -> None:
    doc = fresh()
    doc.modelspace().add_lwpolyline(BAG, close=True, dxfattribs={"layer": "PEN 1"})
    assert only(read_dxf(document(doc))).area == pytest.approx(area(BAG))
