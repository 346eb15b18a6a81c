"""Printed nests, drawn by other code from graded patterns: each size comes back as it was graded.

The distances are shapely's, either way, between the outline that was graded and the one
that was taken out of the nest.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable
from pathlib import Path as FilePath

import numpy as np
import pytest
import shapely

from sizewright.errors import InputError, LookupFailed
from sizewright.formats import Reading, read_dxf, read_pdf, read_svg
from sizewright.formats.drawing.going_on import enclosed
from sizewright.geometry import Path, flatten
from sizewright.jobs.grade_order import grade_file
from sizewright.jobs.learning import learn_files
from sizewright.jobs.orders import GradeOrder
from sizewright.jobs.show import look, summary_table, write_picture
from sizewright.pictures.line_kinds import LARGER, NumberedLine, line_kinds
from sizewright.pictures.sketch import Dot, Words
from tests import operations
from tests.formats.drawing import codes
from tests.measured import apart
from tests.nests import (
    COLOURS,
    DASHES,
    SIZES,
    Drawn,
    Line,
    Word,
    as_dxf,
    as_reportlab,
    as_svg,
    moved,
    nest,
    sizes_of,
)
from tests.programs import need

#: What a size taken out of a nest may lie off, mm.
NEAR = 0.05
FORMATS: dict[str, tuple[Callable[[Drawn], bytes], Callable[..., Reading]]] = {
    "svg": (as_svg, read_svg),
    "pdf": (as_reportlab, read_pdf),
    "dxf": (as_dxf, read_dxf),
}


def worst(reading: Reading, names: tuple[str, ...], sizes: tuple[str, ...] = SIZES) -> float:
    """The farthest that any size of any piece is off, mm; each has to be there once."""
    found = 0.0
    for name in names:
        wanted = sizes_of(operations.nest("basic-set", *SIZES), name)
        got = {str(p.size): p for p in reading.pattern.pieces if p.name == name}
        assert set(got) == set(sizes)
        boxes = [
            np.array([p.outline.path.bounds[:2] for s, p in pieces.items() if s in sizes])
            for pieces in (got, wanted)
        ]
        shift = boxes[0].min(axis=0) - boxes[1].min(axis=0)
        found = max(
            found,
            *(apart(got[s].outline.path, moved(wanted[s].outline.path, shift)) for s in sizes),
        )
    return found


@pytest.mark.parametrize(
    ("kind", "by", "share", "names"),
    [
        ("svg", "colour", "first", ("front",)),
        ("svg", "width", "fold", ("skirt-front",)),
        ("pdf", "dash", "fold", ("front",)),
        ("pdf", "colour", "none", ("sleeve",)),
        ("pdf", "dash", "first", ("sleeve", "trousers-front")),
        ("dxf", "layer", "fold", ("skirt-front",)),
        ("dxf", "dash", "first", ("sleeve",)),
        ("dxf", "colour", "none", ("trousers-front",)),
    ],
)
def test_each_size_comes_back(kind: str, by: str, share: str, names: tuple[str, ...]) -> None:
    write, read = FORMATS[kind]
    reading = read(write(nest(names, by, share=share, words="key")))
    assert worst(reading, names) <= NEAR
    assert len(reading.pattern.pieces) == len(names) * len(SIZES)


@pytest.mark.parametrize("kind", ["svg", "pdf", "dxf"])
def test_size_words_in_the_colour_of_their_lines(kind: str) -> None:
    write, read = FORMATS[kind]
    drawn = nest(("sleeve",), "colour", words="none")
    # Away from all lines, and close together: only colours tell which is which.
    drawn += [
        Word(size, (20.0 + 6 * k, 15.0), 4, colour=COLOURS[k]) for k, size in enumerate(SIZES)
    ]
    assert worst(read(write(drawn)), ("sleeve",)) <= NEAR


def test_edges_drawn_one_by_one() -> None:
    reading = read_pdf(as_reportlab(nest(("sleeve",), "colour", words="key", split=True)))
    assert worst(reading, ("sleeve",)) <= NEAR


def test_cairo_writes_the_same_nest(tmp_path: FilePath) -> None:
    source, out = tmp_path / "nest.svg", tmp_path / "nest.pdf"
    source.write_bytes(as_svg(nest(("skirt-front",), "dash", share="fold", words="key")))
    subprocess.run([need("rsvg-convert"), "-f", "pdf", "-o", out, source], check=True)
    assert worst(read_pdf(out), ("skirt-front",)) <= NEAR


def test_size_words_beside_lines_of_one_kind() -> None:
    reading = read_svg(as_svg(nest(("front", "sleeve", "skirt-front"), "nothing")))
    assert worst(reading, ("front", "skirt-front")) <= NEAR


def slabs(short: float = 0.0) -> Drawn:
    """Three sizes with one centre front, the darts of each begun on the side of the next.

    The middle one stops `short` mm before the centre front.
    """
    drawn: Drawn = [Line(Path.polyline([(0, 0), (0, 220)]))]
    for k in range(3):
        side, top = 100 + 8 * k, 200 + 10 * k
        start = (short if k == 1 else 0, top)
        own = [start, (side / 2, top + 20), (side, top), (side, 5), (0, 0)]
        dart = [(side + 8, 120 + k), (side / 2, 100 + k), (side + 8, 90 + k)]
        drawn += [Line(Path.polyline(p), COLOURS[k]) for p in (own, dart)]
    return drawn


def test_darts_that_touch_other_sizes_are_no_part_of_an_outline() -> None:
    reading = read_svg(as_svg(slabs()))
    assert [len(p.outline.path) for p in reading.pattern.pieces] == [5, 5, 5]
    assert [p.outline.path.length for p in reading.pattern.pieces] == pytest.approx(
        [shapely.Polygon([(0, 0), (0, t), (s / 2, t + 20), (s, t), (s, 5)]).length
         for s, t in ((100, 200), (108, 210), (116, 220))]
    )  # fmt: skip
    assert "sizes-open" not in codes(reading)


def test_a_size_that_does_not_close_is_told() -> None:
    reading = read_svg(as_svg(slabs(short=6.0)))
    (told,) = (f for f in reading.findings if f.code == "sizes-open")
    assert "line 3 (blue" in told.text
    assert len(reading.pattern.pieces) == 2
    named = {"S": "line 2", "M": "line 3", "L": "line 4"}
    (told,) = (f for f in read_svg(as_svg(slabs(6.0)), sizes=named).findings if f.level == "warn")
    assert "size M is drawn" in told.text


def test_sizes_of_one_kind_of_line_that_begin_in_one_corner() -> None:
    drawn: Drawn = [Line(one.path) for one in slabs() if isinstance(one, Line)]
    words = [Word(size, (100.5 + 8 * k, 40 + 12 * k), 2) for k, size in enumerate("SML")]
    found = {p.size: len(p.outline.path) for p in read_svg(as_svg([*drawn, *words])).pattern.pieces}
    assert found == {"S": 5, "M": 5, "L": 5}
    # A size that is written, and whose line does not close, is told.
    drawn = [Line(one.path) for one in slabs(short=6.0) if isinstance(one, Line)]
    (told,) = (f for f in read_svg(as_svg([*drawn, *words])).findings if f.level == "warn")
    assert told.code == "sizes-missing"
    assert told.text.endswith("words M")


# --- what nothing says is asked ---------------------------------------------------------------


def test_what_nothing_says_is_asked_and_taken_as_said() -> None:
    data = as_reportlab(nest(("skirt-front",), "dash", share="fold", words="none"))
    reading = read_pdf(data)
    (asked,) = (f for f in reading.findings if f.code == "sizes-asked")
    assert reading.pattern.sizes == tuple(f"line {k}" for k in range(1, 7))
    assert asked.level == "warn"
    assert [one.number for one in reading.lines] == list(range(1, 7))
    assert reading.lines[1].words() == "line 2: black dashed 6 2 0.35 mm; goes round 1 piece"
    # The setting that is to be pasted works.
    said = dict(re.findall(r'"SIZE(\d)" = "(line \d)"', asked.cure))
    reading = read_pdf(data, sizes={size: said[str(k)] for k, size in enumerate(SIZES, 1)})
    assert worst(reading, ("skirt-front",)) <= NEAR
    assert "sizes-asked" not in codes(reading)


def test_ones_own_line_alone(tmp_path: FilePath) -> None:
    path = tmp_path / "nest.pdf"
    path.write_bytes(as_reportlab(nest(("skirt-front",), "dash", share="fold", words="none")))
    with pytest.raises(LookupFailed, match=r"sizes\.SIZE3=line 3"):
        look(path, size="12")
    with pytest.raises(LookupFailed, match=r"sizes\.SIZE3=line 3"):
        grade_file(path, tmp_path / "out.svg", GradeOrder(("12",), None))
    with pytest.raises(LookupFailed, match="no point of this pattern has a name"):
        grade_file(path, tmp_path / "out.svg", GradeOrder(("line 2",), None, at={"4": "line 3"}))
    reading = look(path, size="12", settings=("sizes.12=line 3",))
    whole = look(path)
    (mine,) = reading.pattern.pieces
    (same,) = whole.pattern.in_size("line 3").pieces
    assert mine.size == "12"
    assert apart(mine.outline.path, same.outline.path) < 1e-6
    # The grain is drawn once, in the kind of the smallest size, and belongs to all.
    assert len(mine.marks) == 1
    write_picture(whole, tmp_path / "nest.svg", source=path)
    drawn = (tmp_path / "nest.svg").read_text("utf-8")
    assert all(f">{k}<" in drawn for k in range(1, 7))
    # A row for each size, and no more of one than is asked for.
    told = summary_table(whole, name="nest.pdf")
    assert len([row for row in told.splitlines() if re.search(r"  line \d$", row)]) == 6
    assert told.index("Kinds of line") < told.index("skirt-front\n---") < told.index("Findings")
    assert "edge  corners" in summary_table(look(path, size="line 3"), name="nest.pdf")


def test_numbers_are_tied_to_lines_that_go_round_a_piece() -> None:
    drawn = nest(("skirt-front", "front"), "dash", words="none")
    # More of the first kind than its outlines: arrows, and samples far off.
    for x in (500.0, 700.0):
        drawn += [Line(Path.polyline([(x, 900), (x, 980)]))]
    reading = read_pdf(as_reportlab(drawn))
    lines = [
        NumberedLine(o.number, o.words(), o.paths, o.colour, o.dashes, o.outlines)
        for o in reading.lines
    ]
    assert [len(one.outlines) for one in lines] == [2] * 6
    parts = line_kinds(lines, 20.0).parts
    dots = [k for k, part in enumerate(parts) if isinstance(part, Dot)]
    assert len(dots) == 12
    for k in dots:
        at, words = parts[k], parts[k + 1]
        assert isinstance(at, Dot)
        assert isinstance(words, Words)
        rings = [
            shapely.LinearRing(flatten(path, 0.001) * LARGER)
            for path in lines[int(words.text) - 1].outlines
        ]
        assert min(ring.distance(shapely.Point(at.at)) for ring in rings) < 0.05


def test_a_key_that_lies_over_the_lines_of_a_nest() -> None:
    """Each word speaks of the sample that it stands at, however near other lines pass."""
    drawn = nest(("skirt-front",), "dash", words="none")
    path = next(one for one in drawn if isinstance(one, Line)).path
    x, y = path.bounds[0] + 30, path.bounds[3] - 60
    for k, size in enumerate(SIZES):
        dashes = DASHES[k]
        level = y - 9 * k
        drawn.append(Line(Path.polyline([(x, level), (x + 50, level)]), dashes=dashes))
        drawn.append(Word(size, (x + 54, level - 1.2), 3.5))
        across = Path.polyline([(x + 53, level + 4), (x + 65, level - 5)])
        drawn.append(Line(across, dashes=DASHES[(k + 1) % 6]))
    drawn.append(Word("SIZES", (x, y + 10), 3.5))
    reading = read_pdf(as_reportlab(drawn))
    assert {one.size: one.number for one in reading.lines} == {
        size: k for k, size in enumerate(SIZES, 1)
    }
    assert not {"sizes-asked", "sizes-missing"} & set(codes(reading))


@pytest.mark.parametrize(
    ("sizes", "match"),
    [
        ({"12": "line 9"}, "no line 9 is drawn"),
        ({"12": "line 1", "14": "1"}, "line 1 is size 12 and size 14"),
        ({"12": "red"}, "names no line"),
        ({"12": "lien 3"}, '"lien 3" is no line.*Did you mean "line 3"'),
        ({"12": "line 1, lien 3"}, '"lien 3" is no line.*Did you mean "line 1, line 3"'),
        ({"12": "line 2-4"}, '"line 2-4" is no line'),
        ({"12": "line 1, line 1"}, "twice that line 1 is size 12"),
    ],
)
def test_sizes_that_cannot_be_meant(sizes: dict[str, str], match: str) -> None:
    with pytest.raises(InputError, match=match):
        read_svg(as_svg(nest(("sleeve",), "colour", words="none")), sizes=sizes)


def test_a_size_said_of_a_line_that_goes_round_nothing() -> None:
    match = r"size S is line 1 \(black.*goes round a piece. Those that do: line 2, line 3, line 4"
    with pytest.raises(InputError, match=match):
        read_svg(as_svg(slabs()), sizes={"S": "line 1"})


def test_sizes_drawn_alike_are_told() -> None:
    drawn = nest(("sleeve",), "colour", words="none")
    lines = [one for one in drawn if isinstance(one, Line)]
    alike = [Line(one.path, lines[min(k, 3)].colour) for k, one in enumerate(lines)]
    assert "sizes-alike" in codes(read_svg(as_svg([*alike])))


def test_sizes_out_of_order_are_told() -> None:
    drawn = nest(("sleeve",), "colour", words="key")
    swap = {"8": "10", "10": "8"}
    mixed: Drawn = [
        Word(swap.get(one.text, one.text), one.at) if isinstance(one, Word) else one
        for one in drawn
    ]
    assert "sizes-out-of-order" in codes(read_svg(as_svg(mixed)))
    said = {"S": "line 4", "M": "line 3", "L": "line 2"}
    assert "sizes-out-of-order" in codes(read_svg(as_svg(slabs()), sizes=said))
    for small, middle, large in (("L", "XL", "2XL"), ("2XS", "XS", "S"), ("XXL", "XXXL", "4X")):
        said = {small: "line 4", middle: "line 3", large: "line 2"}
        assert "sizes-out-of-order" in codes(read_svg(as_svg(slabs()), sizes=said))
        said = {small: "line 2", middle: "line 3", large: "line 4"}
        assert "sizes-out-of-order" not in codes(read_svg(as_svg(slabs()), sizes=said))


# --- everything works on it -------------------------------------------------------------------


def test_rules_are_learned_from_a_printed_nest(tmp_path: FilePath) -> None:
    path = tmp_path / "nest.pdf"
    path.write_bytes(as_reportlab(nest(("skirt-front",), "dash", share="fold", words="none")))
    settings = [f"sizes.{size}=line {k}" for k, size in enumerate(SIZES, 1)]
    told = learn_files([path], tmp_path / "rules.csv", settings=settings, tolerance="0.05 mm")
    assert not [f for f in told.findings if f.level == "fail"]
    (fit,) = (line for line in told.lines if line.strip().startswith("skirt-front"))
    points, along = map(float, re.findall(r"([\d.]+) mm", fit))
    assert max(points, along) <= NEAR
    # The command that makes a size says the lines again.
    (back,) = (line for line in told.lines if line.startswith("sizewright grade"))
    assert "--set 'sizes.8=line 1'" in back


def test_quotes_round_a_size_are_none_of_it() -> None:
    data = as_svg(nest(("sleeve",), "colour", words="none"))
    reading = read_svg(data, sizes={'"8"': "line 1", "'10'": "lines 2"})
    assert {piece.size for piece in reading.pattern.pieces} == {"8", "10"}


def test_a_line_from_edge_to_edge_makes_no_size() -> None:
    """Two of four pieces have a fold line across, thinner than their outlines."""
    outlines = "".join(
        f'<path d="M{x} 20h180v300h-180z" stroke-width="0.5"/>' for x in (20, 220, 420, 620)
    )
    across = '<path d="M110 20v300M380 20v300" stroke-width="0.3"/>'
    drawing = read_svg(
        '<svg xmlns="http://www.w3.org/2000/svg" width="820mm" height="340mm" '
        f'viewBox="0 0 820 340"><g fill="none" stroke="#000">{outlines}{across}</g></svg>'.encode()
    )
    assert [len(p.marks) for p in drawing.pattern.pieces].count(1) == 2
    assert len(drawing.pattern.pieces) == 4
    assert not {"sizes-asked", "sizes-alike"} & {f.code for f in drawing.findings}


# --- test squares -----------------------------------------------------------------------------


def squared(side: float, word: str, times: float = 1.0) -> bytes:
    """A piece of 200 by 300 mm and a test square, all drawn `times` as large."""
    box = f'<rect x="{250 * times}" y="20" width="{side}" height="{side}"/>'
    text = f'<text x="{250 * times + side / 25}" y="{20 + side / 2}" font-size="4">{word}</text>'
    piece = f'<rect id="panel" x="20" y="20" width="{200 * times}" height="{300 * times}"/>'
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="500mm" height="500mm" '
        f'viewBox="0 0 500 500" fill="none" stroke="black">{piece}{box if side else ""}'
        f"{text if word else ''}</svg>"
    ).encode()


@pytest.mark.parametrize("times", [72 / 96, 90 / 96, 96 / 72, 72 / 150, 150 / 300, 0.9988, 1.0])
@pytest.mark.parametrize("word", ["5 cm", ""])
def test_a_square_sets_the_scale(times: float, word: str) -> None:
    reading = read_svg(squared(50 * times, word, times), square=50)
    (piece,) = reading.pattern.pieces
    assert piece.name == "panel"
    assert piece.area == pytest.approx(200 * 300, rel=1e-9)
    (told,) = (f for f in reading.findings if f.code == "scaled-by-square")
    assert ("to the inch" in told.text) == (abs(times - 1) > 0.01)


@pytest.mark.parametrize(("times", "why"), [(25.4, "mm were taken"), (1 / 25.4, "inches were")])
def test_a_square_that_says_its_side_mends_a_wrong_unit(times: float, why: str) -> None:
    reading = read_svg(squared(50 * times, "5 cm", times), square=50)
    (piece,) = reading.pattern.pieces
    assert piece.area == pytest.approx(200 * 300, rel=1e-9)
    assert why in next(f.text for f in reading.findings if f.code == "scaled-by-square")


@pytest.mark.parametrize(
    ("times", "level", "words"),
    [
        (0.75, "warn", "drawn at 72 to the inch and is read at 96"),
        (0.9988, "warn", "0.12% too small, 0.7 mm on 60 cm"),
        (0.96, "warn", "0.96 times"),
        (1.0, "note", "as large as it says"),
    ],
)
def test_a_square_proves_the_scale(times: float, level: str, words: str) -> None:
    reading = read_svg(squared(50 * times, "test 5 cm", times))
    (told,) = (f for f in reading.findings if f.code in ("test-square", "scale-wrong"))
    assert told.level == level
    assert words in told.text
    if level == "warn":
        assert '--set "square=50 mm"' in told.cure


def test_a_square_that_is_not_there_or_not_said() -> None:
    with pytest.raises(InputError, match="no square"):
        read_svg(squared(0, ""), square=50)
    two = squared(50, "").replace(b"</svg>", b'<rect x="400" y="90" width="30" height="30"/></svg>')
    with pytest.raises(InputError, match="several sizes"):
        read_svg(two, square=50)


def test_a_way_there_and_back_encloses_nothing() -> None:
    there_and_back = Path.polyline([(0, 0), (80, 0)], closed=True)
    assert enclosed(there_and_back).is_empty
    box = Path.polyline([(0, 0), (80, 0), (80, 40), (0, 40)], closed=True)
    assert enclosed(box).area == pytest.approx(3200)


def test_shapes_of_several_outlines_keep_their_names_apart() -> None:
    def boxes(grown: float, dashes: str) -> str:
        wide, high = 60 + 2 * grown, 80 + 3 * grown
        loops = "".join(
            f"M {x - grown} {20 - grown} h {wide} v {high} h {-wide} Z" for x in (20, 120)
        )
        return f'<path d="{loops}" stroke-dasharray="{dashes}"/>'

    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        f'viewBox="0 0 200 200" fill="none" stroke="black">{boxes(0, "none")}{boxes(4, "4 2")}'
        f"{boxes(9, '1 1')}</svg>"
    )
    reading = read_svg(drawing.encode())
    assert len(reading.lines) == 3
    assert len({(piece.name, piece.size) for piece in reading.pattern.pieces}) == 6
