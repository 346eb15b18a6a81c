"""Mixtures of rules as numbered rules of a rule table file."""

from __future__ import annotations

import numpy as np

from sizewright.geometry import affine
from sizewright.grading import grade_map, read_rules, with_rule_weights
from sizewright.jobs.rule_files import numbered
from sizewright.model import Pattern
from tests.grading.cutting import part_of
from tests.grading.outlines import bodice_half

RULES = """rule,axis,unit,10,12,14
hem-centre,length,mm,,-2,-3
hem-side,width,mm,,4,5
hem-side,length,mm,,-2,-3
waist,width,mm,,6,7
underarm,width,mm,,8,9
underarm,length,mm,,3,2
shoulder,width,mm,,2,3
shoulder,length,mm,,5,6
neck,x,mm,,5,6
neck,y,mm,,-1,-2
neck-centre,length,mm,,4,5
"""


def test_a_numbered_mixture_moves_its_point_as_the_map_does() -> None:
    """Cut through the armhole and the fold; facing both ways on the page."""
    table = read_rules(RULES)
    for m in (affine.identity(), affine.affine(-1, 0, 0, 1, 0, 0)):
        half = bodice_half().transformed(m)
        (half,) = with_rule_weights(Pattern((half,))).pieces
        fold = half.fold
        assert fold is not None
        start = half.outline.vertex("underarm" if m[0, 0] > 0 else "shoulder")
        cut = ((start, 0.4), (fold.start, 0.6))
        part = part_of(half, cut)
        assert part is not None
        made, file, findings = numbered(Pattern((part,), "10"), table)
        assert "rules-numbered" in {f.code for f in findings}
        one = grade_map(part)
        for k, size in enumerate(("10", "12", "14")):
            growth = table.growth("10", size)
            moves = one.moves(one.amounts(growth))[: one.outline_rows : 3]
            for point in made.pieces[0].outline.points:
                assert point.rule is not None
                x, y = file.rules[point.rule][k]
                up, left = one.frame.up, np.array([-one.frame.up[1], one.frame.up[0]])
                assert np.abs(moves[point.vertex] - x * up - y * left).max() <= 1e-9
