"""Interchange drawings out: true to the standard, to the pattern, and to themselves."""

from __future__ import annotations

import io
import itertools
import subprocess
from collections import Counter
from pathlib import Path as FilePath
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline

from sizewright.errors import InputError
from sizewright.formats.interchange.curve_points import chords
from sizewright.formats.interchange.reader import read_interchange
from sizewright.formats.interchange.rules import RuleFile
from sizewright.formats.interchange.rules_in import read_rule_file
from sizewright.formats.interchange.writer import write_interchange
from sizewright.geometry import affine, ellipse
from sizewright.geometry.flatten import flatten
from sizewright.geometry.nearest import nearest
from sizewright.geometry.path import Path
from sizewright.model import Mark, Outline, Pattern, Piece, Point
from tests.formats.full_pattern import full_pattern
from tests.programs import need
from tests.strategies import patterns


def drawing(data: bytes) -> ezdxf.document.Drawing:
    assert max(data) < 128
    return ezdxf.read(io.StringIO(data.decode("ascii").replace("\r\n", "\n")))


def _drawn(entity: Any) -> shapely.LineString | None:
    """What a line or polyline draws, in the file's unit; None for other entities."""
    if entity.dxftype() == "LINE":
        return shapely.LineString([tuple(entity.dxf.start)[:2], tuple(entity.dxf.end)[:2]])
    if entity.dxftype() != "POLYLINE":
        return None
    points = [tuple(p)[:2] for p in entity.points()]
    return shapely.LineString([*points, points[0]] if entity.is_closed else points)


def rule_file() -> RuleFile:
    """Rules 1, 2 and 3 for the patterns of these tests."""
    moves = ((-1.0, 2.0), (0.0, 0.0), (1.5, -2.5))
    return RuleFile(("10", "12", "14"), "12", {"1": moves, "2": moves, "3": moves})


def with_numbers() -> Pattern:
    """The full pattern, its rules named by numbers."""
    numbers = {"centre": "1", "waist": "2", "n1": "3"}
    front, *others = full_pattern().pieces
    points = tuple(
        Point(p.vertex, p.name, numbers[p.rule] if p.rule else None) for p in front.outline.points
    )
    notches = tuple(
        n.__class__(n.at, n.kind, n.depth, n.count, rule=numbers.get(n.rule or ""))
        for n in front.notches
    )
    outline = Outline(front.outline.path, front.outline.corners, points, front.outline.runs)
    # A cutting line that runs along the fold, at x = 30.
    grown = affine.compose(
        affine.translation(30.0, 110.0), affine.scaling(1.15), affine.translation(-30.0, -110.0)
    )
    cut = Outline.of(outline.path.transformed(grown))
    made = front.with_changes(outline=outline, notches=notches, cut_line=cut)
    return full_pattern().with_pieces([made, *others])


def apart(a: Path, b: Path) -> float:
    """The most that two lines lie from each other, mm."""
    return max(
        float(nearest(y, x.at(np.linspace(0.0, x.length, 300))).distance.max())
        for x, y in ((a, b), (b, a))
    )


@settings(max_examples=12)
@given(patterns(), st.sampled_from(("metric", "english")))
def test_lines_come_back_within_a_twentieth_of_a_millimetre(pattern: Pattern, units: str) -> None:
    written = write_interchange(pattern, units=units)  # type: ignore[arg-type]
    reading = read_interchange(written.dxf)
    bad = {"repaired", "corner-unmarked", "curve-doubtful", "rule-nowhere", "open-outline"}
    assert not bad & {f.code for f in reading.findings}
    again = reading.pattern.pieces
    assert len(again) == len(pattern.pieces)
    for a, b in zip(pattern.pieces, again, strict=True):
        assert apart(a.outline.path, b.outline.path) < 0.05
        assert apart(a.drawn.path, b.drawn.path) < 0.05
        assert a.kind == b.kind
        assert (a.cut_line is None) == (b.cut_line is None)
        assert [q.count for q in a.quantity] == [q.count for q in b.quantity]
        assert len(a.drills) == len(b.drills)
        assert len(a.cutouts) == len(b.cutouts)
        told = {f.code for f in (*written.findings, *reading.findings)}
        assert (a.fold is None) == (b.fold is None) or "fold-apart" in told


