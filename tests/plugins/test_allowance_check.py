"""The check of cutting lines, and intent on its way through files and sizes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sizewright.errors import InputError
from sizewright.formats import read_dxf, read_svg, write_dxf, write_svg
from sizewright.geometry import Path
from sizewright.grading import grade, read_rules
from sizewright.model import Outline, Pattern, Piece, format_allowances, parse_allowances
from tests.operations import judge
from tests.plugins.allowances import allow, allowed
from tests.shapes import bodice, rectangle


def checked(piece: Piece) -> list[str]:
    return [f.level for f in judge(Pattern((piece,)), "allowances")]


def full() -> Piece:
    return allowed(
        bodice(),
        width="1.5 cm",
        widths={"side": "2 cm", "waist": "4 cm"},
        changing=["front: 1 cm at underarm to 1.3 cm at shoulder-tip"],
        corner_kinds={"waist-side": "fold-back"},
    )


def test_lines_with_and_without_intent_are_checked() -> None:
    assert checked(full()) == []
    cut = Path.polyline([(-15, -15), (215, -15), (215, 115), (120, 90), (-15, 115)], closed=True)
    drawn = Piece("piece", Outline.of(rectangle()), kind="sew", cut_line=Outline.of(cut))
    assert "fail" in checked(drawn)
    assert checked(replace(allowed(drawn), allowances=None)) == []


def test_files_keep_what_is_meant() -> None:
    pattern = Pattern((full(),))
    meant = pattern.pieces[0].allowances
    svg = write_svg(pattern).text
    assert 'data-allowances="default 15 mm; waist 40 mm; side 20 mm; ' in svg
    assert read_svg(svg.encode(), name="x.svg").pattern.pieces[0].allowances == meant
    dxf = write_dxf(pattern, "curves").data
    assert read_dxf(dxf, name="x.dxf").pattern.pieces[0].allowances == meant


def test_the_text_reads_back_and_what_is_wrong_in_it_is_said() -> None:
    piece = full()
    assert piece.allowances is not None
    text = format_allowances(piece.allowances, piece.outline)
    assert parse_allowances(text, piece.outline) == piece.allowances
    for bad in ("hem 4 cm", "default 15", "default 15 mm; corner underarm round", "side 1 cm"):
        with pytest.raises(InputError, match="allowance"):
            parse_allowances(bad, piece.outline)


def test_a_graded_size_gets_its_line_anew() -> None:
    rules = read_rules("rule,axis,unit,10,12\nside,width,mm,,9\nside,length,mm,,4\n")
    sized = grade(Pattern((full(),), "10"), rules, ["12"]).pattern.pieces[0]
    again = allow(Pattern((replace(sized, cut_line=None),)), width="1 cm").pattern.pieces[0]
    assert sized.allowances == full().allowances
    assert again.cut_line != sized.cut_line
    assert checked(sized) == []
