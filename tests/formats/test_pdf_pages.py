"""Pages of PDFs put together, compared with the drawings that the pages were made from."""

from __future__ import annotations

import io
import math
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import shapely
from reportlab.pdfgen.canvas import Canvas

from sizewright.errors import InputError
from sizewright.formats import read_pdf
from sizewright.formats.reading import Reading
from sizewright.geometry import Path as Line
from sizewright.geometry import flatten
from tests.formats.drawing import codes
from tests.formats.test_pdf import MM, NEAR, apart, stream
from tests.programs import need

Box = tuple[float, float, float, float]
A4, LETTER = (210.0, 297.0), (215.9, 279.4)


def pieces() -> list[Line]:
    """A drawing: a piece with curves that leans, one with straight sides, a small one."""
    front = Line.of(
        [
            [(20, 30), (240, 10)],
            [(240, 10), (262, 120), (225, 205), (268, 330)],
            [(268, 330), (190, 352)],
            [(190, 352), (165, 290), (110, 295), (88, 368)],
            [(88, 368), (16, 350)],
            [(16, 350), (34, 240), (2, 140), (20, 30)],
        ],
        closed=True,
    )
    back = Line.polyline([(300, 20), (470, 44), (455, 372), (330, 350)], closed=True)
    patch = Line.of(
        [
            [(360, 130), (420, 130)],
            [(420, 130), (425, 160), (418, 190), (420, 205)],
            [(420, 205), (360, 205)],
            [(360, 205), (360, 130)],
        ],
        closed=True,
    )
    return [front, back, patch]


@dataclass(frozen=True)
class Tiles:
    """How a drawing is cut into pages, mm; `by` "row" or "column"."""

    size: tuple[float, float] = A4
    trim: float = 10.0
    overlap: float = 0.0
    by: str = "row"

    def windows(self) -> Iterator[Box]:
        """What of the drawing each page shows."""
        wide, high = (side - 2 * self.trim for side in self.size)
        columns, rows = (
            math.ceil((whole - self.overlap) / (side - self.overlap))
            for whole, side in ((500.0, wide), (400.0, high))
        )
        places = [(r, c) for r in range(rows) for c in range(columns)]
        if self.by == "column":
            places.sort(key=lambda p: (p[1], p[0]))
        for row, column in places:
            x = -10 + column * (wide - self.overlap)
            y = 390 - high - row * (high - self.overlap)
            yield x, y, x + wide, y + high


def drawn(canvas: Canvas, path: Line) -> None:
    """Draw a line, its curves as curves."""
    made = canvas.beginPath()
    made.moveTo(*path.controls[0, 0])
    for (_, b, c, d), straight in zip(path.controls, path.lines, strict=True):
        made.lineTo(*d) if straight else made.curveTo(*b, *c, *d)
    if path.closed:
        made.close()
    canvas.drawPath(made)


def chords(path: Line) -> shapely.LineString:
    """A closed line in chords within 0.005 mm."""
    points = flatten(path, 0.005)
    return shapely.LineString(np.vstack([points, points[:1]]))