def test_what_a_piece_bears_comes_back() -> None:
    pattern = with_numbers()
    written = write_interchange(pattern, rules=rule_file())
    reading = read_interchange(written.dxf)
    front, again = pattern.piece("front"), reading.pattern.piece("front")
    assert again.quantity == front.quantity
    assert again.pair
    assert again.side == "left"
    outlines = again.outline, front.outline
    corners = [o.path.vertices[list(o.corners)] for o in outlines]
    assert np.abs(corners[0] - corners[1]).max() < 1e-4
    assert [(p.vertex, p.rule) for p in again.outline.points] == [(0, "1"), (3, "2")]
    assert [(n.kind, n.count, n.depth, n.rule) for n in again.notches] == [
        ("castle", 2, pytest.approx(6.5), "3"),
        ("slit", 1, 0.0, None),
    ]
    assert again.fold is not None
    assert front.fold is not None
    folds = again.fold, front.fold
    ends = [o.path.vertices[[f.start, f.end]] for o, f in zip(outlines, folds, strict=True)]
    assert np.abs(ends[0] - ends[1]).max() < 1e-4
    assert again.grain is not None
    assert front.grain is not None
    assert again.grain.start == pytest.approx(front.grain.start)
    assert again.axis is not None
    assert again.axis.end == pytest.approx((51.0, 140.0))
    assert again.drills[0].at == pytest.approx((81.0, 97.5))
    assert [label.text for label in again.labels] == ["Front & centre,", "cut 2"]
    assert again.labels[0].height == pytest.approx(6.25)
    assert again.labels[0].angle == pytest.approx(12.5)
    assert apart(again.cutouts[0].path, front.cutouts[0].path) < 1e-3
    assert apart(again.marks[0].path, front.marks[0].path) < 0.05
    assert len(again.marks) == 2  # the adjust line has become one
    back = reading.pattern.piece("back", "12")
    assert (back.kind, back.allowance) == ("cut", pytest.approx(12.7))
    assert reading.pattern.sizes == ("12", "14")


def test_nothing_is_lost_in_silence() -> None:
    found = write_interchange(full_pattern()).findings
    text = " ".join(f.text for f in found)
    for lost in (
        "point names",
        "edge and run names",
        "names of notches",
        "one side only",
        "kinds of inner lines",
        "adjust lines",
        "darts",
        "pleats",
        "holds",
        "notches keep to",
        "one end of the grain",
        "seams",
        "1 is centre, 2 is waist, 3 is n1",
        "no rule table to write",
    ):
        assert lost in text, lost


def test_the_same_pattern_gives_the_same_bytes() -> None:
    pattern = with_numbers()
    one, two = (write_interchange(pattern, rules=rule_file()) for _ in range(2))
    assert (one.dxf, one.rul) == (two.dxf, two.rul)


@pytest.mark.parametrize("units", ["metric", "english"])
def test_the_file_itself(units: str) -> None:
    """Facts of the standard that were read in it: release 13, 7 bits, blocks of one style."""
    pattern = with_numbers()
    written = write_interchange(pattern, units=units, rules=rule_file())  # type: ignore[arg-type]
    assert b"$ACADVER\r\n  1\r\nAC1012\r\n" in written.dxf
    doc = drawing(written.dxf)
    audit = doc.audit()
    assert not audit.errors
    assert not audit.fixes
    inserts = [e for e in doc.modelspace() if e.dxftype() == "INSERT"]
    assert Counter(e.dxf.name for e in inserts) == {"FRONT": 1, "BACK_12": 1, "BACK_14": 1}
    texts = [e.dxf.text for e in doc.modelspace() if e.dxftype() == "TEXT"]
    assert f"UNITS: {units.upper()}" in texts
    assert "SAMPLE SIZE: 12" in texts
    assert written.rul is not None
    used = set()
    scale = 25.4 if units == "english" else 1.0
    for insert in inserts:
        block = list(doc.blocks.get(insert.dxf.name))
        assert all(e.dxf.layer.isdigit() for e in block)
        assert "LWPOLYLINE" not in {e.dxftype() for e in block}
        lines = [_drawn(e) for e in block if e.dxf.layer in ("1", "8", "11", "14")]
        whole = shapely.union_all([line for line in lines if line is not None])
        places = {}
        for e in block:
            if e.dxftype() == "POINT" and e.dxf.layer in ("2", "3"):
                at = tuple(e.dxf.location)[:2]
                # Turn and curve points lie on the lines of their piece.
                assert whole.distance(shapely.Point(at)) * scale < 1e-3
                places[at, e.dxf.layer] = True
        for e in block:
            if e.dxftype() == "TEXT" and e.dxf.text.startswith("# "):
                used.add(e.dxf.text[2:])
                if e.dxf.layer in ("2", "3"):
                    assert (tuple(e.dxf.insert)[:2], e.dxf.layer) in places
    table = read_rule_file(written.rul).table
    assert used == {"1", "2", "3"} <= set(table.rules)
    assert all(moves[table.base] == (0.0, 0.0) for moves in table.rules.values())


def curved() -> Piece:
    """A piece of arcs, a straight side that goes on in a curve, and a shallow curve."""
    path = Path.of(
        [
            [(0, 0), (200, 0)],
            [(200, 0), (230, 60), (210, 150), (215, 220)],
            [(215, 220), (160, 220), (140, 180), (100, 180)],
            [(100, 180), (60, 180), (40, 220), (0, 220)],
            [(0, 220), (-2, 150), (0, 120), (0, 100)],
            [(0, 100), (0, 0)],
        ],
        closed=True,
    )
    return Piece("curved", Outline.of(path))


