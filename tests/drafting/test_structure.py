"""After an operation all sizes are alike and every seam finds its runs, or it stops."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sizewright.errors import GeometryError, PluginError
from sizewright.geometry import Path
from sizewright.grading import grade, read_rules
from sizewright.model import Fold, Outline, Pattern, Piece, Point, Run, parse_seams
from sizewright.plugin import Operation, apply_operation
from tests.operations import do
from tests.shapes import bodice


def skirt() -> Piece:
    """Half a skirt whose hem rises so gently that opened it is smooth in some sizes only."""
    path = Path.of(
        [
            [(0, 0), (300, 7)],
            [(300, 7), (240, 600)],
            [(240, 600), (0, 600)],
            [(0, 600), (0, 0)],
        ],
        closed=True,
    )
    points = [
        Point(0, "hem-centre", "hem-centre"),
        Point(1, "hem-side", "hem-side"),
        Point(2, "waist-side", "waist-side"),
        Point(3, "waist-centre", "waist-centre"),
    ]
    outline = Outline.of(path, points=points, runs=[Run(0, 1, "hem"), Run(1, 2, "side")])
    return Piece("skirt", outline, kind="sew", size="12", fold=Fold(3, 0))


RULES = """rule,axis,unit,8,10,12,14
hem-side,length,mm,,2,2,2
hem-side,width,mm,,10,10,10
waist-side,width,mm,,10,10,10
waist-centre,length,mm,,0,0,0
hem-centre,length,mm,,0,0,0
"""


def opened(pattern: Pattern) -> Pattern:
    return do(pattern, "fold-marks", open=["skirt"], words="").pattern


def test_an_opened_skirt_has_the_same_corners_in_every_size() -> None:
    graded = grade(Pattern((skirt(),), "12"), read_rules(RULES), ["8", "10", "12", "14"]).pattern
    # Found anew, the middle of the hem would be a corner in some sizes and smooth in others.
    assert {len(opened_alone(p).outline.corners) for p in graded.pieces} == {4, 5}
    pieces = opened(graded).pieces
    assert {len(p.outline.corners) for p in pieces} == {4}
    names = [
        [(q.name, p.outline.corner_number(q.vertex)) for q in p.outline.points] for p in pieces
    ]
    assert all(one == names[0] for one in names)
    for piece in pieces:
        if piece.size != "12":
            assert piece.base is not None
            assert piece.base.fold is None
            assert piece.base.outline.corners == piece.outline.corners


def opened_alone(piece: Piece) -> Piece:
    """The piece opened as if it had no base and no other sizes."""
    return opened(Pattern((replace(piece, base=None),))).pieces[0]


def run(change: object, pattern: Pattern) -> Pattern:
    operation = Operation("change", "a change", change)  # type: ignore[arg-type]
    return apply_operation(operation, pattern, {}).pattern


def test_sizes_that_part_stop_the_operation_with_size_and_place() -> None:
    sizes = Pattern(tuple(replace(bodice(), size=s) for s in ("10", "12")))

    def uneven(pattern: Pattern) -> Pattern:
        first, second = pattern.pieces
        outline = second.outline.with_run(Run(4, 6, "side-and-armhole"))
        return pattern.with_pieces([first, replace(second, outline=outline)])

    with pytest.raises(GeometryError, match=r'"side-and-armhole".* in size 12'):
        run(lambda p, _: uneven(p), sizes)
    # A nest drawn by hand whose sizes were never alike is not held to it.
    drawn = uneven(sizes)
    assert run(lambda p, _: p.replacing(lambda q: replace(q, pair=True)), drawn).pieces[0].pair


def test_a_seam_left_naming_nothing_stops_the_operation() -> None:
    back = replace(bodice(), name="back")
    pattern = Pattern((bodice(), back), seams=parse_seams("side: front:side = back:side"))

    def without_name(piece: Piece) -> Piece:
        runs = tuple(r for r in piece.outline.runs if r.name != "side")
        return replace(piece, outline=replace(piece.outline, runs=runs))

    with pytest.raises(PluginError, match="front:side"):
        run(lambda p, _: p.replacing(without_name), pattern)
    with pytest.raises(PluginError, match="back:side"):
        run(lambda p, _: p.with_pieces(p.pieces[:1]), pattern)


def test_renaming_a_piece_renames_it_in_its_seams() -> None:
    back = replace(bodice(), name="back")
    pattern = Pattern((bodice(), back), seams=parse_seams("side: front:side = back:side"))
    renamed = run(lambda p, _: p.renamed({"front": "bodice"}), pattern)
    assert renamed.names == ("bodice", "back")
    assert str(renamed.seams[0].first[0]) == "bodice:side"