def printed(
    lines: list[Line],
    tiles: Tiles,
    *,
    cut: bool = False,
    rings: bool = False,
    furniture: bool = False,
    cover: bool = False,
    blank: bool = True,
    turned: dict[int, int] | None = None,
    square: float = 0.0,
) -> bytes:
    """Pages by reportlab: whole lines behind a clip, or lines that shapely has cut.

    `rings`: what is cut are areas, closed along the page's edge. Without `blank` pages with
    nothing on them are left out. Pages are `turned` by degrees. Each has a `square` of so many
    mm that says to be one of 5 cm.
    """
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(tiles.size[0] * MM, tiles.size[1] * MM), invariant=1)
    if cover:
        canvas.drawString(100, 500, "Frock, sizes 10 to 16")
        canvas.showPage()
    trim, (wide, high) = tiles.trim, tiles.size
    for number, window in enumerate(tiles.windows(), 1):
        box = shapely.box(*window)
        if not blank and not any(chords(p).intersects(box) for p in lines):
            continue
        turn = (turned or {}).get(number, 0)
        canvas.setPageSize([side * MM for side in (tiles.size[::-1] if turn % 180 else tiles.size)])
        canvas.scale(MM, MM)
        canvas.translate(*{0: (0, 0), 90: (high, 0), 180: (wide, high), 270: (0, wide)}[turn])
        canvas.rotate(turn)
        canvas.setLineWidth(0.3)
        if furniture:
            canvas.rect(trim, trim, wide - 2 * trim, high - 2 * trim)
            for x in (trim, wide - trim):
                canvas.line(x, trim - 4, x, trim + 4)
            canvas.setFont("Helvetica", 4)
            canvas.drawCentredString(wide / 2, 3, f"Page {number}")
        if square:
            canvas.rect(trim + 8, trim + 8, square, square)
            canvas.setFont("Helvetica", 4)
            canvas.drawString(trim + 9, trim + 3, "Test square: 5 cm x 5 cm")
        canvas.translate(trim - window[0], trim - window[1])
        if not cut:
            clip = canvas.beginPath()
            clip.rect(window[0], window[1], wide - 2 * trim, high - 2 * trim)
            canvas.clipPath(clip, stroke=0, fill=0)
        for path in lines:
            if not cut:
                drawn(canvas, path)
                continue
            whole = shapely.Polygon(chords(path)) if rings else chords(path)
            for part in shapely.get_parts(whole.intersection(box)):
                if part.geom_type == ("Polygon" if rings else "LineString") and part.length:
                    drawn(canvas, Line.polyline(shapely.get_coordinates(part), closed=rings))
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def cropped(
    lines: list[Line],
    tiles: Tiles,
    turned: dict[int, int] | None = None,
    windows: list[Box] | None = None,
) -> bytes:
    """One large page shown through many boxes, each a page, as tools that crop make it."""
    content = ["0.8 w"]
    for path in lines:
        x, y = path.controls[0, 0] * MM
        content.append(f"{x:.4f} {y:.4f} m")
        for cubic, straight in zip(path.controls * MM, path.lines, strict=True):
            points = cubic[3:] if straight else cubic[1:]
            content.append(
                " ".join(f"{v:.4f}" for v in points.ravel()) + (" l" if straight else " c")
            )
        content.append("h S")
    windows = windows or list(tiles.windows())
    kids = " ".join(f"{4 + k} 0 R" for k in range(len(windows)))
    objects: list[bytes | str] = [
        "<< /Type /Catalog /Pages 2 0 R >>",
        f"<< /Type /Pages /Kids [{kids}] /Count {len(windows)} >>",
        stream("\n".join(content).encode()),
    ]
    for k, (x0, y0, x1, y1) in enumerate(windows):
        t = tiles.trim
        box = " ".join(f"{v * MM:.4f}" for v in (x0 - t, y0 - t, x1 + t, y1 + t))
        turn = f"/Rotate {turned[k]}" if turned and k in turned else ""
        objects.append(
            f"<< /Type /Page /Parent 2 0 R /MediaBox [{box}] {turn} /Contents 3 0 R "
            "/Resources << >> >>"
        )
    data = bytearray(b"%PDF-1.7\n")
    for number, item in enumerate(objects, 1):
        body = item.encode() if isinstance(item, str) else item
        data += b"%d 0 obj\n%b\nendobj\n" % (number, body)
    return bytes(data + b"trailer << /Size %d /Root 1 0 R >>\n%%%%EOF\n" % (len(objects) + 1))


