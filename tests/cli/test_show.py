"""`sizewright show` on files."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest

from tests.cli.runs import FIXTURES, run

EXPECTED = json.loads((FIXTURES / "expected.json").read_text("utf-8"))


def shown(capsys: pytest.CaptureFixture[str], name: str, *options: str) -> dict[str, Any]:
    ran = run(capsys, "show", FIXTURES / name, "--json", *options)
    assert ran.err == ""
    data: dict[str, Any] = json.loads(ran.out)
    return data


def test_json_of_the_simple_pocket(capsys: pytest.CaptureFixture[str]) -> None:
    data = shown(capsys, "simple.svg")
    (piece,) = data["pieces"]
    figures = EXPECTED["simple.svg"]["pocket-bag"]
    assert piece["area"] == pytest.approx(figures["area"], rel=1e-6)
    assert piece["perimeter"] == pytest.approx(figures["perimeter"], rel=1e-6)
    assert len(piece["corners"]) == figures["corners"]
    # Corner 1 is the lowest, then leftmost; y counts up from the page's lower edge (297 mm).
    assert (piece["corners"][0]["x"], piece["corners"][0]["y"]) == pytest.approx((40, 42))
    assert (piece["outline"], piece["size"], piece["pair"]) == ("unknown", None, False)


def test_json_of_a_piece_with_every_feature(capsys: pytest.CaptureFixture[str]) -> None:
    data = shown(capsys, "features.svg")
    front, back, pocket = data["pieces"]
    assert [p["name"] for p in data["pieces"]] == ["front", "back", "pocket"]
    assert front["quantity"] == [
        {"material": "main", "count": 1},
        {"material": "interfacing", "count": 1},
    ]
    names = {c["name"]: c for c in front["corners"]}
    assert names["hem-centre"]["number"] == 1
    assert names["underarm"]["rule"] == "underarm"
    assert {p["name"] for p in front["points"]} == {"side-waist", "side-hip"}
    fold = next(e for e in front["edges"] if e["number"] == front["fold"]["edge"])
    assert (fold["from"], fold["to"]) == (front["fold"]["from"], front["fold"]["to"])
    assert fold["length"] == pytest.approx(500.0)
    assert front["grain"] == {"x0": 60, "y0": 320, "x1": 60, "y1": 660, "ends": 1}
    assert sorted(n["kind"] for n in front["notches"]) == sorted(
        ["slit", "slit", "v", "t", "castle", "check", "u"]
    )
    assert back["grain"]["ends"] == 2
    assert pocket["outline"] == "cut"
    assert "top" in [e["name"] for e in pocket["edges"]]


@pytest.mark.parametrize("name", ["two-sizes.svg", "two-sizes-attributes.svg"])
def test_one_size_of_several(capsys: pytest.CaptureFixture[str], name: str) -> None:
    every = shown(capsys, name)
    sizes = sorted({p["size"] for p in every["pieces"]})
    assert len(sizes) == 2
    for size in sizes:
        one = shown(capsys, name, "--size", size)
        assert one["pieces"] == [p for p in every["pieces"] if p["size"] == size]
    ran = run(capsys, "show", FIXTURES / name, "--size", "99")
    assert ran.code == 2
    assert f"Sizes: {', '.join(sizes)}" in ran.err or f"Sizes: {', '.join(sizes[::-1])}" in ran.err


def test_units_override(capsys: pytest.CaptureFixture[str]) -> None:
    as_is = shown(capsys, "units-absent.svg")["pieces"][0]
    inches = shown(capsys, "units-absent.svg", "--units", "inches")["pieces"][0]
    assert inches["perimeter"] == pytest.approx(as_is["perimeter"] * 96)


def test_table_and_json_tell_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    table = run(capsys, "show", FIXTURES / "features.svg")
    assert table.code == 0
    rows = [" ".join(line.split()) for line in table.out.splitlines()]
    for piece in shown(capsys, "features.svg")["pieces"]:
        for edge in piece["edges"]:
            start = f"{edge['number']} {edge['from']} to {edge['to']} {edge['length'] / 10:.2f} "
            found = [row for row in rows if row.startswith(start)]
            assert any(row.endswith(edge["name"] or "") for row in found)
        for corner in piece["corners"]:
            start = f"{corner['number']} {corner['x'] / 10:.2f} {corner['y'] / 10:.2f}"
            assert any(row.startswith(f"{start} {corner['name'] or ''}".strip()) for row in rows)


def test_a_failing_finding_exits_1_and_is_shown(capsys: pytest.CaptureFixture[str]) -> None:
    path = FIXTURES / "hostile" / "self-crossing.svg"
    table = run(capsys, "show", path)
    assert table.code == 1
    assert "  fail: " in table.out
    data = json.loads(run(capsys, "show", path, "--json").out)
    assert "fail" in [f["level"] for f in data["findings"]]


def test_show_reads_on_after_wrong_marks(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text = (FIXTURES / "features.svg").read_text()
    source, picture = tmp_path / "a.svg", tmp_path / "picture.svg"
    dots = (
        '<circle data-point="a" cx="11" cy="12" r="1"/><circle data-edge="b" cx="9" cy="9" r="1"/>'
    )
    source.write_text(text.replace("</g>", f"{dots}</g>", 1))
    ran = run(capsys, "show", source, "--json", "--picture", picture)
    data = json.loads(ran.out)
    wrong = [f for f in data["findings"] if f["code"] == "wrong-mark"]
    assert ran.code == 1
    assert len(wrong) == 2
    assert data["pieces"]
    words = " ".join("".join(e.itertext()) for e in ET.parse(picture).iter())
    assert 'the point mark "a" is' in words
    other = run(capsys, "convert", source, tmp_path / "b.svg")
    assert other.code == 2
    assert other.err.count(" mark ") == 2


def test_picture(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    out = tmp_path / "picture.svg"
    out.write_text("old")
    ran = run(capsys, "show", FIXTURES / "features.svg", "--picture", out)
    assert ran.code == 0
    assert ran.out.endswith(f"Picture: {out}\n")
    words = ["".join(e.itertext()) for e in ET.parse(out).iter()]
    assert {"front", "underarm", "place on the fold"} <= {*words}
    json.loads(run(capsys, "show", FIXTURES / "features.svg", "--json", "--picture", out).out)


def test_a_picture_that_cannot_be(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    source = tmp_path / "a.svg"
    source.write_bytes((FIXTURES / "simple.svg").read_bytes())
    before = source.read_bytes()
    assert run(capsys, "show", source, "--picture", source).code == 2
    assert source.read_bytes() == before
    ran = run(capsys, "show", source, "--picture", tmp_path / "a.png")
    assert ran.code == 2
    assert '".svg"' in ran.err
    assert run(capsys, "show", source, "--picture", tmp_path / "no" / "a.svg").code == 2
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.svg"]
