"""Dashes that are drawn stroke by stroke come back as the lines that they stand for."""

from __future__ import annotations

import io
import random

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.math import Vec2
from ezdxf.render.linetypes import LineTypeRenderer
from reportlab.pdfgen.canvas import Canvas

from sizewright.formats import read_dxf, read_pdf, read_svg
from sizewright.formats.reading import Reading
from sizewright.geometry import Path as Line
from sizewright.geometry.flatten import flatten
from tests.formats.drawing import codes, only
from tests.formats.test_pdf import MM, apart
from tests.formats.test_pdf_pages import pieces

#: Between its dashes nothing says how a curve runs: chords over gaps of 3 mm leave out so much.
NEAR = 0.1


def strokes(path: Line, dash: float, gap: float) -> list[Line]:
    """A line cut into dashes."""
    starts = np.arange(0, path.length - 0.01, dash + gap).tolist()
    return [path.part(s, min(s + dash, path.length - 1e-6)) for s in starts]


def drawn(parts: list[Line], *, as_one: bool = False) -> bytes:
    """Strokes, each by itself or all of them in one path, by reportlab."""
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(500 * MM, 400 * MM), invariant=1)
    canvas.scale(MM, MM)
    canvas.setLineWidth(0.3)
    path = canvas.beginPath()
    for part in parts:
        path.moveTo(*part.start)
        for (_, b, c, d), straight in zip(part.controls, part.lines, strict=True):
            path.lineTo(*d) if straight else path.curveTo(*b, *c, *d)
        if not as_one:
            canvas.drawPath(path)
            path = canvas.beginPath()
    if as_one:
        canvas.drawPath(path)
    canvas.save()
    return out.getvalue()


def near(reading: Reading, line: Line) -> bool:
    """Whether a line is some piece's outline, or drawn in it."""
    found = [p.outline.path for p in reading.pattern.pieces]
    found += [mark.path for p in reading.pattern.pieces for mark in p.marks]
    return any(apart(path, line) < NEAR for path in found)


@pytest.mark.parametrize("as_one", [False, True])
def test_in_the_order_in_which_they_were_drawn(as_one: bool) -> None:
    lines = pieces()
    parts = [part for line in lines for part in strokes(line, 6, 3)]
    reading = read_pdf(drawn(parts, as_one=as_one))
    assert all(near(reading, line) for line in lines)
    assert sum(1 + len(piece.marks) for piece in reading.pattern.pieces) == len(lines)
    assert [shape.reason for shape in reading.set_aside] == ["mark of piece-2"]


def test_in_no_order() -> None:
    line = pieces()[1]
    parts = strokes(line, 4, 1.5)
    random.Random(1).shuffle(parts)
    assert near(read_pdf(drawn(parts)), line)


def test_corners_in_gaps_are_corners_again() -> None:
    line = Line.polyline([(20, 20), (121, 22), (130, 99), (25, 90)], closed=True)
    found = only(read_pdf(drawn(strokes(line, 5, 2)))).outline.path
    assert apart(found, line) < NEAR
    assert len(found) <= 6


def test_where_several_would_do_it_is_asked() -> None:
    """Lines of two sizes that cross, in one style and in no order."""
    first = Line.polyline([(20, 50), (200, 61)])
    second = Line.polyline([(20, 61), (200, 50)])
    third = Line.polyline([(20, 50.8), (200, 60.2)])
    parts = [part for line in (first, second, third) for part in strokes(line, 4, 2)]
    random.Random(2).shuffle(parts)
    outline = Line.polyline([(10, 10), (300, 10), (300, 200), (10, 200)], closed=True)
    assert "dashes-open" in codes(read_pdf(drawn([*parts, outline.opened()])))


def test_hatching_and_ticks_are_no_dashes() -> None:
    outline = Line.polyline([(10, 10), (300, 10), (300, 200), (10, 200)], closed=True)
    hatching = [Line.polyline([(20 + 4 * k, 30), (30 + 4 * k, 45)]) for k in range(20)]
    ticks = [Line.polyline([(40 + 12 * k, 10), (40 + 12 * k, 16)]) for k in range(20)]
    (piece,) = read_pdf(drawn([outline.opened(), *hatching, *ticks])).pattern.pieces
    assert len(piece.marks) + len(piece.notches) == 40


def patterned(path: Line, pattern: tuple[float, ...]) -> list[Line]:
    """A line cut into dashes of several lengths."""
    found, s, k = [], 0.0, 0
    while s < path.length - 0.01:
        end = min(s + pattern[k % len(pattern)], path.length - 1e-6)
        found += [path.part(s, end)] if k % 2 == 0 else []
        s, k = end, k + 1
    return found


