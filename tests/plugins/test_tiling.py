"""Pages to print: packing, the cut into pages, what is on them."""

from __future__ import annotations

import re
import zlib
from base64 import a85decode
from dataclasses import replace
from itertools import combinations
from pathlib import Path as File

import numpy as np
import pytest
from shapely import Polygon, box, union_all

from sizewright.errors import SizewrightError, UsageError
from sizewright.geometry import flatten
from sizewright.model import Pattern, parse_quantity
from sizewright.palette import Line
from sizewright.pictures import Words
from sizewright_plugins.tiling.cover import _key
from sizewright_plugins.tiling.items import Item, items_of
from sizewright_plugins.tiling.layout import Layout, Page
from sizewright_plugins.tiling.paper import PAPERS, parse_page
from sizewright_plugins.tiling.pen import Pen, wrap
from tests.printing import drawn, in_sizes, layout_of, rectangle, told, wardrobe, written


def areas(layout: Layout) -> list[Polygon]:
    """Every item on the sheet, as flattened by the engine."""
    return [
        union_all([Polygon(flatten(p.drawn.path, 0.05)).buffer(0) for p in item.pieces])
        for item in layout.items
    ]


def check_sheet(layout: Layout, gap: float) -> None:
    """No two items meet, all lie on the sheet, and the printed pages show all of them."""
    lying = areas(layout)
    sheet = box(0, 0, layout.width, layout.height)
    for area in lying:
        assert sheet.contains(area)
    for a, b in combinations(lying, 2):
        assert a.distance(b) >= gap - 0.7  # chords of 0.3 mm on either side
    shown = union_all([box(*layout.window(page)) for page in layout.pages])
    for area in lying:
        assert area.difference(shown).area == 0


def _items(pattern: Pattern) -> list[Item]:
    return items_of(pattern, nest=True)


def _lines(pattern: Pattern) -> dict[str, Line]:
    items = _items(pattern)
    return {s: line for i in items for s, line in zip(i.sizes, i.lines, strict=True)}


# --- sheets -----------------------------------------------------------------------


@pytest.fixture(scope="module")
def nest() -> Layout:
    return layout_of(in_sizes(drawn()), turn="none")


@pytest.fixture(scope="module")
def five() -> tuple[Layout, bytes]:
    """A nest of five sizes as it is laid out, and as it is written."""
    return layout_of(in_sizes(drawn())), written(in_sizes(drawn())).data


def test_pieces_of_a_nest_lie_apart(five: tuple[Layout, bytes]) -> None:
    check_sheet(five[0], 6.0)


@pytest.mark.parametrize(
    ("given_settings", "gap"),
    [
        ({"paper": "Letter", "gap": "2 cm", "turn": "half"}, 20.0),
        ({"paper": "A0", "overlap": 0}, 6.0),
        ({"page": "36 in"}, 6.0),
        ({"nest": False, "orientation": "portrait"}, 6.0),
    ],
)
def test_pieces_lie_apart_and_pages_show_all(given_settings: dict, gap: float) -> None:
    check_sheet(layout_of(in_sizes(drawn()), **given_settings), gap)


def test_blank_pages_are_left_out_and_no_other(five: tuple[Layout, bytes]) -> None:
    layout, _ = five
    whole = union_all(areas(layout)).buffer(0.5)
    for row in range(layout.plan.rows):
        for column in range(layout.plan.columns):
            cell = box(*layout.cell(row, column))
            assert bool(layout.printed(row, column)) == cell.intersects(whole)


def test_turning_is_only_done_where_it_is_allowed() -> None:
    pattern = Pattern((rectangle("band", 600, 40),))
    (item,) = layout_of(pattern, turn="none", orientation="portrait").items
    assert item.bounds[2] - item.bounds[0] == pytest.approx(600)
    (item,) = layout_of(pattern, orientation="portrait").items
    assert item.bounds[2] - item.bounds[0] == pytest.approx(40)


def test_unpacked_pieces_keep_their_places() -> None:
    pattern = drawn()
    before = [p.bounds for p in pattern.pieces]
    after = [item.bounds for item in layout_of(pattern, pack=False).items]
    shift = np.array(after) - np.array(before)
    assert np.ptp(shift[:, ::2]) < 1e-9
    assert np.ptp(shift[:, 1::2]) < 1e-9


def test_unpacked_pieces_on_each_other_are_reported() -> None:
    pattern = Pattern((rectangle("a", 100, 100), rectangle("b", 50, 50)))
    codes = [f.code for f in written(pattern, pack=False).findings]
    assert "pieces-overlap" in codes
    assert "pieces-overlap" not in [f.code for f in written(pattern).findings]


