"""Seam allowance: true widths, corners of every kind, darts, folds, refusals."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from sizewright.errors import GeometryError, InputError, LookupFailed, UsageError
from sizewright.geometry import Path, affine, ellipse, flatten, nearest, self_crossings
from sizewright.model import Dart, Fold, Outline, Pattern, Piece, Point, Run, parse_seams
from tests.plugins.allowances import allow, allowed
from tests.shapes import bodice, rectangle


def plain(path: Path, **more: object) -> Piece:
    return Piece("piece", Outline.of(path), kind="sew", **more)  # type: ignore[arg-type]


def corners_of(piece: Piece) -> set[tuple[float, float]]:
    assert piece.cut_line is not None
    places = piece.cut_line.path.vertices[list(piece.cut_line.corners)]
    return {(round(float(x), 6), round(float(y), 6)) for x, y in places}


def cut(piece: Piece) -> Path:
    assert piece.cut_line is not None
    return piece.cut_line.path


# --- widths -----------------------------------------------------------------------


def test_both_lines_are_kept_and_the_old_piece_is_untouched() -> None:
    before = plain(rectangle())
    after = allowed(before, width="1 cm")
    assert before.cut_line is None
    assert after.outline == before.outline
    assert after.kind == "sew"
    assert after.drawn_kind == "cut"
    assert corners_of(after) == {(-10, -10), (210, -10), (210, 110), (-10, 110)}
    assert "1 cm" in after.story[-1]


def test_each_edge_has_its_own_width() -> None:
    after = allowed(
        plain(rectangle()), widths={"piece:#1": "3 cm", "piece:#2": "5/8 in", "piece:#3": 0}
    )
    assert corners_of(after) == {(-15, -30), (215.875, -30), (215.875, 100), (-15, 100)}


def test_the_narrower_saying_wins_whatever_the_order() -> None:
    named = dataclasses.replace(
        plain(rectangle()), outline=Outline.of(rectangle()).with_run(Run(0, 1, "hem"))
    )
    for widths in (
        {"piece:hem": "4 cm", "hem": "3 cm", "piece": "1 cm"},
        {"piece": "1 cm", "hem": "3 cm", "piece:hem": "4 cm"},
    ):
        assert corners_of(allowed(named, widths=widths)) == {
            (-10, -40),
            (210, -40),
            (210, 110),
            (-10, 110),
        }


def test_the_fold_has_none_and_the_cutting_line_runs_straight_through() -> None:
    after = allowed(plain(rectangle(), fold=Fold(3, 0)), width="1 cm")
    assert corners_of(after) == {(0, -10), (210, -10), (210, 110), (0, 110)}
    assert len(cut(after)) == 4
    with pytest.raises(InputError, match="fold"):
        allowed(plain(rectangle(), fold=Fold(3, 0)), widths={"piece:#4": "1 cm"})


def test_a_width_steps_where_a_run_ends_in_the_middle_of_an_edge() -> None:
    piece, _ = plain(rectangle()).with_vertex(120.0, name="stop")
    start = piece.outline.path.vertices[0]
    assert tuple(start) == (0, 0)
    piece = piece.with_changes(outline=piece.outline.with_run(Run(0, 1, "zip")))
    after = allowed(piece, width="1 cm", widths={"zip": "2 cm"})
    assert {(120, -20), (120, -10)} <= corners_of(after)
    assert cut(after).area == pytest.approx(220 * 120 + 130 * 10)


def test_a_width_changes_evenly_between_two_places() -> None:
    piece = dataclasses.replace(
        plain(rectangle()),
        outline=Outline.of(rectangle(), points=[Point(0, "left"), Point(1, "right")]),
    )
    for text in (
        "piece: 3 cm at left to 1 cm at right",
        "piece: 1 cm at right to 3 cm at left",
    ):
        after = allowed(piece, width="1 cm", changing=[text])
        # The line itself is straight from 30 mm to 10 mm off.
        s = np.linspace(5, 195, 20)
        foot = nearest(cut(after), np.stack([s, -30 + 0.1 * s], axis=1))
        assert foot.distance.max() < 1e-6
    part = allowed(
        piece, width="1 cm", changing=["piece: 1 cm at 1/4 along #1 to 2 cm at 3/4 along #1"]
    )
    assert cut(part).area == pytest.approx(220 * 120 + 100 * 5)
    with pytest.raises(InputError, match="front: 3 cm at hem-side"):
        allowed(piece, changing=["piece 3 cm to 4 cm"])


@given(st.floats(30, 400), st.floats(30, 400), st.floats(1, 40), st.floats(0, 360))
def test_rings_and_rectangles_are_exact(a: float, b: float, w: float, turn: float) -> None:
    box = rectangle(a, b).transformed(affine.rotation(turn))
    after = allowed(plain(box), width=f"{w} mm")
    assert cut(after).area == pytest.approx((a + 2 * w) * (b + 2 * w), rel=1e-9)
    disc = allowed(plain(ellipse(0, 0, a, a)), width=f"{w} mm")
    radius = np.hypot(*flatten(cut(disc), 0.001).T)
    # The ellipse itself is cubics: within 3e-4 of its radius by sources of geometry.
    assert np.abs(radius - a - w).max() < 0.02 + 3e-4 * a


def random_bag(seed: int) -> Path:
    """A closed outline of two straight sides and two curves, smooth enough for 20 mm inside."""
    rng = np.random.default_rng(seed)
    w, h = rng.uniform(150, 350, 2)
    k = rng.uniform(0.2, 0.45, 4)
    dip = rng.uniform(-0.12, 0.25, 2) * h
    return Path.of(
        [
            [(0, 0), (w * k[0], -dip[0]), (w * (1 - k[1]), -dip[0]), (w, 0)],
            [(w, 0), (w * 1.05, h)],
            [(w * 1.05, h), (w * (1 - k[2]), h + dip[1]), (w * k[3], h + dip[1]), (-0.05 * w, h)],
            [(-0.05 * w, h), (0, 0)],
        ],
        closed=True,
    )


def off_parallel(piece: Piece, width: float) -> float:
    """Greatest miss of the cutting line from the width, mm, away from its corners."""
    line = cut(piece)
    s = np.linspace(0, line.length, 1500, endpoint=False)
    points = line.at(s)
    foot = nearest(piece.outline.path, points)
    at_corner = [float(piece.outline.path.cumulative[v]) for v in piece.outline.corners]
    total = piece.outline.path.length
    from_corner = np.min(
        [np.minimum(np.abs(foot.s - c), total - np.abs(foot.s - c)) for c in at_corner], axis=0
    )
    return float(np.abs(foot.distance - width)[from_corner > 1e-3].max())


@given(st.integers(0, 10_000), st.sampled_from([6.0, 10.0, 15.0, 20.0]))
def test_curves_are_truly_parallel(seed: int, width: float) -> None:
    piece = plain(random_bag(seed))
    after = allowed(piece, width=f"{width} mm")
    assert off_parallel(after, width) <= 0.02
    assert len(cut(after)) <= 3 * len(piece.outline.path) + 8
    assert not self_crossings(cut(after))


def test_an_armhole_and_a_neckline_are_truly_parallel() -> None:
    after = allowed(bodice(), width="1.5 cm")
    line = cut(after)
    points = line.at(np.linspace(0, line.length, 3000))
    for name in ("armhole", "neck"):
        run = after.outline.run_path(after.outline.run(name))
        foot = nearest(run, points)
        along = (foot.s > 2) & (foot.s < run.length - 2) & (foot.distance < 20)
        assert along.sum() > 100
        assert np.abs(foot.distance[along] - 15).max() < 0.02


# --- corners ----------------------------------------------------------------------

TRIANGLE = Path.polyline([(0, 0), (300, 0), (0, 60)], closed=True)


def test_a_mitre_is_cut_off_at_its_limit() -> None:
    piece = plain(TRIANGLE)
    sharp = np.array([300.0, 0.0])
    for limit in (2, 4):
        after = allowed(piece, width="1 cm", mitre_limit=limit)
        far = np.hypot(*(flatten(cut(after), 0.01) - sharp).T)
        near = far[far < 60]
        # Cut square to the bisector: no point of it is farther along than the limit.
        way = np.array([1.0, 0.0]) - (np.array([-300, 60]) / np.hypot(300, 60))
        beyond = (flatten(cut(after), 0.01) - sharp) @ (way / np.hypot(*way))
        assert beyond.max() == pytest.approx(10 * limit, abs=1e-6)
        assert near.size
    whole = allowed(piece, width="1 cm", mitre_limit=20)
    assert len(whole.cut_line.corners) == 3  # type: ignore[union-attr]


def test_a_bevel_goes_straight_across() -> None:
    after = allowed(plain(rectangle()), width="1 cm", corners="bevel")
    assert cut(after).area == pytest.approx(220 * 120 - 4 * 50)


def slanted() -> Piece:
    """A piece whose side leans out by 100 over 100, with a hem below."""
    path = Path.polyline([(0, 0), (200, 0), (300, 100), (0, 100)], closed=True)
    outline = Outline.of(
        path, points=[Point(1, "hem-side")], runs=[Run(0, 1, "hem"), Run(1, 2, "side")]
    )
    return Piece("piece", outline, kind="sew")


def test_a_squared_corner_ends_at_right_angles_to_the_seam_sewn_first() -> None:
    piece = slanted()
    side_first = Pattern((piece,), seams=parse_seams("side: piece:side = piece:side"))
    after = allow(side_first, width="1 cm", corner_kinds={"hem-side": "square"}).pattern.pieces[0]
    # The side carried on below the hem meets the hem's cutting line at y = -10, and the
    # end goes square out from there.
    foot = np.array([190.0, -10.0])
    out = foot + 10 * np.array([1, -1]) / np.sqrt(2)
    assert {tuple(np.round(foot, 6)), tuple(np.round(out, 6))} <= corners_of(after)
    hem_first = Pattern((piece,), seams=parse_seams("hem: piece:hem = piece:hem"))
    other = allow(hem_first, width="1 cm", corner_kinds={"hem-side": "square"}).pattern.pieces[0]
    x = 200 + 10 * np.sqrt(2)
    assert {(round(x, 6), 0.0), (round(x, 6), -10.0)} <= corners_of(other)


@given(st.floats(-80, 120), st.floats(10, 50), st.floats(5, 25))
def test_a_folded_hem_lies_on_the_edge_of_the_piece(lean: float, hem: float, side: float) -> None:
    path = Path.polyline([(0, 0), (200, 0), (200 + lean, 200), (0, 200)], closed=True)
    outline = Outline.of(path, points=[Point(1, "hem-side")], runs=[Run(0, 1, "hem")])
    piece = Piece("piece", outline, kind="sew")
    after = allowed(
        piece,
        width=f"{side} mm",
        widths={"hem": f"{hem + side} mm"},
        corner_kinds={"hem-side": "fold-back"},
    )
    shape = shapely.Polygon(flatten(cut(after), 0.001))
    assert shape.is_valid
    right = shapely.box(100, -500, 900, 500)
    below = shape.intersection(shapely.box(-500, -500, 900, 0)).intersection(right)
    above = shape.intersection(shapely.box(-500, 0, 900, hem + side)).intersection(right)
    folded = shapely.affinity.scale(below, 1, -1, origin=(0, 0))
    assert folded.symmetric_difference(above).area < 1e-3


def test_a_curved_side_is_mirrored_across_the_hem() -> None:
    path = Path.of(
        [
            [(0, 0), (200, 0)],
            [(200, 0), (210, 60), (240, 120), (240, 200)],
            [(240, 200), (0, 200)],
            [(0, 200), (0, 0)],
        ],
        closed=True,
    )
    outline = Outline.of(path, points=[Point(1, "hem-side")], runs=[Run(0, 1, "hem")])
    after = allowed(
        Piece("piece", outline, kind="sew"),
        width="1 cm",
        widths={"hem": "4 cm"},
        corner_kinds={"hem-side": "fold-back"},
    )
    shape = shapely.Polygon(flatten(cut(after), 0.001))
    right = shapely.box(100, -500, 900, 500)
    below = shape.intersection(shapely.box(-500, -500, 900, 0)).intersection(right)
    above = shape.intersection(shapely.box(-500, 0, 900, 40)).intersection(right)
    folded = shapely.affinity.scale(below, 1, -1, origin=(0, 0))
    assert folded.symmetric_difference(above).area < 1.0
    # The mirrored end stays a curve.
    assert (~cut(after).lines).sum() >= 2


def test_hollow_corners_are_cut_at_their_crossing() -> None:
    ell = Path.polyline(
        [(0, 0), (200, 0), (200, 100), (100, 100), (100, 200), (0, 200)], closed=True
    )
    after = allowed(plain(ell), width="1 cm")
    assert (110, 110) in corners_of(after)
    assert cut(after).area == pytest.approx(220 * 120 + 120 * 100)


def test_a_nick_narrower_than_the_allowance_is_swallowed() -> None:
    nicked = Path.polyline(
        [(0, 0), (200, 0), (200, 100), (104, 100), (104, 95), (96, 95), (96, 100), (0, 100)],
        closed=True,
    )
    after = allowed(plain(nicked), width="1 cm")
    shape = shapely.Polygon(flatten(cut(after), 0.01))
    assert shape.is_valid
    assert shape.area == pytest.approx(220 * 120, rel=0.01)
    assert shape.contains(shapely.Polygon(flatten(nicked, 0.01)))


# --- darts ------------------------------------------------------------------------


def test_the_cutting_line_caps_a_dart_instead_of_running_into_it() -> None:
    after = allowed(bodice(), width="1.5 cm")
    shape = shapely.Polygon(flatten(cut(after), 0.01))
    assert shape.is_valid
    mouth = shapely.Polygon([(90, 0), (120, 0), (105, 140)])
    assert shape.contains(mouth)
    # At the legs the allowance is as wide as beside them.
    for x, tolerance in ((80.0, 1e-6), (90.0, 0.1)):
        off = nearest(cut(after), np.array([[x, 0.0]])).distance[0]
        assert off == pytest.approx(15, abs=tolerance)


def test_pressed_to_the_centre_the_cap_lies_within_the_allowance() -> None:
    """Fold the paper as the dart is pressed and compare edges with shapely."""
    piece = bodice()
    straight = Path.polyline(
        [(0, 0), (90, 0), (105, 140), (120, 0), (240, 0), (240, 300), (0, 300)], closed=True
    )
    piece = dataclasses.replace(
        piece, outline=Outline.of(straight), fold=None, darts=(Dart("d", 1, 3, (105.0, 140.0), 2),)
    )
    after = allowed(piece, width="1.5 cm")
    shape = shapely.Polygon(flatten(cut(after), 0.001))
    apex = np.array([105.0, 140.0])
    legs = [np.array([90.0, 0.0]), np.array([120.0, 0.0])]
    middle = apex - np.array([0.0, 400.0])
    far = [apex + (leg - apex) * 3 for leg in legs]
    for leg, end in zip(legs, far, strict=True):
        wedge = shapely.Polygon([apex, end, middle])
        layer = shape.intersection(wedge)
        mirror = affine.mirror(leg, apex)
        folded = shapely.Polygon(affine.apply(mirror, np.array(layer.exterior.coords)))
        beside = shape.difference(shapely.Polygon([apex, far[0], far[1]]))
        # The layer lies under the cloth beside it, its edge on that cloth's edge.
        assert folded.difference(beside).area < 0.01 * layer.area
        edge = shapely.LineString([(0, -15), (240, -15)])
        lowest = min(y for _, y in folded.exterior.coords)
        assert lowest == pytest.approx(-15, abs=0.6)
        assert folded.exterior.distance(edge) < 1e-6


def test_a_dart_that_is_only_drawn_needs_no_cap() -> None:
    piece = plain(rectangle(), darts=(Dart("d", 0, 1, (100.0, 50.0), None),))
    assert corners_of(allowed(piece, width="1 cm")) == {
        (-10, -10),
        (210, -10),
        (210, 110),
        (-10, 110),
    }


# --- what it takes and refuses ----------------------------------------------------


def test_a_cutting_line_is_refused() -> None:
    piece = dataclasses.replace(plain(rectangle()), kind="cut", allowance=10.0)
    with pytest.raises(InputError, match=r"piece.*has its allowance already"):
        allowed(piece)
    untouched = allow(Pattern((piece, dataclasses.replace(bodice(), size=None))), pieces=["front"])
    assert untouched.pattern.piece("piece").cut_line is None


def test_an_unknown_line_is_taken_for_sewn_and_said_so() -> None:
    piece = dataclasses.replace(plain(rectangle()), kind="unknown")
    outcome = allow(Pattern((piece,)))
    assert [f.code for f in outcome.findings] == ["line-assumed"]
    assert outcome.pattern.pieces[0].kind == "sew"


def test_inward_draws_the_sewing_line_inside() -> None:
    piece = dataclasses.replace(plain(rectangle()), kind="cut", allowance=None)
    after = allowed(piece, width="1 cm", inward=True)
    assert after.kind == "sew"
    assert after.outline.path.bounds == pytest.approx((10, 10, 190, 90))
    assert after.cut_line == piece.outline
    with pytest.raises(InputError, match="one width"):
        allowed(piece, inward=True, widths={"piece:#1": "2 cm"})
    with pytest.raises(InputError, match="inward"):
        allowed(plain(rectangle()), inward=True)
    with pytest.raises(GeometryError, match="piece"):
        allowed(piece, width="6 cm", inward=True)


def test_names_that_are_not_there() -> None:
    with pytest.raises(LookupFailed, match="piece"):
        allowed(plain(rectangle()), widths={"piece:hem": "1 cm"})
    with pytest.raises(LookupFailed, match="hem"):
        allowed(plain(rectangle()), widths={"hem": "1 cm"})
    with pytest.raises(LookupFailed, match="no corner"):
        allowed(plain(rectangle()), corner_kinds={"hem-side": "bevel"})
    with pytest.raises(LookupFailed, match="skirt"):
        allowed(plain(rectangle()), pieces=["skirt"])
    with pytest.raises(UsageError, match="unit"):
        allowed(plain(rectangle()), width="15")


def test_again_replaces_the_cutting_line() -> None:
    once = allowed(plain(rectangle()), width="1 cm")
    twice = allowed(once, width="2 cm")
    assert corners_of(twice) == {(-20, -20), (220, -20), (220, 120), (-20, 120)}


def test_a_second_allowance_says_which_it_stands_instead_of() -> None:
    first = allow(Pattern((bodice(),)), width="2 cm")
    assert "allowance-replaced" not in {f.code for f in first.findings}
    second = allow(first.pattern, width="1 cm")
    (told,) = [f for f in second.findings if f.code == "allowance-replaced"]
    assert told.level == "warn"
    assert "2 cm" in told.text


def test_a_width_that_no_seam_has_is_doubted() -> None:
    pattern = Pattern((plain(rectangle(400, 400)),))
    (wide,) = allow(pattern, width="15 cm").findings
    assert (wide.code, wide.level) == ("wide-allowance", "warn")
    assert "15 cm" in wide.text
    assert "1.5 cm" in wide.cure
    assert allow(pattern, width="8 cm").findings == ()
