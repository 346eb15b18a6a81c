"""`size`, and `grade` to bodies, between sizes and with other sizes at levels."""

from __future__ import annotations

import shlex
import shutil
from pathlib import Path

import pytest

from sizewright.formats import read_svg
from sizewright.shipped import shipped

from .runs import run

TOP = shipped("examples/supper-top/supper-top.svg")
CHART = "shipped:grade_tables/misses-1967.csv"
RULES = "shipped:grade_tables/supper-top-steps.csv"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copy(TOP, tmp_path / "IN.svg")
    shutil.copy(shipped("grade_tables/supper-top-steps.csv"), tmp_path / "RULES.csv")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_size_tells_each_measure_and_the_whole(capsys: pytest.CaptureFixture[str]) -> None:
    body = ["--measure", "bust=92cm", "waist=74cm", "--measure", "hip=40in"]
    ran = run(capsys, "size", "--chart", CHART, *body)
    assert ran.code == 0, ran.err
    lines = [" ".join(line.split()) for line in ran.out.splitlines()]
    assert lines[0] == "misses-1967.csv: sizes 6 to 20"
    assert "bust 92 cm · ≈ 36 1/4 in 14" in lines
    assert "waist 74 cm · ≈ 29 1/8 in 16" in lines
    assert "For an upper or a full garment: size 14, by bust. Against that size you have" in lines
    assert "waist 2.88 cm · ≈ 1 1/8 in more it has 71.12 cm · 28 in" in lines
    assert "For a lower garment: size 16, by hip. Against that size you have" in lines
    assert "hip just as much it has 101.6 cm · 40 in" in lines


@pytest.mark.parametrize("spread", [True, False])
def test_the_command_that_size_prints_runs(
    spread: bool, capsys: pytest.CaptureFixture[str], here: Path
) -> None:
    body = ["--measure", "bust=92.345cm", *([] if spread else ["--measure"]), "waist=29 1/8in"]
    ran = run(capsys, "size", "--chart", CHART, "--garment", "upper", *body)
    words = shlex.split(ran.out.splitlines()[-1])
    assert words[:2] == ["sizewright", "grade"]
    ran = run(capsys, *words[1:])
    assert ran.code == 0, ran.err
    pattern = read_svg(here / "OUT.svg").pattern
    assert pattern.sizes == ("body",)
    # Bust of size 14 is 914.4 mm; a quarter of the difference goes out at each side seam.
    base = read_svg(TOP).pattern
    moved = pattern.piece("back").outline.vertex_at(
        pattern.piece("back").outline.vertex("underarm")
    ) - base.piece("back").outline.vertex_at(base.piece("back").outline.vertex("underarm"))
    assert abs(float(moved[0])) == pytest.approx((923.45 - 863.6) / 4, abs=1e-3)


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["size", "--chart", CHART], "no measure is given"),
        (["size", "--chart", CHART, "--measure", "bust=92"], "does not say its unit"),
        (["size", "--chart", CHART, "--measure", "bust"], "is not a measure"),
        (["size", "--chart", CHART, "--measure", "bust=9m"], "no measure of a body"),
        (["size", "--chart", CHART, "--measure", "bust=92cm", "bust=91cm"], "given twice"),
        (["size", "--chart", CHART, "--measure", "knee=40cm"], "the chart has no knee"),
        (["size", "--chart", "shipped:grade_tables/x.csv", "--measure", "bust=1m"], "no shipped"),
        (["size", "--chart", "IN.svg", "--measure", "bust=1m"], "IN.svg"),
        (["grade", "IN.svg", "OUT.svg", "--to", "12"], "no nest of sizes"),
        (["grade", "IN.svg", "OUT.svg", "--rules", RULES], "no size is asked for"),
        (["grade", "IN.svg", "OUT.svg", "--rules", RULES, "--at", "waist=14"], "all the rest"),
        (["grade", "IN.svg", "OUT.svg", "--rules", RULES, "--to", "12", "--at", "x"], "size at a"),
        (
            ["grade", "IN.svg", "OUT.svg", "--rules", RULES, "--to", "12", "--measure", "bust=1m"],
            "need a size chart",
        ),
        (["grade", "IN.svg", "OUT.svg", "--rules", RULES, "--to", "22"], "beyond the table"),
        (["grade", "IN.svg", "{sise}.svg", "--rules", RULES, "--to", "12"], "has {sise} in it"),
        (["convert", "IN.svg", "{sise}.svg"], "It may have {size}."),
    ],
)
def test_refusals(
    args: list[str], said: str, capsys: pytest.CaptureFixture[str], here: Path
) -> None:
    ran = run(capsys, *args)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    assert not (here / "OUT.svg").exists()


