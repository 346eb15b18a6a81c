"""The laws of grading (design section 5), each by name, on random outlines and hard cases.

Tolerances are measured: the worst seen is given beside each where it is not rounding.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sizewright.errors import GeometryError, UsageError
from sizewright.geometry import affine
from sizewright.geometry.crossings import is_simple
from sizewright.geometry.path import Path
from sizewright.geometry.regions import contains
from sizewright.geometry.straight import straight_segments
from sizewright.geometry.types import Floats
from sizewright.grading import (
    GradeMap,
    RuleTable,
    StepRule,
    grade,
    grade_map,
    read_rules,
)
from sizewright.model import (
    Cutout,
    Dart,
    Drill,
    Fold,
    Grain,
    Hold,
    Label,
    Mark,
    Notch,
    Outline,
    Pattern,
    Piece,
    Pleat,
    Point,
    Spot,
)
from sizewright.units import Unit

from .outlines import UP, amounts, bodice_half, paths, pieces, ruled


def table(
    steps: dict[str, tuple[float, float]], sizes: tuple[str, ...] = ("10", "12")
) -> RuleTable:
    """A table that gives each rule (width, length) mm for every step."""
    rules = []
    for rule, (width, length) in steps.items():
        for axis, mm in (("width", width), ("length", length)):
            each = (0.0, *([mm] * (len(sizes) - 1)))
            rules.append(StepRule(rule, axis, Unit.MM, each))  # type: ignore[arg-type]
    return RuleTable("steps", tuple(rules), sizes)


def moved(one: GradeMap, given: Floats) -> Path:
    piece, _ = one.apply(given)
    return piece.outline.path


def sections(piece: Piece, stops: set[int]) -> list[list[int]]:
    """Segments between neighbouring stops, by vertex number."""
    n, order = len(piece.outline.path), sorted(stops)
    out = []
    for k, first in enumerate(order):
        last = order[(k + 1) % len(order)]
        out.append([(first + j) % n for j in range((last - first) % n or n)])
    return out


def spans(path: Path, segments: list[int], axis: int) -> bool:
    """Law 5's condition, written out once more: spans a quarter, nothing flung beyond."""
    x = path.controls[segments][..., axis]
    length = path.segment_lengths[segments].sum()
    start, span = x[0, 0], x[-1, -1] - x[0, 0]
    if span == 0 or abs(span) < 0.25 * length:
        return False
    f = (x - start) / span
    return bool((f >= -0.5).all() and (f <= 1.5).all())


# --- law 1 --------------------------------------------------------------------------------


@given(pieces(every_corner=False))
def test_law_1_no_amounts_give_the_base_bits(piece: Piece) -> None:
    one = grade_map(piece)
    back, _ = one.apply(np.zeros(one.columns))
    assert back is piece
    batch = one.batch(np.zeros((2, one.columns)))
    assert np.array_equal(batch[1], one.base)


