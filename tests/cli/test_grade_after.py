"""What `sizewright grade` does to its sizes at the end: seams trued, sizes laid over."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sizewright.jobs.commands import run_job_file
from tests.cli.runs import run

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="800mm" height="400mm"
  viewBox="0 0 800 400" data-base-size="10" data-seams="side: front:side = back:side">
<title>Two</title>
{pieces}</svg>"""
PIECE = """<g data-piece="{name}" data-size="10" data-outline="sew" transform="translate({x} 350)"
   data-runs="side = {name}-low..{name}-arm">
  <path data-role="outline" d="M 0 0 H 200 L 220 -300 L 0 -310 Z"/>
  <line data-role="fold" x1="0" y1="-20" x2="0" y2="-290"/>
  <line data-role="grain" x1="60" y1="-40" x2="60" y2="-250"/>
  <circle data-point="{name}-centre" data-rule="still" cx="0" cy="0" r="1"/>
  <circle data-point="{name}-low" data-rule="still" cx="200" cy="0" r="1"/>
  <circle data-point="{name}-arm" data-rule="{name}-arm" cx="220" cy="-300" r="1"/>
  <circle data-point="{name}-top" data-rule="still" cx="0" cy="-310" r="1"/>
</g>
"""
RULES = """rule,axis,unit,8,10,12
still,length,mm,,0,0
front-arm,length,mm,,6,6
back-arm,length,mm,,4,4
"""


@pytest.fixture
def drawing(tmp_path: Path) -> Path:
    pieces = "".join(PIECE.format(name=n, x=x) for n, x in (("front", 50), ("back", 450)))
    (tmp_path / "rules.csv").write_text(RULES, "utf-8")
    path = tmp_path / "two.svg"
    path.write_text(DRAWING.format(pieces=pieces), "utf-8")
    return path


def sides(capsys: pytest.CaptureFixture[str], path: Path) -> dict[str, float]:
    """By how much the front's side is longer in each size, mm."""
    data = json.loads(run(capsys, "check", path, "--json").out)
    return {row["size"]: row["off"] for row in data["seams"]}


def graded(capsys: pytest.CaptureFixture[str], drawing: Path, *options: str) -> tuple[str, Path]:
    out = drawing.with_name("out.svg")
    rules = drawing.with_name("rules.csv")
    ran = run(capsys, "grade", drawing, out, "--to", "8,10,12", "--rules", rules, *options)
    assert ran.code in (0, 1), ran.err
    assert (ran.code == 1) == ("fail: back, front 8 side: front:side is 0.2 cm" in ran.out)
    return ran.out, out


def test_seams_are_trued_where_it_is_asked_for(
    drawing: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said, out = graded(capsys, drawing)
    assert "fail:" in said
    plain = sides(capsys, out)
    assert plain["12"] == pytest.approx(2.0, abs=0.02)
    assert plain["8"] == pytest.approx(-2.0, abs=0.02)
    said, out = graded(capsys, drawing, "--true-seams")
    trued = sides(capsys, out)
    assert "fail:" not in said
    assert set(trued) == {"8", "10", "12"}
    assert max(map(abs, trued.values())) < 1e-4
    said, out = graded(capsys, drawing, "--true-up-to", "1 mm")
    assert sides(capsys, out)["12"] == pytest.approx(plain["12"], abs=1e-6)
    assert "was not trued" in said
    assert "more than 1 mm" in said


def test_a_job_trues_and_lays_over_as_the_command_does(
    drawing: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = drawing.with_name("job.toml")
    for words, flag in (("true", "--true-seams"), ('"2.5 mm"', "--true-up-to")):
        job.write_text(
            'title = "Two"\nsource = "two.svg"\n'
            '[grade]\nto = ["8", "10", "12"]\nrules = "rules.csv"\n'
            f'true-seams = {words}\nalign = "front:front-arm"\n[[outputs]]\nfile = "made.svg"\n',
            "utf-8",
        )
        run_job_file(job)
        more = ("2.5 mm",) if flag == "--true-up-to" else ()
        _, out = graded(capsys, drawing, flag, *more, "--align", "front:front-arm")
        assert drawing.with_name("made.svg").read_bytes() == out.read_bytes()
        assert max(map(abs, sides(capsys, out).values())) < 1e-4


def test_sizes_lie_on_each_other_at_the_point(
    drawing: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def places(path: Path, piece: str, point: str) -> set[tuple[float, float]]:
        data = json.loads(run(capsys, "show", path, "--json").out)
        corners = [c for p in data["pieces"] if p["name"] == piece for c in p["corners"]]
        return {(round(c["x"], 4), round(c["y"], 4)) for c in corners if c["name"] == point}

    _, out = graded(capsys, drawing)
    assert len(places(out, "front", "front-arm")) == 3
    assert len(places(out, "front", "front-low")) == 1
    before = places(drawing, "front", "front-arm")
    _, out = graded(capsys, drawing, "--align", "front-arm")
    assert places(out, "front", "front-arm") == before
    assert len(places(out, "front", "front-low")) == 3
    assert len(places(out, "back", "back-low")) == 1
    _, out = graded(capsys, drawing, "--align", "front:front-arm", "--align", "back: back-arm")
    assert len(places(out, "back", "back-arm")) == 1


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--align", "nowhere"), 'no piece has the place "nowhere"'),
        (("--align", "sleeve:cap"), 'no piece "sleeve"'),
        (("--true-up-to", "2"), "does not say its unit"),
        (("--true-up-to", "0 mm"), "at least 0.01 mm"),
    ],
)
def test_refusals(
    drawing: Path, capsys: pytest.CaptureFixture[str], options: tuple[str, ...], words: str
) -> None:
    out, rules = drawing.with_name("out.svg"), drawing.with_name("rules.csv")
    ran = run(capsys, "grade", drawing, out, "--to", "12", "--rules", rules, *options)
    assert (ran.code, words in ran.err) == (2, True), ran.err
    assert not out.exists()


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("true-seams = 2", '"true-seams" cannot be 2'),
        ('true-seams = "2"', "does not say its unit"),
        ("align = 3", '"align" cannot be 3'),
    ],
)
def test_a_job_says_where_it_is_wrong(
    drawing: Path, capsys: pytest.CaptureFixture[str], line: str, words: str
) -> None:
    job = drawing.with_name("job.toml")
    job.write_text(
        f'source = "two.svg"\n[grade]\nto = "12"\nrules = "rules.csv"\n{line}\n', "utf-8"
    )
    ran = run(capsys, "run", job)
    assert ran.code == 2
    assert words in ran.err
    assert "line 5" in ran.err
