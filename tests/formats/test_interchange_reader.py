"""Interchange drawings in, as the standard has them and as they stray from it."""

from __future__ import annotations

import contextlib
import io
import random
from pathlib import Path

import ezdxf
import numpy as np
import pytest

from sizewright.errors import SizewrightError
from sizewright.formats.interchange.layers import layer_number
from sizewright.formats.interchange.reader import looks_like_interchange, read_interchange
from sizewright.formats.interchange.texts import ascii_only, labelled, rule_of
from sizewright.formats.reading import Reading
from sizewright.units import Unit

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures" / "interchange"


def read(name: str, units: Unit | None = None) -> Reading:
    return read_interchange((FIXTURES / name).read_bytes(), name=name, units=units)


def codes(reading: Reading) -> set[str]:
    return {f.code for f in reading.findings}


def rules(reading: Reading, piece: str) -> dict[tuple[float, float], str]:
    """Rules by place in mm, rounded."""
    outline = reading.pattern.piece(piece).outline
    return {
        tuple(round(float(v), 2) for v in outline.vertex_at(p.vertex)): p.rule  # type: ignore[misc]
        for p in outline.points
        if p.rule
    }


def test_the_standard_form() -> None:
    reading = read("standard.dxf")
    pattern = reading.pattern
    assert (pattern.title, pattern.base_size) == ("GARDEN APRON", "12")
    assert [p.key for p in pattern.pieces] == [
        (name, "12") for name in ("BIB", "POCKET", "STRAP", "SKIRT")
    ]
    assert codes(reading) == {"axis-from-grain", "curves-through-points"}
    assert not reading.set_aside
    bib = pattern.piece("BIB")
    inside = shoelace([(0, 0), (10, 0), (9, 14), (1, 12)]) - 2 * 0.5
    assert bib.area == pytest.approx(inside * 25.4**2)
    assert rules(reading, "BIB") == {
        (0.0, 0.0): "4",
        (254.0, 0.0): "1",
        (228.6, 355.6): "2",
        (25.4, 304.8): "3",
    }
    assert [(n.kind, bib.outline.edge_from(n.at.start).number) for n in bib.notches] == [
        ("slit", 2),
        ("u", 4),
    ]
    assert bib.drills[0].at == pytest.approx((76.2, 254.0))
    assert bib.labels[0].text == "POCKET HERE"
    assert (bib.quantity[0].material, bib.quantity[0].count) == ("MAIN", 2)
    assert pattern.piece("POCKET").pair
    # The x of rules runs as the reference line is drawn: here to the left.
    assert pattern.piece("POCKET").up == pytest.approx((-1.0, 0.0))
    assert pattern.piece("STRAP").up == pytest.approx((0.0, -1.0))


def shoelace(points: list[tuple[float, float]]) -> float:
    p = np.array(points)
    q = np.roll(p, -1, axis=0)
    return float((p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]).sum()) / 2


def test_a_curve_told_by_points_far_apart_comes_back_within_a_tenth() -> None:
    """The skirt's side is an arc of 30 in about (46, 0): every point of it is known."""
    skirt = read("standard.dxf").pattern.piece("SKIRT")
    start, end = skirt.outline.corners[1], skirt.outline.corners[2]
    side = skirt.outline.path.segments(start, end)
    places = side.at(np.linspace(0.0, side.length, 500)) / 25.4
    assert side.length / 25.4 == pytest.approx(30 * np.radians(24), rel=1e-5)
    assert np.abs(np.hypot(places[:, 0] - 46, places[:, 1]) - 30).max() * 25.4 < 0.1
    assert np.abs(skirt.outline.path.turns[start + 1 : end]).max() < 0.01


def test_a_half_closed_along_its_mirror_line_is_on_the_fold() -> None:
    skirt = read("standard.dxf").pattern.piece("SKIRT")
    assert skirt.fold is not None
    ends = [skirt.outline.vertex_at(v) / 25.4 for v in (skirt.fold.start, skirt.fold.end)]
    assert np.allclose(ends, [(60, 12), (60, 0)], atol=1e-4)


def test_a_half_open_along_its_mirror_line_is_closed() -> None:
    reading = read("open-half.dxf")
    assert codes(reading) == {"block-not-inserted", "axis-from-grain", "quantity-absent"}
    yoke = reading.pattern.piece("yoke")
    assert yoke.area == pytest.approx(shoelace([(0, 0), (9, 0), (9, 8), (0, 7)]) * 25.4**2)
    assert yoke.fold is not None
    assert rules(reading, "yoke") == {(228.6, 0.0): "1", (228.6, 203.2): "2"}
    assert reading.pattern.base_size == "12"


