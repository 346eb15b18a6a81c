"""Marks inside a piece: points, edges, fold, grain, darts, holds, notches, attributes."""

from __future__ import annotations

import numpy as np
import pytest

from sizewright.errors import InputError, SizewrightError
from sizewright.formats.reading import Reading, WrongMarks
from sizewright.model import Piece, eye_darts
from tests.formats.drawing import aside, codes, only, read

# Corners on the page: (50,50) (250,50) (250,250) (50,250); in mm 300 - y.
OUTLINE = '<path data-role="outline" d="M50 50H250V250H50Z"/>'


def piece_with(marks: str, outline: str = OUTLINE, attributes: str = "") -> Reading:
    return read(f'<g data-piece="a" {attributes}>{outline}{marks}</g>')


def the(marks: str, outline: str = OUTLINE, attributes: str = "") -> Piece:
    reading = piece_with(marks, outline, attributes)
    assert [f for f in reading.findings if f.level != "note"] == []
    return only(reading)


def dot(x: float, y: float, attributes: str) -> str:
    return f'<circle cx="{x}" cy="{y}" r="1.5" {attributes}/>'


# --- points and edges -----------------------------------------------------------------


@pytest.mark.parametrize(("off", "near"), [(0.0, True), (1.9, True), (2.1, False)])
def test_a_point_names_the_vertex_within_two_mm(off: float, near: bool) -> None:
    mark = dot(250 - off, 50, 'data-point="neck" data-rule="up"')
    if near:
        (point,) = the(mark).outline.points
        assert (point.name, point.rule) == ("neck", "up")
    else:
        with pytest.raises(
            InputError, match=r"2\.1 mm from the nearest.*corner 3 at \(250\.0, 250"
        ):
            piece_with(mark)


def test_a_point_on_the_line_without_a_vertex_is_an_error() -> None:
    with pytest.raises(
        InputError, match=r'a: line 1, <circle>: the point mark "waist" is 100\.0 mm'
    ):
        piece_with(dot(150, 50, 'data-point="waist"'))


@pytest.mark.parametrize("y", [50.0, 50.04])
def test_a_point_gets_its_node_back_that_another_program_took_out(y: float) -> None:
    """A mark with a dotted id was at a node: where the line is straight there can be one again."""
    marks = dot(150, y, 'id="a.point.waist" data-point="waist" data-rule="up"')
    marks += '<path id="a.pleat" data-pleat="tuck" fill="none" d="M180 50H200"/>'
    reading = piece_with(marks)
    (told,) = [f for f in reading.findings if f.code == "point-put-back"]
    assert told.level == "note"
    assert told.text.endswith("got one: point waist, pleat tuck")
    piece = only(reading)
    (point,) = piece.outline.points
    assert (point.name, point.rule) == ("waist", "up")
    assert piece.outline.vertex_at(point.vertex) == pytest.approx([150, 250])
    assert [tuple(piece.outline.vertex_at(v)) for v in (piece.pleats[0].a, piece.pleats[0].b)] == [
        (200, 250),
        (180, 250),
    ]
    assert len(piece.outline.corners) == 4
    assert piece.outline.path.area == pytest.approx(200 * 200)


@pytest.mark.parametrize(
    ("place", "outline"),
    [
        ((150, 50.2), OUTLINE),
        ((246, 50), OUTLINE),
        ((150, 27.5), '<path data-role="outline" d="M50 50C90 30 210 10 250 50V250H50Z"/>'),
    ],
    ids=["beside the line", "near a corner", "on a curve"],
)
def test_no_node_is_made_where_a_mark_may_have_gone_astray(
    place: tuple[float, float], outline: str
) -> None:
    with pytest.raises(InputError, match="nearest outline vertex"):
        piece_with(dot(*place, 'id="a.point.waist"'), outline)


def test_a_smooth_vertex_takes_a_name() -> None:
    outline = '<path data-role="outline" d="M50 50C90 30 120 30 150 40S220 60 250 50V250H50Z"/>'
    piece = the(dot(150, 40, 'data-point="middle"'), outline)
    (point,) = piece.outline.points
    assert piece.outline.corner_number(point.vertex) is None


