"""Casings folded over and applied."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from shapely.affinity import scale

from sizewright.errors import SizewrightError
from sizewright.geometry import Path, flatten
from sizewright.model import Fold, Outline, Pattern, Piece, Run, parse_seam, sewn_joints
from sizewright.plugin import Outcome
from tests.operations import do
from tests.shapes import bodice

INCH = 25.4


def casing(pattern: Pattern, **given: Any) -> Outcome:
    return do(pattern, "casing", **given)


def sleeve() -> Pattern:
    """A sleeve that tapers to a straight end."""
    path = Path.polyline([(50, 0), (250, 0), (300, 400), (150, 500), (0, 400)], closed=True)
    runs = [Run(0, 1, "wrist"), Run(1, 2, "underarm")]
    return Pattern((Piece("sleeve", Outline.of(path, runs=runs), kind="sew", pair=True),))


def test_folded_over_it_mirrors_the_taper() -> None:
    made = casing(sleeve(), along=["sleeve:wrist"], elastic_width="3/8 in").pattern
    piece, before = made.piece("sleeve"), sleeve().piece("sleeve")
    # Common practice: elastic + 1/8 in, and 1/4 in turned in.
    deep = (3 / 8 + 1 / 8 + 1 / 4) * INCH
    assert piece.bounds[1] == pytest.approx(-deep)
    area = shapely.Polygon(flatten(piece.outline.path, 0.01))
    old = shapely.Polygon(flatten(before.outline.path, 0.01))
    below = scale(area.difference(old), 1, -1, origin=(0, 0))
    assert below.difference(old.buffer(1e-6)).area == pytest.approx(0, abs=1e-6)
    assert below.area == pytest.approx(old.intersection(shapely.box(0, 0, 400, deep)).area)
    lines = {m.name: m for m in piece.marks}
    assert set(lines) == {"wrist-fold", "wrist-casing-1"}
    assert lines["wrist-casing-1"].path.start[1] == pytest.approx(0.5 * INCH)


def test_with_a_heading_it_has_two_stitching_lines() -> None:
    made = casing(sleeve(), along=["sleeve:wrist"], elastic_width="1 cm", at="1 cm").pattern
    piece = made.piece("sleeve")
    heights = sorted(m.path.start[1] for m in piece.marks)
    assert heights == pytest.approx([0, 10, 10 + 10 + INCH / 8])


def test_the_elastic_is_the_body_less_its_stretch_and_its_lap() -> None:
    # 11 in, 10 %, 1 in to lap: 10.9 in.
    given = {"along": ["sleeve:wrist"], "elastic_width": "1 cm"}
    (told,) = casing(sleeve(), **given, body="11 in", stretch="10%").findings
    assert f"{10.9 * 2.54:.2f} cm" in told.text


def test_applied_it_is_a_strip_as_long_as_its_place() -> None:
    made = casing(
        sleeve(), along=["sleeve:wrist"], kind="applied", elastic_width="1 cm", at="2 cm"
    ).pattern
    piece, strip = made.piece("sleeve"), made.piece("casing")
    high = 10 + INCH / 8
    assert piece.outline.path == sleeve().piece("sleeve").outline.path
    assert sorted(m.path.start[1] for m in piece.marks) == pytest.approx([20, 20 + high])
    width, tall = strip.bounds[2] - strip.bounds[0], strip.bounds[3] - strip.bounds[1]
    # The sleeve widens by 100 mm in 400, and there are two of them.
    at = 200 + 100 * (20 + high / 2) / 400
    assert width == pytest.approx(2 * at + INCH / 2)
    assert tall == pytest.approx(high + INCH / 2)


def test_darts_are_closed_under_an_applied_one() -> None:
    made = casing(
        Pattern((bodice(),)), along=["front:waist"], kind="applied", elastic_width="1 cm", at="2 cm"
    ).pattern
    piece, strip = made.piece("front"), made.piece("casing")
    high = 10 + INCH / 8
    # A level line across the cloth; the waist's outer part rises by 10 mm in 120.
    cloth = shapely.Polygon(flatten(piece.outline.path, 0.01))
    by = 20 + high / 2
    inner = shapely.LineString([(-1, by), (95, by)]).intersection(cloth).length
    lift = by * float(np.hypot(1, 10 / 120))
    slope = [(105, lift - 15 / 12), (300, lift + 180 / 12)]
    outer = shapely.LineString(slope).intersection(cloth).length
    width = strip.bounds[2] - strip.bounds[0]
    assert width == pytest.approx(2 * (inner + outer) + INCH / 2, abs=0.01)
    assert len(piece.marks) == 4
    lines = [shapely.LineString(flatten(m.path, 0.01)) for m in piece.marks]
    assert all(cloth.buffer(0.01).contains(line) for line in lines)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"along": ["wrist"], "elastic_width": "1 cm"}, "whose edge"),
        ({"along": ["sleeve:wrst"], "elastic_width": "1 cm"}, "wrst"),
        ({"along": ["sleeve:wrist"]}, "elastic-width"),
        ({"along": ["sleeve:wrist"], "elastic_width": "60 cm"}, "shorter than a casing"),
        ({"along": ["sleeve:wrist"], "elastic_width": "1 cm", "stretch": "90%"}, "stretch"),
    ],
)
def test_casings_that_cannot_be(given: dict[str, Any], said: str) -> None:
    with pytest.raises(SizewrightError) as caught:
        casing(sleeve(), **given)
    assert said in f"{caught.value} {caught.value.cure}"


def test_a_curved_edge_is_not_folded_over() -> None:
    path = Path.of(
        [
            [(0, 0), (70, 30), (130, 30), (200, 0)],
            [(200, 0), (200, 300)],
            [(200, 300), (0, 300)],
            [(0, 300), (0, 0)],
        ],
        closed=True,
    )
    piece = Piece("top", Outline.of(path, runs=[Run(0, 1, "hem")]), kind="sew", fold=Fold(3, 0))
    with pytest.raises(SizewrightError, match="folded over flat"):
        casing(Pattern((piece,)), along=["top:hem"], elastic_width="1 cm")


@pytest.mark.parametrize("taper", [0.0, 30.0, -30.0])
def test_an_edge_that_is_folded_over_is_judged_at_its_fold(taper: float) -> None:
    # By hand: the sides lean by the arc tangent of taper / 400 each, so that both ends of the
    # straight wrist, sewn together, leave twice that.
    path = Path.polyline([(50, 0), (250, 0), (250 + taper, 400), (50 - taper, 400)], closed=True)
    runs = [Run(0, 1, "wrist"), Run(1, 2, "front"), Run(3, 0, "back")]
    piece = Piece("sleeve", Outline.of(path, runs=runs), kind="sew", pair=True)
    seam = parse_seam("seam: sleeve:front = sleeve:back")
    pattern = Pattern((piece,), seams=(seam,))
    made = casing(pattern, along=["sleeve:wrist"], elastic_width="3/8 in").pattern

    def kink(of: Pattern) -> float:
        lines = {j.first.line: j.kink for j in sewn_joints(of)}
        (told,) = (lines[line] for line in ("wrist", "wrist-fold") if line in lines)
        assert told is not None
        return abs(told)

    assert kink(pattern) == pytest.approx(2 * np.degrees(np.arctan(abs(taper) / 400)), abs=1e-6)
    assert kink(made) == pytest.approx(kink(pattern), abs=1e-6)


@pytest.mark.parametrize("kind", ["fold-over", "applied"])
def test_elastic_longer_than_its_casing_raises_an_eyebrow(kind: str) -> None:
    def told(body: str) -> set[str]:
        given = {"along": ["sleeve:wrist"], "elastic_width": "1 cm", "kind": kind}
        return {f.code for f in casing(sleeve(), **given, body=body).findings}

    assert "elastic-slack" in told("7 m")
    assert "elastic-slack" not in told("15 cm")