def test_several_sizes_in_one_file() -> None:
    reading = read("sizes.dxf")
    assert [p.key for p in reading.pattern.pieces] == [
        ("BAND", "10"),
        ("BAND", "12"),
        ("BAND", "14"),
    ]
    widths = [p.bounds[2] - p.bounds[0] for p in reading.pattern.pieces]
    assert widths == pytest.approx([300, 320, 340])
    assert all(len(p.outline.path) == 4 for p in reading.pattern.pieces)
    assert codes(reading) == {"size-absent", "block-not-inserted", "quantity-absent"}
    # Inserted 100 up; the one that is not inserted stays where it is drawn.
    assert [p.bounds[1] for p in reading.pattern.pieces] == pytest.approx([0, 100, 0])


def test_blocks_scaled_turned_and_mirrored() -> None:
    reading = read("placed.dxf")
    assert {"block-scaled", "block-mirrored"} <= codes(reading)
    band = reading.pattern.piece("BAND")
    x0, y0, x1, y1 = band.bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((4 * 25.4, 10 * 25.4))
    assert (x1, y0) == pytest.approx((100, 50))
    strap = reading.pattern.piece("STRAP")
    assert strap.bounds == pytest.approx((40, 0, 46, 10))


def test_names_of_layers_for_numbers_and_either_text_of_units() -> None:
    named, numbered = read("layer-names.dxf"), read("standard.dxf")
    bib, inch = named.pattern.piece("BIB"), numbered.pattern.piece("BIB")
    assert bib.area * 25.4**2 == pytest.approx(inch.area)
    for field in ("notches", "drills", "marks", "cutouts", "labels"):
        assert len(getattr(bib, field)) == len(getattr(inch, field)) > 0
    assert read("layer-names.dxf", Unit.IN).pattern.piece("BIB").area == pytest.approx(inch.area)


def test_a_sewing_line_and_a_file_that_contradicts_itself() -> None:
    reading = read("sewn.dxf")
    cuff = reading.pattern.piece("CUFF")
    assert cuff.kind == "sew"
    assert cuff.cut_line is not None
    assert (cuff.outline.path.area, cuff.area) == pytest.approx((180 * 100, 200 * 120))
    assert codes(reading) == {
        "rule-twice",
        "rule-nowhere",
        "rules-from-boundary",
        "axis-from-grain",
        "notch-nowhere",
        "quantity-unknown",
    }
    assert rules(reading, "CUFF") == {(190.0, 10.0): "1", (190.0, 110.0): "1"}


@pytest.mark.parametrize(
    ("version", "kind"),
    [("R12", "polyline"), ("R12", "lines")]
    + [
        (version, kind)
        for version in ("R2000", "R2007", "R2010", "R2018")
        for kind in ("lwpolyline", "polyline", "lines")
    ],
)
def test_every_version_and_kind_of_boundary(version: str, kind: str) -> None:
    doc = ezdxf.new(version)
    block = doc.blocks.new("FLAP")
    corners = [(0, 0), (90, 0), (70, 60), (5, 50)]
    if kind == "lwpolyline":
        block.add_lwpolyline(corners, close=True, dxfattribs={"layer": "1"})
    elif kind == "polyline":
        block.add_polyline2d([*corners, corners[0]], dxfattribs={"layer": "1"})
    else:
        for a, b in [(2, 1), (2, 3), (0, 1), (0, 3)]:
            block.add_line(corners[a], corners[b], dxfattribs={"layer": "1"})
    for at in corners:
        block.add_point(at, dxfattribs={"layer": "2"})
    block.add_text("Piece Name: Flap", dxfattribs={"layer": "1", "insert": (20, 20)})
    doc.modelspace().add_text("UNITS: METRIC", dxfattribs={"layer": "1"})
    doc.modelspace().add_blockref("FLAP", (0, 0))
    stream = io.StringIO()
    doc.write(stream)
    reading = read_interchange(doc.encode(stream.getvalue()))
    flap = reading.pattern.piece("Flap")
    assert flap.area == pytest.approx(shoelace(corners))  # type: ignore[arg-type]
    assert len(flap.outline.corners) == 4


def test_what_is_left_out_of_an_inserted_block_is_told() -> None:
    doc = ezdxf.new("R2000")
    for name, left in (("FLAP", 40.0), ("TAB", 140.0)):
        block = doc.blocks.new(name)
        block.add_lwpolyline([(0, 0), (90, 0), (70, 60)], close=True, dxfattribs={"layer": "1"})
        block.add_text(f"Piece Name: {name}", dxfattribs={"layer": "1"})
        doc.modelspace().add_blockref(name, (left, 0))
    doc.blocks.get("TAB").add_line((0, 0), (9, 9), dxfattribs={"layer": "8", "invisible": 1})
    doc.modelspace().add_circle((0, 0), 50.0)
    stream = io.StringIO()
    doc.write(stream)
    reading = read_interchange(doc.encode(stream.getvalue()), units=Unit.MM)
    assert reading.pattern.names == ("FLAP", "TAB")
    told = {(one.kind, one.reason) for one in reading.set_aside}
    assert told == {("line", "invisible"), ("circle", "outside the blocks")}


