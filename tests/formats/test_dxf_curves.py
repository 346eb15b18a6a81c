"""SVG -> DXF(curves) -> SVG: everything comes back, within 1e-6 mm and to the letter."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from sizewright.errors import UnitError, UsageError
from sizewright.formats import read_dxf
from sizewright.formats.dxf.writer import write_dxf
from sizewright.formats.svg.reader import read_svg
from sizewright.formats.svg.writer import write_svg
from sizewright.geometry import affine
from sizewright.geometry.path import Path
from sizewright.model import Label, Outline, Pattern, Piece
from sizewright.units import Unit
from tests.formats.dxf_made import document, opened
from tests.formats.full_pattern import full_pattern
from tests.formats.same import differences
from tests.strategies import patterns

#: What a reader may well say of a pattern that was meant.
HARMLESS = {"impossible-size", "units-doubtful"}


def trip(pattern: Pattern, unit: Unit = Unit.MM) -> Pattern:
    """The pattern through DXF and back, nothing lost and nothing found on the way."""
    written = write_dxf(pattern, "curves", unit)
    assert [f for f in written.findings if f.level != "note"] == []
    reading = read_dxf(written.data)
    assert [f for f in reading.findings if f.code not in HARMLESS] == []
    titles = tuple(f" of {piece.title}" for piece in reading.pattern.pieces)
    assert [a for a in reading.set_aside if not a.reason.endswith(titles)] == []
    return reading.pattern


@settings(max_examples=settings.default.max_examples // 2)
@given(pattern=patterns())
def test_random_patterns_come_back(pattern: Pattern) -> None:
    assert differences(pattern, trip(pattern)) == []


@settings(max_examples=settings.default.max_examples // 4)
@given(pattern=patterns())
def test_svg_to_dxf_to_svg(pattern: Pattern) -> None:
    first = read_svg(write_svg(pattern).text.encode()).pattern
    last = read_svg(write_svg(trip(first)).text.encode()).pattern
    assert differences(pattern, last) == []
    assert last.page == first.page


@pytest.mark.parametrize("unit", [Unit.MM, Unit.IN])
def test_a_pattern_of_everything_comes_back(unit: Unit) -> None:
    pattern = full_pattern()
    again = trip(pattern, unit)
    assert differences(pattern, again) == []
    assert again.page == pattern.page
    assert write_dxf(again, "curves", unit).data == write_dxf(pattern, "curves", unit).data


def test_coordinates_stay_where_they_are_also_below_zero() -> None:
    shift = affine.translation(-5000.25, -321.5)

    def moved(piece: Piece) -> Piece:
        return replace(piece.transformed(shift), base=piece.base and moved(piece.base))

    pattern = full_pattern().replacing(moved)
    assert differences(pattern, trip(pattern)) == []


def test_control_points_are_the_cubics_own() -> None:
    """Read by ezdxf alone: each spline of degree 3 holds the outline's own control points."""
    pattern = full_pattern()
    doc = opened(write_dxf(pattern).data)
    held = {
        tuple(round(v, 6) for v in point[:2])
        for spline in doc.modelspace().query("SPLINE")
        for point in spline.control_points
    }
    for piece in pattern.pieces:
        path = piece.drawn.path
        wanted = path.controls[~path.lines].reshape(-1, 2)
        assert {tuple(round(float(v), 6) for v in p) for p in wanted} <= held
    assert {s.dxf.degree for s in doc.modelspace().query("SPLINE")} == {3}


def test_what_ezdxf_thinks_of_it() -> None:
    doc = opened(write_dxf(full_pattern()).data)
    auditor = doc.audit()
    assert (auditor.errors, auditor.fixes) == ([], [])
    assert doc.dxfversion == "AC1015"
    assert (doc.header["$INSUNITS"], doc.header["$MEASUREMENT"]) == (4, 1)
    assert len(doc.groups) == len(full_pattern().pieces)


