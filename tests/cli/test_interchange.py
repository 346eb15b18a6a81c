"""The interchange format from the command line: graded by its own numbers, and converted."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from sizewright.grading import read_rules
from sizewright.jobs.files import open_pattern
from sizewright.model import Pattern
from tests.cli.runs import FIXTURES, run

HERE = FIXTURES / "interchange"
DXF, RUL = HERE / "standard.dxf", HERE / "standard.rul"
Capture = pytest.CaptureFixture[str]

#: Corners of size 14, in inches, worked out by hand: the base corner plus the delta, x along
#: the piece's reference line and y to the left of it.
FOURTEEN = {
    # x up the page, so y to the left: rule 2 (0.5, -0.25) goes 0.25 right and 0.5 up.
    "BIB": [(-0.125, 0.0), (10.25, 0.0), (9.25, 14.5), (0.875, 12.5)],
    # x to the left, so y down: rule 5 (0.25, 0.1) goes 0.25 left and 0.1 down.
    # Corners without a rule go along with their neighbours; they are None here.
    "POCKET": [(20.25, -0.15), None, (27.75, 5.9), None],
    # x down, so y to the right: rule 7 (0.2, 0.3) goes 0.3 right and 0.2 down.
    "STRAP": [None, None, (46.3, 9.8), None],
    # Rule 8 (0, -0.375): away from the fold, which rule 9 (0, 0) holds.
    "SKIRT": [(60.0, 0.0), (76.375, 0.0), None, (60.0, 12.0)],
}


def check_corners(pattern: Pattern, size: str, share: float) -> None:
    """Corners of `size`, which is `share` of the way from 12 to 14."""
    base = open_pattern(DXF).pattern
    for name, corners in FOURTEEN.items():
        now, before = pattern.piece(name, size).outline, base.piece(name).outline
        places = now.path.vertices[list(now.corners)]
        for corner, vertex in zip(corners, before.corners, strict=True):
            if corner is None:
                continue
            start = before.vertex_at(vertex)
            wanted = start + share * (np.array(corner) * 25.4 - start)
            assert np.hypot(*(places - wanted).T).min() < 0.05, (name, size, corner)


# DXF keeps the drawing's own origin, SVG would move it onto a page.
def test_a_file_is_graded_by_its_own_numbers(capsys: Capture, tmp_path: Path) -> None:
    out = tmp_path / "out.dxf"
    ran = run(capsys, "grade", DXF, out, "--rules", RUL, "--to", "14")
    assert ran.code == 0, ran.err
    check_corners(open_pattern(out).pattern, "14", 1.0)


def test_the_other_way_of_counting_gives_the_same(capsys: Capture, tmp_path: Path) -> None:
    out = tmp_path / "nest.dxf"
    ran = run(
        capsys,
        *("grade", DXF, out, "--rules", HERE / "neighbour.rul", "--deltas", "neighbour"),
        *("--to", "8,10,12,14,16"),
    )
    assert ran.code == 0, ran.err
    pattern = open_pattern(out).pattern
    for k, size in enumerate(("8", "10", "12", "14", "16")):
        check_corners(pattern, size, k - 2.0)


def test_the_fold_of_a_half_stays_and_its_side_goes_out(capsys: Capture, tmp_path: Path) -> None:
    out = tmp_path / "out.dxf"
    run(capsys, "grade", DXF, out, "--rules", RUL, "--to", "16")
    skirt = open_pattern(out).pattern.piece("SKIRT")
    base = open_pattern(DXF).pattern.piece("SKIRT")
    assert skirt.bounds[0] == pytest.approx(base.bounds[0], abs=1e-6)
    assert skirt.bounds[2] == pytest.approx(base.bounds[2] + 2 * 0.375 * 25.4, abs=0.05)


def test_a_nest_written_in_the_format_grades_again_by_its_own_table(
    capsys: Capture, tmp_path: Path
) -> None:
    nest, again = tmp_path / "nest.dxf", tmp_path / "again.dxf"
    ran = run(
        capsys,
        *("grade", DXF, nest, "--rules", RUL, "--to", "10,12,14", "--profile", "interchange"),
    )
    assert ran.code == 0, ran.err
    table = tmp_path / "nest.rul"
    assert table.exists()
    pattern = open_pattern(nest).pattern
    assert (pattern.base_size, pattern.sizes) == ("12", ("10", "12", "14"))
    check_corners(pattern, "14", 1.0)
    ran = run(capsys, "grade", nest, again, "--rules", table, "--to", "14,16")
    assert ran.code == 0, ran.err
    check_corners(open_pattern(again).pattern, "14", 1.0)
    check_corners(open_pattern(again).pattern, "16", 2.0)


def test_rules_of_length_and_width_become_numbers_that_say_the_same(
    capsys: Capture, tmp_path: Path
) -> None:
    """Width counts away from the centre, y always to the left: two numbers for one rule."""
    drawing = tmp_path / "pair.svg"
    pieces = []
    for name, x, fold in (("left", 0, 100), ("right", 200, 200)):
        pieces.append(
            f'<g data-piece="{name}" data-size="12" data-outline="sew">'
            f'<path data-role="outline" d="M {x} 0 h 100 v 150 h -100 z"/>'
            f'<line data-role="fold" x1="{fold}" y1="0" x2="{fold}" y2="150"/>'
            f'<line data-role="grain" x1="{x + 50}" y1="120" x2="{x + 50}" y2="20"/>'
            f'<circle data-point="side" data-rule="side" r="1" cy="150"'
            f' cx="{x if fold > x else x + 100}"/></g>'
        )
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="310mm" height="160mm" '
        f'viewBox="0 0 310 160">{"".join(pieces)}</svg>'
    )
    rules = tmp_path / "rules.csv"
    rules.write_text("rule,axis,unit,12,14\nside,width,mm,,8\nside,length,mm,,-3\n")
    out = tmp_path / "pair.dxf"
    ran = run(capsys, "convert", drawing, out, "--profile", "interchange", "--rules", rules)
    assert ran.code == 0, ran.err
    assert "rules bear numbers" in ran.out
    graded = {}
    for source, table, name in ((drawing, rules, "a.svg"), (out, tmp_path / "pair.rul", "b.svg")):
        made = tmp_path / name
        ran = run(capsys, "grade", source, made, "--rules", table, "--to", "14")
        assert ran.code == 0, ran.err
        graded[name] = open_pattern(made).pattern
    for piece in ("left", "right"):
        a, b = (graded[name].piece(piece) for name in ("a.svg", "b.svg"))
        assert a.area == pytest.approx(b.area, rel=1e-6)
        assert a.area > 100 * 150
        size = [p[2] - p[0] for p in (a.bounds, b.bounds)]
        assert size == pytest.approx([108.0, 108.0])


def test_tables_go_to_csv_and_back(capsys: Capture, tmp_path: Path) -> None:
    csv, back = tmp_path / "rules.csv", tmp_path / "back.rul"
    assert run(capsys, "convert", RUL, csv).code == 0
    table = read_rules(csv)
    assert table.sizes == ("8", "10", "12", "14", "16")
    assert {rule.axis for rule in table.rules} == {"x", "y"}
    steps = {(r.rule, r.axis): r.steps for r in table.rules}  # type: ignore[union-attr]
    assert steps["2", "x"] == pytest.approx((0, 12.7, 12.7, 12.7, 12.7))
    assert steps["2", "y"] == pytest.approx((0, -6.35, -6.35, -6.35, -6.35))
    for deltas in ("sample", "neighbour"):
        assert run(capsys, "convert", csv, back, "--deltas", deltas).code == 0
        again = tmp_path / "again.csv"
        assert run(capsys, "convert", back, again, "--deltas", deltas).code == 0
        assert again.read_text() == csv.read_text()


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["convert", RUL, "x.svg"], "a table of grade rules, not a pattern"),
        (["convert", RUL, "x.rul"], "other ending"),
        (["convert", DXF, "x.rul"], "table"),
        (["convert", DXF, "x.dxf", "--rules", RUL], "beside an interchange drawing only"),
        (["grade", DXF, "x.svg", "--rules", RUL, "--to", "18"], "18"),
        (["grade", HERE / "sewn.dxf", "x.svg", "--rules", DXF, "--to", "14"], "header"),
    ],
)
def test_what_cannot_be_meant_ends_in_one_message(
    capsys: Capture, tmp_path: Path, arguments: list[str | Path], message: str
) -> None:
    named = [tmp_path / a if isinstance(a, str) and a.startswith("x.") else a for a in arguments]
    ran = run(capsys, *named)
    assert ran.code == 2
    assert message in ran.err
    assert not list(tmp_path.iterdir())


def test_a_table_for_another_sample_size_is_told(capsys: Capture, tmp_path: Path) -> None:
    other = tmp_path / "other.rul"
    other.write_bytes(
        b"UNITS: ENGLISH\nSIZE LIST: 12 14\nSAMPLE SIZE: 14\n"
        + b"".join(b"RULE: DELTA %d\n0.1, 0.1\n0, 0\n" % n for n in range(1, 10))
        + b"END\n"
    )
    from sizewright.jobs.grade_order import grade_file
    from sizewright.jobs.orders import GradeOrder

    _, findings = grade_file(DXF, tmp_path / "out.svg", GradeOrder(("14",), other))
    assert "sample-differs" in {f.code for f in findings}


def test_show_reads_it_by_its_content(capsys: Capture, tmp_path: Path) -> None:
    ran = run(capsys, "show", DXF, "--json")
    assert ran.code == 0
    told = json.loads(ran.out)
    assert [p["name"] for p in told["pieces"]] == list(FOURTEEN)
    assert {c["rule"] for c in told["pieces"][0]["corners"]} == {"1", "2", "3", "4"}


def test_a_job_grades_by_the_table_and_writes_both_files(capsys: Capture, tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(
        f'source = "{DXF}"\n[grade]\nto = ["14"]\nrules = "{HERE / "neighbour.rul"}"\n'
        'deltas = "neighbour"\n[[outputs]]\nfile = "made.dxf"\nprofile = "interchange"\n'
    )
    ran = run(capsys, "run", job, "--into", tmp_path / "out")
    assert ran.code == 0, ran.err
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["made.dxf", "made.rul"]
    check_corners(open_pattern(tmp_path / "out" / "made.dxf").pattern, "14", 1.0)
    again = run(
        capsys,
        *("grade", DXF, tmp_path / "again.dxf", "--rules", tmp_path / "out" / "made.rul"),
        *("--deltas", "neighbour", "--to", "16"),
    )
    assert again.code == 0, again.err
    check_corners(open_pattern(tmp_path / "again.dxf").pattern, "16", 2.0)
    job.write_text(job.read_text().replace('neighbour"\n[[', 'neither"\n[['))
    ran = run(capsys, "run", job, "--into", tmp_path / "out")
    assert ran.code == 2
    assert '"deltas" cannot be "neither"' in ran.err