#: What tells sizes apart in a printed nest, all in one colour and width.
PATTERNS = ((5, 2), (1.5, 1.5), (9, 2, 1.5, 2))


def nested(k: int) -> Line:
    """The k-th of some lines round one another that begin in one corner."""
    far = 150 + 12 * k
    return Line.polyline([(30, 30), (far, 35), (far - 10, far), (30, far + 20)], closed=True)


def test_lines_of_one_style_in_several_patterns() -> None:
    lines = [nested(k) for k in range(3)]
    parts = [
        p for line, dashes in zip(lines, PATTERNS, strict=True) for p in patterned(line, dashes)
    ]
    reading = read_pdf(drawn(parts))
    assert len(reading.pattern.pieces) == 3
    assert all(near(reading, line) for line in lines)
    assert [len(kind.dashes) for kind in reading.lines] == [2, 2, 4]


def test_a_last_gap_is_bridged_to_the_line_that_all_share() -> None:
    share = Line.polyline([(30, 30), (30, 300)])
    ends = [nested(k).segments(0, 3) for k in range(2)]
    parts = [
        patterned(line.part(0.0, line.length - 1.3), dashes)
        for line, dashes in zip(ends, PATTERNS, strict=False)
    ]
    reading = read_pdf(drawn([share, *parts[0], *parts[1]]))
    assert {piece.size for piece in reading.pattern.pieces} == {"line 2", "line 3"}
    assert all(near(reading, nested(k)) for k in range(2))


def test_dashes_that_were_filled_as_bars() -> None:
    lines = [nested(k) for k in range(3)]
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(500 * MM, 400 * MM), invariant=1)
    canvas.scale(MM, MM)
    for line, dashes in zip(lines, PATTERNS, strict=True):
        path = canvas.beginPath()
        for k, part in enumerate(patterned(line, dashes)):
            ring = shapely.LineString(part.vertices).buffer(
                0.175, cap_style="flat", join_style="mitre"
            )
            corners = list(ring.exterior.coords)[:-1]
            # Bars have no direction.
            (x, y), *others = corners[k % 4 :] + corners[: k % 4]
            path.moveTo(x, y)
            for x, y in others:
                path.lineTo(x, y)
            path.close()
        canvas.drawPath(path, stroke=0, fill=1)
    canvas.save()
    reading = read_pdf(out.getvalue())
    assert len(reading.pattern.pieces) == 3
    assert all(near(reading, line) for line in lines)


def test_a_curve_that_ends_in_a_corner_within_a_gap() -> None:
    """As at an underarm: only how long the gap is tells where the corner is."""
    side = [(150, 20), (150, 80), (187, 82), (190, 100)]
    ends = [(190, 100), (20, 100)], [(20, 100), (20, 20)], [(20, 20), (150, 20)]
    line = Line.of([side, *ends], closed=True)
    for shift in np.linspace(0.0, 8.5, 6):
        turned = line.part(line.length - shift, line.length - shift - 1e-6) if shift else line
        reading = read_svg(as_svg(strokes(turned, 4.5, 4)))
        assert apart(only(reading).outline.path, line) < 2 * NEAR
        (told,) = (f for f in reading.findings if f.code == "dashes-joined")
        assert apart(only(reading).outline.path, line) < 0.05 or "may be off there" in told.text


@pytest.mark.parametrize("phase", np.linspace(0.0, 8.0, 5))
def test_tight_curves_and_corners_in_gaps(phase: float) -> None:
    """An armhole that bends to its corners, wherever the gaps fall."""
    cap = [(200, 120), (170, 121), (160, 150), (152, 230)], [(152, 230), (75, 235)]
    neck = [(75, 235), (72, 205), (50, 192), (20, 191)], [(20, 191), (20, 20)]
    side = [(20, 20), (190, 20)], [(190, 20), (201, 55), (199, 90), (200, 120)]
    line = Line.of([*cap, *neck, *side], closed=True)
    turned = line.part(line.length - phase, line.length - phase - 1e-6) if phase else line
    found = only(read_pdf(drawn(strokes(turned, 8, 4)))).outline.path
    assert apart(found, line) < 0.05


# --- other kinds of file -----------------------------------------------------------------------


