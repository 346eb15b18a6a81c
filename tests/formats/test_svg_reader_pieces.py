"""Which shapes are pieces, how they are named and sized, and what is set aside."""

from __future__ import annotations

import numpy as np
import pytest

from sizewright.errors import InputError
from sizewright.formats.drawing.lines import Loop
from sizewright.formats.reading import WrongMarks
from sizewright.geometry import Floats
from tests.formats.drawing import aside, box, codes, names, only, read

FRONT = box(50, 50, 100, 120, id="front")
BACK = box(200, 50, 100, 120, id="back")


def test_each_closed_path_is_a_piece_by_label_or_id() -> None:
    body = f'{FRONT}<path inkscape:label="Side panel" id="path7" d="M200 50h50v50z"/>'
    body += '<path d="M300 50h50v50z"/><path d="M300 150h50v50z"/>'
    reading = read(body)
    assert names(reading) == ["front", "Side panel", "piece-1", "piece-2"]
    assert reading.set_aside == ()


def test_groups_that_are_marked_are_the_pieces_and_loose_paths_are_not() -> None:
    body = f'<g data-piece="yoke" id="g1">{box(10, 10, 80, 40, id="x")}</g>{FRONT}'
    reading = read(body)
    assert names(reading) == ["yoke"]
    assert aside(reading)["front"] == "outside the groups that are marked as pieces"


def test_a_shape_may_say_itself_that_it_is_a_piece() -> None:
    shape = box(10, 10, 80, 40, data_piece="yoke", data_quantity="main 2", data_pair="yes")
    piece = only(read(shape + FRONT))
    assert (piece.name, piece.pair, piece.quantity[0].count) == ("yoke", True, 2)


def test_the_largest_closed_shape_of_a_group_is_the_outline() -> None:
    body = f'<g data-piece="a">{box(60, 60, 30, 30, id="in")}{box(50, 50, 90, 90, id="out")}</g>'
    reading = read(body)
    assert only(reading).area == 8100
    assert aside(reading) == {"in": "mark of a"}
    assert [abs(m.path.area) for m in only(reading).marks] == [900]


def test_dotted_names_gather_round_their_piece() -> None:
    body = f'{FRONT}<path id="front.grain" d="M100 150V80"/>{BACK}'
    body += '<circle id="front.point.neck" cx="50" cy="50" r="2"/>'
    reading = read(body)
    assert names(reading) == ["front", "back"]
    front = reading.pattern.piece("front")
    assert front.grain is not None
    assert [p.name for p in front.outline.points] == ["neck"]
    assert reading.pattern.piece("back").grain is None


def test_dotted_names_may_say_a_rule() -> None:
    body = f'{FRONT}<circle id="front.point.neck.rule.top" cx="50" cy="50" r="2"/>'
    body += '<circle id="front.point.rule.side.low" cx="150" cy="50" r="2"/>'
    body += '<path id="front.notch.mid.rule.hip" d="M100 50V55"/>'
    front = only(read(body))
    assert {(p.name, p.rule) for p in front.outline.points} == {("neck", "top"), (None, "side.low")}
    assert [(n.name, n.rule) for n in front.notches] == [("mid", "hip")]


def test_a_layer_by_the_piece_s_name_holds_its_outline() -> None:
    body = '<g inkscape:label="front" inkscape:groupmode="layer">'
    body += box(50, 50, 100, 120, id="path1")
    body += '<path inkscape:label="front.grain" d="M99 150V80"/></g>'
    reading = read(body)
    assert names(reading) == ["front"]
    assert only(reading).grain is not None


@pytest.mark.parametrize(
    "ident", ["front.point.hip-1", "front.point.hip_2", "front.point.hip.3", "front.point.hip-4-7"]
)
def test_suffixes_of_editors_are_no_part_of_a_name(ident: str) -> None:
    # The plain id is in the drawing too, on another size.
    body = '<g inkscape:label="size 12">' + box(50, 50, 100, 120, id="front.outline")
    body += '<circle id="front.point.hip" cx="50" cy="50" r="2"/></g><g inkscape:label="size 14">'
    body += box(49, 49, 102, 122, id="front.outline-9")
    body += f'<circle id="{ident}" cx="49" cy="49" r="2"/></g>'
    reading = read(body)
    assert names(reading) == ["front 12", "front 14"]
    assert [p.outline.points[0].name for p in reading.pattern.pieces] == ["hip", "hip"]


