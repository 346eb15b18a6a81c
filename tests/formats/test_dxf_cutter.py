"""The cutter profile: flat R12 that comes back within 0.05 mm, and says what it loses."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings

from sizewright.formats import read_dxf
from sizewright.formats.dxf.writer import write_dxf
from sizewright.formats.svg.reader import read_svg
from sizewright.geometry.nearest import nearest
from sizewright.geometry.path import Path
from sizewright.model import Drill, Grain, Label, Notch, Outline, Pattern, Piece, Quantity
from sizewright.units import Unit
from tests.cli.runs import FIXTURES
from tests.formats.dxf_made import opened
from tests.formats.full_pattern import full_pattern
from tests.strategies import patterns

CHORD = 0.05
#: A corner below this, in degrees, may pass for part of a curve once that is in chords.
SLIGHT = 15.0


def apart(a: Path, b: Path) -> float:
    """Greatest distance between two closed lines, sampled, mm."""
    share = np.linspace(0, 1, 2001)[:-1]
    there = nearest(b, a.at(share * a.length)).distance.max()
    back = nearest(a, b.at(share * b.length)).distance.max()
    return float(max(there, back))


@settings(max_examples=settings.default.max_examples // 2)
@given(pattern=patterns())
def test_random_outlines_come_back_within_the_tolerance(pattern: Pattern) -> None:
    piece = pattern.pieces[0].with_changes(size=None, base=None)
    path = piece.drawn.path
    turns = np.abs(path.turns)
    assume(not ((turns > 3) & (turns < SLIGHT)).any())
    (again,) = read_dxf(write_dxf(Pattern((piece,)), "cutter").data).pattern.pieces
    assert apart(path, again.drawn.path) <= CHORD
    assert again.drawn.path.length == pytest.approx(path.length, rel=1e-4)


@pytest.mark.parametrize("unit", [Unit.MM, Unit.IN])
def test_ezdxf_reads_what_was_meant(unit: Unit) -> None:
    """Unit, box, layers, lines, a drill and a turned text, by ezdxf's reading."""
    square = Outline.of(Path.polyline([(10, 20), (110, 20), (110, 70), (10, 70)], closed=True))
    label = Label("hem", (60.0, 30.0), 5.0, 90.0)
    drill, grain = Drill((30.0, 40.0)), Grain((20.0, 30.0), (20.0, 60.0))
    piece = Piece("flap", square, "cut", labels=(label,), drills=(drill,), grain=grain)
    doc = opened(write_dxf(Pattern((piece,)), "cutter", unit).data)
    mm = 25.4 if unit is Unit.IN else 1.0
    assert doc.header["$INSUNITS"] == (1 if unit is Unit.IN else 4)
    assert doc.header["$MEASUREMENT"] == (0 if unit is Unit.IN else 1)
    assert np.array(doc.header["$EXTMIN"]) * mm == pytest.approx([10, 20, 0])
    assert np.array(doc.header["$EXTMAX"]) * mm == pytest.approx([110, 70, 0])
    colours = {layer.dxf.name: layer.dxf.color for layer in doc.layers}
    assert (colours["CUT"], colours["SEW"], colours["DRILL"], colours["TEXT"]) == (7, 4, 1, 2)
    space = doc.modelspace()
    (cut,) = space.query('POLYLINE[layer=="CUT"]')
    assert cut.is_closed
    corners = np.array([v.dxf.location.vec2 for v in cut.vertices]) * mm
    assert corners == pytest.approx(square.path.vertices, abs=1e-6)
    (hole,) = space.query('CIRCLE[layer=="DRILL"]')
    assert np.array(hole.dxf.center) * mm == pytest.approx([30, 40, 0])
    text = next(t for t in space.query('TEXT[layer=="TEXT"]') if t.dxf.text == "hem")
    assert np.array(text.dxf.insert) * mm == pytest.approx([60, 30, 0])
    assert (text.dxf.height * mm, text.dxf.rotation) == pytest.approx((5.0, 90.0))


@pytest.mark.parametrize("unit", [Unit.MM, Unit.IN])
def test_a_drawing_of_a_garment(unit: Unit) -> None:
    pattern = read_svg(FIXTURES / "features.svg").pattern
    reading = read_dxf(write_dxf(pattern, "cutter", unit).data)
    assert [p.key for p in reading.pattern.pieces] == [p.key for p in pattern.pieces]
    for ours, theirs in zip(pattern.pieces, reading.pattern.pieces, strict=True):
        assert apart(ours.drawn.path, theirs.drawn.path) <= CHORD
        assert apart(ours.outline.path, theirs.outline.path) <= CHORD
        assert theirs.drawn_kind == ours.drawn_kind or ours.drawn_kind == "sew"
        assert theirs.quantity == ours.quantity
        assert theirs.pair == ours.pair
        assert (theirs.fold is None) == (ours.fold is None)
        assert len(theirs.drills) == len(ours.drills)
        assert len(theirs.cutouts) == len(ours.cutouts)
        assert len(theirs.notches) == sum(n.count for n in ours.notches)
        assert len(theirs.adjusts) == len(ours.adjusts)
        assert [t.text for t in theirs.labels] == [
            line for t in ours.labels for line in t.text.split("\n")
        ]
        if ours.grain and theirs.grain:
            assert np.allclose(ours.grain.start, theirs.grain.start, atol=1e-6)