@pytest.mark.parametrize("end", ["natural", "not-a-knot"])
def test_whoever_refits_through_the_curve_points_lands_within_a_tenth(end: str) -> None:
    """A reader's own spline (scipy's here) through turn and curve points, chord lengths."""
    circle = Piece("disc", Outline.of(ellipse(0.0, 0.0, 90.0, 60.0)))
    for piece in (curved(), circle):
        made = chords(piece.outline.path, piece.outline.corners)
        true = shapely.LinearRing(flatten(piece.outline.path, 1e-3))
        kept = np.flatnonzero(made.turn | made.curve)
        turns = np.flatnonzero(made.turn[kept])
        points = made.points[kept]
        if not len(turns):
            turns = np.array([0])
        points = np.roll(points, -turns[0], axis=0)
        ends = [*(turns - turns[0]), len(points)]
        points = np.vstack([points, points[:1]])
        for a, b in itertools.pairwise(ends):
            through = points[a : b + 1]
            if len(through) == 2:
                continue
            s = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(through, axis=0).T))])
            looks = CubicSpline(s, through, bc_type=end)(np.linspace(0, s[-1], 1000))
            assert shapely.distance(true, shapely.points(looks)).max() < 0.1
        # The chords themselves: within 0.05 mm, as others expect.
        ring = shapely.LinearRing(made.points)
        assert shapely.distance(ring, shapely.points(np.array(true.coords))).max() < 0.05
        assert len(kept) < 80


def test_a_line_that_is_one_loop_of_a_curve() -> None:
    tear = Path.of([[(0, 0), (200, 0), (0, 200), (0, 0)]], closed=True)
    (again,) = read_interchange(
        write_interchange(Pattern((Piece("tear", Outline.of(tear)),))).dxf
    ).pattern.pieces
    assert apart(again.outline.path, tear) < 0.05


def test_curves_to_judge_by_are_there_when_asked_for() -> None:
    """Within 0.005 mm of the line (shapely's distance), and only with a cutting line two."""
    piece = curved()
    plain, checked = (write_interchange(Pattern((piece,)), checks=c).dxf for c in (False, True))
    doc = drawing(checked)
    block = next(b for b in doc.blocks if b.query('*[layer=="84"]'))
    (line,) = [e for e in block.query("POLYLINE") if e.dxf.layer == "84"]
    ring = shapely.LinearRing([tuple(v.dxf.location)[:2] for v in line.vertices])
    true = flatten(piece.outline.path, 1e-4)
    assert shapely.distance(ring, shapely.points(true)).max() < 0.0052
    assert not block.query('*[layer=="87"]')
    assert len(plain) < len(checked)
    assert not any(f.code == "curve-doubtful" for f in read_interchange(checked).findings)


def test_a_reader_without_the_curves_sees_the_same_area(tmp_path: FilePath) -> None:
    """GDAL reads the file on its own terms."""
    program = need("ogr2ogr")
    piece = curved()
    out = tmp_path / "curved.dxf"
    out.write_bytes(write_interchange(Pattern((piece,))).dxf)
    made = tmp_path / "curved.csv"
    sql = "SELECT Layer FROM entities"
    done = subprocess.run(
        [program, "-f", "CSV", made, out, "-lco", "GEOMETRY=AS_WKT", "-sql", sql],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    areas = []
    for row in made.read_text().splitlines()[1:]:
        wkt = row.rsplit('",', 1)[0].strip('"')
        if wkt.startswith("GEOMETRYCOLLECTION"):
            shapes = shapely.from_wkt(wkt).geoms
            lines = [g for g in shapes if g.geom_type == "LineString" and len(g.coords) > 3]
            areas += [shapely.Polygon(g.coords).area for g in lines]
        elif wkt.startswith(("LINESTRING", "POLYGON")):
            g = shapely.from_wkt(wkt)
            areas.append(g.area or shapely.Polygon(g.coords).area)
    assert any(a == pytest.approx(piece.area, rel=1e-4) for a in areas), areas


def test_rules_that_are_not_in_the_table_are_refused() -> None:
    pattern = with_numbers()
    moves = ((0.0, 0.0),)
    with pytest.raises(InputError, match="no rule 2, 3"):
        write_interchange(pattern, rules=RuleFile(("12",), "12", {"1": moves}))


def test_names_in_other_letters_are_told_and_stay_apart() -> None:
    path = Path.polyline([(0, 0), (90, 0), (90, 80)], closed=True)
    pieces = [Piece(name, Outline.of(path), size="38") for name in ("Ärmel", "Armel", "京")]
    written = write_interchange(Pattern(tuple(pieces), title="Blüte"))
    reading = read_interchange(written.dxf)
    assert reading.pattern.names == ("Armel", "Armel-2", "_")
    assert reading.pattern.title == "Blute"
    assert "letters-changed" in {f.code for f in written.findings}


def test_an_inner_line_that_ends_on_the_outline_makes_no_corner_of_it() -> None:
    path = Path.polyline([(0, 0), (60, 0), (90, 0), (90, 80), (0, 80)], closed=True)
    outline = Outline(path, (0, 2, 3, 4), points=(Point(1, "centre"),))
    inner = tuple(Mark(Path.polyline([(x, 0), (x, 80)])) for x in (60, 75))
    piece = Piece("flap", outline, "sew", marks=inner, size="38")
    back = read_interchange(write_interchange(Pattern((piece,))).dxf).pattern.piece("flap")
    assert len(back.outline.corners) == 4
    assert len(back.marks) == 2