def test_a_point_on_chords_that_became_a_curve_keeps_its_place() -> None:
    x = np.linspace(50, 250, 81)
    y = 50 - 30 * np.sin((x - 50) / 200 * np.pi)
    chords = " ".join(f"{a:.4f},{b:.4f}" for a, b in zip(x, y, strict=True))
    outline = f'<polygon data-role="outline" points="{chords} 250,250 50,250"/>'
    reading = piece_with(dot(x[30], y[30], 'data-point="hip"'), outline)
    piece = only(reading)
    assert "refitted" in codes(reading)
    assert len(piece.outline.path) < 12
    place = piece.outline.vertex_at(piece.outline.vertex("hip"))
    assert place == pytest.approx((x[30], 300 - y[30]), abs=0.06)


def test_a_rule_alone_marks_a_vertex_without_a_name() -> None:
    (point,) = the(dot(50, 50, 'data-rule="r"')).outline.points
    assert (point.name, point.rule) == (None, "r")


def test_one_vertex_takes_no_two_names() -> None:
    two = dot(50, 50, 'data-point="a"') + dot(50.5, 50, 'data-point="b"')
    with pytest.raises(InputError, match='two names, "a" and "b"'):
        piece_with(two)
    both = dot(50, 50, 'data-point="a"') + dot(50.5, 50, 'data-point="a" data-rule="r"')
    assert [(p.name, p.rule) for p in the(both).outline.points] == [("a", "r")]


@pytest.mark.parametrize(
    ("x", "y", "fault"),
    [
        (150, 50, None),
        (150, 54.9, None),
        (150, 55.1, r"5\.1 mm from the nearest edge"),
        (54, 52, None),  # 2 mm from one edge, 4 from the next: just half
        (53.9, 52, "may mean either"),
        (50, 50, "may mean either"),
    ],
)
def test_an_edge_mark_names_the_edge_beyond_doubt(x: float, y: float, fault: str | None) -> None:
    mark = dot(x, y, 'data-edge="hem"')
    if fault is None:
        named = [e for e in the(mark).outline.edges if e.name == "hem"]
        assert [(e.number, e.length) for e in named] == [(3, 200)]
    else:
        with pytest.raises(InputError, match=fault):
            piece_with(mark)


def test_an_edge_mark_on_a_round_piece() -> None:
    piece = the(dot(150, 50.2, 'data-edge="rim"'), '<circle cx="150" cy="150" r="100"/>')
    assert [e.name for e in piece.outline.edges] == ["rim"]


def test_runs_written_on_the_group() -> None:
    attributes = 'data-runs="top = cf..side; rest = #1..@2"'
    marks = dot(250, 50, 'data-point="cf"') + dot(50, 50, 'data-point="side"')
    runs = {r.name: (r.start, r.end) for r in the(marks, attributes=attributes).outline.runs}
    # Counter-clockwise in mm from (50, 250): vertices 0 (50,250), 1 (50,50), 2 (250,50), 3.
    assert runs == {"top": (3, 0), "rest": (1, 2)}
    with pytest.raises(InputError, match="data-runs"):
        piece_with("", attributes='data-runs="top"')
    with pytest.raises(SizewrightError, match="neck"):
        piece_with("", attributes='data-runs="top = neck..#1"')


# --- fold, grain, axis -------------------------------------------------------------------


@pytest.mark.parametrize("x", [50, 51.9, 48.1])
def test_a_fold_line_drawn_short_beside_its_edge_is_the_whole_edge(x: float) -> None:
    piece = the(f'<path data-role="fold" d="M{x} 240V70"/>')
    assert piece.fold is not None
    ends = [tuple(piece.outline.vertex_at(v)) for v in (piece.fold.start, piece.fold.end)]
    assert ends == [(50, 250), (50, 50)]


def test_a_fold_goes_on_through_vertices_in_line() -> None:
    outline = '<path data-role="outline" d="M50 50H250V250H50V200V120Z"/>'
    piece = the('<path data-role="fold" d="M50 190V130"/>', outline)
    assert piece.fold is not None
    ends = [tuple(piece.outline.vertex_at(v)) for v in (piece.fold.start, piece.fold.end)]
    assert ends == [(50, 250), (50, 50)]