def test_between_sizes_and_beyond_them_are_said(capsys: pytest.CaptureFixture[str]) -> None:
    ran = run(capsys, "grade", "IN.svg", "OUT-{size}.svg", "--rules", RULES, "--to", "13,12")
    assert ran.code == 0
    assert "size 13 lies between 12 and 14: it takes 50% of that step" in ran.out
    assert Path("OUT-13.svg").exists()
    ran = run(
        capsys, "grade", "IN.svg", "OUT.svg", "--rules", RULES, "--to", "22", "--beyond-table"
    )
    assert ran.code == 0
    assert "size 22 lies beyond the table's end; the step at 20 is repeated" in ran.out


def test_levels_by_rules_and_out_of_a_nest(capsys: pytest.CaptureFixture[str]) -> None:
    levels = ["--to", "12", "--at", "waist=14", "bust=13"]
    ran = run(capsys, "grade", "IN.svg", "A.svg", "--rules", RULES, *levels, "--label", "mine")
    assert ran.code == 0, ran.err
    assert read_svg(Path("A.svg")).pattern.sizes == ("mine",)
    run(capsys, "grade", "IN.svg", "nest.svg", "--rules", RULES, "--to", "12,13,14")
    ran = run(capsys, "grade", "nest.svg", "B.svg", *levels)
    assert ran.code == 0, ran.err
    drawn = read_svg(Path("B.svg")).pattern
    assert drawn.sizes == ("12-waist-14-bust-13",)
    by_rules, by_lines = read_svg(Path("A.svg")).pattern.piece("front"), drawn.piece("front")
    # The dart that shares in what the waist gains leaves the waist as long with it closed.
    waists = [p.sewn_length(p.run("waist")) for p in (by_rules, by_lines)]
    assert waists[0] == pytest.approx(waists[1], abs=0.05)
    ruled, front = by_rules.outline, by_lines.outline
    for name in ("underarm", "shoulder-tip"):
        a, b = (o.vertex_at(o.vertex(name)) for o in (ruled, front))
        # Both lie on the lines of the same sizes; files keep millionths of a mm.
        assert a == pytest.approx(b, abs=1e-3)
    assert "both sides match" in run(capsys, "check", "B.svg").out


def test_a_full_bust_takes_room_and_not_a_wider_frame(capsys: pytest.CaptureFixture[str]) -> None:
    body = [
        "upper-chest=86cm",
        "bust=104cm",
        "waist=84cm",
        "back-waist-length=45cm",
        "height=170cm",
    ]
    ran = run(capsys, "size", "--chart", CHART, "--measure", *body)
    assert ran.code == 0, ran.err
    # 86 cm and 2 in are 91.08 cm: size 14 has 91.44.
    assert "size 14, by upper-chest" in ran.out
    (grading,) = (line for line in ran.out.splitlines() if line.startswith("  sizewright grade"))
    assert "--to 14 --measure waist=84cm" in grading
    assert "bust=" not in grading
    # Half of 104 - 91.44 cm; 45 - 41.91 cm.
    assert "bust-room OUT.svg OUT-bust.svg piece=front by=6.28cm" in ran.out
    assert "lengthen OUT-bust.svg OUT-length.svg" in ran.out
    assert "by=3.09cm" in ran.out
    assert "height 170 cm · ≈ 66 15/16 in is not in this chart" in ran.out
    small = run(capsys, "size", "--chart", CHART, "--measure", "upper-chest=96cm", "bust=94cm")
    assert "less than that of size" in small.out
    assert "bust-room only adds room" in small.out
    assert "apply bust-room" not in small.out


