"""The tutorials' plugins, installed in a folder of their own and used."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from tests.cli.runs import Ran, run

TAPE = Path(__file__).parents[2] / "docs" / "examples" / "tape-text"
EXAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "hang-loop"
YOKE = Path(__file__).parents[2] / "docs" / "examples" / "yoke-line"
DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm"
 viewBox="0 0 200 100"><g data-piece="towel">
 <path data-role="outline" d="M10 10H190V90H10Z"/>
 <circle data-edge="top" cx="100" cy="10" r="1"/></g></svg>"""
JOB = """source = "towel.svg"
[[steps]]
do = "hang-loop"
at = "towel: middle of top"
length = "3 cm"
[[outputs]]
file = "out.svg"
"""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the plugins installed by pip, as their author would."""
    folder = tmp_path_factory.mktemp("site")
    subprocess.run(
        f"{sys.executable} -m pip install -q --no-deps --no-build-isolation".split()
        + f"--disable-pip-version-check --target {folder} {EXAMPLE} {TAPE} {YOKE}".split(),
        check=True,
        capture_output=True,
        timeout=120,
    )
    return folder


Program = Callable[..., Ran]


@pytest.fixture
def sizewright(
    site: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Program:
    """The program where the plugins are installed, run in this process."""
    monkeypatch.syspath_prepend(str(site))
    return partial(run, capsys)


def test_it_is_listed_with_its_settings(site: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "sizewright", "plugins", "hang-loop", "--json"],
        env={**os.environ, "PYTHONPATH": str(site)},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    (plugin,) = json.loads(done.stdout)["plugins"]
    assert not plugin["broken"]
    assert [s["name"] for s in plugin["offers"][0]["settings"]] == ["at", "length"]


def test_a_job_uses_it(sizewright: Program, tmp_path: Path) -> None:
    (tmp_path / "towel.svg").write_text(DRAWING)
    job = tmp_path / "towel.toml"
    job.write_text(JOB)
    done = sizewright("run", str(job), "--into", str(tmp_path / "made"))
    assert done.code == 0, done.err
    assert "1 note" in done.out
    drawn = (tmp_path / "made" / "out.svg").read_text()
    assert "hang-loop" in drawn
    assert "hanging loop at towel: middle of top" in drawn


def test_its_wrong_setting_names_file_line_and_right_form(
    sizewright: Program, tmp_path: Path
) -> None:
    (tmp_path / "towel.svg").write_text(DRAWING)
    job = tmp_path / "towel.toml"
    job.write_text(JOB.replace('"3 cm"', "3"))
    done = sizewright("run", str(job))
    assert done.code == 2
    assert "towel.toml, line 5" in done.err
    assert '"length" of "hang-loop"' in done.err
    assert "Traceback" not in done.err
    assert not (tmp_path / "out.svg").exists()


TAPE_JOB = """source = "pocket.tape"
[reading]
line = "sew"
[[steps]]
do = "seam-allowance"
width = "1 cm"
[[outputs]]
file = "out.svg"
[[outputs]]
file = "again.tape"
decimals = 1
"""


def test_its_format_is_read_and_written_by_every_command(
    sizewright: Program, tmp_path: Path
) -> None:
    pocket = str(TAPE / "pocket.tape")
    done = sizewright("show", pocket, "--json", "--set", "line=sew")
    assert done.code == 0, done.err
    (piece,) = json.loads(done.out)["pieces"]
    assert (piece["name"], piece["outline"], piece["area"]) == ("pocket", "sew", 140.0 * 160.0)
    assert [c["name"] for c in piece["corners"]] == ["hem-left", "hem-right", None, None]

    there, back = str(tmp_path / "there.svg"), str(tmp_path / "back.tape")
    assert sizewright("convert", pocket, there).code == 0
    done = sizewright("convert", there, back)
    assert done.code == 0, done.err
    lines = Path(back).read_text().splitlines()
    assert lines[:2] == ["tape in cm", "piece pocket"]
    assert lines[2].endswith(" hem-left")
    assert len(lines) == 6
    # By its name it writes to the same ending, and is refused another one.
    assert sizewright("convert", there, back, "--profile", "tape-text").code == 0
    done = sizewright("convert", there, there + ".svg", "--profile", "tape-text")
    assert done.code == 2
    assert "makes .tape" in done.err
    curved = str(Path(__file__).parents[1] / "fixtures" / "simple.svg")
    done = sizewright("convert", curved, str(tmp_path / "curved.tape"))
    assert done.code == 0, done.err
    assert "its curves are straight now" in done.out


def test_a_job_reads_and_writes_its_format(sizewright: Program, tmp_path: Path) -> None:
    (tmp_path / "pocket.tape").write_bytes((TAPE / "pocket.tape").read_bytes())
    job = tmp_path / "pocket.toml"
    job.write_text(TAPE_JOB)
    done = sizewright("run", str(job))
    assert done.code == 0, done.err
    assert 'data-role="sew"' in (tmp_path / "out.svg").read_text()
    assert (tmp_path / "again.tape").read_text().splitlines()[3] == "14.0 0.0 hem-right"
    job.write_text(TAPE_JOB.replace('line = "sew"', 'line = "sown"'))
    done = sizewright("run", str(job))
    assert done.code == 2
    assert "pocket.toml, line 3" in done.err
    assert '"line" of "tape-text"' in done.err


def test_what_its_reader_refuses_is_told_with_the_file(sizewright: Program, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.tape"
    wrong.write_text("tape in cm\npiece pocket\n0 zero\n")
    done = sizewright("show", str(wrong))
    assert done.code == 2
    assert done.err == (f"sizewright: {wrong}: pocket: a corner is not X Y NAME. As 14 0 hem.\n")
    wrong.write_text("tape in ells\npiece pocket\n0 0\n")
    done = sizewright("show", str(wrong))
    assert done.code == 3
    assert f'{wrong}: reader "tape-text": it failed: KeyError' in done.err
    assert "Traceback" not in done.err
    # It harms nobody else.
    assert sizewright("show", str(tmp_path.parent / "none.svg")).code == 2


def test_a_reader_takes_few_lines() -> None:
    text = (TAPE / "tape_text.py").read_text()
    reader = text[
        text.index("@hookimpl\ndef add_readers") : text.index("@hookimpl\ndef add_writers")
    ]
    assert len(reader.strip().splitlines()) <= 25


YOKE_JOB = """source = "SOURCE"
base = "12"
[[before]]
do = "yoke-line"
piece = "front"
line = ["1/2 along armhole", "2/3 along fold"]
parts = { yoke = "neck-side", lower = "waist-centre" }
[grade]
to = ["8", "12", "16"]
rules = "shipped:grade_tables/supper-top-steps.csv"
[[steps]]
do = "notches"
[[outputs]]
file = "{size}.svg"
"""


def test_it_cuts_an_outline_in_every_size(sizewright: Program, tmp_path: Path) -> None:
    """Names, notches, seams, rules and sizes follow, though the plugin says none of it."""
    assert len((YOKE / "yoke_line.py").read_text().splitlines()) < 60
    job = tmp_path / "yoke.toml"
    drawing = YOKE.parent / "supper-top" / "supper-top.svg"
    job.write_text(YOKE_JOB.replace("SOURCE", str(drawing)))
    done = sizewright("check", str(job), "--json")
    assert done.code == 0, done.err
    rows = json.loads(done.out)["seams"]
    assert {row["size"] for row in rows if row["seam"] == "yoke"} == {"8", "12", "16"}
    assert all(abs(row["off"]) < 0.05 for row in rows)
    assert sizewright("run", str(job), "--into", str(tmp_path)).code == 0
    made = {}
    for size in ("8", "16"):
        shown = sizewright("show", str(tmp_path / f"{size}.svg"), "--json")
        told = json.loads(shown.out)
        made |= {(piece["name"], size): piece for piece in told["pieces"]}
        texts = [seam["text"] for seam in told["seams"]]
        assert "neck-front: yoke:neck = facing-front:neck" in texts
        assert any(text.startswith("yoke: yoke:yoke = lower:yoke") for text in texts)
    for name in ("yoke", "lower"):
        a, b = (made[name, size] for size in ("8", "16"))
        assert [c["name"] for c in a["corners"]] == [c["name"] for c in b["corners"]]
        assert len(a["notches"]) == len(b["notches"]) > 0
    rule = next(c["rule"] for c in made["yoke", "8"]["corners"] if c["name"] == "yoke-armhole")
    assert rule.startswith("width ")
    assert "underarm" in rule


def test_a_line_that_cannot_cut_says_where(sizewright: Program, tmp_path: Path) -> None:
    source, out = YOKE.parent / "supper-top" / "supper-top.svg", tmp_path / "out.svg"
    settings = ["piece=front", "parts.a=neck-side", "line=1/20 along armhole"]
    done = sizewright("apply", "yoke-line", str(source), str(out), *settings, "line=middle of side")
    assert done.code == 2
    assert "yoke-line: front 12: the line cuts the dart" in done.err
    assert "Traceback" not in done.err
    assert not out.exists()
