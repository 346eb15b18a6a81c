"""The JSON of `show` is what the design fixes, to the key."""

from __future__ import annotations

import json

import pytest

from sizewright.errors import LookupFailed
from sizewright.findings import Finding
from sizewright.formats.reading import Reading
from sizewright.geometry.path import Path
from sizewright.jobs.show import exit_code, in_size, summary_json
from sizewright.jobs.summary import summarise
from sizewright.model import Outline, Pattern, Piece
from tests.jobs.made import panel, reading
from tests.pictures.patterns import ALL, bodice, pocket


def test_the_whole_of_a_small_pattern() -> None:
    assert json.loads(summary_json(reading())) == {
        "schema": 1,
        "units": "mm",
        "pieces": [
            {
                "name": "panel",
                "size": "12",
                "outline": "sew",
                "area": pytest.approx(127 * 254),
                "perimeter": pytest.approx(2 * (127 + 254)),
                "bounds": [25.4, 50.8, 152.4, 304.8],
                "corners": [
                    {"number": 1, "name": "hem-centre", "x": 25.4, "y": 50.8, "rule": None},
                    {"number": 2, "name": None, "x": 152.4, "y": 50.8, "rule": None},
                    {"number": 3, "name": "side-top", "x": 152.4, "y": 304.8, "rule": "side"},
                    {"number": 4, "name": None, "x": 25.4, "y": 304.8, "rule": None},
                ],
                "points": [{"name": "hip", "x": 152.4, "y": 177.8, "rule": "side"}],
                "edges": [
                    {"number": 1, "name": "hem", "from": 1, "to": 2, "length": 127.0},
                    {"number": 2, "name": "side", "from": 2, "to": 3, "length": 254.0},
                    {"number": 3, "name": None, "from": 3, "to": 4, "length": 127.0},
                    {"number": 4, "name": None, "from": 4, "to": 1, "length": 254.0},
                ],
                "fold": {"edge": 4, "from": 4, "to": 1},
                "grain": {"x0": 76.2, "y0": 101.6, "x1": 76.2, "y1": 254.0, "ends": 1},
                "notches": [
                    {"edge": 2, "distance": 50.8, "kind": "v", "depth": 6.0},
                    {"edge": 3, "distance": 25.4, "kind": "slit", "depth": 0.0},
                ],
                "quantity": [
                    {"material": "main", "count": 2},
                    {"material": "interfacing", "count": 1},
                ],
                "pair": True,
            }
        ],
        "set_aside": [{"name": "frame", "kind": "rect", "reason": "it is a page frame"}],
        "findings": [
            {
                "code": "seam-short",
                "level": "warn",
                "piece": "panel",
                "size": "12",
                "place": "side",
                "text": "10 mm too short",
                "cure": "Lengthen the side.",
            }
        ],
    }


def test_numbers_keep_full_precision() -> None:
    third = 100.0 / 3.0
    square = [(0, 0), (third, 0), (third, third), (0, third)]
    piece = Piece("a", Outline.of(Path.polyline(square, closed=True)))
    found = json.loads(summary_json(Reading(Pattern((piece,)))))["pieces"][0]
    assert found["bounds"] == [0.0, 0.0, third, third]
    assert found["corners"][1]["x"] == third
    assert found["size"] is None
    assert found["outline"] == "unknown"
    assert found["fold"] is None
    assert found["grain"] is None


def test_an_outline_without_corners_is_one_edge_between_no_corners() -> None:
    k = 0.5522847498 * 50
    quarter = [
        [(50, 0), (50, k), (k, 50), (0, 50)],
        [(0, 50), (-k, 50), (-50, k), (-50, 0)],
        [(-50, 0), (-50, -k), (-k, -50), (0, -50)],
        [(0, -50), (k, -50), (50, -k), (50, 0)],
    ]
    piece = Piece("disc", Outline.of(Path.of(quarter, closed=True)))
    found = summarise(Reading(Pattern((piece,))))["pieces"][0]
    assert found["corners"] == []
    (edge,) = found["edges"]
    assert (edge["number"], edge["from"], edge["to"]) == (1, None, None)
    # A circle of 50 mm; four cubics are within 3e-4 of it.
    assert edge["length"] == pytest.approx(2 * 3.141592653589793 * 50, rel=3e-4)


def test_names_notches_and_rules_of_the_sewing_line_are_found_on_the_cutting_line() -> None:
    found = summarise(Reading(Pattern((pocket(),))))["pieces"][0]
    assert found["outline"] == "cut"
    assert found["bounds"] == [0.0, 0.0, 140.0, 161.0]
    assert [c["name"] for c in found["corners"]] == ["tip", None, None, None, None]
    assert [e["name"] for e in found["edges"]] == [None, None, "top", None, None]
    # The sewing line's notch at (70, 151) is under (70, 161), 70 mm along the top.
    assert found["notches"] == [
        {"edge": 3, "distance": pytest.approx(70.0), "kind": "v", "depth": 4.0}
    ]


def test_names_are_not_carried_where_the_lines_do_not_match() -> None:
    piece = pocket()
    cut = Outline.of(Path.polyline([(0, 0), (140, 0), (140, 161), (0, 161)], closed=True))
    found = summarise(Reading(Pattern((piece.with_changes(cut_line=cut),))))["pieces"][0]
    assert [c["name"] for c in found["corners"]] == [None] * 4
    assert [e["name"] for e in found["edges"]] == [None] * 4
    # The name is not lost: it stands among the points, where the sewing line has it.
    assert found["points"] == [{"name": "tip", "x": 70.0, "y": 11.18, "rule": "tip"}]


def test_area_is_less_the_cutouts_and_perimeter_is_the_outline_alone() -> None:
    piece = bodice()
    found = summarise(Reading(Pattern((piece,))))["pieces"][0]
    assert found["area"] == pytest.approx(piece.outline.path.area - 20 * 6)
    assert found["perimeter"] == pytest.approx(sum(e["length"] for e in found["edges"]))


@pytest.mark.parametrize("name", ALL)
def test_it_is_always_json(name: str) -> None:
    text = summary_json(Reading(ALL[name]()))
    assert text.isascii()
    assert len(json.loads(text)["pieces"]) == len(ALL[name]().pieces)
    assert "-0.0," not in text


def test_one_size_takes_its_pieces_and_findings() -> None:
    small, loose = panel(), panel().with_changes(size=None, name="band")
    other = Finding("x", "note", "about another", size="14")
    both = Reading(
        Pattern((small, small.with_changes(size="14"), loose)),
        findings=(other, *reading().findings),
    )
    picked = in_size(both, "12")
    assert [p.key for p in picked.pattern.pieces] == [("panel", "12"), ("band", None)]
    assert [f.size for f in picked.findings] == ["12"]
    with pytest.raises(LookupFailed, match="Sizes: 12, 14"):
        in_size(both, "16")


def test_only_a_failure_fails() -> None:
    assert exit_code([]) == 0
    assert exit_code(reading().findings) == 0
    assert exit_code([*reading().findings, Finding("x", "fail", "bad")]) == 1
