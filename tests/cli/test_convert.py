"""`sizewright convert` from SVG to SVG, to DXF and back."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.runs import FIXTURES, run


def test_a_converted_file_shows_the_same(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    out = tmp_path / "out.svg"
    ran = run(capsys, "convert", FIXTURES / "features.svg", out)
    assert ran.code == 0
    assert ran.out.startswith(f"{out}: 3 pieces\n")
    before = json.loads(run(capsys, "show", FIXTURES / "features.svg", "--json").out)
    after = json.loads(run(capsys, "show", out, "--json").out)
    assert [p["name"] for p in after["pieces"]] == [p["name"] for p in before["pieces"]]
    for a, b in zip(before["pieces"], after["pieces"], strict=True):
        assert b["area"] == pytest.approx(a["area"], rel=1e-9)
        assert [c["name"] for c in b["corners"]] == [c["name"] for c in a["corners"]]
        assert [e["length"] for e in b["edges"]] == pytest.approx(
            [e["length"] for e in a["edges"]], abs=1e-5
        )


def test_one_size(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    source = FIXTURES / "two-sizes.svg"
    sizes = {p["size"] for p in json.loads(run(capsys, "show", source, "--json").out)["pieces"]}
    size = min(sizes)
    out = tmp_path / "one.svg"
    assert run(capsys, "convert", source, out, "--size", size).code == 0
    assert {p["size"] for p in json.loads(run(capsys, "show", out, "--json").out)["pieces"]} == {
        size
    }


@pytest.mark.parametrize("profile", [None, "curves", "cutter"])
def test_to_dxf_and_back(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, profile: str | None
) -> None:
    drawing, back = tmp_path / "out.dxf", tmp_path / "back.svg"
    options = ("--profile", profile) if profile else ()
    source = FIXTURES / "features.svg"
    assert run(capsys, "convert", source, drawing, *options).code == 0
    assert run(capsys, "convert", drawing, back).code == 0
    before = json.loads(run(capsys, "show", source, "--json").out)
    after = json.loads(run(capsys, "show", back, "--json").out)
    assert [p["name"] for p in after["pieces"]] == [p["name"] for p in before["pieces"]]
    exact = profile != "cutter"
    for a, b in zip(before["pieces"], after["pieces"], strict=True):
        assert b["area"] == pytest.approx(a["area"], rel=1e-9 if exact else 1e-4)
        # A cutter's double notch is two.
        assert len(b["notches"]) >= len(a["notches"])
        if exact:
            assert len(b["notches"]) == len(a["notches"])
            assert [c["name"] for c in b["corners"]] == [c["name"] for c in a["corners"]]


@pytest.mark.parametrize(
    ("out", "options", "words"),
    [
        ("a.svg", (), "a.svg"),
        ("b.xls", (), 'the ending ".xls" is of no format'),
        ("b", (), "the name has no ending"),
        ("b.svg", ("--profile", "curves"), 'the writer "curves" makes .dxf'),
        ("no/b.svg", (), "no"),
        ("b.svg", ("--size", "9"), 'no size "9"'),
    ],
)
def test_refusals_write_nothing(
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    out: str,
    options: tuple[str, ...],
    words: str,
) -> None:
    source = tmp_path / "a.svg"
    source.write_bytes((FIXTURES / "simple.svg").read_bytes())
    before = source.read_bytes()
    ran = run(capsys, "convert", source, tmp_path / out, *options)
    assert ran.code == 2
    assert words in ran.err
    assert ran.err.count("\n") == 1
    assert source.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["a.svg"]
