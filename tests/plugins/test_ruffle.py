"""Ruffles, straight, tiered and circular."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from sizewright.errors import SizewrightError
from sizewright.model import Pattern, match_seam
from sizewright.plugin import Outcome
from tests.operations import do, drawn, judge
from tests.shapes import bodice


def ruffle(**given: Any) -> Outcome:
    return do(Pattern((bodice(),)), "ruffle", **given)


def closes(outcome: Outcome) -> None:
    assert outcome.pattern.seams
    for seam in outcome.pattern.seams:
        assert match_seam(outcome.pattern, seam).off == pytest.approx(0, abs=1e-3), seam.name


def test_a_straight_one_is_its_ratio_times_the_edge_as_sewn() -> None:
    made = ruffle(for_="2 x front:waist", depth="12 cm", ratio="1.5")
    front, piece = made.pattern.piece("front"), made.pattern.piece("ruffle")
    edge = 2 * front.sewn_length(front.run("waist"))
    assert piece.bounds[2] - piece.bounds[0] == pytest.approx(1.5 * edge)
    assert piece.bounds[3] - piece.bounds[1] == pytest.approx(120)
    closes(made)


def test_each_tier_is_gathered_into_the_one_above() -> None:
    made = ruffle(for_="2 x front:waist", depth="60 cm", ratio="1.5", tiers=3)
    assert made.drafted == ("ruffle-1", "ruffle-2", "ruffle-3")
    edge = 2 * bodice().sewn_length(bodice().run("waist"))
    for k, name in enumerate(made.drafted, 1):
        box = made.pattern.piece(name).bounds
        assert box[2] - box[0] == pytest.approx(edge * 1.5**k)
        assert box[3] - box[1] == pytest.approx(200)
    closes(made)


@pytest.mark.parametrize("circles", [1, 2])
def test_a_circular_one_has_its_edge_as_inner_arc(circles: int) -> None:
    made = ruffle(length="120 cm", depth="20 cm", shape="circle", circles=circles)
    piece = made.pattern.piece("ruffle")
    (quantity,) = piece.quantity
    radius = 1200 / (2 * math.pi * circles)
    assert quantity.count * piece.outline.run_length(piece.run("edge")) == pytest.approx(
        1200, abs=0.01
    )
    # Exact: edge x depth + angle x depth squared / 2.
    area = 1200 * 200 + 2 * math.pi * circles * 200**2 / 2
    assert quantity.count * piece.area == pytest.approx(area, rel=1e-5)
    (told,) = made.findings
    assert f"{radius / 10:.2f}".rstrip("0") in told.text


def test_its_sectors_lie_on_the_cloth() -> None:
    made = ruffle(length="120 cm", depth="60 cm", shape="circle", cloth_width="90 cm")
    piece = made.pattern.piece("ruffle")
    x0, _, x1, _ = piece.bounds
    assert x1 - x0 <= 900
    assert piece.quantity[0].count >= 4


def test_a_straight_one_longer_than_the_cloth_is_joined() -> None:
    made = ruffle(length="120 cm", depth="10 cm", ratio="2", cloth_width="140 cm")
    (told,) = made.findings
    # 240 - 2 cm in parts of 138 cm.
    assert "2 parts, joined 1 times" in told.text


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"depth": "5 cm"}, "needs one of both"),
        ({"depth": "5 cm", "length": "1 m", "for_": "front:waist"}, "needs one of both"),
        ({"depth": "5 cm", "length": "1 m", "ratio": "much"}, "no ratio"),
        ({"depth": "5 cm", "length": "1 m", "ratio": "0.5"}, "no ratio"),
        ({"depth": "5 cm", "length": "1 m", "shape": "circle", "tiers": 2}, "no tiers"),
        ({"depth": "5 cm", "length": "1 m", "name": "front"}, "already"),
        ({"depth": "5 cm", "for_": "front:frill"}, "frill"),
        (
            {"depth": "90 cm", "length": "1 m", "shape": "circle", "cloth_width": "50 cm"},
            "no sector",
        ),
        ({"depth": "6 cm", "length": "1 m", "circles": 2}, "no circles"),
        ({"depth": "1 cm", "length": "1 m", "tiers": 12}, "12 tiers of only"),
    ],
)
def test_ruffles_that_cannot_be(given: dict[str, Any], said: str) -> None:
    with pytest.raises(SizewrightError) as caught:
        ruffle(**given)
    assert said in f"{caught.value} {caught.value.cure}"


def test_edges_are_turned_so_that_they_follow_one_another() -> None:
    given = {"for": "2 x peplum-front:hem + 2 x peplum-back:hem", "depth": "12 cm"}
    made = do(drawn("supper-top"), "ruffle", **given)
    assert "chain-turned" not in {f.code for f in judge(made.pattern, "plausible")}
    seam = next(s for s in made.pattern.seams if s.name == "ruffle-edge")
    # As they were named they run from the centres to the sides, and the sides do not meet.
    named = replace(seam, second=tuple(replace(p, reverse=False) for p in seam.second))
    before = replace(made.pattern, seams=(*drawn("supper-top").seams, named))
    told = judge(before, "plausible")
    assert [f.code for f in told if f.place == "ruffle-edge"] == ["chain-turned"]


def test_a_message_says_the_step_once() -> None:
    with pytest.raises(SizewrightError) as caught:
        ruffle(for_="front:waist", depth="12 cm", ratio="99")
    assert str(caught.value).startswith('ruffle: "99" is no ratio')


def test_a_ring_too_tight_to_sew_raises_an_eyebrow() -> None:
    made = ruffle(length="30 cm", depth="10 cm", shape="circle", circles=20)
    assert "ruffle-tight" in {f.code for f in made.findings}