def test_a_fold_line_from_vertex_to_vertex_is_just_that_stretch() -> None:
    outline = '<path data-role="outline" d="M50 50H250V250H50V200V120Z"/>'
    piece = the('<path data-role="fold" d="M50 200V120"/>', outline)
    assert piece.fold is not None
    ends = [tuple(piece.outline.vertex_at(v)) for v in (piece.fold.start, piece.fold.end)]
    assert ends == [(50, 180), (50, 100)]


def test_a_fold_line_on_no_edge_is_told() -> None:
    for line in ("M60 240V70", "M50 240L60 70", "M150 240V70"):
        reading = piece_with(f'<path data-role="fold" d="{line}"/>')
        assert [(f.code, f.level) for f in reading.findings] == [("fold-nowhere", "fail")]
        assert only(reading).fold is None


def test_a_fold_on_a_curve_is_told() -> None:
    outline = '<path data-role="outline" d="M50 50H250V250H50C51.5 200 51.5 100 50 50Z"/>'
    reading = piece_with('<path data-role="fold" d="M50.5 240V70"/>', outline)
    assert codes(reading) == ["fold-curved"]
    assert only(reading).fold is not None


def test_grain_and_axis_ends() -> None:
    marks = '<path data-role="grain" data-ends="1" d="M99 80V200"/>'
    piece = the(marks + '<path data-role="axis" d="M120 80V200"/>')
    assert piece.grain is not None
    assert piece.axis is not None
    assert (piece.grain.start, piece.grain.end, piece.grain.ends) == ((99, 220), (99, 100), 1)
    # An axis with two ends runs up the page; with one its end is up, wherever that is.
    assert (piece.axis.start, piece.axis.end) == ((120, 100), (120, 220))
    down = the('<path data-role="axis" data-ends="1" d="M120 80V200"/>').axis
    assert down is not None
    assert (down.start, down.end) == ((120, 220), (120, 100))


def test_a_grain_with_drawn_arrow_heads_is_its_long_line() -> None:
    heads = '<g data-role="grain"><path d="M90 90L99 80L108 90"/><path d="M99 80V200"/></g>'
    grain = the(heads).grain
    assert grain is not None
    assert (grain.start, grain.end) == ((99, 220), (99, 100))


# --- darts, pleats, holds ------------------------------------------------------------------

DART = '<path data-role="outline" d="M50 50H140L150 120L160 50H250V250H50Z"/>'
PLACKET = '<path data-role="outline" d="M50 50H140V120H160V50H250V250H50Z"/>'


def test_a_dart_by_its_point() -> None:
    piece = the(dot(150, 120, 'data-dart="d"'), DART)
    (dart,) = piece.darts
    assert dart.apex == (150, 180)
    ends = [tuple(piece.outline.vertex_at(v)) for v in (dart.a, dart.b)]
    assert ends == [(160, 250), (140, 250)]
    assert dart.tip is not None
    assert tuple(piece.outline.vertex_at(dart.tip)) == (150, 180)


def test_a_dart_by_its_legs_where_the_outline_runs_across() -> None:
    outline = '<path data-role="outline" d="M50 50H140H160H250V250H50Z"/>'
    piece = the('<path data-dart="d" d="M160 50L150 120L140 50"/>', outline)
    (dart,) = piece.darts
    assert (dart.apex, dart.tip) == ((150, 180), None)
    assert tuple(piece.outline.vertex_at(dart.a)) == (160, 250)


@pytest.mark.parametrize("legs", ["M160 50L150 120L140 50", "M140 50L150 120L160 50"])
@pytest.mark.parametrize("mouth", ["H160", "L150 120L160 50"])
def test_a_mouth_counts_whichever_leg_was_drawn_first(legs: str, mouth: str) -> None:
    drawn = f'<path data-role="outline" d="M50 50H140{mouth}H250V250H50Z"/>'
    (dart,) = the(f'<path data-dart="d" d="{legs}"/>', drawn).darts
    piece = the(f'<path data-pleat="d" d="{legs}"/>', drawn)
    for one in (dart, *piece.pleats):
        ends = [tuple(piece.outline.vertex_at(v)) for v in (one.a, one.b)]
        assert ends == [(160, 250), (140, 250)]