def test_it_is_flat_and_plain() -> None:
    data = write_dxf(full_pattern(), "cutter").data
    assert all(byte < 128 for byte in data)
    doc = opened(data)
    assert doc.dxfversion == "AC1009"
    assert b"BLOCK" not in data.replace(b"BLOCK_RECORD", b"").split(b"ENTITIES")[1]
    kinds = {entity.dxftype() for entity in doc.modelspace()}
    assert kinds <= {"POLYLINE", "LINE", "CIRCLE", "TEXT"}
    assert all(len(e.dxf.layer.split("-")[0]) <= 8 for e in doc.modelspace())
    auditor = doc.audit()
    assert (auditor.errors, auditor.fixes) == ([], [])


def test_the_chord_is_settable_and_kept() -> None:
    circle = Outline.of(_circle(100.0))
    pattern = Pattern((Piece("disc", circle, "cut"),))
    counts = []
    for chord in (0.5, 0.05, 0.005):
        doc = opened(write_dxf(pattern, "cutter", chord=chord).data)
        (line,) = doc.modelspace().query("POLYLINE")
        points = np.array([v.dxf.location.vec2 for v in line.vertices])
        middles = (points + np.roll(points, -1, axis=0)) / 2
        # The farthest that a chord lies inside the circle is at its middle.
        assert (100.0 - np.hypot(*middles.T)).max() <= chord * 1.01
        counts.append(len(points))
    assert counts == sorted(counts)
    assert counts[0] < counts[-1]


def _circle(radius: float) -> Path:
    from sizewright.geometry.arcs import ellipse

    return ellipse(0.0, 0.0, radius, radius, 1e-6)


def test_findings_tell_of_everything_that_is_left_out() -> None:
    written = write_dxf(full_pattern(), "cutter")
    front = " ".join(f.text for f in written.findings if f.piece == "front")
    for word in ("point names", "rules", "edge and run", "castle", "groups", "sides", "darts"):
        assert word in front
    for word in ("pleats", "holds", "axis", "one end", "kinds of marks", "story"):
        assert word in front
    whole = " ".join(f.text for f in written.findings if not f.piece)
    assert "side; hem" in whole
    assert "title" in whole
    plain = Outline.of(Path.polyline([(0, 0), (90, 0), (90, 90), (0, 90)], closed=True))
    assert write_dxf(Pattern((Piece("a", plain, "cut"),)), "cutter").findings == ()


def test_letters_that_no_machine_knows() -> None:
    square = Outline.of(Path.polyline([(0, 0), (90, 0), (90, 90), (0, 90)], closed=True))
    piece = Piece("Straße é", square, "cut", quantity=(Quantity("Futter ö", 2),))
    written = write_dxf(Pattern((piece,)), "cutter")
    assert {f.code for f in written.findings} == {"name-changed"}
    (again,) = read_dxf(written.data).pattern.pieces
    assert again.name == "Strasse e"
    assert [(q.material, q.count) for q in again.quantity] == [("Futter o", 2)]


def test_a_sewing_line_alone_is_nothing_to_cut() -> None:
    square = Outline.of(Path.polyline([(0, 0), (90, 0), (90, 90), (0, 90)], closed=True))
    written = write_dxf(Pattern((Piece("a", square, "sew"),)), "cutter")
    assert [f.code for f in written.findings] == ["nothing-to-cut"]
    (again,) = read_dxf(written.data).pattern.pieces
    assert again.kind == "sew"
    layers = {e.dxf.layer for e in opened(written.data).modelspace().query("POLYLINE")}
    assert layers == {"SEW"}


def test_a_nest_keeps_its_sizes_apart() -> None:
    pieces = []
    for k, size in enumerate(("XS", "10-12", "14 1/2")):
        points = [(0.0, 0.0), (100.0 + 4 * k, 0.0), (100.0 + 4 * k, 150.0), (0.0, 150.0)]
        outline = Outline.of(Path.polyline(points, closed=True))
        label = Label("hem", (20.0, 8.0), 4.0)
        notch = Notch(outline.spot(50.0), "v", 6.0)
        grain = Grain((50.0, 20.0), (50.0, 130.0))
        piece = Piece("front", outline, "cut", size=size, labels=(label,), notches=(notch,))
        pieces.append(piece.with_changes(grain=grain))
    reading = read_dxf(write_dxf(Pattern(tuple(pieces)), "cutter").data)
    assert [p.key for p in reading.pattern.pieces] == [p.key for p in pieces]
    for ours, theirs in zip(pieces, reading.pattern.pieces, strict=True):
        assert theirs.area == pytest.approx(ours.area, rel=1e-9)
        assert [(n.kind, n.depth) for n in theirs.notches] == [("v", pytest.approx(6.0, abs=1e-3))]
        assert theirs.grain == ours.grain
        assert [t.text for t in theirs.labels] == ["hem"]


def test_the_same_bytes() -> None:
    pattern = full_pattern()
    assert write_dxf(pattern, "cutter").data == write_dxf(pattern, "cutter").data


@pytest.mark.parametrize(
    ("name", "words", "height"),
    [
        ("band", "Band", 6.0),
        ("band", "band", 2.0),
        ("12-front", "", 0.0),
        ("cut 2 front", "Front", 3.0),
        ("front cut 2", "front", 3.0),
        ("path1039", "NAME", 1.0),
        ("M", "5 cm", 9.0),
    ],
)
def test_names_and_labels_come_back_as_they_were(name: str, words: str, height: float) -> None:
    square = Outline.of(Path.polyline([(10, 20), (110, 20), (110, 70), (10, 70)], closed=True))
    labels = (Label(words, (60.0, 30.0), height, 0.0),) if words else ()
    written = write_dxf(Pattern((Piece(name, square, "cut", labels=labels),)), "cutter")
    (again,) = read_dxf(written.data).pattern.pieces
    assert again.name == name
    assert [label.text for label in again.labels] == [label.text for label in labels]