def test_an_outline_that_does_not_close_is_left_out_and_told() -> None:
    data = (FIXTURES / "open-half.dxf").read_bytes()
    lines = data.decode().split("\n")
    # The mirror line on a layer of its own no more: nothing closes the half.
    text = "\n".join(
        "15" if line == "6" and lines[k - 1] == "  8" else line for k, line in enumerate(lines)
    )
    with pytest.raises(SizewrightError, match="does not close"):
        read_interchange(text.encode())


def test_a_block_crowded_with_texts_is_refused_at_once() -> None:
    text = (FIXTURES / "open-half.dxf").read_text("ascii")
    one = "  0\nTEXT\n  8\n2\n 10\n{}\n 20\n500.0\n 30\n0.0\n 40\n1.0\n  1\n# 5\n"
    many = "".join(one.format(float(k)) for k in range(5000))
    crowded = text.replace("  0\nENDBLK", f"{many}  0\nENDBLK")
    with pytest.raises(SizewrightError, match="more than a piece can have"):
        read_interchange(crowded.encode())


def test_contradicting_units_are_told() -> None:
    doc = ezdxf.new("R2000")
    doc.header["$INSUNITS"] = 1
    block = doc.blocks.new("A")
    block.add_lwpolyline([(0, 0), (200, 0), (200, 300)], close=True, dxfattribs={"layer": "1"})
    doc.modelspace().add_text("units: metric", dxfattribs={"layer": "1"})
    doc.modelspace().add_blockref("A", (0, 0))
    stream = io.StringIO()
    doc.write(stream)
    reading = read_interchange(doc.encode(stream.getvalue()))
    assert "units-contradict" in codes(reading)
    assert reading.pattern.pieces[0].area == pytest.approx(30_000)


def test_the_door_tells_interchange_from_other_drawings() -> None:
    for path in FIXTURES.glob("*.dxf"):
        text = path.read_text("ascii")
        assert looks_like_interchange(ezdxf.read(io.StringIO(text))), path.name
    doc = ezdxf.new("R2000")
    block = doc.blocks.new("CHAIR")
    block.add_lwpolyline([(0, 0), (200, 0), (200, 300)], close=True, dxfattribs={"layer": "CUT"})
    block.add_text("NAME: CHAIR", dxfattribs={"layer": "TEXT"})
    doc.modelspace().add_blockref("CHAIR", (0, 0))
    doc.modelspace().add_lwpolyline([(0, 0), (9, 0), (9, 9)], dxfattribs={"layer": "1"})
    assert not looks_like_interchange(doc)


def test_an_entity_of_no_known_kind_does_no_harm() -> None:
    text = (FIXTURES / "sewn.dxf").read_text("ascii")
    strange = "  0\nSTRANGE\n  8\n1\n 10\n5.0\n 20\n5.0\n"
    reading = read_interchange(text.replace("  0\nENDBLK", f"{strange}  0\nENDBLK").encode())
    assert reading.pattern == read("sewn.dxf").pattern


@pytest.mark.parametrize(
    ("name", "number"),
    [
        ("1", 1),
        ("01", 1),
        ("Layer 14", 14),
        ("turn points", 2),
        ("GRAIN_LINE", 7),
        ("84", 84),
        ("0", 0),
        ("sleeve", None),
        ("1a", None),
        ("", None),
    ],
)
def test_layers(name: str, number: int | None) -> None:
    assert layer_number(name) == number


def test_texts() -> None:
    assert labelled("  piece   NAME :  Front  panel ") == ("piecename", "Front panel")
    assert labelled("SIZE:12") == ("size", "12")
    assert labelled("ASTM D6673 VERSION: 10") == ("version", "10")
    assert labelled("cut 2: pairs") is None
    assert [rule_of(t) for t in ("# 12", "#012", " rule: 3 ", "12", "#")] == [
        "12",
        "12",
        "3",
        None,
        None,
    ]
    assert ascii_only("Größe ½ – élan 京") == "Grosse 1/2 - elan _"


def test_mutants_never_bring_another_error() -> None:
    """Damaged drawings end in a reading with findings or in one clear message."""
    rng = random.Random(7)
    source = (FIXTURES / "sewn.dxf").read_bytes()
    for _ in range(60):
        data = bytearray(source)
        for _ in range(rng.randint(1, 6)):
            at = rng.randrange(len(data))
            what = rng.randrange(3)
            if what == 0:
                data[at] = rng.randrange(256)
            elif what == 1:
                del data[at : at + rng.randint(1, 200)]
            else:
                data[at:at] = rng.choice([b"1e308", b"nan", b"\n  0\nENDBLK\n", b"-", b"99999"])
        with contextlib.suppress(SizewrightError):
            read_interchange(bytes(data))