def as_svg(parts: list[Line]) -> bytes:
    """Strokes as SVG, each a path."""

    def put(x: float, y: float) -> str:
        return f"{x:.4f},{400 - y:.4f}"

    rows = []
    for part in parts:
        data = f"M{put(*part.start)}"
        for (_, b, c, d), straight in zip(part.controls, part.lines, strict=True):
            data += f"L{put(*d)}" if straight else f"C{put(*b)} {put(*c)} {put(*d)}"
        rows.append(f'<path d="{data}" stroke="black" stroke-width="0.3" fill="none"/>')
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="500mm" height="400mm" '
        f'viewBox="0 0 500 400">{"".join(rows)}</svg>'
    ).encode()


def as_dxf(lines: list[tuple[Line, tuple[float, ...]]]) -> bytes:
    """Lines exploded by ezdxf: dashes in chords, each chord an entity; solid lines where no
    pattern is said."""
    doc = ezdxf.new("R2010")
    doc.units = 4
    space = doc.modelspace()
    for line, pattern in lines:
        points = flatten(line, 0.005)
        chords = [Vec2(p) for p in (np.vstack([points, points[:1]]) if line.closed else points)]
        if not pattern:
            space.add_lwpolyline(chords)
            continue
        for a, b in LineTypeRenderer(pattern).line_segments(chords):
            space.add_line(a, b)
    text = io.StringIO()
    doc.write(text)
    return text.getvalue().encode()


@pytest.mark.parametrize("shuffled", [False, True])
def test_svg_strokes(shuffled: bool) -> None:
    lines = pieces()
    parts = [part for line in lines for part in strokes(line, 6, 3)]
    if shuffled:
        random.Random(3).shuffle(parts)
    reading = read_svg(as_svg(parts))
    assert all(near(reading, line) for line in lines)
    assert "dashes-joined" in codes(reading)


def test_dxf_exploded_by_ezdxf() -> None:
    lines = [nested(k) for k in range(3)]
    reading = read_dxf(as_dxf(list(zip(lines, PATTERNS, strict=True))))
    assert len(reading.pattern.pieces) == 3
    assert all(near(reading, line) for line in lines)
    assert [len(kind.dashes) for kind in reading.lines] == [2, 2, 4]


def test_curves_exploded_in_chords() -> None:
    line = pieces()[1]
    reading = read_dxf(as_dxf([(line, (5.0, 2.0))]))
    assert near(reading, line)


OUTLINE = Line.polyline([(10, 10), (300, 10), (300, 200), (10, 200)], closed=True)


def marks_of(parts: list[Line]) -> int:
    """How many marks and notches come back of strokes in an outline, in SVG and in DXF."""
    solid: tuple[float, ...] = ()
    counts = set()
    for reading in (
        read_svg(as_svg([OUTLINE.opened(), *parts])),
        read_dxf(as_dxf([(OUTLINE, solid), *((part, solid) for part in parts)])),
    ):
        (piece,) = (p for p in reading.pattern.pieces if abs(p.outline.path.area) > 50_000)
        assert "dashes-joined" not in codes(reading)
        counts.add(len(piece.marks) + len(piece.notches) + len(piece.drills))
    (count,) = counts
    return count


def test_crosses_on_a_grid_are_no_dashes() -> None:
    parts = []
    for i in range(9):
        for j in range(6):
            x, y = 40 + 10 * i, 40 + 10 * j
            parts.append(Line.polyline([(x - 2, y), (x + 2, y)]))
            parts.append(Line.polyline([(x, y - 2), (x, y + 2)]))
    assert marks_of(parts) == len(parts)


def test_gathering_ticks_and_buttonholes_are_no_dashes() -> None:
    ticks = [Line.polyline([(30 + 3 * k, 150), (30 + 3 * k, 156)]) for k in range(40)]
    buttonholes = [Line.polyline([(250, 20 + 28 * k), (250, 38 + 28 * k)]) for k in range(6)]
    buttonholes += [Line.polyline([(200 + 4 * k, 60), (203 + 4 * k, 66)]) for k in range(12)]
    assert marks_of([*ticks, *buttonholes]) == 58


def test_notches_one_behind_another_on_sizes_are_no_dashes() -> None:
    """Of ten sizes that grow by 6 mm, each with notches of 5 mm."""
    seams = [Line.polyline([(40 + 6 * k, 30), (40 + 6 * k, 190)]) for k in range(10)]
    notches = [
        Line.polyline([(40 + 6 * k, y), (45 + 6 * k, y)]) for y in (60, 90, 120) for k in range(10)
    ]
    assert marks_of([*seams, *notches]) == 40