def test_a_number_that_is_part_of_a_name_stays() -> None:
    body = f'{FRONT}<circle id="front.point.pleat-1" cx="50" cy="50" r="2"/>'
    body += '<circle id="front.point.pleat-2" cx="150" cy="50" r="2"/>'
    points = only(read(body)).outline.points
    assert {p.name for p in points} == {"pleat-1", "pleat-2"}


def test_marks_are_set_aside_by_what_they_are() -> None:
    body = f'<g data-piece="a">{FRONT}<path id="g" data-role="grain" d="M99 150V80"/>'
    body += '<circle id="p" data-point="neck" cx="50" cy="50" r="40"/></g>'
    reading = read(body)
    assert aside(reading) == {"g": "grain of a", "p": "point neck of a"}


def test_small_paths_text_lines_and_hidden_shapes_are_set_aside() -> None:
    body = FRONT + box(5, 5, 19, 19, id="small") + '<text id="t" x="9" y="9">cut 2</text>'
    body += '<path id="line" d="M9 9H99"/>' + box(5, 5, 90, 90, id="off", display="none")
    body += '<path id="hidden-line" display="none" d="M9 9H99"/>'
    reading = read(body)
    assert names(reading) == ["front"]
    assert aside(reading) == {
        "small": "smaller than 20 mm",
        "t": 'text "cut 2" in no piece',
        "line": "open line in no piece",
        "off": "hidden",
        "hidden-line": "hidden",
    }


def test_twenty_mm_is_large_enough() -> None:
    assert names(read(box(5, 5, 20, 3, id="tab"))) == ["tab"]


@pytest.mark.parametrize(
    "frame",
    [
        '<rect id="f" width="400" height="300"/>',
        '<rect id="f" width="100%" height="100%"/>',
        '<path id="f" d="M0.4 0.4H399.5V299.5H0.4Z"/>',
        '<rect id="f" x="10" y="10" width="380" height="280"/>',
        '<polyline id="f" points="10 10 390 10 390 290 10 290 10 10"/>',
    ],
)
def test_page_frames_are_set_aside(frame: str) -> None:
    reading = read(FRONT + frame + BACK)
    assert names(reading) == ["front", "back"]
    assert aside(reading) == {"f": "page frame"}


@pytest.mark.parametrize(
    "shape",
    [
        '<rect id="f" x="10" y="10" width="380" height="100"/>',  # a band, not a frame
        '<circle id="f" cx="200" cy="150" r="149"/>',
        '<path id="f" d="M10 10H390V280L20 290Z"/>',
    ],
)
def test_what_only_resembles_a_frame_is_a_piece(shape: str) -> None:
    assert "f" in names(read(FRONT + BACK + shape))


def test_a_page_cut_to_its_one_piece_is_no_frame() -> None:
    reading = read('<rect id="band" width="400" height="300"/>')
    assert names(reading) == ["band"]
    assert codes(reading) == ["page-frame"]


def test_copies_exactly_on_one_another_are_one_piece() -> None:
    body = box(50, 50, 100, 120, id="path1") + box(50, 50, 100, 120, id="path2", fill="none")
    reading = read(body + '<path inkscape:label="front" d="M150 50v120h-100v-120z"/>')
    assert names(reading) == ["front"]
    assert sorted(aside(reading)) == ["path1", "path2"]


def test_a_shape_said_to_be_unpainted_is_no_piece() -> None:
    bounds = '<rect id="bounds" x="50" y="50" width="100" height="121" fill="none" stroke="none"/>'
    reading = read(FRONT + bounds)
    assert names(reading) == ["front"]
    assert aside(reading) == {"bounds": "neither filled nor stroked"}


def test_holes_are_cut_away_and_loops_apart_are_pieces() -> None:
    inside = "M60 60h20v20h-20z"
    apart = "M200 50h60v60h-60z"
    body = f'<path id="a" d="M50 50h100v100h-100z {inside} {apart}"/>'
    reading = read(body)
    assert names(reading) == ["a", "a-2"]
    first, second = reading.pattern.pieces
    assert (first.area, len(first.cutouts)) == (9600, 1)
    assert (second.area, len(second.cutouts)) == (3600, 0)
    assert codes(reading) == ["loops-apart"]


