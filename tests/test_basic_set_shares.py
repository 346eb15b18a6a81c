"""The shares of the basic set: bodies that no column holds, from petite to tall.

Body figures of this test are invented; what the seams must do is measured on the graded pieces.
"""

from __future__ import annotations

import numpy as np
import pytest

from sizewright.formats import read_svg
from sizewright.grading import Asked, grade, read_chart, read_rules
from sizewright.model import Pattern, match_seam
from sizewright.shipped import shipped

PATTERN = read_svg(shipped("examples/basic-set/basic-set.svg")).pattern
SHARES = read_rules(shipped("grade_tables/basic-set-shares.csv"))
STEPS = read_rules(shipped("grade_tables/basic-set-steps.csv"))
CHART = read_chart(shipped("grade_tables/misses-1967-body.csv"))
SIZED = read_chart(shipped("grade_tables/misses-1967.csv"))
#: What each body has more than size 12, mm.
BODIES = {
    "petite": ("8", {"back-waist-length": -25, "arm-length": -45, "scye-depth": -9, "rise": -15}),
    "tall": ("14", {"back-waist-length": 35, "arm-length": 60, "scye-depth": 12, "rise": 20}),
    "pear": ("12", {"hip": 80, "waist": 20}),
    "strong arm": ("12", {"upper-arm": 20}),
    "slight arm": ("12", {"upper-arm": -20}),
    "full bust": ("12", {"bust": 50}),
}
#: Seams of these bodies are that true, mm: the workroom's tolerance of 1/16 in (Threads 200).
TRUE = 1.6


def body(size: str, more: dict[str, int]) -> dict[str, float]:
    return {m: CHART.value(m, size) + more.get(m, 0) for m in CHART.measures}


def made(measures: dict[str, float]) -> Pattern:
    asked = Asked(measures=measures, label="own")
    return grade(PATTERN, SHARES, ["12"], chart=CHART, asked=asked, allow_far=True).pattern


def half_girth(pattern: Pattern, size: str, point: str, pieces: tuple[str, ...]) -> float:
    """The widths of pieces from their centre to a point, together."""
    total = 0.0
    for name in pieces:
        piece = pattern.piece(name, size)
        x = piece.outline.vertex_at(piece.outline.vertex(point))[0]
        total += abs(x - piece.outline.vertex_at(piece.outline.vertex("waist-centre"))[0])
    return total


@pytest.mark.parametrize("name", BODIES)
def test_seams_are_true_for_bodies_that_no_column_holds(name: str) -> None:
    pattern = made(body(*BODIES[name]))
    for seam in pattern.seams:
        match = match_seam(pattern, seam, "own")
        assert abs(match.surplus - match.wanted) < TRUE, seam.name


@pytest.mark.parametrize("name", BODIES)
def test_bust_and_hip_grow_as_the_body_does(name: str) -> None:
    measures = body(*BODIES[name])
    pattern = made(measures)
    for measure, point, pieces in [
        ("bust", "underarm", ("front", "back")),
        ("hip", "side-hip", ("skirt-front", "skirt-back")),
    ]:
        grown = half_girth(pattern, "own", point, pieces) - half_girth(PATTERN, "12", point, pieces)
        assert 2 * grown == pytest.approx(measures[measure] - CHART.value(measure, "12"), abs=0.02)


def test_a_full_bust_leaves_neck_and_shoulder() -> None:
    pattern = made(body("12", {"bust": 50}))
    for name in ("front", "back"):
        new, old = pattern.piece(name, "own"), PATTERN.piece(name)
        for point in ("neck-side", "neck-centre", "shoulder-tip"):
            moved = new.outline.vertex_at(new.outline.vertex(point)) - old.outline.vertex_at(
                old.outline.vertex(point)
            )
            assert np.hypot(*moved) < 1e-9, (name, point)


def test_the_chart_holds_the_sizes_that_the_steps_were_made_for() -> None:
    assert CHART.sizes == SIZED.sizes
    for measure in SIZED.measures:
        np.testing.assert_allclose(CHART.values[measure], SIZED.values[measure], atol=1e-9)


@pytest.mark.parametrize("size", ["10", "14"])
def test_shares_and_steps_agree_on_a_size(size: str) -> None:
    own = made(body(size, {}))
    plain = grade(PATTERN, STEPS, [size]).pattern
    # The sleeve's steps take a larger step of the upper arm from 12 to 14, and a lower cap with it.
    for piece in ("front", "back", "skirt-front", "trousers-back"):
        a, b = own.piece(piece, "own"), plain.piece(piece, size)
        # Chosen shares (neck, hip line) differ a little from the steps.
        away = np.hypot(*(a.outline.path.vertices - b.outline.path.vertices).T).max()
        assert away < 5.5, piece
