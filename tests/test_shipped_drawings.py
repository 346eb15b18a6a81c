"""What holds of the basic set and the supper top alike, as drawn and in all their sizes.

The drawings are measured twice: as the program reads them, and straight from their XML with
svgelements, scipy and shapely.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from sizewright.grading import grade
from sizewright.shipped import shipped
from tests import drawn as xml
from tests.operations import drawn, nest, steps

IN = 25.4
#: How far the pieces of each lie apart at least, mm.
APART = {"basic-set": 10, "supper-top": 20}
both = pytest.mark.parametrize("garment", APART)


@both
def test_each_outline_is_simple_and_measured_alike_without_the_program(garment: str) -> None:
    for piece in drawn(garment).pieces:
        segments = xml.drawn(shipped(f"examples/{garment}/{garment}.svg"), piece.name)
        ring = xml.flattened(segments, 400)
        assert ring.is_valid, piece.name
        assert ring.exterior.is_simple, piece.name
        assert piece.outline.path.area == pytest.approx(ring.area, rel=2e-6), piece.name
        assert piece.outline.path.length == pytest.approx(xml.length(*segments), abs=1e-6)


@both
def test_pieces_do_not_lie_on_one_another(garment: str) -> None:
    boxes = [shapely.box(*piece.bounds) for piece in drawn(garment).pieces]
    for k, one in enumerate(boxes):
        assert all(one.distance(other) > APART[garment] for other in boxes[:k])


@both
def test_front_darts_point_at_the_bust_and_stop_an_inch_before_it(garment: str) -> None:
    """1 in short of the bust point is the guideline of NIMI's dressmaking theory, p.199."""
    front = drawn(garment).piece("front")
    (bust,) = (np.array(d.at) for d in front.drills if d.name in (None, "bust-point"))
    for dart in front.darts:
        a, b = (front.outline.vertex_at(v) for v in (dart.a, dart.b))
        axis = (a + b) / 2 - dart.apex
        axis = axis / np.hypot(*axis)
        step = np.array(dart.apex) - bust
        assert abs(step[0] * axis[1] - step[1] * axis[0]) < 0.01
        assert step @ axis == pytest.approx(IN, abs=0.01)


@both
def test_grading_finds_nothing_to_warn_of(garment: str) -> None:
    graded = grade(drawn(garment), steps(garment), ("8", "10", "12", "14", "16"))
    assert {f.code for f in graded.findings} <= {"nest-crosses"}
    assert {f.level for f in graded.findings} <= {"note"}
    assert graded.pattern.sizes == ("8", "10", "12", "14", "16")


@both
def test_the_base_size_comes_back_as_it_was(garment: str) -> None:
    for piece in drawn(garment).pieces:
        assert nest(garment).piece(piece.name, "12") == piece
