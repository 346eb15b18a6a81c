"""Allowance named by edge or corner lies alike in every size of a piece that was opened."""

from __future__ import annotations

import shapely

from sizewright.geometry import flatten
from sizewright.grading import grade, read_rules
from sizewright.model import Pattern, Piece
from tests.drafting.test_structure import RULES, opened, skirt
from tests.operations import do


def allowed(pattern: Pattern, **given: object) -> Pattern:
    return do(pattern, "seam-allowance", **given).pattern


def below(piece: Piece, x: float) -> float:
    """How far the cutting line lies below the hem at `x`, by shapely."""
    assert piece.cut_line is not None
    reach = shapely.LineString([(x, -500), (x, 300)])
    lines = [shapely.Polygon(flatten(o.path, 0.001)) for o in (piece.outline, piece.cut_line)]
    sewn, cut = (reach.intersection(one).bounds[1] for one in lines)
    return float(sewn - cut)


def test_the_whole_hem_has_its_width_in_every_size() -> None:
    graded = grade(Pattern((skirt(),), "12"), read_rules(RULES), ["8", "10", "12", "14"]).pattern
    whole = opened(graded)
    for pattern in (
        allowed(whole, width="10 mm", widths={"skirt:hem": "40 mm"}),
        # Made before grading and opening, the line follows.
        opened(allowed(graded, width="10 mm", widths={"skirt:hem": "40 mm"})),
    ):
        for piece in pattern.pieces:
            for x in (-200.0, -20.0, 20.0, 200.0):
                assert abs(below(piece, x) - 40.0) < 0.05, (piece.title, x)
