"""`sizewright learn`, and `sizewright grade` with what it wrote."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from sizewright.cli.main import main
from sizewright.formats import write_svg
from sizewright.shipped import shipped
from tests.cli.runs import run
from tests.operations import drawn

STEPS = shipped("grade_tables/supper-top-steps.csv")
SIZES = ("8", "12", "16")


@pytest.fixture(scope="module")
def graded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three sizes of the demo garment in one file."""
    path = tmp_path_factory.mktemp("graded") / "nest.svg"
    top = shipped("examples/supper-top/supper-top.svg")
    assert main(["grade", str(top), str(path), f"--to={','.join(SIZES)}", f"--rules={STEPS}"]) == 0
    return path


@pytest.fixture(scope="module")
def learned(graded: Path) -> Path:
    """The rules of that file, learned."""
    path = graded.parent / "learned" / "r.csv"
    path.parent.mkdir()
    assert main(["learn", str(graded), "-o", str(path), "-p", str(path.with_name("p.csv"))]) == 0
    return path


@pytest.fixture
def nest(graded: Path, tmp_path: Path) -> Path:
    """A copy of that file, to each test its own."""
    return Path(shutil.copy(graded, tmp_path))


def without_names(path: Path, out: Path) -> Path:
    """The drawing without points, rules, runs, seams and notches."""
    text = path.read_text("utf-8")
    text = re.sub(r'<(line|circle|path|rect)[^>]*data-(point|edge)="[^>]*/>', "", text)
    text = re.sub(r'<(line|circle|path|rect)[^>]*data-role="notch"[^>]*/>', "", text)
    text = re.sub(r'\sdata-(rule|runs|seams|hold)="[^"]*"', "", text)
    out.write_text(text, "utf-8")
    return out


def lengths(capsys: pytest.CaptureFixture[str], path: Path) -> dict[tuple[str, str], list[float]]:
    """The lengths of all edges by piece and size."""
    data = json.loads(run(capsys, "show", path, "--json").out)
    return {(p["name"], p["size"]): [e["length"] for e in p["edges"]] for p in data["pieces"]}


def agree(a: dict[tuple[str, str], list[float]], b: dict[tuple[str, str], list[float]]) -> None:
    assert set(a) == set(b)
    for key in a:
        assert sorted(a[key]) == pytest.approx(sorted(b[key]), abs=0.02), key