def test_a_pleat_lies_between_the_named_points_beside_its_mark() -> None:
    outline = '<path data-role="outline" d="M50 50H120H140H250V250H50Z"/>'
    marks = dot(120, 50, 'data-point="p"') + dot(140, 50, 'data-point="q"')
    piece = the(marks + dot(130, 50, 'data-pleat="d"'), outline)
    (pleat,) = piece.pleats
    ends = [tuple(piece.outline.vertex_at(v)) for v in (pleat.a, pleat.b)]
    assert ends == [(140, 250), (120, 250)]


def test_a_dart_mark_at_no_corner_is_told() -> None:
    reading = piece_with(dot(150, 100, 'data-dart="d"'))
    assert [(f.code, f.level) for f in reading.findings] == [("dart-nowhere", "fail")]


def test_pleats_by_edge_or_by_line() -> None:
    outline = '<path data-role="outline" d="M50 50H140L160 51H250V250H50Z"/>'
    by_edge = the(dot(150, 50.5, 'data-pleat="p"'), outline.replace("L160 51", "L160 55"))
    by_line = the('<path data-pleat="p" d="M160 51L140 50"/>', outline)
    for piece in (by_edge, by_line):
        (pleat,) = piece.pleats
        assert piece.outline.vertex_at(pleat.b) == pytest.approx((140, 250))


@pytest.mark.parametrize(
    ("outline", "place", "held"),
    [
        (DART, (150, 70), [(160, 250), (150, 180), (140, 250)]),
        (DART, (150, 120), [(160, 250), (150, 180), (140, 250)]),
        (DART, (140, 50), [(140, 250)]),
        (PLACKET, (150, 80), [(160, 250), (160, 180), (140, 180), (140, 250)]),
        (PLACKET, (150, 121), [(160, 180), (140, 180)]),
        (PLACKET, (250, 150), [(250, 50), (250, 250)]),
    ],
)
def test_holds(outline: str, place: tuple[float, float], held: list[tuple[float, float]]) -> None:
    piece = the(dot(*place, 'data-hold="yes"'), outline)
    (hold,) = piece.holds
    assert [tuple(piece.outline.vertex_at(v)) for v in hold.vertices] == held


def test_a_hold_far_from_everything_is_told() -> None:
    reading = piece_with(dot(150, 150, 'data-hold="yes"'))
    assert codes(reading) == ["hold-nowhere"]
    assert the(dot(150, 150, 'data-hold="no" data-role="drill"')).holds == ()


# --- notches ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shape", "kind", "depth"),
    [
        ('<path d="M150 50V56" {}/>', "slit", 6),
        ('<path d="M150 56V50" {}/>', "slit", 6),
        ('<path d="M150 47V53" {}/>', "slit", 6),
        ('<polyline points="147,50 150,55 153,50" {}/>', "v", 5),
        ('<path d="M147 50L150 55L153 50z" {}/>', "v", 5),
        ('<path d="M147 50.1L150 55L153 49.95" {}/>', "v", 5),
        ('<rect x="147" y="50" width="6" height="4" data-kind="castle" {}/>', "castle", 4),
        ('<circle cx="150" cy="50" r="2" data-kind="u" {}/>', "u", 2),
        ('<circle cx="150" cy="52" r="2" {}/>', "slit", 4),
        ('<path d="M150 50v6M147 56h6" data-kind="t" data-depth="1/4 in" {}/>', "t", 6.35),
        ('<path d="M150 53V58" {}/>', "slit", 5),
    ],
)
def test_notch_shapes(shape: str, kind: str, depth: float) -> None:
    (notch,) = the(shape.format('data-role="notch" data-name="n"')).notches
    assert notch.at.distance == pytest.approx(100, abs=1e-9)
    assert notch.kind == kind
    assert notch.depth == pytest.approx(depth, abs=0.05 if "50.1" in shape else 1e-9)
    assert notch.name == "n"


