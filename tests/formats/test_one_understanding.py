"""The same lines saved as SVG or as DXF give the same pattern, and nothing of them is lost."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.formats import read_dxf
from sizewright.formats.reading import Reading
from sizewright.geometry.nearest import nearest
from sizewright.geometry.path import Path
from sizewright.model import Piece
from tests.formats.drawing import aside, box, codes, names, only, read
from tests.formats.dxf_made import document, fresh

HEIGHT = 300.0
Point = tuple[float, float]
#: A layer's name, and the points of a line on it; (a place, words) for a text.
Drawn = tuple[str, Sequence[Point] | tuple[Point, str]]

SIDES: list[Drawn] = [
    ("Front", [(50, 50), (150, 50)]),
    ("Front", [(150, 170), (150, 50)]),
    ("Front", [(50, 170), (150, 170)]),
    ("Front", [(50, 50), (50, 170)]),
]


def as_svg(items: Sequence[Drawn], **settings: Any) -> Reading:
    """The lines and words as an editor saves them, a group for each layer."""
    body = ""
    for layer, group in itertools.groupby(items, key=lambda one: one[0]):
        body += f'<g inkscape:groupmode="layer" inkscape:label="{layer}">'
        for _, (first, *rest) in group:
            if isinstance(rest[0], str):
                x, y = first
                body += f'<text x="{x}" y="{HEIGHT - y}" font-size="8">{rest[0]}</text>'
            else:
                points = " ".join(f"{x},{HEIGHT - y}" for x, y in (first, *rest))
                body += f'<polyline fill="none" stroke="black" points="{points}"/>'
        body += "</g>"
    return read(body, **settings)


def as_dxf(items: Sequence[Drawn], **settings: Any) -> Reading:
    """The same as polylines and texts on layers."""
    doc = fresh()
    space = doc.modelspace()
    for layer, (first, *rest) in items:
        if isinstance(rest[0], str):
            space.add_text(rest[0], height=8, dxfattribs={"layer": layer}).set_placement(first)
        else:
            space.add_lwpolyline([first, *rest], dxfattribs={"layer": layer})
    return read_dxf(document(doc), **settings)


def facts(piece: Piece) -> tuple[object, ...]:
    """What is to be the same of a piece."""
    return (
        piece.name,
        piece.size,
        round(piece.area, 6),
        sorted((m.kind, round(m.path.length, 6)) for m in piece.marks),
        len(piece.cutouts),
        sorted(label.text for label in piece.labels),
        None if piece.grain is None else np.round((piece.grain.start, piece.grain.end), 6).tolist(),
        [(n.kind, round(n.depth, 6)) for n in piece.notches],
        piece.quantity,
        [c.code for c in ()],
    )


def both(items: Sequence[Drawn], **settings: Any) -> Reading:
    """The reading of the SVG, which is that of the DXF."""
    svg, dxf = as_svg(items, **settings), as_dxf(items, **settings)
    assert [facts(p) for p in svg.pattern.pieces] == [facts(p) for p in dxf.pattern.pieces]
    assert sorted(s.reason for s in svg.set_aside) == sorted(s.reason for s in dxf.set_aside)
    assert sorted(codes(svg)) == sorted(codes(dxf))
    return svg


# --- the same in both ---------------------------------------------------------------------


def test_loose_lines_on_a_layer_with_a_word() -> None:
    piece = only(both([*SIDES, ("Front", ((80, 100), "FRONT"))]))
    assert (piece.name, piece.area, piece.labels) == ("FRONT", 12000, ())


def test_a_layer_names_its_piece_and_other_words_are_labels() -> None:
    piece = only(both([*SIDES, ("Front", ((60, 100), "cut 2 on fold"))]))
    assert piece.name == "Front"
    assert [label.text for label in piece.labels] == ["cut 2 on fold"]


@pytest.mark.parametrize(
    ("words", "count"),
    [
        (["1 FRONT", "cut 2"], 2),
        (["Back", "Cut 1 on the fold"], 1),
        (["Strap (cut 4)"], 4),
        (["Back", "cut 2 fabric"], None),
        (["Back", "cut 2", "cut 1"], None),
        (["Back", "shortcut 2"], None),
    ],
)
def test_how_many_to_cut_in_plain_words(words: list[str], count: int | None) -> None:
    texts = [("0", ((60, 150 - 15 * k), word)) for k, word in enumerate(words)]
    piece = only(both([*SIDES, *texts]))
    assert [q.count for q in piece.quantity] == ([] if count is None else [count])


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("Front, cut 1 on fold", "Front"),
        ("Strap (cut 2)", "Strap"),
        ("Yoke - Cut 2 of lining", "Yoke"),
        ("Facing cut 1", "Facing"),
        ("Cutwork", "Cutwork"),
        ("1 FRONT", "FRONT"),
        ("12. Under collar", "Under collar"),
        ("cut-away 2", "cut-away 2"),
    ],
)
def test_how_many_to_cut_is_no_part_of_a_name(words: str, name: str) -> None:
    sides = [("0", points) for _, points in SIDES]
    piece = only(both([*sides, ("0", ((52, 100), words))]))
    assert piece.name == name
    assert [label.text for label in piece.labels] == ([] if name == words else [words])


def test_words_taken_at_their_word() -> None:
    words = [((60, 150), "NAME: yoke"), ((60, 130), "SIZE: 12"), ((60, 110), "QUANTITY: main 2")]
    piece = only(both([*SIDES, *(("0", word) for word in words)]))
    assert (piece.name, piece.size, piece.quantity[0].count) == ("yoke", "12", 2)


def test_layers_hint_at_what_lines_are() -> None:
    lines: list[Drawn] = [
        ("grain", [(100, 60), (100, 160)]),
        ("notches", [(150, 100), (145, 100)]),
        ("pocket", [(60, 60), (80, 60), (80, 90), (60, 90), (60, 60)]),
        ("guides", [(60, 60), (60, 160)]),
    ]
    reading = both([*SIDES, *lines])
    piece = only(reading)
    assert piece.grain is not None
    assert len(piece.notches) == 1
    assert [(m.kind, m.path.closed) for m in piece.marks] == [("pocket", True)]
    assert "on layer guides" in {s.reason for s in reading.set_aside}


def test_two_open_lines_round_a_closed_one() -> None:
    """A front drawn in two lines, and within it a dart drawn closed."""
    dart = [(100, 80), (105, 110), (100, 140), (95, 110), (100, 80)]
    halves: list[Drawn] = [
        ("0", [(50, 50), (150, 50), (150, 170)]),
        ("0", [(50, 50), (50, 170), (150, 170)]),
        ("darts", dart),
    ]
    piece = only(both(halves))
    assert piece.area == 12000
    assert [m.kind for m in piece.marks] == ["darts"]


@pytest.mark.parametrize(
    ("layers", "cut"),
    [
        (("0", "0"), 0),
        (("Layer 1", "Layer 1"), 0),
        (("Front", "Front"), 0),
        (("CUT", "CUT"), 1),
        (("Front", "cut-outs"), 1),
    ],
)
def test_a_loop_within_is_cut_out_only_where_a_layer_says_so(
    layers: tuple[str, str], cut: int
) -> None:
    slot = [(70, 70), (90, 70), (90, 80), (70, 80), (70, 70)]
    outline = [(50, 50), (150, 50), (150, 170), (50, 170), (50, 50)]
    reading = both([(layers[0], outline), (layers[1], slot)])
    piece = only(reading)
    assert (len(piece.cutouts), len(piece.marks)) == (cut, 1 - cut)
    assert piece.area == 12000 - 200 * cut
    told = {"inner-cutouts"} if layers[1] == "CUT" else set() if cut else {"inner-marks"}
    assert set(codes(reading)) == told


def test_gaps_up_to_the_tolerance_are_joined_and_each_is_told() -> None:
    gapped: list[Drawn] = [("a", [(50, 50), (149.95, 50)]), *SIDES[1:]]
    (finding,) = [f for f in both(gapped).findings if f.code == "ends-joined"]
    assert "0.05 mm at (149.9" in finding.text or "0.05 mm at (150.0" in finding.text
    wide = '<path fill="none" stroke="black" d="M50 50H150V150H50V50.4"/>'
    assert names(read(wide)) == []
    assert len(names(read(wide, join_tolerance=0.5))) == 1


@pytest.mark.parametrize("layer", ["darts", "DARTS", "waist darts", "dart"])
@pytest.mark.parametrize("loose", [False, True])
def test_a_triangle_at_the_edge_on_a_layer_for_darts_is_a_dart(layer: str, loose: bool) -> None:
    outline = ("Front", [(50, 50), (150, 50), (150, 170), (50, 170), (50, 50)])
    waist, side = [(90, 170), (110, 170), (100, 100)], [(150, 120), (150, 130), (115, 126)]
    drawn: list[Drawn] = [outline]
    for triangle in (waist, side):
        a, b, c = triangle
        parts = [[a, b], [c, b], [c, a]] if loose else [[a, b, c, a]]
        drawn += [(layer, part) for part in parts]
    reading = both(drawn)
    piece = only(reading)
    assert (piece.marks, reading.findings) == ((), ())
    vertices = piece.outline.path.vertices.round(9)
    found = {
        (dart.apex, *(tuple(vertices[v]) for v in (dart.a, dart.b)), dart.tip)
        for dart in piece.darts
    }
    # The mouths in the outline's own order, counter-clockwise.
    assert found == {
        ((100, 100), (110, 170), (90, 170), None),
        ((115, 126), (150, 120), (150, 130), None),
    }
    assert {dart.name for dart in piece.darts} == {"dart", "dart-2"}
    assert len(piece.outline.corners) == 4
    assert sorted(round(e.length, 9) for e in piece.outline.edges) == [100, 100, 120, 120]


def test_what_else_lies_on_a_layer_for_darts_stays_as_it_was() -> None:
    """A triangle within, one outside its edge, an eye, a line; and a triangle that says nothing."""
    outline = ("Front", [(50, 50), (150, 50), (150, 170), (50, 170), (50, 50)])
    within = [(70, 100), (80, 100), (75, 130), (70, 100)]
    eye = [(120, 80), (125, 100), (120, 120), (115, 100), (120, 80)]
    outward = [(90, 170), (110, 170), (100, 175), (90, 170)]
    drawn = [("darts", within), ("darts", eye), ("darts", outward), ("darts", [(60, 60), (60, 90)])]
    unsaid = ("pocket", [(90, 50), (110, 50), (100, 90), (90, 50)])
    piece = only(both([outline, *drawn, unsaid]))
    assert piece.darts == ()
    assert sorted(mark.kind for mark in piece.marks)[-2:] == ["darts", "pocket"]


def test_two_legs_at_a_curved_edge_are_a_dart() -> None:
    """The mouth gets points of its own on the curve, which keeps its shape."""
    body = (
        '<path id="front" d="M50 50C80 60 120 60 150 50V170H50z" fill="none" stroke="black"/>'
        '<g id="darts" fill="none" stroke="black"><path d="M92 57L100 120L108 57"/></g>'
    )
    plain = only(read(body.partition("<g")[0]))
    piece = only(read(body))
    (dart,) = piece.darts
    assert (dart.name, dart.apex, dart.tip) == ("dart", (100, 180), None)
    assert piece.area == pytest.approx(plain.area, abs=1e-9)
    a, b = (piece.outline.path.vertices[v] for v in (dart.a, dart.b))
    assert float(nearest(plain.outline.path, np.array([a, b])).distance.max()) < 1e-9
    assert (a[0], b[0]) == (pytest.approx(108, abs=0.2), pytest.approx(92, abs=0.2))


def overshooting(out: float) -> list[Drawn]:
    """The sides of `SIDES`, each `out` mm longer at both its ends."""
    return [
        ("Front", [(50 - out, 50), (150 + out, 50)]),
        ("Front", [(150, 170 + out), (150, 50 - out)]),
        ("Front", [(50 - out, 170), (150 + out, 170)]),
        ("Front", [(50, 50 - out), (50, 170 + out)]),
    ]


@pytest.mark.parametrize(("out", "settings"), [(0.08, {}), (0.8, {"join_tolerance": 1.0})])
def test_lines_that_overshoot_are_cut_off_where_they_cross(
    out: float, settings: dict[str, float]
) -> None:
    reading = both([*overshooting(out), ("Front", ((80, 100), "FRONT"))], **settings)
    piece = only(reading)
    assert (piece.name, piece.area) == ("FRONT", pytest.approx(12000, abs=1e-9))
    (finding,) = reading.findings
    assert finding.code == "ends-cut"
    assert "cut off at 4 crossing(s)" in finding.text
    assert f"{out} mm at (50.0, 50.0)" in finding.text


@pytest.mark.parametrize(("out", "cure"), [(0.15, "0.2mm"), (0.8, "1mm"), (4.0, "5mm")])
def test_lines_that_overshoot_too_far_are_told_with_the_cure(out: float, cure: str) -> None:
    reading = both(overshooting(out))
    assert reading.pattern.pieces == ()
    (finding,) = reading.findings
    assert (finding.code, finding.level) == ("open-outline", "fail")
    assert f"stick out {out:.2f} mm beyond where they cross" in finding.text
    assert f"--join {cure}" in finding.cure
    assert only(both(overshooting(out), join_tolerance=float(cure[:-2]))).area == pytest.approx(
        12000
    )


def test_where_three_lines_cross_the_outline_keeps_its_corner() -> None:
    """The third stands within, from the corner that all three overshoot."""
    third: Drawn = ("Front", [(49.96, 49.96), (100, 100)])
    reading = both([*overshooting(0.08), third])
    piece = only(reading)
    assert piece.area == pytest.approx(12000, abs=1e-6)
    ((start, end),) = ((m.path.start, m.path.end) for m in piece.marks)
    assert sorted([tuple(start.round(6)), tuple(end.round(6))]) == [(50, 50), (100, 100)]


def test_loose_lines_that_hardly_meet_are_told_as_one_outline() -> None:
    """Each line by itself is straight, and says nothing of an outline."""
    apart: list[Drawn] = [("Front", [(51, 50), (149, 50)]), *SIDES[1:]]
    (finding,) = both(apart).findings
    assert (finding.code, finding.level) == ("open-outline", "fail")
    assert "its ends are 1.00 mm apart" in finding.text
    grouped = "".join(f'<path d="M{a} {b}L{c} {d}"/>' for _, ((a, b), (c, d)) in apart)
    (finding,) = read(f'<g data-piece="a" fill="none" stroke="black">{grouped}</g>').findings
    assert "--join 1mm" in finding.cure


def test_an_outline_left_open_round_a_loop_fails() -> None:
    """Else the pocket drawn within would pass for the front in silence."""
    front: Drawn = ("Front", [(50, 50), (150, 50), (150, 170), (50, 170), (50, 130)])
    pocket: Drawn = ("Front", [(80, 80), (120, 80), (120, 120), (80, 120), (80, 80)])
    back: Drawn = ("Back", [(200, 50), (300, 50), (300, 170), (200, 170), (200, 50)])
    (finding,) = both([front, pocket, back]).findings
    assert (finding.code, finding.level) == ("open-outline", "fail")
    assert '"Front" is open: its ends are 80.00 mm apart' in finding.text
    assert "what lies in it was taken for a piece" in finding.text


# --- names in SVG ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("group", "shape", "name"),
    [
        ('id="front"', 'id="path1039"', "front"),
        ('id="layer1" inkscape:label="Front"', 'id="path1039"', "Front"),
        ('inkscape:label="Layer 1"', 'id="path1039"', "path1039"),
        ('inkscape:label="Bodice"', 'id="back"', "back"),
        ('inkscape:label="Bodice"', 'id="path9" inkscape:label="Back"', "Back"),
        ('id="g4"', 'id="_x31_2-front"', "12-front"),
        ('id="front1" serif:id="Front"', 'id="path3"', "Front"),
        ('inkscape:label="grain notes"', 'id="path3"', "path3"),
        ('inkscape:label="size 12"', 'id="path3"', "path3 12"),
    ],
)
def test_names_of_groups_and_shapes(group: str, shape: str, name: str) -> None:
    body = (
        f'<g xmlns:serif="http://www.serif.com/" {group}><path {shape} d="M50 50h80v90h-80z"/></g>'
    )
    assert names(read(body)) == [name]


def test_a_group_of_two_pieces_names_neither() -> None:
    body = f'<g inkscape:label="Bodice">{box(50, 50, 80, 90, id="a")}{box(150, 50, 80, 90)}</g>'
    assert names(read(body)) == ["a", "piece-1"]


# --- what is not seen ---------------------------------------------------------------------------

FRONT = box(50, 50, 100, 120, id="front")


@pytest.mark.parametrize(
    "unseen",
    [
        'fill="none"',
        'fill="none" stroke="black" stroke-width="0"',
        'opacity="0"',
        'style="fill:none;stroke:red;stroke-opacity:0"',
        'fill-opacity="0" stroke="none"',
    ],
)
def test_what_is_not_seen_is_no_piece(unseen: str) -> None:
    reading = read(f'{FRONT}<rect id="frame" x="20" y="20" width="250" height="200" {unseen}/>')
    assert names(reading) == ["front"]
    assert aside(reading) == {"frame": "neither filled nor stroked"}
    within = read(f'<g {unseen}><path id="b" d="M200 50h50v50z"/></g>{FRONT}')
    assert names(within) == ["front"]


def test_a_drawing_in_which_nothing_is_seen_is_read_and_that_is_told() -> None:
    reading = read(box(50, 50, 100, 120, id="front", fill="none"))
    assert (names(reading), codes(reading)) == (["front"], ["unpainted"])


def test_a_clip_is_told() -> None:
    body = '<clipPath id="c"><rect width="9" height="9"/></clipPath>'
    reading = read(body + box(50, 50, 100, 120, id="front", clip_path="url(#c)"))
    assert only(reading).area == 12000
    assert [(f.code, f.level) for f in reading.findings] == [("clipped", "warn")]
    assert 'id="front"' in reading.findings[0].place


def test_a_clip_that_cuts_nothing_is_not_told() -> None:
    """As some programs clip everything by the page."""
    clip = '<clipPath id="c" clipPathUnits="userSpaceOnUse"><rect {}/></clipPath>'
    group = '<g clip-path="url(#c)">' + box(50, 50, 100, 120, id="front") + "</g>"
    page = clip.format('x="0" y="0" width="400" height="300"')
    assert read(page + group).findings == ()
    nearly = clip.format('x="0" y="0" width="149" height="300"')
    assert codes(read(nearly + group)) == ["clipped"]
    turned = clip.format('width="400" height="300" transform="rotate(20)"')
    assert codes(read(turned + group)) == ["clipped"]


def test_a_drawing_of_an_office_program() -> None:
    """Groups with made-up ids, a box round each shape, words in spans within spans."""
    words = "".join(
        '<tspan class="TextParagraph" font-size="9px"><tspan class="TextPosition" x="70" '
        f'y="{y}"><tspan fill="black">{word}</tspan></tspan></tspan>'
        for y, word in ((90, "Bag side"), (102, "cut 2"))
    )
    same = '<tspan class="TextPosition" x="99" y="102"><tspan>of cloth</tspan></tspan>'
    body = (
        '<g class="PolyPolygonShape"><g id="id3"><rect class="BoundingBox" stroke="none" '
        'fill="none" x="49" y="49" width="102" height="122"/>'
        '<path fill="none" stroke="rgb(0,0,0)" d="M 50,50 L 150,50 150,170 50,170 50,50 Z"/>'
        f'<text class="SVGTextShape" font-size="3px">{words}{same}</text></g></g>'
    )
    reading = read(body)
    piece = only(reading)
    assert piece.name == "Bag side"
    (label,) = piece.labels
    assert (label.text, label.height) == ("cut 2 of cloth", 9)
    assert label.at == (70, 210)
    assert reading.findings == ()


def test_hatching_is_left_out_and_told() -> None:
    hatch = "".join(f'<path stroke="red" d="M60 {55 + 0.11 * k:.2f}h70"/>' for k in range(1001))
    reading = read(FRONT + hatch + '<path id="grain" stroke="red" d="M70 60v90"/>')
    piece = only(reading)
    assert (piece.marks, piece.grain is not None) == ((), True)
    assert codes(reading) == ["too-many-lines"]
    assert len(reading.set_aside) == 1002


# --- test squares ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("side", "words", "code"),
    [
        (50, "test square 5 cm", "test-square"),
        (50.8, "2 in", "test-square"),
        (50.8, '2"', "test-square"),
        (37.5, "5 cm x 5 cm", "scale-wrong"),
        (66.67, "Check: 50 mm", "scale-wrong"),
        (1270.0, "5 cm", "scale-wrong"),
    ],
)
def test_a_test_square_proves_the_scale_and_is_no_piece(side: float, words: str, code: str) -> None:
    square = box(200, 50, side, side, id="square")
    text = f"<text id='t' x='205' y='70' font-size='4'>{words}</text>"
    reading = read(FRONT + square + text)
    assert names(reading) == ["front"]
    assert codes(reading) == [code]
    assert aside(reading) == {"square": "a test square", "t": "words of a test square"}
    if code == "scale-wrong":
        assert f"{side / 50:.4g} times" in reading.findings[0].text


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        (box(200, 50, 50, 50, id="patch"), "pocket, 5 cm deep"),
        (box(200, 50, 50, 50, id="patch"), "patch"),
        (box(200, 50, 50, 80, id="patch"), "5 cm"),
    ],
)
def test_a_square_piece_is_no_test_square(shape: str, words: str) -> None:
    text = f'<text x="205" y="70" font-size="4">{words}</text>'
    assert names(read(FRONT + shape + text)) == ["front", "patch"]


# --- nothing is lost ------------------------------------------------------------------------------


def lines_in(pattern: Reading) -> list[Path]:
    """Every line of every piece."""
    found: list[Path] = []
    for p in pattern.pattern.pieces:
        found += [o.path for o in (p.outline, p.cut_line) if o is not None]
        found += [x.path for x in (*p.marks, *p.cutouts, *p.adjusts)]
    return found


@st.composite
def drawings(draw: st.DrawFn) -> list[tuple[str, str, list[Point]]]:
    """Subpaths and words: (id, words or "", points), each somewhere on the page."""
    out: list[tuple[str, str, list[Point]]] = []
    for k in range(draw(st.integers(1, 9))):
        x, y = draw(st.integers(5, 300)), draw(st.integers(5, 200))
        w, h = draw(st.integers(1, 90)), draw(st.integers(1, 90))
        kind = draw(st.sampled_from(["closed", "open", "line", "text"]))
        points: list[Point] = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        points = points[:2] if kind == "line" else points
        points = [*points, points[0]] if kind == "closed" else points
        out.append((f"s{k}", f"word {k}" if kind == "text" else "", points))
    return out


@given(drawings())
def test_every_subpath_line_and_word_is_accounted_for(
    drawn: list[tuple[str, str, list[Point]]],
) -> None:
    """Lines lie on lines of the pattern, words are labels or names; else they are set aside."""
    body = f'<g id="all" fill="none" stroke="black">{box(40, 40, 120, 120, id="front")}'
    for ident, words, points in drawn:
        if words:
            (x, y), *_ = points
            body += f'<text id="{ident}" x="{x}" y="{y}" fill="black">{words}</text>'
        else:
            body += f'<path id="{ident}" d="M{" ".join(f"{x},{y}" for x, y in points)}"/>'
    compound = " ".join("M" + " ".join(f"{x},{y}" for x, y in p) for _, w, p in drawn if not w)
    reading = read(body + "</g>")
    known = {s.name for s in reading.set_aside}
    paths = lines_in(reading)
    said = {label.text for p in reading.pattern.pieces for label in p.labels}
    said |= {p.name for p in reading.pattern.pieces}
    for ident, words, points in drawn:
        if ident in known:
            continue
        if words:
            assert words in said
            continue
        flipped = Path.polyline([(x, HEIGHT - y) for x, y in points])
        places = flipped.at(np.linspace(0.0, flipped.length, 15))
        assert any(float(nearest(p, places).distance.max()) < 0.2 for p in paths), ident
    # The same lines as subpaths of one path: all are there, or the path is set aside by parts.
    if compound:
        again = read(f'<path id="all" d="{compound}"/>')
        count = len([1 for _, words, _ in drawn if not words])
        held = len(lines_in(again)) + sum(s.name == "all" for s in again.set_aside)
        assert held >= count or "ends-joined" in codes(again) or "copies" in codes(again)