def test_a_nest_in_one_file_comes_back(
    nest: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rules = tmp_path / "rules.csv"
    ran = run(capsys, "learn", nest, "-o", rules)
    assert ran.code == 0
    assert ran.out.startswith(f"{rules}: ")
    assert "no table of points is needed" in ran.out
    assert not (tmp_path / "rules-points.csv").exists()
    again = tmp_path / "again.svg"
    to = ",".join(SIZES)
    assert run(capsys, "grade", nest, again, "--to", to, "--rules", rules).code == 0
    agree(lengths(capsys, nest), lengths(capsys, again))


def test_a_nest_without_names_comes_back_with_both_tables(
    nest: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain = without_names(nest, tmp_path / "plain.svg")
    data = json.loads(run(capsys, "show", plain, "--json").out)
    assert all(not p["points"] for p in data["pieces"])
    assert all(
        c["rule"] is None and c["name"] is None for p in data["pieces"] for c in p["corners"]
    )
    rules = tmp_path / "rules.csv"
    ran = run(capsys, "learn", plain, "-o", rules, "--each")
    assert ran.code == 0
    assert "goes with its neighbours" in ran.out
    command = next(x for x in ran.out.splitlines() if x.startswith("sizewright grade"))
    program, *args = command.replace("OUT.svg", str(tmp_path / "again.svg")).split()
    assert program == "sizewright"
    assert str(tmp_path / "rules-points.csv") in args
    args[args.index("--to") + 1] = ",".join(SIZES)
    assert run(capsys, *args).code == 0
    agree(lengths(capsys, plain), lengths(capsys, tmp_path / "again.svg"))


def test_a_file_for_each_size(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    top, nest = tmp_path / "top.svg", tmp_path / "nest.svg"
    whole = drawn("supper-top")
    two = replace(whole, pieces=(whole.piece("front"), whole.piece("back")), seams=())
    top.write_bytes(write_svg(two).data)
    for name in ("nest.svg", "top-{size}.svg"):
        to = ("--to", ",".join(SIZES), "--rules", STEPS)
        assert run(capsys, "grade", top, tmp_path / name, *to).code == 0
    files = [tmp_path / f"top-{size}.svg" for size in ("16", "8", "12")]
    assert run(capsys, "learn", nest, "-o", tmp_path / "one.csv").code == 0
    assert run(capsys, "learn", *files, "-o", tmp_path / "many.csv").code == 0
    rows = [
        [x for x in (tmp_path / f"{name}.csv").read_text().splitlines() if not x.startswith("#")]
        for name in ("one", "many")
    ]
    assert rows[0] == rows[1]
    # Drawings that do not say their size take it from their names, or as they are told.
    for file in files:
        file.write_text(re.sub(r'data-(base-)?size="[^"]*"', "", file.read_text("utf-8")), "utf-8")
    for options in ((), ("--sizes", "16,8,12")):
        ran = run(capsys, "learn", *files, "-o", tmp_path / "named.csv", "--base", "12", *options)
        assert ran.code == 0
        named = [
            x for x in (tmp_path / "named.csv").read_text().splitlines() if not x.startswith("#")
        ]
        assert sorted(named) == sorted(rows[0])


def test_a_flattened_nest_comes_back_nearly(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its curves are fitted anew in each size, with points of its own in each."""
    nest = tmp_path / "nest.dxf"
    top = shipped("examples/supper-top/supper-top.svg")
    options = ("--to", "8,12,16", "--rules", STEPS, "--profile", "cutter")
    assert run(capsys, "grade", top, nest, *options).code == 0
    ran = run(capsys, "learn", nest, "-o", tmp_path / "rules.csv", "--base", "12")
    assert ran.code == 0
    found = re.findall(r"([\d.]+) mm at points, +([\d.]+) mm along lines", ran.out)
    assert len(found) == 7
    assert max(float(lines) for _, lines in found) < 0.8


def test_the_same_nest_the_same_tables(
    graded: Path, learned: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(capsys, "learn", graded, "-o", tmp_path / "r.csv", "-p", tmp_path / "p.csv")
    one, other = (
        [(path.name, path.read_bytes()) for path in sorted(folder.iterdir())]
        for folder in (tmp_path, learned.parent)
    )
    assert one == other


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("-o", "rules.svg"), "Let the name end in .csv"),
        (("-o", "r.csv", "-p", "p.txt"), "Let the name end in .csv"),
        (("-o", "r.csv", "--base", "13"), "nothing is drawn in the base size 13"),
        (("-o", "r.csv", "--sizes", "8,9"), "no size 9 in the nest"),
        (("-o", "r.csv", "--sizes", "12"), "several sizes"),
        (("-o", "r.csv", "--tolerance", "1"), "does not say its unit"),
        (("-o", "r.csv", "--tolerance", "0 mm"), "more than 0"),
        (("-o", "r.csv", "--align", "nowhere"), 'no piece has the place "nowhere"'),
        (("-o", "r.csv", "--align", "frond:waist"), 'no piece "frond"'),
    ],
)
def test_refusals_write_nothing(
    nest: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    options: tuple[str, ...],
    words: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    ran = run(capsys, "learn", nest, *options)
    assert ran.code == 2
    assert words in ran.err
    assert ran.err.count("\n") == 1
    assert [p.name for p in tmp_path.iterdir()] == ["nest.svg"]


def test_one_size_and_two_files_of_one_size(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    top = shipped("examples/supper-top/supper-top.svg")
    ran = run(capsys, "learn", top, "-o", tmp_path / "r.csv")
    assert (ran.code, "several sizes, and there is 12" in ran.err) == (2, True)
    copy = tmp_path / "copy.svg"
    copy.write_bytes(top.read_bytes())
    ran = run(capsys, "learn", top, copy, "-o", tmp_path / "r.csv")
    assert (ran.code, "the size 12 is in two files" in ran.err) == (2, True)