def test_an_island_in_a_hole_is_a_piece_again() -> None:
    body = '<path id="a" d="M50 50h200v200h-200z M70 70h160v160h-160z M90 90h40v40h-40z"/>'
    areas = [(p.area, len(p.cutouts)) for p in read(body).pattern.pieces]
    assert areas == [(pytest.approx(40000 - 25600), 1), (pytest.approx(1600), 0)]


def test_ends_that_meet_count_as_closed() -> None:
    piece = only(read('<path id="a" d="M50 50H150V150H50V50.04"/>'))
    assert piece.area == 10000
    assert len(piece.outline.path) == 4


@pytest.mark.parametrize("marked", [True, False])
def test_an_open_outline_is_told_with_its_gap_and_place(marked: bool) -> None:
    shape = '<path id="a" d="M50 50H150V150H50V50.16"/>'
    reading = read(f'<g data-piece="a">{shape}</g>' if marked else shape)
    assert names(reading) == []
    (finding,) = [f for f in reading.findings if f.code == "open-outline"]
    assert finding.level == "fail"
    assert "0.16 mm" in finding.text
    assert "(50.0, 249.8) mm" in finding.place


def test_three_sides_are_an_open_outline_where_nothing_else_is_there() -> None:
    body = '<path id="a" d="M50 50H150V150H50"/>'
    assert [f.level for f in read(body).findings if f.code == "open-outline"] == ["fail"]
    beside = read(body + BACK)
    assert names(beside) == ["back"]
    assert [f.level for f in beside.findings if f.code == "open-outline"] == ["warn"]


def test_an_outline_in_parts_is_chained() -> None:
    body = '<g data-piece="a"><path data-role="outline" d="M50 50H150V150"/>'
    body += '<path data-role="outline" d="M50 150H150"/>'
    body += '<path data-role="outline" d="M50 150V50.03"/></g>'
    piece = only(read(body))
    assert piece.area == pytest.approx(10000, abs=2)
    assert len(piece.outline.corners) == 4


def test_clockwise_lines_are_turned() -> None:
    for text in ("M50 50H150V150Z", "M50 50L150 150V50Z"):
        piece = only(read(f'<path id="a" d="{text}"/>'))
        assert piece.outline.path.area == 5000
        assert tuple(piece.outline.path.vertices[0]) == (50, 250)


# --- sizes ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("labels", "sizes"),
    [
        (("12", "14"), ["12", "14"]),
        (("S", "2XL"), ["S", "2XL"]),
        (("EU 38", "EU 40"), ["EU 38", "EU 40"]),
        (("size 8", "Size 10"), ["8", "10"]),
        (("size M", "grain notes"), ["M", None]),
        (("12", "12"), [None, None]),
        (("12", "sketch"), [None, None]),
        (("Layer 1", "Layer 2"), [None, None]),
        (("mains", "xlarge"), [None, None]),
    ],
)
def test_layers_named_by_size(labels: tuple[str, str], sizes: list[str | None]) -> None:
    body = ""
    for i, label in enumerate(labels):
        shape = box(50 + 150 * i, 50, 100, 120, id=f"front-{i}")
        body += f'<g inkscape:groupmode="layer" inkscape:label="{label}">{shape}</g>'
    assert [p.size for p in read(body).pattern.pieces] == sizes


def test_a_size_stands_on_the_group_the_layer_or_the_shape() -> None:
    body = f'<g data-size="10"><g data-piece="a">{FRONT}</g></g>'
    body += f'<g data-piece="a" data-size="12">{BACK}</g>'
    reading = read(
        body, page='width="400mm" height="300mm" viewBox="0 0 400 300" data-base-size="12"'
    )
    assert names(reading) == ["a 10", "a 12"]
    assert reading.pattern.base_size == "12"
    assert names(read(box(9, 9, 50, 50, id="b", data_size="8"))) == ["b 8"]