def test_sizes_drawn_apart_are_laid_on_each_other() -> None:
    small = rectangle("yoke", 100, 60, size="10")
    large = rectangle("yoke", 110, 66, size="12")
    apart = large.transformed(np.array([[1.0, 0, 400], [0, 1.0, 90]]))
    (item,) = items_of(Pattern((apart, small)), nest=True)
    assert item.sizes == ("10", "12")
    assert item.pieces[0].bounds[:2] == pytest.approx(item.pieces[1].bounds[:2])
    # Where they lie on each other already they stay as graded.
    graded = large.transformed(np.array([[1.0, 0, -5], [0, 1.0, -3]]))
    (item,) = items_of(Pattern((small, graded)), nest=True)
    assert item.pieces[1].bounds == graded.bounds


def test_sizes_have_a_line_of_their_own_wherever_they_stand() -> None:
    pattern = in_sizes(drawn())
    lines = _lines(pattern)
    assert len(set(lines.values())) == 5
    without = pattern.with_pieces(p for p in pattern.pieces if p.key != ("back", "8"))
    assert _lines(without) == lines
    assert all(len(i.pieces) == 1 for i in items_of(pattern, nest=False))


def test_a_roll_is_cut_to_length_and_parted_when_too_long() -> None:
    short = layout_of(Pattern((rectangle("sail", 500, 1500),)), page="24 in")
    assert len(short.pages) == 1
    assert short.paper.width == pytest.approx(609.6)
    assert 1500 < short.paper.height < 1700
    long = layout_of(Pattern((rectangle("sail", 500, 9000),)), page="24 in")
    assert len(long.pages) == 2
    assert long.paper.height <= 5000


def test_large_sheets_carry_the_test_squares_themselves() -> None:
    layout = layout_of(drawn(), paper="A0")
    assert layout.squares is not None
    x, y = layout.squares
    squares = box(x, y, x + 108.8, y + 50.8)
    assert all(squares.distance(area) > 2 for area in areas(layout))
    assert layout_of(drawn()).squares is None


def test_page_labels() -> None:
    assert [Page(r, c).label for r, c in ((0, 0), (1, 2), (25, 9), (26, 0), (52, 1))] == [
        "A1", "B3", "Z10", "AA1", "BA2",
    ]  # fmt: skip


# --- settings ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "width", "height"),
    [
        ("30 cm x 60 cm", 300, 600),
        ("60 x 30 cm", 300, 600),
        ("11 × 17 in", 279.4, 431.8),
        ('11" x 17"', 279.4, 431.8),
        ("8 1/2 in x 11 in", 215.9, 279.4),
        ("36 in", 914.4, 0),
        ("91,5cm", 915, 0),
    ],
)
def test_pages_as_people_write_them(text: str, width: float, height: float) -> None:
    paper = parse_page(text)
    assert (paper.width, paper.height) == pytest.approx((width, height))


@pytest.mark.parametrize(
    "given_settings",
    [
        {"page": "30"},
        {"page": "30 cm x"},
        {"page": "1 x 2 x 3 cm"},
        {"page": "6 m"},
        {"page": "10 cm x 20 cm"},
        {"page": "-30 cm x 50 cm"},
        {"paper": "A5", "margin": "20 mm"},
    ],
)
def test_pages_that_cannot_be_are_refused(given_settings: dict) -> None:
    with pytest.raises(SizewrightError) as caught:
        written(drawn(), **given_settings)
    assert caught.value.cure


def test_nothing_to_print_is_refused() -> None:
    with pytest.raises(UsageError, match="no piece"):
        written(Pattern(()))


# --- the file ---------------------------------------------------------------------


def test_same_pattern_same_bytes(five: tuple[Layout, bytes]) -> None:
    assert written(in_sizes(drawn())).data == five[1]


def test_the_drawing_is_stored_once_and_shown_on_each_page(five: tuple[Layout, bytes]) -> None:
    layout, data = five
    assert data.count(b"/Subtype /Form") == 1
    assert len(layout.pages) > 5
    streams = _streams(data)
    shows = [s for s in streams if re.search(rb"/FormXob\.\w+ Do", s)]
    assert len(shows) == len(layout.pages)
    # Curves stay curves in it.
    (drawing,) = [s for s in streams if s.count(b" c\n") + s.count(b" c ") > 50]
    assert drawing not in shows


def _streams(data: bytes) -> list[bytes]:
    """The content streams of a file, decoded; fonts, which have other filters, left out."""
    found = []
    for raw in re.findall(rb"stream\r?\n(.*?)endstream", data, re.DOTALL):
        try:
            found.append(zlib.decompress(a85decode(raw.strip().removesuffix(b"~>"))))
        except (ValueError, zlib.error):
            continue
    return found


def test_letters_that_the_typeface_lacks_are_reported() -> None:
    codes = {f.code: f for f in written(Pattern((rectangle("Рукав ½", 200, 200),))).findings}
    assert "letters-lacking" in codes
    assert all(c in codes["letters-lacking"].text for c in "укав")
    plain = written(Pattern((rectangle("Größe ½ ⅝″ · ő ł ž ×2", 200, 200),))).findings
    assert "letters-lacking" not in {f.code for f in plain}