def test_a_notch_away_from_the_outline_is_told() -> None:
    reading = piece_with('<path data-role="notch" d="M150 56V60"/>')
    assert codes(reading) == ["notch-nowhere"]
    assert only(reading).notches == ()


def test_a_notch_on_the_cutting_line_stands_on_the_sewing_line() -> None:
    marks = '<path data-role="sew" d="M60 60H240V240H60Z"/><path data-role="notch" d="M150 50v5"/>'
    piece = the(marks, attributes='data-outline="cut" data-allowance="1 cm"')
    (notch,) = piece.notches
    assert piece.outline.path.at(piece.outline.arc_length_of(notch.at)) == pytest.approx((150, 240))
    assert (piece.kind, piece.allowance, piece.area) == ("sew", None, 40000)


# --- sewing line, attributes, leftovers ---------------------------------------------------------


def test_names_fall_on_the_sewing_line_else_on_the_cutting_line() -> None:
    marks = '<path data-role="sew" d="M60 60H240V240H60Z"/>'
    marks += dot(60, 60, 'data-point="in"') + dot(50, 50, 'data-point="out"')
    marks += dot(150, 60, 'data-edge="e-in"') + dot(50, 150, 'data-edge="e-out"')
    piece = the(marks)
    assert piece.cut_line is not None
    assert [p.name for p in piece.outline.points] == ["in"]
    assert [p.name for p in piece.cut_line.points] == ["out"]
    assert [e.name for e in piece.outline.edges if e.name] == ["e-in"]
    assert [e.name for e in piece.cut_line.edges if e.name] == ["e-out"]


def test_a_sewing_line_alone_is_the_outline() -> None:
    piece = the("", '<path data-role="sew" d="M60 60H240V240H60Z"/>')
    assert (piece.kind, piece.cut_line) == ("sew", None)


SEWN = '<path data-role="sew" d="M60 60H240V240H60Z"/>'


@pytest.mark.parametrize(
    ("other", "reason"),
    [
        # A pocket within, a dot on a corner, the line's own copy, a loop that sticks out.
        ('<path id="x" d="M90 90h60v60h-60z"/>', "mark of a"),
        (
            '<circle id="x" cx="240" cy="60" r="1"/>',
            "not round the sewing line of a, without a role",
        ),
        ('<path id="x" d="M60 60V240H240V60Z"/>', "a copy of the sewing line"),
        (
            '<path id="x" d="M200 90h60v60h-60z"/>',
            "not round the sewing line of a, without a role",
        ),
    ],
)
def test_a_sewing_line_is_the_outline_where_no_other_goes_round_it(other: str, reason: str) -> None:
    reading = piece_with(other, SEWN)
    piece = only(reading)
    assert (piece.kind, piece.cut_line, piece.area) == ("sew", None, 180 * 180)
    assert aside(reading) == {"x": reason}
    assert reading.findings == ()


def test_a_larger_shape_beside_the_sewing_line_is_no_cutting_line() -> None:
    reading = piece_with('<path id="band" d="M5 5h380v190h-380z"/>', SEWN)
    piece = only(reading)
    assert (piece.kind, piece.cut_line, piece.area) == ("sew", None, 180 * 180)
    (finding,) = reading.findings
    assert (finding.code, finding.level) == ("sew-alone", "warn")
    assert 'id="band"' in finding.place


def test_an_unmarked_line_round_the_sewing_line_is_the_cutting_line() -> None:
    # Along the fold the two are one line.
    reading = piece_with('<path d="M60 50H250V250H60Z"/><path id="x" d="M90 90h60v60z"/>', SEWN)
    piece = only(reading)
    assert piece.cut_line is not None
    assert piece.cut_line.path.area == 190 * 200
    assert aside(reading) == {"x": "mark of a"}


def test_a_line_by_the_piece_s_own_name_is_its_outline_wherever_it_lies() -> None:
    reading = piece_with('<path id="a" d="M90 90h60v60h-60z"/>', SEWN)
    assert [(f.code, f.level) for f in reading.findings] == [("sew-outside", "fail")]


