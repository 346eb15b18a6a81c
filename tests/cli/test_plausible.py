"""Every command that reads or makes a pattern tells what can hardly be meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from sizewright.errors import InputError
from sizewright.findings import Finding
from sizewright.jobs.bodies import doubting
from tests.cli.runs import run

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="300mm"
 viewBox="0 0 400 300"><g data-piece="front" data-size="10" data-outline="sew" data-pair="yes"
 data-quantity="main 3"><path id="o" data-role="outline" d="M10 10H110V150H10Z"/>
 <path data-role="cutout" d="M50 50h58v6h-58Z"/>
 <line data-role="grain" x1="50" y1="140" x2="50" y2="20"/>
 <circle data-point="a" data-rule="in" cx="110" cy="10" r="1"/>
 <circle data-point="b" data-rule="in" cx="110" cy="150" r="1"/>
 <circle data-point="c" data-rule="stay" cx="10" cy="10" r="1"/>
 <circle data-point="d" data-rule="stay" cx="10" cy="150" r="1"/></g></svg>"""
RULES = "rule,axis,unit,4,8,6,10\nin,width,mm,,4,4,4\nstay,width,mm,,0,0,0\n"
CHART = "measure,unit,4,6,8,10\nbust,cm,80,84,82,92\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "in.svg").write_text(DRAWING, "utf-8")
    (tmp_path / "rules.csv").write_text(RULES, "utf-8")
    (tmp_path / "chart.csv").write_text(CHART, "utf-8")
    (tmp_path / "job.toml").write_text(
        'source = "in.svg"\n[grade]\nto = "4"\nrules = "rules.csv"\n', "utf-8"
    )
    return tmp_path


def test_each_command_tells_it(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    drawing, out, rules = folder / "in.svg", folder / "out.svg", folder / "rules.csv"
    orders = [
        ("show", drawing),
        ("show", drawing, "--json"),
        ("convert", drawing, out),
        ("check", drawing),
        ("check", folder / "job.toml"),
        ("run", folder / "job.toml", "--into", folder),
        ("grade", drawing, out, "--to", "4", "--rules", rules),
        ("apply", "seam-allowance", drawing, out, "width=1cm"),
    ]
    for order in orders:
        ran = run(capsys, *order)
        said = " ".join((ran.out + ran.err).split())
        assert "3 of main are no pairs" in said, (order, said)
        made = order[0] in ("run", "grade") or "job.toml" in str(order[1])
        assert ("the cut-out leaves the piece" in said) == made
        assert ("4, 6, 8, 10 was probably meant" in said) == made


def test_measures_with_the_wrong_unit(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    chart = folder / "chart.csv"
    ran = run(capsys, "size", "--chart", chart, "--measure", "bust=88mm")
    assert ran.code == 2
    assert "it falls from 84 cm" in ran.err
    chart.write_text(CHART.replace("84,82", "82,84"), "utf-8")
    ran = run(capsys, "size", "--chart", chart, "--measure", "bust=88mm")
    assert "warn: bust: it is said to be 8.8 cm" in ran.out
    order = ("--rules", folder / "rules.csv", "--chart", chart, "--measure", "bust=88mm")
    ran = run(capsys, "grade", folder / "in.svg", folder / "out.svg", *order)
    assert ran.code == 2
    assert "88 cm · ≈ 34 5/8 in was probably meant" in ran.err


def test_a_wrong_base_and_an_open_outline(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    drawing, out, rules = folder / "in.svg", folder / "out.svg", folder / "rules.csv"
    ran = run(capsys, "grade", drawing, out, "--to", "4", "--rules", rules, "--base", "12")
    assert ran.code == 2
    assert "nothing is drawn in the base size 12; sizes drawn: 10" in ran.err
    drawing.write_text(DRAWING.replace(' data-size="10"', ""), "utf-8")
    ran = run(capsys, "grade", drawing, out, "--to", "4", "--rules", rules, "--base", "12")
    assert "the base size 12, in which the pattern is drawn, is not in the table" in ran.err
    points = folder / "points.csv"
    points.write_text("piece,point,rule\nfront,1,in\n", "utf-8")
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="300mm" '
        'viewBox="0 0 400 300"><path id="front" d="M10 10H110V150H10V14" fill="none" '
        'stroke="black"/></svg>',
        "utf-8",
    )
    order = ("--to", "4", "--rules", rules, "--base", "10", "--points", points)
    ran = run(capsys, "grade", drawing, out, *order)
    assert ran.code == 2
    assert "points.csv" not in ran.err
    assert "no piece could be read" in ran.err
    assert '"front" is open: its ends are 4.00 mm apart' in ran.err
    assert not out.exists()


def test_a_doubt_behind_an_error_says_what_it_speaks_of() -> None:
    doubt = Finding("odd-measure", "warn", "it is 9.2 cm", place="bust", cure="92 cm was meant.")
    with pytest.raises(InputError) as told, doubting([doubt]):
        raise InputError("the outline would fold over itself", cure="Look at the rules.")
    assert str(told.value).endswith("Look at the rules. bust: it is 9.2 cm. 92 cm was meant.")