@pytest.mark.parametrize("second", ["front-14", "front_14", "front.14", "front-3"])
def test_ids_lose_what_keeps_them_apart_in_other_sizes(second: str) -> None:
    body = f'<g id="size-12">{FRONT}</g><g id="size-14">{box(45, 45, 110, 130, id=second)}</g>'
    assert names(read(body)) == ["front 12", "front 14"]


def test_the_same_line_in_two_sizes_is_two_pieces() -> None:
    body = f'<g id="size-12">{FRONT}</g><g id="size-14">{box(50, 50, 100, 120, id="front-14")}</g>'
    assert names(read(body)) == ["front 12", "front 14"]


# --- names ----------------------------------------------------------------------------


def test_names_that_references_cannot_bear_are_changed_with_a_note() -> None:
    reading = read('<path inkscape:label="front: left, &quot;new&quot;" d="M50 50h50v50z"/>')
    assert names(reading) == ["front- left- -new"]
    assert [(f.code, f.level) for f in reading.findings] == [("name-changed", "note")]


def test_one_name_for_two_loose_pieces_is_told() -> None:
    body = (
        '<path inkscape:label="a" d="M50 50h50v50z"/><path inkscape:label="a" d="M150 50h50v50z"/>'
    )
    reading = read(body)
    assert names(reading) == ["a", "a-2"]
    assert codes(reading) == ["name-twice"]


def test_one_name_for_two_marked_pieces_is_refused() -> None:
    told = r'test\.svg: a: line 1, <g>: two pieces are named "a"'
    with pytest.raises(WrongMarks, match=told) as refused:
        read(f'<g data-piece="a">{FRONT}</g><g data-piece="a">{BACK}</g>')
    # Who only looks sees both.
    assert refused.value.reading.pattern.names == ("a", "a-2")


def test_ids_with_coded_letters_are_decoded() -> None:
    assert names(read('<path id="_x31_2_x20_front" d="M50 50h50v50z"/>')) == ["12 front"]


# --- use ------------------------------------------------------------------------------


def test_use_of_a_marked_piece_may_be_named_anew() -> None:
    body = f'<defs><g id="p" data-piece="cuff">{box(0, 0, 60, 30)}</g></defs>'
    body += '<use href="#p" x="50" y="50"/><use href="#p" x="50" y="150" data-piece="cuff-2"/>'
    assert names(read(body)) == ["cuff", "cuff-2"]
    plain = read(body.replace(' data-piece="cuff-2"', ' id="use7"'))
    assert names(plain) == ["cuff", "use7"]
    assert codes(plain) == ["name-twice"]


def test_use_of_several_shapes_keeps_their_own_names() -> None:
    body = f'<defs><g id="both">{box(0, 0, 60, 30, id="x")}{box(80, 0, 60, 30, id="y")}</g></defs>'
    assert names(read(f'{body}<use id="u" href="#both" x="50" y="50"/>')) == ["x", "y"]


# --- shapes judged -----------------------------------------------------------------------


def test_a_flattened_circle_comes_back_as_curves() -> None:
    angle = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    points = " ".join(f"{150 + 80 * np.cos(a):.4f},{150 + 80 * np.sin(a):.4f}" for a in angle)
    reading = read(f'<polygon id="disc" points="{points}"/>')
    piece = only(reading)
    assert [f.code for f in reading.findings] == ["refitted"]
    assert len(piece.outline.path) < 20
    assert not piece.outline.path.lines.any()
    around = piece.outline.path.at(np.linspace(0, piece.outline.path.length, 999))
    assert np.abs(np.hypot(*(around - 150).T) - 80).max() < 0.06
    kept = read(f'<polygon id="disc" data-refit="no" points="{points}"/>')
    assert len(only(kept).outline.path) == 200


def test_self_crossings_are_told_with_their_place() -> None:
    reading = read('<path id="bow" d="M50 50L150 150V50L50 130Z"/>')
    (finding,) = [f for f in reading.findings if f.code == "self-crossing"]
    assert finding.level == "fail"
    # The lines y = x and y = 130 - 0.8 (x - 50) of the page meet at x = 170 / 1.8.
    assert finding.place == f"({170 / 1.8:.1f}, {300 - 170 / 1.8:.1f}) mm"