def as_svgs(lines: list[Line], tiles: Tiles) -> Iterator[str]:
    """Each page as SVG, with all that is drawn behind a clip."""
    data = "".join(
        "M"
        + "{:.4f},{:.4f}".format(*(path.controls[0, 0] * (1, -1)))
        + "".join(
            ("L" if straight else "C")
            + " ".join(f"{x:.4f},{-y:.4f}" for x, y in (cubic[3:] if straight else cubic[1:]))
            for cubic, straight in zip(path.controls, path.lines, strict=True)
        )
        + "Z"
        for path in lines[:1]
    )
    more = "".join(
        f'<polygon points="{" ".join(f"{x:.4f},{-y:.4f}" for x, y in flatten(p, 0.005))}"/>'
        for p in lines[1:]
    )
    wide, high = tiles.size
    for x0, y0, x1, y1 in tiles.windows():
        yield (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}mm" height="{high}mm" '
            f'viewBox="{x0 - tiles.trim} {-y1 - tiles.trim} {wide} {high}">'
            f'<clipPath id="c{x0}{y0}">'
            f'<rect x="{x0}" y="{-y1}" width="{x1 - x0}" height="{y1 - y0}"/></clipPath>'
            f'<g clip-path="url(#c{x0}{y0})" fill="none" stroke="#000" stroke-width="0.4">'
            f'<path d="{data}"/>{more}</g></svg>'
        )


def came_back(reading: Reading, lines: list[Line], near: float = NEAR) -> None:
    """Each line is there once, and all lie as they do in the drawing."""
    found = [p.outline.path for p in reading.pattern.pieces]
    for piece in reading.pattern.pieces:
        found += [m.path for m in piece.marks if m.path.closed]
        found += [c.path for c in piece.cutouts]
    assert len(found) == len(lines)
    largest = max(found, key=lambda p: abs(p.area))
    moved = np.array(lines[0].bounds[:2]) - np.array(largest.bounds[:2])
    for line in lines:
        far = min(apart(p.with_controls(p.controls + moved), line) for p in found)
        assert far < near


def told(reading: Reading, code: str) -> str:
    (found,) = [f for f in reading.findings if f.code == code]
    return found.text


# --- whole objects ----------------------------------------------------------------------


@pytest.mark.parametrize(
    "tiles", [Tiles(), Tiles(LETTER, 3.0, 12.7, "column"), Tiles((297.0, 210.0), 0.0, 8.0)]
)
def test_whole_lines_behind_clips(tiles: Tiles) -> None:
    reading = read_pdf(printed(pieces(), tiles, furniture=tiles.trim > 5, cover=True))
    came_back(reading, pieces())
    assert "step left at a joint is 0.00 mm" in told(reading, "pages-together")
    assert told(reading, "text-pages").startswith("page 1 ")
    assert not {"clipped", "pages-apart"} & set(codes(reading))


def test_a_page_shown_through_many_boxes_some_turned() -> None:
    tiles = Tiles(overlap=7.5)
    count = len(list(tiles.windows()))
    came_back(read_pdf(cropped(pieces(), tiles)), pieces())
    reading = read_pdf(cropped(pieces(), tiles, {1: 90, 3: 180, count - 1: 270}))
    came_back(reading, pieces())
    assert told(reading, "pages-together").startswith(f"{count} pages")


def test_cairo(tmp_path: Path) -> None:
    files = []
    for number, page in enumerate(as_svgs(pieces(), Tiles(overlap=5))):
        files.append(tmp_path / f"{number:02}.svg")
        files[-1].write_text(page, "utf-8")
    out = tmp_path / "out.pdf"
    subprocess.run([need("rsvg-convert"), "-f", "pdf", "-o", out, *files], check=True)
    came_back(read_pdf(out), pieces())


def test_chromium(tmp_path: Path) -> None:
    page, out = tmp_path / "page.html", tmp_path / "out.pdf"
    style = "@page { size: 210mm 297mm; margin: 0 } body { margin: 0 } svg { display: block; "
    style += "break-after: page }"
    page.write_text(f"<style>{style}</style>{''.join(as_svgs(pieces(), Tiles()))}", "utf-8")
    command = [need("chromium"), "--headless", "--no-sandbox", "--disable-gpu"]
    command += ["--no-pdf-header-footer", f"--print-to-pdf={out}", page.as_uri()]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    came_back(read_pdf(out), pieces())