def test_names_with_every_kind_of_sign() -> None:
    square = Outline.of(Path.polyline([(0, 0), (90, 0), (90, 90), (0, 90)], closed=True))
    words = 'a\\P{b} %%d 50% ^J "x" =+ \U0001f9f5é 京 \\U+00E4'
    pattern = Pattern(
        (
            Piece(
                "bord 京 %%c \\U-0041 ^ x",
                square,
                size="38/40 é",
                labels=(Label(words, (10.0, 10.0), 5.0), Label(f"{words}\n  two", (10.0, 40.0))),
                story=("x" * 700 + " end", "  ".join("né")),
            ),
        )
    )
    written = write_dxf(pattern)
    again = read_dxf(written.data).pattern
    (ours,), (theirs,) = pattern.pieces, again.pieces
    assert (theirs.name, theirs.size) == (ours.name, ours.size)
    assert [t.text for t in theirs.labels] == [t.text for t in ours.labels]
    assert theirs.story[0] == ours.story[0]


def test_too_long_a_story_is_told_and_the_rest_is_kept() -> None:
    square = Outline.of(Path.polyline([(0, 0), (90, 0), (90, 90), (0, 90)], closed=True))
    piece = Piece("a", square, pair=True, story=tuple("step " * 40 + "end" for i in range(200)))
    written = write_dxf(Pattern((piece,)))
    assert [f.code for f in written.findings] == ["too-long"]
    (again,) = read_dxf(written.data).pattern.pieces
    assert (again.name, again.pair, again.story) == ("a", True, ())


def test_an_edited_file_follows_the_edit() -> None:
    """Moved entities, changed text and a copied piece: geometry and words as they are now."""
    square = Outline.of(Path.polyline([(0, 0), (90, 0), (90, 90), (0, 90)], closed=True))
    pattern = Pattern((Piece("a", square, labels=(Label("old", (10.0, 10.0)),)),))
    doc = opened(write_dxf(pattern).data)
    space = doc.modelspace()
    for entity in list(space):
        if entity.dxftype() == "POINT":
            continue
        copy = entity.copy()
        space.add_entity(copy)
        copy.translate(200, 10, 0)
        if copy.dxftype() == "TEXT":
            copy.dxf.text = "new"
    reading = read_dxf(document(doc))
    a, b = reading.pattern.pieces
    assert (a.name, b.name) == ("a", "a-2")
    assert "name-twice" in {f.code for f in reading.findings}
    moved = a.outline.path.controls + np.array([200.0, 10.0])
    assert np.allclose(b.outline.path.controls, moved, atol=1e-9)
    assert [p.labels[0].text for p in (a, b)] == ["old", "new"]


def test_without_extended_data_outlines_and_names_are_still_there() -> None:
    """As after a program that drops extended data: the shapes speak by layer and place."""
    pattern = full_pattern().with_pieces([full_pattern().pieces[0]])
    doc = opened(write_dxf(pattern).data)
    for entity in doc.modelspace():
        entity.discard_xdata("SIZEWRIGHT")
    (piece,) = read_dxf(document(doc)).pattern.pieces
    ours = pattern.pieces[0]
    assert ours.cut_line is not None
    assert piece.cut_line is not None
    assert piece.cut_line.path.area == pytest.approx(ours.cut_line.path.area, rel=1e-9)
    assert piece.outline.path.area == pytest.approx(ours.outline.path.area, rel=1e-9)
    assert piece.grain is not None
    assert piece.fold is not None
    assert len(piece.cutouts) == 1
    # A double notch is two notches for whoever does not know better.
    assert len(piece.notches) == sum(n.count for n in ours.notches)


def test_the_same_bytes_whatever_was_written_before() -> None:
    first = write_dxf(full_pattern()).data
    write_dxf(full_pattern(), "cutter")
    assert write_dxf(full_pattern()).data == first


def test_refusals() -> None:
    with pytest.raises(UsageError, match="no profile"):
        write_dxf(full_pattern(), "lines")
    with pytest.raises(UnitError, match="not written in cm"):
        write_dxf(full_pattern(), "curves", Unit.CM)
    with pytest.raises(UsageError, match="chord"):
        write_dxf(full_pattern(), "cutter", chord=0.0)


def test_an_empty_pattern() -> None:
    reading = read_dxf(write_dxf(Pattern(())).data)
    assert reading.pattern.pieces == ()
    assert [f.code for f in reading.findings if f.level == "fail"] == ["no-pieces"]


def test_text_of_the_file_is_plain() -> None:
    data = write_dxf(full_pattern()).data
    assert all(line == line.rstrip("\r") for line in io.StringIO(data.decode("ascii")))
