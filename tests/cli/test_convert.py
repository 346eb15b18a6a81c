"""`sizewright convert` from SVG to SVG, to DXF and back."""

from __future__ import annotations

import json
import math
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


def test_each_size_goes_to_a_file_of_its_own(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    nest = FIXTURES / "two-sizes-attributes.svg"
    sizes = json.loads(run(capsys, "show", nest, "--json").out)["pieces"]
    ran = run(capsys, "convert", nest, tmp_path / "size-{size}.dxf")
    assert ran.code == 0, ran.err
    for size in {p["size"] for p in sizes}:
        made = json.loads(run(capsys, "show", tmp_path / f"size-{size}.dxf", "--json").out)
        assert {p["size"] for p in made["pieces"]} == {size}
    plain = run(capsys, "convert", FIXTURES / "simple.svg", tmp_path / "size-{size}.svg")
    assert plain.code == 2
    assert "no size to put in the name" in plain.err


def test_a_plugin_that_makes_an_ending_is_enough(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    ran = run(capsys, "convert", FIXTURES / "simple.svg", tmp_path / "pages.pdf")
    assert ran.code == 0, ran.err
    assert (tmp_path / "pages.pdf").read_bytes().startswith(b"%PDF")


def test_the_reader_is_set_and_may_be_named(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A ring of eight sides, which turns by 45 degrees at each corner."""
    turns = [math.tau * k / 8 for k in range(8)]
    d = "M" + "L".join(f"{100 + 80 * math.cos(t)} {100 + 80 * math.sin(t)}" for t in turns)
    ring = tmp_path / "ring.svg"
    ring.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        f'viewBox="0 0 200 200"><path id="ring" d="{d}Z"/></svg>'
    )

    def edges(*options: str) -> int:
        ran = run(capsys, "show", ring, "--json", *options)
        assert ran.code == 0, ran.err
        return len(json.loads(ran.out)["pieces"][0]["edges"])

    assert edges() == 8
    assert edges("--set", "corner-angle=50") == 1
    assert edges("--set", "corner-angle=50", "--set", "reader=svg") == 1
    for option, words in (
        ("refit=some", '"refit" of "svg"'),
        ("reader=dxf", "ring.svg"),
        ("reader=none", "There are: dxf, "),
    ):
        ran = run(capsys, "show", ring, "--set", option)
        assert (ran.code, words in ran.err) == (2, True), ran.err
