"""Sizes and blends out of a nest that is drawn already, without rules."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sizewright.errors import InputError, LookupFailed, UsageError
from sizewright.geometry import Path, affine
from sizewright.grading import (
    Asked,
    Graded,
    grade,
    nest_sizes,
    read_chart,
    size_from_nest,
)
from sizewright.model import Outline, Pattern, Piece, match_seam
from sizewright.shipped import shipped
from tests.operations import drawn, nest, steps

SUPPER = drawn("supper-top")
MISSES = read_chart(shipped("grade_tables/misses-1967.csv"))
STEPS = steps("supper-top")
NEST = nest("supper-top", "14", "10", "12")


def blend(size: str, pattern: Pattern = NEST, **at: str) -> Graded:
    return size_from_nest(pattern, size, Asked(at=at))


def level_with_darts_closed(piece: Piece, point: str) -> np.ndarray:
    """A point of one side, less what the upright darts between it and the fold take up."""
    x, y = piece.outline.vertex_at(piece.outline.vertex(point))
    ends = [[piece.outline.vertex_at(v) for v in (d.a, d.b)] for d in piece.darts]
    taken = sum(abs(b - a)[0] for a, b in ends if abs(b - a)[0] > abs(b - a)[1] and b[1] < y + 50)
    return np.array([float(np.abs(piece.outline.path.vertices[:, 0] - x).max()) - taken, y])


def test_sizes_are_put_in_order() -> None:
    assert nest_sizes(NEST) == ("10", "12", "14")
    lettered = NEST.replacing(
        lambda p: replace(p, size={"10": "S", "12": "M", "14": "L"}[p.size or ""])
    )
    assert nest_sizes(lettered) == ("S", "M", "L")
    with pytest.raises(UsageError, match="no nest of sizes"):
        nest_sizes(SUPPER)


@pytest.mark.parametrize("size", ["10", "12", "14"])
def test_a_drawn_size_comes_out_as_it_was_drawn(size: str) -> None:
    out = blend(size).pattern
    assert out.pieces == tuple(p for p in NEST.pieces if p.size == size)


def test_between_two_sizes_every_control_point_is_half_way() -> None:
    out = blend("13")
    for piece in out.pattern.pieces:
        a, b = (NEST.piece(piece.name, s).outline.path for s in ("12", "14"))
        np.testing.assert_allclose(
            piece.outline.path.vertices, (a.vertices + b.vertices) / 2, atol=2e-4
        )  # the legs of darts are evened afterwards
    assert [f.code for f in out.findings if f.code == "between-sizes"] == ["between-sizes"]


def test_a_blend_has_each_level_on_its_own_line_and_seams_that_match() -> None:
    out = blend("10", waist="14").pattern
    assert out.sizes == ("10-waist-14",)
    for name, point, size in [
        ("front", "side-waist", "14"),
        ("back", "side-waist", "14"),
        ("front", "underarm", "10"),
        ("back", "shoulder-tip", "10"),
    ]:
        lines = [out.piece(name), NEST.piece(name, size)]
        if "waist" in point:  # darts share what the sides differ by; closed, it is the drawn line
            ends = [level_with_darts_closed(piece, point) for piece in lines]
        else:
            ends = [p.outline.vertex_at(p.outline.vertex(point)) for p in lines]
        np.testing.assert_allclose(*ends, atol=0.02 if "waist" in point else 1e-9)
    for seam in out.seams:
        match = match_seam(out, seam)
        # Half of the careful workroom's tolerance of 1/16 in (Threads 200, 2018/19).
        assert abs(match.surplus - match.wanted) < 0.8, seam.name


def test_smooth_points_stay_smooth_where_handles_differ_in_length() -> None:
    def leaf(tip: float, reach: float, turn: float) -> Outline:
        along = np.array([np.cos(turn), np.sin(turn)])
        middle = np.array([tip, 200.0])
        return Outline.of(
            Path.of(
                [
                    [[0, 0], [tip, 0]],
                    [[tip, 0], [tip + 20, 90], middle - reach * along[::-1], middle],
                    [middle, middle + 40 * along[::-1], [tip - 30, 390], [0, 400]],
                    [[0, 400], [0, 0]],
                ],
                closed=True,
            )
        )

    base = NEST.piece("facing-front", "12")
    sizes = [("10", leaf(100, 30, 0.3)), ("12", leaf(120, 90, -0.2))]
    made = [
        replace(base, name="leaf", size=s, outline=o, fold=None, notches=(), base=None)
        for s, o in sizes
    ]
    piece = blend("11", Pattern(tuple(made))).pattern.pieces[0]
    v = 2
    assert abs(float(piece.outline.path.turns[v])) < 1e-6


def test_a_slight_bend_drawn_in_every_size_stays() -> None:
    def side(out: float) -> Outline:
        hip = [out, 200.0]
        return Outline.of(
            Path.of(
                [
                    [[0, 0], [out + 16, 0]],
                    [[out + 16, 0], hip],
                    [hip, [out - 1, 260], [out - 20, 350], [out - 40, 400]],
                    [[out - 40, 400], [0, 400]],
                    [[0, 400], [0, 0]],
                ],
                closed=True,
            )
        )

    base = NEST.piece("facing-front", "12")
    made = [
        replace(base, name="side", size=s, outline=side(out), fold=None, notches=(), base=None)
        for s, out in (("10", 200.0), ("12", 210.0))
    ]
    piece = blend("11", Pattern(tuple(made))).pattern.pieces[0]
    # All is drawn in even steps, so half-way between is the same line drawn for 205 mm.
    np.testing.assert_allclose(piece.outline.path.controls, side(205.0).path.controls, atol=1e-9)


def test_what_does_not_correspond_is_refused_with_what_differs() -> None:
    front = NEST.piece("front", "12")
    split, _ = front.with_vertex(50.0)
    other = Pattern(tuple(split if p is front else p for p in NEST.pieces))
    with pytest.raises(InputError, match=r"front: sizes 10 and 12 do not correspond.* points, the"):
        blend("12", other, waist="14")
    fewer = Pattern(tuple(p for p in NEST.pieces if p is not front))
    with pytest.raises(InputError, match="front: the piece is not there in size 12"):
        blend("12", fewer)
    apart = NEST.replacing(
        lambda p: p.transformed(affine.translation(3000, 0)) if p.size == "12" else p
    )
    with pytest.raises(InputError, match="drawn apart"):
        blend("12", apart)
    renamed = front.outline.with_point(front.outline.vertex("underarm"), name="armpit")
    odd = Pattern(tuple(replace(front, outline=renamed) if p is front else p for p in NEST.pieces))
    with pytest.raises(InputError, match="points of other names"):
        blend("12", odd)


def test_other_refusals() -> None:
    with pytest.raises(LookupFailed, match="no piece has a point"):
        blend("12", knee="14")
    with pytest.raises(UsageError, match="beyond"):
        blend("18")
    with pytest.raises(UsageError, match="need the size chart"):
        size_from_nest(NEST, "12", Asked({"bust": 900.0}))
    with pytest.raises(UsageError, match="is size 16, beyond the drawn 10 to 14"):
        size_from_nest(NEST, None, Asked({"bust": 38 * 25.4}), MISSES)
    with pytest.raises(LookupFailed, match='no measure "chest"'):
        size_from_nest(NEST, "12", Asked({"chest": 900.0}), MISSES)
    with pytest.raises(UsageError, match="is a size of the nest"):
        size_from_nest(NEST, "12", Asked(at={"waist": "14"}, label="10"))


def test_a_body_takes_the_nearest_lines_at_each_level() -> None:
    # Bust 35 in is half-way from 12 to 14, waist 28 in is 14 (misses' sizes of 1967).
    out = size_from_nest(NEST, None, Asked({"bust": 35 * 25.4, "waist": 28 * 25.4}), MISSES)
    assert out.pattern.sizes == ("body",)
    for point, low, high in [("underarm", "12", "14"), ("side-waist", "14", "14")]:
        fronts = (NEST.piece("front", low), NEST.piece("front", high), out.pattern.piece("front"))
        if "waist" in point:
            a, b, here = (level_with_darts_closed(piece, point) for piece in fronts)
        else:
            a, b, here = (p.outline.vertex_at(p.outline.vertex(point)) for p in fronts)
        np.testing.assert_allclose(here, (a + b) / 2, atol=0.02)  # legs are evened
    (note,) = [f for f in out.findings if f.code == "size-by-measure"]
    assert "is size 13" in note.text
    said = size_from_nest(NEST, "12", Asked({"waist": 711.2, "wrist": 150.0}), MISSES)
    assert "measures-not-in-chart" in {f.code for f in said.findings}


def test_darts_of_a_nest_share_with_the_sides_as_they_do_by_rules() -> None:
    """A pear's skirt and trousers: what the hip adds goes into side and darts as it was drawn."""
    asked = Asked(at={"hip": "16"}, label="own")
    by_nest = size_from_nest(nest("basic-set", "12", "14", "16"), "12", asked)
    ruled = grade(drawn("basic-set"), steps("basic-set"), ["12"], asked=asked)
    told = [{f.piece for f in g.findings if f.code == "dart-shared"} for g in (by_nest, ruled)]
    assert told[0] == told[1] != set()
    for name in told[0]:
        base = drawn("basic-set").piece(name)
        own, other = (g.pattern.piece(name, "own") for g in (by_nest, ruled))
        for dart, was in zip(own.darts, base.darts, strict=True):
            mouth, before = (
                float(np.hypot(*(p.outline.vertex_at(d.b) - p.outline.vertex_at(d.a))))
                for p, d in ((own, dart), (base, was))
            )
            assert mouth > before + 1.0
            legs = [
                float(np.hypot(*(own.outline.vertex_at(v) - own.outline.vertex_at(dart.tip))))
                for v in (dart.a, dart.b)
            ]
            assert legs[0] == pytest.approx(legs[1], abs=0.01)
        # A vertex lies where the rules have it, but for how the size runs between two levels.
        ends = [p.outline.path.vertices[p.outline.vertex("side-waist")] for p in (own, other)]
        np.testing.assert_allclose(*ends, atol=0.3)
        lengths = [p.sewn_length(p.run("waist")) for p in (own, base)]
        assert lengths[0] == pytest.approx(lengths[1], abs=0.7)
    for seam in by_nest.pattern.seams:
        if seam.name.endswith("-side"):
            assert abs(match_seam(by_nest.pattern, seam, "own").off) < 0.8