def test_stand_ins_for_letters() -> None:
    pen = Pen("")
    assert pen._readable("1⅝″ ő ½ –") == '1 5/8" o ½ –'
    assert not pen.lacking
    assert pen._readable("кот") == "???"
    assert pen.lacking == set("кот")


def test_a_sewing_line_without_allowance_is_reported() -> None:
    pieces = [f.piece for f in written(drawn()).findings if f.code == "no-allowance"]
    assert pieces == ["front", "back"]


def test_every_piece_is_named_within_it_or_beside_it() -> None:
    kept = ("front", "back", "waistband", "tie", "loop", "tab")
    pattern = wardrobe()
    layout = layout_of(pattern.with_pieces(p for p in pattern.pieces if p.name in kept))
    assert len(layout.items) == len(kept)
    for item, (drawing, dx, dy) in zip(layout.items, layout.drawings, strict=True):
        found = [p for p in drawing.parts if isinstance(p, Words) and item.name in p.text]
        assert found, item.name
        place = np.array([found[0].box.x + dx, found[0].box.y + dy])
        x0, y0, x1, y1 = item.bounds
        assert x0 - 60 < place[0] < x1 + 60
        assert y0 - 20 < place[1] < y1 + 20


def test_every_page_names_the_sizes_whose_lines_it_shows(nest: Layout) -> None:
    layout = nest
    assert len(layout.pages) > 3
    pages = layout.joined
    checked = 0
    for item, (sketch, dx, dy) in zip(layout.items, layout.drawings, strict=True):
        for piece, line in zip(item.pieces, item.lines, strict=True):
            marks = [w.box for w in sketch.labels if w.text == piece.size and w.bold]
            places = [(b.x + dx, b.y + dy) for b in marks]
            path = piece.drawn.path
            points = path.at(np.linspace(0, path.length, 2000, endpoint=False))
            fold = piece.fold and piece.outline.vertex_at(piece.fold.start)
            if fold is not None:
                free = np.abs(points - fold).min(axis=1) > 1.0
                points = points[free]
            for x0, y0, x1, y1 in pages.windows:
                low, high = (x0 + 3, y0 + 3), (x1 - 3, y1 - 3)
                shown = ((points > low) & (points < high)).all(axis=1).mean() * path.length
                if shown > 80.0:
                    checked += 1
                    assert any(x0 <= x <= x1 and y0 <= y <= y1 for x, y in places), line
    assert checked > 20


def test_no_size_lies_under_a_diamond(nest: Layout) -> None:
    layout = nest
    signs = layout.joined.signs
    assert len(signs) == 2 * len(layout.joints)
    labels = [replace(w.box, x=w.box.x + dx, y=w.box.y + dy)
              for sketch, dx, dy in layout.drawings for w in sketch.labels if w.bold]  # fmt: skip
    assert len(labels) > 50
    assert not [b for b in labels for sign in signs if b.overlaps(sign)]


def test_a_letter_cover_is_one_page_with_its_map(tmp_path: File) -> None:
    parts = tuple(
        rectangle(f"part {k}", 150, 200, pair=k < 4, quantity=parse_quantity("main 2, lining 2"))
        for k in range(7)
    )
    output = written(Pattern(parts), paper="Letter", turn="none")
    file = tmp_path / "pages.pdf"
    file.write_bytes(output.data)
    (note,) = (f.text for f in output.findings if f.code == "pages")
    (count,) = re.findall(r"Pages:\s+(\d+)", told("pdfinfo", str(file)))
    assert int(count) == int(note.split()[0]) + 1
    assert "Map" in told("pdftotext", "-l", "1", str(file), "-")


def test_the_number_of_a_piece_hides_no_page_on_the_map() -> None:
    ring = np.array([(0.0, 0.0), (40.0, 0.0), (40.0, 30.0), (0.0, 30.0)])
    pen = Pen("map")
    item = _items(Pattern((rectangle("a", 40, 30),)))[0]
    with pen.page(100, 100):
        free = _key(pen, item, [], np.zeros(2), 1.0, 2.6)
        again = _key(pen, item, [free.grown(1.0)], np.zeros(2), 1.0, 2.6)
    assert not again.overlaps(free)
    assert Polygon(ring).contains(Polygon(again.corners))


def test_wrapped_lines_hold_their_width() -> None:
    lines = wrap("one two three four five six seven " + "x" * 80, 3.5, 30.0)
    assert " ".join(lines).split() == ["one", "two", "three", "four", "five", "six", "seven",
                                       "x" * 80]  # fmt: skip
    assert len(lines) > 3


@pytest.mark.parametrize("name", sorted(PAPERS))
def test_every_paper_works(name: str) -> None:
    data = written(Pattern((rectangle("band", 300, 90),)), paper=name).data
    assert data.startswith(b"%PDF")


def test_a_piece_as_large_as_a_house_is_refused_at_once() -> None:
    for given_settings in ({}, {"page": "36 in"}, {"pack": False}):
        with pytest.raises(UsageError, match="pages of"):
            written(Pattern((rectangle("sail", 1e6, 1e6),)), **given_settings)