# --- lines that were cut ------------------------------------------------------------------


@pytest.mark.parametrize(
    "tiles",
    [
        Tiles(),
        Tiles(LETTER, 3.0, 0.0, "column"),
        Tiles(A4, 6.35, 12.7),
        Tiles((279.4, 215.9), 5.0, 3.7),
    ],
)
@pytest.mark.parametrize("rings", [False, True])
def test_lines_that_were_cut(tiles: Tiles, rings: bool) -> None:
    data = printed(pieces(), tiles, cut=True, rings=rings, blank=False, furniture=not rings)
    reading = read_pdf(data)
    came_back(reading, pieces(), NEAR + 0.005)  # the chords take some of it
    # What was a straight line before it was cut is one again.
    (back,) = [p for p in reading.pattern.pieces if len(p.outline.path) == 4]
    assert back.outline.path.lines.all()


def test_two_pages_with_marks_at_their_corners() -> None:
    tiles = Tiles((297.0, 420.0), 12.0, 15.0)
    reading = read_pdf(printed(pieces(), tiles, cut=True, furniture=True))
    came_back(reading, pieces(), NEAR + 0.005)


# --- what is asked, and said -----------------------------------------------------------------


def squares() -> list[Line]:
    """Pieces whose sides cross all joints squarely."""
    return [Line.polyline([(20, 20), (480, 20), (480, 380), (20, 380)], closed=True)]


def test_an_overlap_that_nothing_tells_is_asked_for() -> None:
    data = printed(squares(), Tiles(overlap=10.0), cut=True)
    reading = read_pdf(data)
    asked = [f.text for f in reading.findings if f.code == "overlap-open"]
    assert ["left to right" in asked[0], "top to bottom" in asked[1]] == [True, True]
    assert all("any overlap from 0 to" in text for text in asked)
    came_back(read_pdf(data, overlap=10.0), squares())
    came_back(read_pdf(data, overlap=10.0, trim=10.0, columns=3), squares())
    down = printed(squares(), Tiles(overlap=10.0, by="column"), cut=True)
    came_back(read_pdf(down, overlap=10.0, columns=3), squares())


def test_columns_alone_where_lines_are_whole() -> None:
    data = printed(pieces(), Tiles(overlap=10.0))
    came_back(read_pdf(data, columns=3), pieces())
    assert "pages-together" not in codes(read_pdf(data, columns=0))


def test_columns_without_anything_that_tells_a_step() -> None:
    small = [Line.polyline([(20, 20), (60, 20), (60, 60)], closed=True)]
    twice = [*small, Line.polyline([(320, 20), (360, 20), (350, 70)], closed=True)]
    data = printed(twice, Tiles(), blank=False, cut=True)
    with pytest.raises(InputError, match="how far the pages lie") as caught:
        read_pdf(data, columns=2)
    assert "--set trim" in (caught.value.cure or "")
    assert len(read_pdf(data, columns=2, trim=10, overlap=0).pattern.pieces) == 2


def test_pages_of_their_own_stay_apart() -> None:
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(A4[0] * MM, A4[1] * MM), invariant=1)
    for path in pieces()[1:]:
        canvas.scale(MM / 2, MM / 2)
        drawn(canvas, path)
        canvas.showPage()
    canvas.save()
    reading = read_pdf(out.getvalue())
    assert len(reading.pattern.pieces) == 2
    assert "pages-apart" in codes(reading)


def test_a_page_with_much_text_is_set_aside_but_for_its_test_square() -> None:
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(A4[0] * MM, A4[1] * MM), invariant=1)
    for line in range(15):
        canvas.drawString(60, 700 - 14 * line, "Print at 100 %, and check the square with a ruler.")
    canvas.rect(60, 60, 50 * MM, 50 * MM)
    canvas.drawString(80, 100, "test 50 mm")
    canvas.rect(300, 60, 200, 200)
    canvas.line(300, 160, 500, 160)
    canvas.showPage()
    whole = printed(pieces(), Tiles())
    canvas.save()
    reading = read_pdf(_after(out.getvalue(), whole))
    came_back(reading, pieces())
    assert {"cover", "test-square"} <= set(codes(reading))