def test_a_chart_with_shares_gets_one_command_with_every_measure(
    capsys: pytest.CaptureFixture[str], here: Path
) -> None:
    """A full bust, a long back and a strong arm: all of it told, and the garment fits them."""
    body = "upper-chest=86cm bust=95cm waist=74cm hip=99cm back-waist-length=44cm upper-arm=32cm"
    ran = run(capsys, "size", "--chart", "misses-1967-body.csv", "--measure", *body.split())
    assert ran.code == 0, ran.err
    assert ran.out.splitlines()[1].startswith("(recalled from memory")
    assert "(shipped: basic-set-shares.csv)" in ran.out
    assert "the front and its bust dart take all of it" in ran.out
    assert "apply" not in ran.out
    (line,) = (x for x in ran.out.splitlines() if x.startswith("  sizewright grade"))
    shutil.copy(shipped("examples/basic-set/basic-set.svg"), here / "IN.svg")
    shutil.copy(shipped("grade_tables/basic-set-shares.csv"), here / "RULES.csv")
    ran = run(capsys, *shlex.split(line)[1:])
    assert ran.code == 0, ran.out + ran.err
    assert "back-waist-length is 44 cm" in ran.out
    # Bust 95 and 2 1/2 in, upper arm 32 and 2 1/4 in.
    assert "bust is 101.35 cm" in ran.out
    assert "biceps is 37.71 cm" in ran.out


def test_a_very_full_bust_is_left_to_bust_room_by_shares_too(
    capsys: pytest.CaptureFixture[str],
) -> None:
    body = ["upper-chest=84cm", "bust=104cm", "waist=76cm"]
    ran = run(capsys, "size", "--chart", "misses-1967-body.csv", "--measure", *body)
    (line,) = (x for x in ran.out.splitlines() if x.startswith("  sizewright grade"))
    assert "bust=" not in line
    # Half of 104 - 91.44 cm.
    assert "apply bust-room OUT.svg OUT-bust.svg piece=front by=6.28cm" in ran.out


def test_a_measure_that_the_chart_has_not_is_named_with_what_it_has(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A woman by the chart for men: no size by the bust, one by the waist."""
    body = ["upper-chest=84cm", "bust=104cm", "waist=76cm"]
    ran = run(capsys, "size", "--chart", "en13402-men.csv", "--measure", *body)
    assert ran.code == 0, ran.err
    assert "bust 104 cm · ≈ 40 15/16 in is not in this chart" in ran.out
    assert "(the chart has chest, waist)" in ran.out
    assert "For a lower garment: size 76, by waist" not in ran.out
    assert "For a lower garment: size 88, by waist" in ran.out


def test_a_chart_of_other_bodies_is_refused_with_both_girths(
    capsys: pytest.CaptureFixture[str], here: Path
) -> None:
    other = "d5585-11-girths.csv"  # found by its bare name
    args = ["grade", "IN.svg", "OUT.svg", "--rules", RULES, "--chart", other]
    ran = run(capsys, *args, "--measure", "bust=95cm")
    assert ran.code == 2
    assert "misses-1967.csv, where size 12 has bust 86.36 cm · 34 in" in ran.err
    assert "98.42 cm · 38 3/4 in" in ran.err
    assert not (here / "OUT.svg").exists()


def test_after_grading_to_a_body_its_ease_is_told(
    capsys: pytest.CaptureFixture[str], here: Path
) -> None:
    args = ["grade", "IN.svg", "OUT.svg", "--rules", RULES, "--chart", CHART, "--to", "12"]
    ran = run(capsys, *args, "--measure", "waist=67.31cm")
    assert ran.code == 0, ran.err
    assert "waist is 69.85 cm · 27 1/2 in finished, 2.54 cm · 1 in more" in ran.out
    # A size of its own for a much larger bust: the garment is too small, and says so.
    ran = run(capsys, *args, "--measure", "waist=66cm", "upper-chest=100cm")
    assert "waist is" in ran.out
    checked = run(capsys, "check", "OUT.svg", "--measure", "bust=98cm", "waist=66cm")
    assert checked.code == 1
    assert "fail: body bust: bust is 91.44 cm · 36 in finished" in checked.out
    assert run(capsys, "check", "OUT.svg", "--stretch", "--measure", "bust=98cm").code == 0
    by_chart = run(capsys, "check", "IN.svg", "--chart", CHART)
    assert "12 bust: bust is 91.44 cm" in by_chart.out