@pytest.mark.parametrize(
    "within", ["", '<circle inkscape:label="a.pont.hip" cx="9" cy="9" r="2"/>']
)
def test_a_layer_with_nothing_but_a_sewing_line(within: str) -> None:
    body = '<g inkscape:groupmode="layer" inkscape:label="back skirt">'
    body += '<path inkscape:label="back skirt.sew" d="M60 60H240V240H60Z"/>' + within + "</g>"
    piece = only(read(body))
    assert (piece.name, piece.kind, piece.area) == ("back skirt", "sew", 180 * 180)


def test_an_open_sewing_line_leaves_no_dot_as_the_piece() -> None:
    reading = piece_with(
        '<circle cx="60" cy="60" r="1"/>', '<path data-role="sew" d="M60 60H240V240H60"/>'
    )
    assert reading.pattern.pieces == ()
    assert codes(reading) == ["open-outline"]


def test_attributes_of_the_piece() -> None:
    piece = the(
        "<desc>drafted\n  widened </desc>",
        attributes='data-quantity="main 2, 1 lining, interfacing" data-pair="Yes" '
        'data-outline="cut" data-allowance="5/8 in" data-side="left" data-size="12"',
    )
    assert [(q.material, q.count) for q in piece.quantity] == [
        ("main", 2),
        ("lining", 1),
        ("interfacing", 1),
    ]
    assert (piece.pair, piece.kind, piece.allowance) == (True, "cut", 15.875)
    assert (piece.side, piece.size, piece.story) == ("left", "12", ("drafted", "widened"))


@pytest.mark.parametrize(
    "attributes",
    [
        'data-quantity="main two"',
        'data-quantity="main 2, main 1"',
        'data-pair="perhaps"',
        'data-outline="inked"',
        'data-outline="cut" data-allowance="1.5"',
        'data-outline="cut" data-allowance="-1 cm"',
        'data-outline="sew" data-allowance="1 cm"',
        'data-side="up"',
    ],
)
def test_wrong_attributes_are_refused_with_piece_and_cure(attributes: str) -> None:
    with pytest.raises(InputError, match=r"test\.svg: a") as caught:
        piece_with("", attributes=attributes)
    assert caught.value.cure


def test_unknown_roles_are_told() -> None:
    reading = piece_with('<path data-role="grian" d="M99 80V200"/>')
    (finding,) = reading.findings
    assert (finding.code, finding.level) == ("role-unknown", "warn")
    assert "grain" in finding.cure


def test_pictures_are_for_the_eye_only() -> None:
    reading = piece_with(f'<g data-role="picture">{OUTLINE}<text>12</text></g>')
    assert only(reading).area == 40000
    assert reading.set_aside == ()


def test_loose_marks_belong_to_the_one_piece_beside_them() -> None:
    body = '<g><path id="a" d="M50 50H150V150H50Z"/><path data-role="grain" d="M99 90V140"/></g>'
    body += '<path id="b" d="M200 50H300V150H200Z"/>'
    reading = read(body)
    assert reading.pattern.piece("a").grain is not None
    lost = read(body + '<path id="g" data-role="grain" d="M250 90V140"/>')
    assert "mark-without-piece" in codes(lost)
    assert lost.pattern.piece("b").grain is None


def test_labels_and_their_lines() -> None:
    text = '<text data-role="label" font-size="8" transform="rotate(-90 100 200)" x="100" y="200">'
    text += '<tspan x="100">Front</tspan><tspan x="100" dy="9">cut  2</tspan></text>'
    (label,) = the(text).labels
    assert label.text == "Front\ncut 2"
    assert label.at == pytest.approx((100, 100))
    assert (label.height, label.angle) == pytest.approx((8, 90))
    # CSS: an em is the size of the font.
    (placed,) = the(text.replace('x="100" y="200"', 'x="12.5em" y="25em"')).labels
    assert placed.at == pytest.approx(label.at)
    half = '<text data-role="label" x="9" y="9" style="font-size:50%">a</text>'
    styled = f'<g style="font-size:12pt">{half}</g>'
    assert the(styled).labels[0].height == pytest.approx(8)  # 12 pt are 16 user units