def test_a_page_of_running_text_beside_a_single_sheet_is_set_aside() -> None:
    """Its ruled boxes and tables are no pieces; a sheet that says as much has curves."""
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(210 * MM, 297 * MM), invariant=1)
    canvas.scale(MM, MM)
    canvas.setFont("Helvetica", 4)
    for k in range(24):
        canvas.drawString(20, 270 - 6 * k, "Sew the side seams, press them open, turn up the hem.")
    canvas.rect(15, 120, 180, 160)
    for k in range(6):
        canvas.line(20, 100 - 8 * k, 190, 100 - 8 * k)
        canvas.line(20 + 34 * k, 60, 20 + 34 * k, 100)
    canvas.showPage()
    canvas.setPageSize((500 * MM, 800 * MM))
    canvas.scale(MM, MM)
    path = canvas.beginPath()
    path.moveTo(50, 50)
    path.lineTo(400, 50)
    path.curveTo(420, 300, 380, 500, 400, 700)
    path.lineTo(50, 720)
    path.close()
    canvas.drawPath(path)
    for k in range(24):
        canvas.drawString(
            60, 600 - 10 * k, "This is the front, which is cut twice out of the cloth."
        )
    canvas.showPage()
    canvas.save()
    reading = read_pdf(out.getvalue())
    (piece,) = reading.pattern.pieces
    assert piece.bounds[2] - piece.bounds[0] == pytest.approx(354, abs=5)
    assert "cover" in codes(reading)
    assert not piece.marks


@pytest.mark.parametrize("cut", [False, True])
def test_a_square_on_every_page_proves_the_scale_once(cut: bool) -> None:
    for side, code in ((50.0, "test-square"), (48.5, "scale-wrong")):
        reading = read_pdf(printed(pieces(), Tiles(), cut=cut, square=side))
        came_back(reading, pieces(), NEAR + 0.005)
        assert codes(reading).count(code) == 1


@pytest.mark.parametrize("way", [(0.0, 120.0), (120.0, 0.0)])
def test_a_last_row_that_is_moved_up_to_the_edge(way: tuple[float, float]) -> None:
    """Some tools lay the last pages flush with the sheet: these lie over others by more."""
    tiles = Tiles(overlap=8.0)
    windows = list(tiles.windows())
    side = int(way[1] > 0)
    last = (max if side == 0 else min)(w[side] for w in windows)
    moved = [
        (w[0] - way[0], w[1] + way[1], w[2] - way[0], w[3] + way[1]) if w[side] == last else w
        for w in windows
    ]
    reading = read_pdf(cropped(pieces(), tiles, windows=moved))
    came_back(reading, pieces())
    assert "pages-by-order" not in codes(reading)


def _after(first: bytes, second: bytes) -> bytes:
    """Two PDFs one after the other, by pdfunite."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        names = [Path(folder) / name for name in ("a.pdf", "b.pdf", "c.pdf")]
        names[0].write_bytes(first)
        names[1].write_bytes(second)
        subprocess.run([need("pdfunite"), *names], check=True)
        return names[2].read_bytes()


def test_the_same_file_reads_the_same() -> None:
    data = printed(pieces(), Tiles(overlap=4.0), cut=True)
    first, second = read_pdf(data), read_pdf(data)
    assert [p.outline.path for p in first.pattern.pieces] == [
        p.outline.path for p in second.pattern.pieces
    ]
    assert first.findings == second.findings


def test_nothing_is_lost() -> None:
    """All furniture is told as set aside: a frame, two marks and a number of each page."""
    reading = read_pdf(printed(pieces(), Tiles(), furniture=True))
    aside = [s for s in reading.set_aside if s.reason == "alike on many pages"]
    assert len(aside) == 4 * len(list(Tiles().windows()))
