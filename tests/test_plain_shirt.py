"""The plain shirt: seams true in every size, room as told, steps against published growth.

Regressions are those of ANSUR II on the chest, men (public data, recomputed): slopes in mm for each
mm of chest. Charts are recalled from memory (see the charts themselves).
"""

from __future__ import annotations

import numpy as np
import pytest

from sizewright.formats import read_svg
from sizewright.grading import grade, read_chart, read_rules
from sizewright.model import Pattern, match_seam
from sizewright.shipped import shipped

from .drawn import length

SHIRTS = {
    "men": ("plain-shirt", "en13402-men", 160.0),
    "children": ("child-shirt", "children-height", 140.0),
}
NECK_BASE, WAIST_BACK, WRIST, SPINE_TO_WRIST = 0.2200, 0.1580, 0.0620, 0.2145


def nest(who: str) -> Pattern:
    pattern = read_svg(shipped(f"examples/plain-shirt/{SHIRTS[who][0]}.svg")).pattern
    rules = read_rules(shipped(f"grade_tables/plain-shirt-{who}-steps.csv"))
    return grade(pattern, rules, rules.sizes).pattern


@pytest.mark.parametrize("who", SHIRTS)
def test_the_drawing_is_read_whole(who: str) -> None:
    assert not read_svg(shipped(f"examples/plain-shirt/{SHIRTS[who][0]}.svg")).findings


@pytest.mark.parametrize("who", SHIRTS)
def test_seams_are_true_and_the_room_is_the_same_in_every_size(who: str) -> None:
    pattern, (_, chart_name, room) = nest(who), SHIRTS[who]
    chart = read_chart(shipped(f"grade_tables/{chart_name}.csv"))
    for size in pattern.sizes:
        for seam in pattern.seams:
            match = match_seam(pattern, seam, size)
            assert abs(match.surplus - match.wanted) < 0.01, (size, seam.name)
        wide = sum(
            np.ptp(pattern.piece(n, size).outline.path.vertices[:, 0]) for n in ("front", "back")
        )
        assert 2 * wide - chart.value("chest", size) == pytest.approx(room, abs=0.01), size


def test_mens_steps_grow_as_the_survey_says() -> None:
    pattern = nest("men")

    def neck(size: str) -> float:
        halves = [pattern.piece(name, size).outline.path for name in ("front", "back")]
        return 2 * sum(length(p.controls[k]) for p in halves for k in np.flatnonzero(~p.lines))

    def point(piece: str, name: str, size: str) -> np.ndarray:
        outline = pattern.piece(piece, size).outline
        return np.array(outline.vertex_at(outline.vertex(name)))

    more = 40.0  # chest, from 100 to 104
    assert neck("104") - neck("100") == pytest.approx(NECK_BASE * more, abs=0.5)
    waists = [
        point("back", "neck-side", s)[1] - point("back", "side-waist", s)[1] for s in ("100", "104")
    ]
    assert waists[1] - waists[0] == pytest.approx(WAIST_BACK * more, abs=0.5)
    wrists = [
        point("sleeve", "hem-front", s)[0] - point("sleeve", "hem-back", s)[0]
        for s in ("100", "104")
    ]
    assert wrists[1] - wrists[0] == pytest.approx(WRIST * more, abs=0.5)
    arms = [
        abs(point("back", "shoulder-tip", s)[0] - point("back", "neck-centre", s)[0])
        + abs(point("sleeve", "cap-top", s)[1] - point("sleeve", "hem-front", s)[1])
        for s in ("100", "104")
    ]
    assert arms[1] - arms[0] == pytest.approx(SPINE_TO_WRIST * more, abs=2.0)


def test_a_childs_lengths_keep_their_share_of_the_height() -> None:
    pattern = nest("children")
    for size in pattern.sizes:
        piece = pattern.piece("front", size)
        top, hem = (
            piece.outline.vertex_at(piece.outline.vertex(n))[1] for n in ("neck-side", "hem-side")
        )
        assert (top - hem) / float(size) == pytest.approx(480 / 122, rel=1e-3), size