def test_a_mark_without_a_shape_is_refused() -> None:
    with pytest.raises(InputError, match="has no shape"):
        piece_with('<g data-point="a"></g>')


def test_corner_numbers_that_fit_no_more_are_told() -> None:
    written = '<path data-role="outline" data-corners="2 3 0 1" d="M50 50V250H250V50Z"/>'
    piece = the("", written)
    assert piece.outline.corners == (2, 3, 0, 1)
    for corners in ("2 3 0 9", "0 2 1", "x"):
        told = piece_with("", written.replace("2 3 0 1", corners))
        assert codes(told) == ["corners-renumbered"]
        assert only(told).outline.corners == (1, 2, 3, 0)


# --- darts within, wide mouths, several faults ------------------------------------------------

EYE = "M150 100L160 150L150 220L140 150Z"


@pytest.mark.parametrize(
    "mark",
    [
        f'<path data-dart="waist" d="{EYE}"/>',
        f'<path data-role="mark" data-kind="dart" data-name="waist" d="{EYE}"/>',
        f'<path inkscape:label="waist" data-role="mark" data-kind="darts" d="{EYE}"/>',
    ],
)
def test_a_dart_drawn_closed_within_its_piece_is_a_dart(mark: str) -> None:
    (dart,) = eye_darts(the(mark))
    assert (dart.name, dart.take) == ("waist", 20)
    assert dart.tips == ((150, 80), (150, 200))
    assert set(dart.mouth) == {(140, 150), (160, 150)}


def test_a_diamond_is_a_dart_and_a_welt_is_none() -> None:
    style = 'fill="none" stroke="black"'
    outline = f'<path {style} id="back" d="M50 50H250V250H50Z"/>'
    reading = read(f'{outline}<path {style} d="{EYE}"/>')
    assert len(eye_darts(only(reading))) == 1
    assert "inner-darts" in codes(reading)
    welt = only(read(f'{outline}<path {style} d="M100 100H220V112H100Z"/>'))
    assert (len(welt.marks), eye_darts(welt)) == (1, ())


def test_a_mouth_wider_than_half_its_run_is_refused() -> None:
    whole = '<path data-pleat="p" d="M50 50H250"/>'
    with pytest.raises(InputError, match=r'pleat "p" is 20 cm .*more than half of the 20 cm'):
        piece_with(whole)
    nodes = OUTLINE.replace("M50 50H250", "M50 50H{}H250")
    assert the(whole.replace("250", "149"), nodes.format(149)).pleats
    with pytest.raises(InputError, match="more than half of the 20 cm"):
        piece_with(whole.replace("250", "151"), nodes.format(151))


def test_all_wrong_marks_are_told_at_once_and_the_rest_is_read() -> None:
    marks = [
        dot(250, 150, 'data-point="waist" inkscape:label="waist mark" id="circle9"'),
        dot(230, 150, 'data-edge="side"'),
        '<path data-role="notch" data-kind="zig" d="M250 100h-5"/>',
        dot(50, 250, 'data-point="hem"'),
    ]
    with pytest.raises(WrongMarks) as caught:
        piece_with("".join(marks), attributes='data-quantity="three of them"')
    reading = caught.value.reading
    told = [f for f in reading.findings if f.level == "fail"]
    assert [f.code for f in told] == ["wrong-mark"] * 4
    assert {f.at for f in told} == {None, (250, 150), (230, 150), (247.5, 200)}
    assert str(caught.value).count("\n") == 3
    assert '<circle "waist mark">: the point mark "waist"' in str(caught.value)
    assert [p.name for p in only(reading).outline.points] == ["hem"]


def test_a_side_said_of_a_point_is_told() -> None:
    told = piece_with(dot(250, 50, 'data-point="hip" data-side="left"'))
    (finding,) = [f for f in told.findings if f.code == "side-unused"]
    assert finding.level == "warn"
    plain = piece_with(dot(250, 50, 'data-point="hip"'))
    assert "side-unused" not in {f.code for f in plain.findings}