@pytest.mark.parametrize(
    "eight",
    [
        "M50 50L150 150V50L50 150Z",
        # Crossing at a vertex, passed at the line's start, halfway and at its end.
        "M100 100C0 0 0 200 100 100C200 0 200 200 100 100Z",
    ],
)
def test_a_figure_of_eight_is_told_once(eight: str) -> None:
    reading = read(f'<path id="eight" d="{eight}"/>')
    assert reading.pattern.pieces == ()
    (finding,) = reading.findings
    assert (finding.code, finding.level) == ("self-crossing", "fail")
    assert finding.place == "(100.0, 200.0) mm"
    assert "left out" in finding.text


def test_a_line_without_area_that_crosses_nothing_is_told_so() -> None:
    (finding,) = read('<path id="a" d="M50 50H150V50.004H50Z"/>').findings
    assert (finding.code, finding.level) == ("no-area", "fail")


@pytest.mark.parametrize(("width", "level"), [(4999, None), (5001, "warn"), (60_000, "fail")])
def test_impossible_sizes_are_told(width: float, level: str | None) -> None:
    page = 'width="99m" height="99m"'.replace("99m", "99000mm") + ' viewBox="0 0 99000 99000"'
    reading = read(box(100, 100, width, 90, id="a"), page)
    levels = [f.level for f in reading.findings if f.code == "impossible-size"]
    assert levels == ([] if level is None else [level])


def test_more_closed_paths_than_any_pattern_are_refused() -> None:
    body = "".join(f'<path d="M{i} 0h30v{20 + i / 100}z"/>' for i in range(1100))
    with pytest.raises(InputError, match="closed paths"):
        read(body)


@pytest.mark.parametrize(
    "inner",
    [
        '<rect id="line" x="60" y="60" width="40" height="40"/>',
        '<circle id="line" cx="100" cy="100" r="30"/>',
    ],
)
def test_a_closed_line_within_a_piece_is_no_piece(inner: str) -> None:
    reading = read(FRONT + BACK + inner)
    assert names(reading) == ["front", "back"]
    front = reading.pattern.piece("front")
    assert len(front.marks) == 1
    assert front.cutouts == ()
    assert [(s.name, s.reason) for s in reading.set_aside] == [("line", "mark of front")]


def test_a_line_that_runs_round_at_an_allowance_s_distance_is_the_sewing_line() -> None:
    reading = read(FRONT + '<path id="line" d="M 60 60 h 80 v 100 h -80 z"/>')
    piece = only(reading)
    assert piece.cut_line is not None
    assert (piece.kind, piece.area, piece.cut_line.path.area) == ("sew", 12000, 12000)
    assert piece.outline.path.area == pytest.approx(8000)
    assert codes(reading) == ["inner-line"]


def test_a_smaller_size_within_a_larger_one_is_a_piece() -> None:
    large = '<g id="14"><path id="a" d="M 50 50 h 100 v 120 h -100 z"/></g>'
    small = '<g id="12"><path id="b" d="M 55 55 h 90 v 110 h -90 z"/></g>'
    assert len(read(large + small).pattern.pieces) == 2


def test_a_line_that_crosses_the_edge_is_a_piece() -> None:
    assert "line" in names(read(FRONT + '<rect id="line" x="130" y="60" width="40" height="40"/>'))


def test_lines_that_lie_apart_are_not_compared(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    holds = Loop.holds

    def counted(self: Loop, points: Floats) -> bool:
        asked.append(self)
        return holds(self, points)

    monkeypatch.setattr(Loop, "holds", counted)
    squares = [f'<path d="M {60 * k} 10 h {50 - k / 9} v 50 h {k / 9 - 50} z"/>' for k in range(40)]
    assert len(read("".join(squares)).pattern.pieces) == 40
    # Each with every larger one would be 780.
    assert len(asked) < 80


def test_a_ground_as_large_as_the_page_is_no_piece_beside_named_ones() -> None:
    ground = '<rect id="ground" width="400" height="300" fill="white"/>'
    named = box(50, 50, 100, 120, id="front.outline") + '<path id="front.grain" d="M90 60v80"/>'
    reading = read(ground + named)
    assert (names(reading), codes(reading)) == (["front"], [])
    assert aside(reading)["ground"] == "page frame"
