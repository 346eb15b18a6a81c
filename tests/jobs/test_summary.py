"""The JSON of `show` is what the design fixes, to the key."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest
from shapely import Polygon

from sizewright.errors import LookupFailed
from sizewright.findings import Finding
from sizewright.formats import Reading, SetAside
from sizewright.geometry.path import Path
from sizewright.jobs.show import in_size, summary_json
from sizewright.jobs.summary import summarise
from sizewright.model import (
    Cutout,
    Dart,
    Drill,
    Fold,
    Label,
    Mark,
    Notch,
    Outline,
    Pattern,
    Piece,
    Point,
    Run,
    Spot,
    parse_seam,
)
from tests.jobs.made import panel, reading
from tests.operations import drawn
from tests.pictures.patterns import ALL, bodice, pocket
from tests.shapes import rectangle


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
                    {
                        "number": 1,
                        "name": "hem",
                        "from": 1,
                        "to": 2,
                        "length": 127.0,
                        "sewn": 127.0,
                    },
                    {
                        "number": 2,
                        "name": "side",
                        "from": 2,
                        "to": 3,
                        "length": 254.0,
                        "sewn": 254.0,
                    },
                    {"number": 3, "name": None, "from": 3, "to": 4, "length": 127.0, "sewn": 127.0},
                    {"number": 4, "name": None, "from": 4, "to": 1, "length": 254.0, "sewn": 254.0},
                ],
                "runs": [
                    {"name": "hem", "length": 127.0, "sewn": 127.0},
                    {"name": "side", "length": 254.0, "sewn": 254.0},
                ],
                "darts": [],
                "sew": None,
                "marks": [],
                "drills": [],
                "labels": [],
                "cutouts": [],
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
        "seams": [],
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


def skirt(size: str | None = None, grown: float = 0.0) -> Piece:
    """200 by 100 with a dart of 30 across 80 deep in its waist, and something of everything."""
    w = 200.0 + grown
    path = Path.polyline(
        [(0, 0), (w, 0), (w, 100), (120, 100), (105, 20), (90, 100), (0, 100)], closed=True
    )
    outline = Outline.of(
        path, points=[Point(2, "waist-side")], runs=[Run(2, 6, "waist"), Run(1, 2, "side")]
    )
    ring = [[(60, 60), (60, 71), (49, 71), (49, 60)], [(49, 60), (49, 49), (60, 49), (60, 60)]]
    return Piece(
        "skirt",
        outline,
        kind="sew",
        size=size,
        darts=(Dart("waist", 3, 5, (105.0, 20.0), 4),),
        marks=(
            Mark(Path.polyline([(10, 10), (40, 50), (40, 60)]), "pocket", "left-pocket"),
            Mark(Path.of(ring, closed=True), "button"),
        ),
        drills=(Drill((50.0, 50.0), "hip"),),
        labels=(Label("Skirt", (20.0, 30.0)),),
        cutouts=(Cutout(rectangle(10, 5, x=150, y=50), "slot"),),
    )


def test_every_feature_has_its_place() -> None:
    found = json.loads(summary_json(Reading(Pattern((skirt(),)))))["pieces"][0]
    leg = math.hypot(15, 80)
    across, folded = 80 + 90 + 2 * leg, 80.0 + 90.0
    assert found["runs"] == [
        {"name": "waist", "length": pytest.approx(across), "sewn": pytest.approx(folded)},
        {"name": "side", "length": 100.0, "sewn": 100.0},
    ]
    # The edges of the waist lie beside the dart, and its legs are edges as any other.
    lengths = [200, 100, 80, leg, leg, 90, 100]
    assert [e["length"] for e in found["edges"]] == pytest.approx(lengths)
    assert [e["sewn"] for e in found["edges"]] == pytest.approx(lengths)
    assert found["darts"] == [
        {"name": "waist", "mouth": [[120, 100], [90, 100]], "tip": [105, 20], "take": 30}
    ]
    pocket, button = found["marks"]
    assert pocket == {
        "kind": "pocket",
        "name": "left-pocket",
        "closed": False,
        "length": pytest.approx(50 + 10),
        "points": [[10, 10], [40, 50], [40, 60]],
    }
    assert (button["kind"], button["name"], button["closed"]) == ("button", None, True)
    assert button["points"][0] == [60, 60]
    ring = Polygon(button["points"])
    assert ring.length == pytest.approx(button["length"], rel=0.01)
    assert ring.length < button["length"]
    assert found["drills"] == [{"name": "hip", "x": 50, "y": 50}]
    assert found["labels"] == [{"text": "Skirt", "x": 20, "y": 30}]
    assert found["cutouts"] == [
        {"area": 50, "points": [[150, 50], [160, 50], [160, 55], [150, 55]]}
    ]
    assert found["area"] == pytest.approx(200 * 100 - 30 * 80 / 2 - 50)
    assert found["sew"] is None


def test_a_mouth_that_the_outline_runs_across_is_closed_in_the_edge() -> None:
    outline = Outline.of(
        Path.polyline([(0, 0), (200, 0), (200, 100), (120, 100), (90, 100), (0, 100)], closed=True)
    )
    piece = Piece("skirt", outline, kind="sew", darts=(Dart("waist", 3, 4, (105.0, 20.0)),))
    found = summarise(Reading(Pattern((piece,))))["pieces"][0]
    assert [(e["length"], e["sewn"]) for e in found["edges"]][2] == (200.0, 170.0)
    assert found["darts"][0]["take"] == 30


def test_both_lines_have_their_facts() -> None:
    """A cutting line 10 mm outside a skirt of 200 by 100 whose dart mouth it runs across."""
    sew = Outline.of(
        Path.polyline([(0, 0), (200, 0), (200, 100), (120, 100), (90, 100), (0, 100)], closed=True),
        points=[Point(2, "waist-side")],
        runs=[Run(2, 5, "waist")],
    )
    cut = Outline.of(rectangle(220, 120, x=-10, y=-10))
    piece = Piece(
        "skirt",
        sew,
        kind="sew",
        cut_line=cut,
        darts=(Dart("waist", 3, 4, (105.0, 20.0)),),
        fold=Fold(5, 0),
        notches=(Notch(Spot(2, 50.0), "v", 4.0),),
    )
    found = summarise(Reading(Pattern((piece,))))["pieces"][0]
    inner = found["sew"]
    assert found["outline"] == "cut"
    assert (found["area"], inner["area"]) == (220 * 120, 200 * 100)
    assert (found["perimeter"], inner["perimeter"]) == (680, 600)
    assert (found["bounds"], inner["bounds"]) == ([-10, -10, 210, 110], [0, 0, 200, 100])
    assert [(c["x"], c["y"], c["name"]) for c in found["corners"]][2] == (210, 110, "waist-side")
    assert [(c["x"], c["y"], c["name"]) for c in inner["corners"]][2] == (200, 100, "waist-side")
    # The dart's mouth is 30 on either line.
    assert found["runs"] == [{"name": "waist", "length": 220, "sewn": pytest.approx(190)}]
    assert inner["runs"] == [{"name": "waist", "length": 200, "sewn": pytest.approx(170)}]
    assert found["edges"][2]["sewn"] == pytest.approx(190)
    assert inner["edges"][2]["sewn"] == pytest.approx(170)
    assert found["darts"] == inner["darts"]
    assert found["fold"] == inner["fold"] == {"edge": 4, "from": 4, "to": 1}
    assert [n["distance"] for n in found["notches"]] == [pytest.approx(60)]
    assert [n["distance"] for n in inner["notches"]] == [50]
    line = {"area", "perimeter", "bounds", "corners", "points", "edges", "runs", "darts", "fold"}
    assert set(inner) == line | {"notches"}


def test_seams_are_told_in_every_size() -> None:
    seam = parse_seam("waist: band:top = skirt:waist, ease 5 mm")
    bands = [
        Piece(
            "band", Outline.of(rectangle(width, 40), runs=[Run(2, 3, "top")]), kind="sew", size=size
        )
        for size, width in (("10", 175.0), ("12", 190.0))
    ]
    skirts = (skirt("10"), skirt("12", 20.0))
    found = summarise(Reading(Pattern((*bands, *skirts), seams=(seam,))))["seams"]
    assert found == [
        {
            "name": "waist",
            "text": "waist: band:top = skirt:waist, ease 5 mm",
            "sizes": [
                {"size": "10", "first": 175, "second": pytest.approx(170), "off": pytest.approx(0)},
                {
                    "size": "12",
                    "first": 190,
                    "second": pytest.approx(190),
                    "off": pytest.approx(-5),
                },
            ],
        }
    ]
    unsized = Pattern((replace(bands[0], size=None), skirt()), seams=(seam,))
    (row,) = summarise(Reading(unsized))["seams"][0]["sizes"]
    assert (row["size"], row["first"]) == (None, 175)


def test_the_demo_is_told_whole() -> None:
    pattern = drawn("supper-top")
    found = {p["name"]: p for p in summarise(Reading(pattern))["pieces"]}
    seams = {s["name"]: s for s in summarise(Reading(pattern))["seams"]}
    assert set(seams) == {seam.name for seam in pattern.seams}
    assert all(abs(row["off"]) < 0.5 for s in seams.values() for row in s["sizes"])
    for piece in pattern.pieces:
        told = found[piece.name]
        assert [d["name"] for d in told["darts"]] == [d.name for d in piece.darts]
        assert len(told["marks"]) == len(piece.marks)
        assert [t["text"] for t in told["labels"]] == [t.text for t in piece.labels]
        for run in told["runs"]:
            assert run["sewn"] == pytest.approx(piece.sewn_length(piece.run(run["name"])))
    front = found["front"]
    assert {d["name"]: round(d["take"]) for d in front["darts"]} == {"waist": 25, "bust": 24}


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


MARKED = ("panel 12", "panel 14", "band")


def test_one_size_takes_its_pieces_and_findings() -> None:
    small, loose = panel(), panel().with_changes(size=None, name="band")
    other = Finding("x", "note", "about another", size="14")
    marks = [SetAside(str(k), "path", f"grain of {t}") for k, t in enumerate(MARKED)]
    both = Reading(
        Pattern((small, small.with_changes(size="14"), loose)),
        (*marks, SetAside("frame", "rect", "page frame")),
        findings=(other, *reading().findings),
    )
    picked = in_size(both, "12")
    assert [p.key for p in picked.pattern.pieces] == [("panel", "12"), ("band", None)]
    assert [f.size for f in picked.findings] == ["12"]
    assert [x.name for x in picked.set_aside] == ["0", "2", "frame"]
    with pytest.raises(LookupFailed, match="Sizes: 12, 14"):
        in_size(both, "16")