@given(pieces(every_corner=False), amounts(2, 400.0))
def test_law_1_the_same_amount_everywhere_is_a_shift(piece: Piece, shift: Floats) -> None:
    assume(np.abs(shift).max() > 1e-3)
    piece = replace(
        piece,
        drills=(Drill((20.0, 30.0)),),
        marks=(Mark(Path.of([[[0, 0], [10, 30], [20, 40], [50, 20]]], closed=False)),),
        grain=Grain((0.0, -50.0), (0.0, 60.0)),
    )
    one = grade_map(piece)
    moves = one.moves(np.tile(shift, one.columns // 2))
    size = np.abs(one.base).max()
    assert np.abs(moves - shift).max() <= 1e-12 * max(size, np.abs(shift).max())


# --- law 2 --------------------------------------------------------------------------------


@given(paths(), st.integers(0, 1), st.floats(-0.2, 0.2), st.floats(-10, 10))
def test_law_2_growth_in_proportion_stretches_in_proportion(
    path: Path, axis: int, rate: float, start: float
) -> None:
    outline = Outline.of(path)
    assume(len(outline.corners) >= 3)
    piece = ruled(path, {v: f"r{v}" for v in outline.corners})
    one = grade_map(piece)
    given_ = np.zeros(one.columns)
    for k, rule in enumerate(one.rules):
        given_[2 * k + axis] = start + rate * path.vertices[int(rule[1:])][axis]
    moves = one.moves(given_)[: 3 * len(path)].reshape(-1, 3, 2)
    checked = 0
    for segments in sections(piece, set(outline.corners)):
        # A smooth point that turns a little keeps its turn: law 4 beats this one.
        inside = np.abs(path.turns[segments[1:]])
        if not spans(path, segments, axis) or (inside > 1e-6).any():
            continue
        want = start + rate * path.controls[segments][:, :3, axis]
        # Rounding, but for a curve within 1e-6 mm of its chord, which counts as straight.
        assert np.abs(moves[segments][..., axis] - want).max() <= 1e-6
        checked += 1
    assume(checked)


def test_law_2_across_a_ruled_smooth_point() -> None:
    # Both neighbours stretch alike: the whole side is stretched as one.
    side = [
        [[200, 0], [240, 60], [230, 130], [200, 200]],
        [[200, 200], [170, 270], [190, 330], [260, 400]],
    ]
    path = Path.of(
        [[[0, 0], [200, 0]], *side, [[260, 400], [0, 400]], [[0, 400], [0, 0]]], closed=True
    )
    piece = ruled(path, {v: f"r{v}" for v in range(5)})
    assert piece.outline.corners == (0, 1, 3, 4)
    one = grade_map(piece)
    given_ = np.zeros(one.columns)
    given_[1::2] = 0.07 * path.vertices[[int(r[1:]) for r in one.rules], 1]
    after = moved(one, given_)
    want = path.controls * [1.0, 1.07]
    assert np.abs(after.controls - want).max() <= 1e-12 * 400


# --- law 3 --------------------------------------------------------------------------------


@given(
    st.sampled_from([(1.0, 0.0), (0.0, 1.0)]),
    st.floats(20, 200),
    st.floats(-250, 250),
    st.floats(40, 300),
    st.floats(0.2, 0.5),
    st.floats(-40, 40),
    amounts(6),
)
def test_law_3_a_tangent_along_or_across_the_axis_stays(
    way: tuple[float, float],
    handle: float,
    across: float,
    up: float,
    far: float,
    bow: float,
    given_: Floats,
) -> None:
    """The start's tangent is exactly on an axis, on curves of every slope; the end's is free."""
    a, b = np.array([0.0, 0.0]), np.array([across, up])
    curve = np.array([a, a + handle * np.array(way), b - far * (b - a) + [bow, 0], b])
    low = min(0.0, across) - 500.0
    path = Path.of([curve, [b, [low, up + 400]], [[low, up + 400], a]], closed=True)
    assume(path.area > 1000)
    outline = Outline.of(path)
    assume(0 in outline.corners and 1 in outline.corners)
    chord = b - a
    bowed = np.abs(curve[:, 0] * chord[1] - curve[:, 1] * chord[0]).max() / np.hypot(*chord)
    assume(bowed > 2e-3 * path.segment_lengths[0])
    one = grade_map(ruled(path, {v: f"r{v}" for v in range(3)}))
    moves = one.moves(given_)
    after = curve[1] + moves[1] - (a + moves[0])
    assume(after @ np.array(way) > 0)
    off = after[0] * way[1] - after[1] * way[0]
    assert abs(off) <= 1e-9


def test_law_3_neckline_meets_the_fold_square_and_the_armhole_the_side() -> None:
    piece = bodice_half()
    one = grade_map(piece)
    rng = np.random.default_rng(7)
    for _ in range(50):
        after = moved(one, rng.uniform(-8, 8, one.columns))
        neck = after.tangents_in[5]
        assert abs(neck[1]) <= 1e-12
        # The armhole leaves the underarm along width, as drawn.
        assert abs(after.tangents_out[3][1]) <= 1e-12
        # It reaches the shoulder upright.
        assert abs(after.tangents_in[3][0]) <= 1e-12


@given(pieces(every_corner=False), st.data())
def test_law_3_straight_stays_straight(piece: Piece, data: st.DataObject) -> None:
    """Also where a straight edge is cut by points, and where it is written as a cubic."""
    path = piece.outline.path
    # Two straight cubics with a smooth joint bend to stay smooth: the curves beside are bowed.
    bowed = ~straight_segments(path, 1e-3)
    beside = np.roll(bowed, 1) & np.roll(bowed, -1)
    lines = np.flatnonzero(path.lines & beside)
    assume(len(lines))
    k = int(lines[0])
    cubic = path.lines.copy()
    cubic[k] = False
    controls = path.controls.copy()
    chord = controls[k, 3] - controls[k, 0]
    controls[k, 1] = controls[k, 0] + 0.25 * chord
    controls[k, 2] = controls[k, 0] + 0.8 * chord
    loose = replace(piece, outline=piece.outline.with_path(Path(controls, cubic, True)))
    cut, _ = piece.outline.with_vertex(float(path.cumulative[k]) + 0.3 * path.segment_lengths[k])
    for one, segments in (
        (grade_map(loose), [k]),
        (grade_map(replace(piece, outline=cut)), [k, k + 1]),
    ):
        after = moved(one, data.draw(amounts(one.columns))).controls[segments].reshape(-1, 2)
        chord = after[-1] - after[0]
        off = (after - after[0]) @ np.array([-chord[1], chord[0]]) / np.hypot(*chord)
        assert np.abs(off).max() <= 1e-9


# --- law 4 --------------------------------------------------------------------------------


@given(pieces(every_corner=False), st.data())
def test_law_4_smooth_stays_smooth(piece: Piece, data: st.DataObject) -> None:
    one = grade_map(piece)
    after = moved(one, data.draw(amounts(one.columns)))
    smooth = np.ones(len(after), dtype=bool)
    smooth[list(piece.outline.corners)] = False
    # Where two straight lines meet in a ruled point, the rules alone make the turn (a finding).
    lines = piece.outline.path.lines
    for v in np.flatnonzero(smooth & lines & np.roll(lines, 1)):
        smooth[v] = piece.outline.point(int(v)).rule is None
    more = np.abs(after.turns) - np.abs(piece.outline.path.turns)
    assert (more[smooth] <= 0.01).all()


@given(st.floats(-2.9, 2.9), amounts(10), st.floats(60, 120))
def test_law_4_a_slight_turn_at_a_smooth_point_does_not_grow(
    turn: float, given_: Floats, handle: float
) -> None:
    tangent = np.array([np.sin(np.radians(turn)), np.cos(np.radians(turn))])
    hip = np.array([230.0, 200.0])
    path = Path.of(
        [
            [[0, 0], [210, 0]],
            [[210, 0], [220, 60], hip - [0, 70], hip],
            [hip, hip + handle * tangent, [215, 340], [205, 400]],
            [[205, 400], [0, 400]],
            [[0, 400], [0, 0]],
        ],
        closed=True,
    )
    one = grade_map(ruled(path, {v: f"r{v}" for v in range(5)}))
    after = moved(one, given_)
    assert abs(after.turns[2]) <= abs(path.turns[2]) + 1e-9


def test_law_4_a_chain_of_lines_that_turns_a_little_keeps_its_turns() -> None:
    path = Path.polyline([[0, 0], [200, 0], [203, 200], [200, 420], [0, 400]], closed=True)
    piece = ruled(path, {0: "a", 1: "b", 3: "c", 4: "d"})
    assert piece.outline.corners == (0, 1, 3, 4)
    one = grade_map(piece)
    after = moved(one, np.array([0, 0, 9, -4, 14, 12, 0, 8.0]))
    assert abs(after.turns[2]) == pytest.approx(abs(path.turns[2]), abs=1e-10)


# --- law 5 --------------------------------------------------------------------------------


@given(pieces(), st.data())
def test_law_5_nothing_is_flung_away(piece: Piece, data: st.DataObject) -> None:
    """Between two corners no control point moves beyond [-0.5, 1.5] of what the ends do.

    Beside a smooth point with a rule of its own the reach is that of both neighbours'
    ends; a handle may go further than they do by as much as they differ.
    """
    path = piece.outline.path
    one = grade_map(piece)
    given_ = data.draw(amounts(one.columns))
    moves = one.moves(given_)[: 3 * len(path)].reshape(-1, 3, 2)
    stops = {p.vertex for p in piece.outline.points if p.rule} | set(piece.outline.corners)
    stretches = sections(piece, stops)
    for k, segments in enumerate(stretches):
        last = (segments[-1] + 1) % len(path)
        around = [segments[0], last]
        smooth = [v for v in around if v not in piece.outline.corners]
        if segments[0] in smooth:
            around.append(stretches[k - 1][0])
        if last in smooth:
            around.append((stretches[(k + 1) % len(stretches)][-1] + 1) % len(path))
        low, high = moves[around, 0].min(axis=0), moves[around, 0].max(axis=0)
        # A slight turn at a smooth point carries a little from one axis to the other.
        room = (high - low).max() * (1.0 if smooth else 0.5) + 1e-9
        assert (moves[segments] >= low - room).all()
        assert (moves[segments] <= high + room).all()


def test_law_5_a_flat_hem_curve_does_not_swing() -> None:
    """Spans 1 mm of length over 400 mm: by coordinate its handles would move 20 times as far."""
    path = Path.of(
        [
            [[0, 0], [130, -10], [270, -10], [400, 1]],
            [[400, 1], [390, 500]],
            [[390, 500], [0, 500]],
            [[0, 500], [0, 0]],
        ],
        closed=True,
    )
    one = grade_map(ruled(path, {0: "a", 1: "b", 2: "c", 3: "d"}))
    given_ = np.array([0, 0, 10, 6, 10, 0, 0, 0.0])
    after = moved(one, given_)
    rise = (after.controls - path.controls)[0, :, 1]
    assert (rise >= 0).all()
    assert (rise <= 6).all()
    assert (np.diff(rise) > 0).all()


# --- law 6 --------------------------------------------------------------------------------


def dart_front(tip_rule: str | None = None) -> Piece:
    """A front with a waist dart cut out of its upper edge, a drawn dart and a placket."""
    points = [[0, 0], [300, 0], [300, 400], [170, 402], [150, 290], [130, 402], [0, 400]]
    rules = {0: "a", 1: "b", 2: "c", 6: "d"}
    if tip_rule:
        rules[4] = tip_rule
    path = Path.polyline(points, closed=True)
    return replace(ruled(path, rules), darts=(Dart("waist", 3, 5, (150.0, 290.0), 4),))


def test_law_6_a_dart_is_held_and_rides_its_edge() -> None:
    piece = dart_front()
    one = grade_map(piece)
    assert one.riding == ()
    given_ = np.array([0, 0, 12, 0, 12, 6, 0, 6.0])
    after, _ = one.apply(given_)
    shift = after.outline.path.vertices[3:6] - piece.outline.path.vertices[3:6]
    assert np.abs(shift - shift[0]).max() <= 1e-12
    # The middle of the mouth, 150 of 300 mm, goes half as far as the side.
    assert shift[0] == pytest.approx([6.0, 6.0], abs=1e-9)
    assert after.darts[0].apex == pytest.approx(tuple(after.outline.path.vertices[4]))


def test_law_6_a_rule_on_the_point_wins_for_it() -> None:
    one = grade_map(dart_front("tip"))
    given_ = one.amounts({"tip": {"length": 5.0, "width": 1.0}, "c": {"width": 12.0}})
    after, _ = one.apply(given_)
    moves = after.outline.path.vertices - one.piece.outline.path.vertices
    assert moves[4] == pytest.approx([1.0, 5.0])
    assert moves[3] == pytest.approx(moves[5])
    assert moves[3] == pytest.approx([6.0, 0.0], abs=1e-9)


def test_law_6_pleats_and_holds_move_rigidly() -> None:
    path = Path.polyline(
        [
            [0, 0],
            [300, 0],
            [300, 400],
            [220, 400],
            [160, 400],
            [0, 400],
            [-30, 400],
            [-30, 250],
            [0, 250],
        ],
        closed=True,
    )
    piece = ruled(path, {0: "a", 1: "b", 2: "c"})
    piece = replace(piece, pleats=(Pleat("p", 3, 4),), holds=(Hold((5, 6, 7, 8), "placket"),))
    one = grade_map(piece)
    after, _ = one.apply(one.amounts({"a": {"length": -3.0}, "c": {"width": 20.0, "length": 9.0}}))
    moves = after.outline.path.vertices - path.vertices
    for group in ([3, 4], [5, 6, 7, 8]):
        assert np.abs(moves[group] - moves[group[0]]).max() <= 1e-12
    assert np.hypot(*moves[3]) > 1.0
    with_rule = replace(piece, outline=piece.outline.with_point(6, rule="own"))
    one = grade_map(with_rule)
    after, _ = one.apply(one.amounts({"own": {"width": -4.0}}))
    moves = after.outline.path.vertices - path.vertices
    assert moves[[5, 6, 7, 8]] == pytest.approx(np.array([[-4.0, 0.0]] * 4))


def test_law_6_other_corners_ride_and_are_listed() -> None:
    path = Path.polyline(
        [[0, 0], [300, 0], [300, 240], [300, 400], [90, 410], [0, 400]], closed=True
    )
    outline = Outline.of(
        path,
        points=[
            Point(0, "a", "a"),
            Point(1, "b", "b"),
            Point(3, "top", "c"),
            Point(4, "peak"),
            Point(5, None, "d"),
        ],
    )
    piece = Piece("piece", outline, kind="sew", axis=UP)
    one = grade_map(piece)
    assert one.riding == (4,)
    (found,) = [f for f in one.findings if f.code == "corners-ride"]
    assert "peak" in found.text
    after, _ = one.apply(one.amounts({"c": {"width": 30.0, "length": 8.0}, "d": {"length": 8.0}}))
    moves = after.outline.path.vertices - path.vertices
    assert moves[4] == pytest.approx([30 * 90 / 300, 8.0])
    # The point inside the straight side is no corner and stays on it.
    assert moves[2] == pytest.approx([30 * 240 / 400, 8 * 240 / 400])


def test_law_6_a_piece_without_rules_stays() -> None:
    piece = Piece(
        "piece", Outline.of(Path.polyline([[0, 0], [9, 0], [9, 9]], closed=True)), axis=UP
    )
    one = grade_map(piece)
    assert one.columns == 0
    assert [f.code for f in one.findings] == ["no-rules"]
    assert one.apply(np.zeros(0))[0] is piece


# --- law 7 --------------------------------------------------------------------------------


def notched(*notches: Notch) -> Piece:
    path = Path.polyline([[0, 0], [300, 0], [300, 400], [0, 400]], closed=True)
    return replace(ruled(path, {0: "a", 1: "b", 2: "c", 3: "d"}), notches=notches)


@pytest.mark.parametrize(
    ("notch", "want"),
    [
        (Notch(Spot(1, 100.0)), 100.0),
        (Notch(Spot(1, 300.0)), 320.0),
        (Notch(Spot(1, 300.0), keep="start"), 300.0),
        (Notch(Spot(1, 100.0), keep="end"), 120.0),
        (Notch(Spot(1, 200.0)), 200.0),
        (Notch(Spot(1, 100.0), rule="own"), 107.0),
    ],
)
def test_law_7_a_notch_keeps_its_distance_or_its_rule(notch: Notch, want: float) -> None:
    one = grade_map(notched(notch))
    growth = {"c": {"length": 20.0}, "d": {"length": 20.0}, "own": {"length": 7.0, "width": 3.0}}
    after, notes = one.apply(one.amounts(growth))
    assert notes == ()
    assert after.notches[0].at.start == 1
    assert after.notches[0].at.distance == pytest.approx(want, abs=1e-9)


def test_law_7_a_notch_that_no_longer_fits_is_told() -> None:
    one = grade_map(notched(Notch(Spot(1, 390.0), keep="start")))
    after, notes = one.apply(one.amounts({"c": {"length": -20.0}, "d": {"length": -20.0}}))
    assert after.notches[0].at.distance == pytest.approx(380.0)
    assert notes[0].short == pytest.approx(10.0)


@given(pieces(), st.floats(-0.1, 0.1), st.floats(-0.1, 0.1))
def test_law_7_what_lies_inside_moves_with_the_piece(piece: Piece, sx: float, sy: float) -> None:
    """A stretch of a polygon carries holes, marks, labels and cut-outs along exactly."""
    path = Path.polyline(piece.outline.path.vertices[list(piece.outline.corners)], closed=True)
    assume(path.area > 0)
    outline = Outline.of(path)
    assume(len(outline.corners) == len(path))
    assume(is_simple(path))
    mark = Path.of([[[0, 0], [10, 30], [20, 40], [50, 20]], [[50, 20], [60, 10]]], closed=False)
    hole = Path.polyline([[-20, -20], [-5, -20], [-10, 0]], closed=True)
    piece = replace(
        ruled(path, {v: f"r{v}" for v in range(len(path))}),
        drills=(Drill((20.0, 30.0)),),
        marks=(Mark(mark),),
        cutouts=(Cutout(hole),),
        labels=(Label("a", (5.0, 6.0)),),
        grain=Grain((3.0, -20.0), (3.0, 30.0)),
    )
    inside = contains(path, np.concatenate([mark.controls.reshape(-1, 2), hole.vertices]))
    assume(inside.all() and contains(path, np.array([[3.0, -20.0], [3.0, 30.0]])).all())
    one = grade_map(piece)
    given_ = (path.vertices * [sx, sy]).reshape(-1)
    assume(given_.any())
    after, _ = one.apply(given_)
    scale = np.array([1 + sx, 1 + sy])
    assert after.drills[0].at == pytest.approx(tuple(np.array([20, 30]) * scale), abs=1e-8)
    assert after.labels[0].at == pytest.approx(tuple(np.array([5, 6]) * scale), abs=1e-8)
    assert np.abs(after.marks[0].path.controls - mark.controls * scale).max() <= 1e-8
    # A small closed line keeps its shape and goes with its middle.
    middle = np.array([-12.5, -10.0]) * (scale - 1)
    assert np.abs(after.cutouts[0].path.controls - hole.controls - middle).max() <= 1e-8
    assert after.grain is not None
    assert after.grain.end == pytest.approx(tuple(np.array([3, 30]) * scale), abs=1e-8)


@given(pieces(), st.data())
def test_law_7_the_grain_stays_parallel_to_itself(piece: Piece, data: st.DataObject) -> None:
    piece = replace(piece, grain=Grain((10.0, -40.0), (25.0, 60.0)))
    one = grade_map(piece)
    after, _ = one.apply(data.draw(amounts(one.columns)))
    assert after.grain is not None
    (x0, y0), (x1, y1) = after.grain.start, after.grain.end
    assert abs((x1 - x0) * 100.0 - (y1 - y0) * 15.0) <= 1e-7


@pytest.mark.parametrize("ruled_centre", [False, True])
def test_the_fold_stays_where_widths_count_from(ruled_centre: bool) -> None:
    """Only the side has a rule: the piece grows, it is not shifted."""
    path = Path.polyline([[0, 0], [100, 0], [100, 150], [60, 200], [0, 180]], closed=True)
    rules = {1: "side", 2: "side"} | ({0: "centre"} if ruled_centre else {})
    piece = replace(ruled(path, rules), fold=Fold(4, 0))
    one = grade_map(piece)
    after, _ = one.apply(one.amounts({"side": {"width": 10.0, "length": 4.0}}))
    moved = after.outline.path.vertices - path.vertices
    assert moved[[0, 4], 0] == pytest.approx([0, 0])
    assert moved[[1, 2], 0] == pytest.approx([10, 10])
    assert 0 < moved[3, 0] < 10
    assert 4 in one.riding


# --- law 8 --------------------------------------------------------------------------------


def test_law_8_a_fold_over_is_refused_with_the_place() -> None:
    path = Path.polyline([[0, 0], [300, 0], [300, 400], [150, 20], [0, 400]], closed=True)
    piece = ruled(path, {0: "a", 1: "b", 2: "c", 3: "notch", 4: "d"})
    rules = table({"a": (0, 0), "b": (0, 0), "c": (0, 0), "d": (0, 0), "notch": (0, -30)})
    with pytest.raises(GeometryError, match="fold over itself") as caught:
        grade(Pattern((piece,), "10"), rules, ["12"])
    assert "piece 12" in str(caught.value)
    assert "near" in str(caught.value)


@given(st.lists(st.floats(-12, 12), min_size=3, max_size=3), st.floats(-5, 5))
def test_law_8_at_ruled_points_the_sizes_follow_the_rule(steps: list[float], up: float) -> None:
    piece = bodice_half()
    rules = tuple(
        StepRule(name, axis, Unit.MM, (0.0, *each))  # type: ignore[arg-type]
        for name in [p.rule or "" for p in piece.outline.points]
        for axis, each in (("width", steps), ("length", [up, up, up]))
    )
    sizes = ("8", "10", "12", "14")
    one = RuleTable("steps", rules, sizes)
    nest = grade(Pattern((piece,), "10"), one, sizes).pattern
    for size, total in zip(sizes, [-steps[0], 0.0, steps[1], steps[1] + steps[2]], strict=True):
        move = nest.piece("front", size).outline.path.vertices - piece.outline.path.vertices
        assert np.abs(move[:, 0] - total).max() <= 1e-9


def test_law_8_other_crossings_of_a_nest_are_notes() -> None:
    path = Path.polyline([[0, 0], [300, 0], [300, 400], [0, 400]], closed=True)
    piece = ruled(path, {0: "a", 1: "b", 2: "c", 3: "d"})
    rules = table({"a": (0, 0), "b": (-5, 0), "c": (5, 0), "d": (0, 0)})
    found = grade(Pattern((piece,), "10"), rules, ["10", "12"]).findings
    assert [(f.code, f.level) for f in found] == [("nest-crosses", "note")]


# --- law 9 --------------------------------------------------------------------------------


@given(pieces(), st.data())
def test_law_9_grading_starts_from_the_kept_base(piece: Piece, data: st.DataObject) -> None:
    most = st.floats(-4, 4)
    names = [p.rule or "" for p in piece.outline.points]
    rules = table({r: (data.draw(most), data.draw(most)) for r in names if r}, ("10", "12", "14"))
    pattern = Pattern((piece,), "12")
    try:
        up = grade(pattern, rules, ["14"]).pattern
        nest = grade(up, rules, ["10", "12", "14"]).pattern
    except GeometryError:
        assume(False)
    again = nest.piece("piece", "12")
    assert again.outline.path.controls.tobytes() == piece.outline.path.controls.tobytes()
    once = grade(pattern, rules, ["10"]).pattern.piece("piece", "10")
    assert nest.piece("piece", "10").outline.path == once.outline.path
    assert nest.piece("piece", "14").base == again


@given(amounts(14, 10.0))
def test_law_9_a_half_and_its_mirror_and_its_opened_whole_grade_alike(given_: Floats) -> None:
    half = bodice_half()
    one = grade_map(half)
    # Both ends of the fold keep to it; elsewhere the amounts are free.
    for rule in ("hem-centre", "neck-centre"):
        given_[2 * one.rules.index(rule)] = 0.0
    graded = moved(one, given_)
    across = affine.mirror(np.array([0.0, 0.0]), np.array([0.0, 1.0]))
    turned = half.transformed(across)
    other = grade_map(turned)
    growth = {
        r: {"width": given_[2 * k], "length": given_[2 * k + 1]} for k, r in enumerate(one.rules)
    }
    back = moved(other, other.amounts(growth)).transformed(across).reversed()
    assert np.abs(np.sort(back.vertices, axis=0) - np.sort(graded.vertices, axis=0)).max() <= 1e-10
    assert np.abs(back.controls - graded.controls).max() <= 1e-10

    whole = opened(half)
    wide = grade_map(whole)
    after = moved(wide, wide.amounts(growth))
    right = after.controls[: len(graded) - 1]
    assert np.abs(right - graded.controls[:-1]).max() <= 1e-10
    left = after.controls[len(graded) - 1 :] * [-1.0, 1.0]
    assert np.abs(left[::-1, ::-1] - graded.controls[:-1]).max() <= 1e-10


def opened(half: Piece) -> Piece:
    """The half's whole: its six drawn edges and their mirror, with the centre as a line."""
    right = half.outline.path.controls[:-1]
    left = (right * [-1.0, 1.0])[::-1, ::-1]
    lines = half.outline.path.lines[:-1]
    path = Path(np.concatenate([right, left]), np.concatenate([lines, lines[::-1]]), True)
    n = len(path)
    points = []
    for p in half.outline.points:
        points.append(Point(p.vertex, p.name, p.rule))
        if p.vertex not in (0, 6):
            points.append(Point(n - p.vertex, f"{p.name}-left", p.rule))
    centre = Mark(Path.polyline([[0, 0], [0, 470]]), kind="centre")
    outline = Outline.of(path, points=sorted(points, key=lambda p: p.vertex))
    return Piece("front", outline, kind="sew", axis=UP, marks=(centre,))


@given(st.floats(-10, 10), st.floats(-10, 10), st.floats(0.1, 0.9))
def test_law_9_the_fold_stays_one_straight_line(out: float, up: float, at: float) -> None:
    half = bodice_half()
    outline, k = half.outline.with_vertex(float(half.outline.path.cumulative[6]) + 470 * at)
    piece = replace(half, outline=outline.with_point(k, rule="loose"), fold=Fold(6, 0))
    assume(abs(out) + abs(up) > 0.1)
    rules = table(dict.fromkeys(grade_map(piece).rules, (0.0, 0.0)) | {"loose": (out, up)})
    graded = grade(Pattern((piece,), "10"), rules, ["12"])
    after = graded.pattern.piece("front", "12").outline.path
    assert (after.vertices[[6, k, 0], 0] == 0.0).all()
    if abs(out) > 0.02:
        assert "fold-straightened" in {f.code for f in graded.findings}


# --- law 10 -------------------------------------------------------------------------------


def test_law_10_far_sizes_warn_and_the_table_ends() -> None:
    piece = bodice_half()
    sizes = ("6", "8", "10", "12", "14", "16")
    text = "rule,axis,unit," + ",".join(sizes) + "\n"
    for point in piece.outline.points:
        text += f"{point.rule},length,mm,,1,1,1,1,2\n"
    rules = read_rules(text, name="rules.csv")
    pattern = Pattern((piece,), "10")
    assert not grade(pattern, rules, ["6"]).findings
    assert not grade(pattern, rules, ["14"]).findings
    (found,) = grade(pattern, rules, ["16"]).findings
    assert (found.code, found.level, found.size) == ("far-from-base", "warn", "16")
    assert not grade(pattern, rules, ["16"], far=3).findings
    with pytest.raises(UsageError, match="beyond the table"):
        grade(pattern, rules, ["20"])
    far = grade(pattern, rules, ["20"], allow_far=True).pattern.piece("front", "20")
    move = far.outline.path.vertices - piece.outline.path.vertices
    # 12, 14: 1 each; 16: 2; then the last step, 2, for 18 and for 20.
    assert np.abs(move - [0.0, 8.0]).max() <= 1e-9
    low = grade(pattern, rules, ["4"], allow_far=True).pattern.piece("front", "4")
    assert low.outline.path.vertices[0, 1] == pytest.approx(-3.0)
