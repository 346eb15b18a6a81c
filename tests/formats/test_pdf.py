"""PDFs of several writers, compared with the drawings that they were made from."""

from __future__ import annotations

import io
import subprocess
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from reportlab.lib.pagesizes import A4
from reportlab.lib.pdfencrypt import StandardEncryption
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from sizewright.errors import InputError
from sizewright.formats import claims_pdf, read_pdf, read_svg
from sizewright.formats.reading import Reading
from tests.formats.drawing import codes, only
from tests.measured import apart
from tests.programs import need

ROOT = Path(__file__).resolve().parents[2]
FIXTURES = ROOT / "tests" / "fixtures"
#: How near a PDF's curves come back to the drawing's, mm.
NEAR = 0.05
MM = 72 / 25.4
#: A piece of 100 by 60 mm, 20 mm from the left and 30 mm up, in points.
PIECE = f"{20 * MM:.4f} {30 * MM:.4f} {100 * MM:.4f} {60 * MM:.4f} re S"
PAGE = f"/MediaBox [0 0 {200 * MM:.4f} {150 * MM:.4f}]"


def made(
    content: bytes | str,
    page: str = PAGE,
    resources: str = "",
    more: tuple[bytes | str, ...] = (),
    catalog: str = "",
) -> bytes:
    """A PDF of one page, written by hand; objects of `more` are numbered from 5."""
    body = content.encode() if isinstance(content, str) else content
    objects: list[bytes | str] = [
        f"<< /Type /Catalog /Pages 2 0 R {catalog} >>",
        "<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        f"<< /Type /Page /Parent 2 0 R {page} /Contents 4 0 R /Resources << {resources} >> >>",
        stream(body),
        *more,
    ]
    out, places = bytearray(b"%PDF-1.7\n"), []
    for number, item in enumerate(objects, 1):
        places.append(len(out))
        data = item.encode("latin-1") if isinstance(item, str) else item
        out += b"%d 0 obj\n%b\nendobj\n" % (number, data)
    start = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    out += b"".join(b"%010d 00000 n \n" % place for place in places)
    out += b"trailer << /Size %d /Root 1 0 R >>\n" % (len(objects) + 1)
    return bytes(out + b"startxref\n%d\n%%%%EOF\n" % start)


def stream(body: bytes, words: str = "") -> bytes:
    """A stream object."""
    return b"<< /Length %d %b >>\nstream\n%b\nendstream" % (len(body), words.encode(), body)


def drawn(pages: int = 1, **settings: Any) -> tuple[Canvas, io.BytesIO]:
    """A canvas to draw on, and where its PDF goes."""
    out = io.BytesIO()
    return Canvas(out, pagesize=A4, invariant=1, **settings), out


def same_outlines(found: Reading, wanted: Reading) -> None:
    """Each piece of the drawing came back, by size and place."""
    assert len(found.pattern.pieces) == len(wanted.pattern.pieces)
    for one in wanted.pattern.pieces:
        # A drawing may say which of two lines is the sewing line; a PDF cannot.
        lines = [o.path for o in (one.outline, one.cut_line) if o is not None]
        far = min(apart(p.outline.path, line) for p in found.pattern.pieces for line in lines)
        assert far < NEAR, one.name


def refused(data: bytes) -> str:
    with pytest.raises(InputError) as caught:
        read_pdf(data, name="x.pdf")
    assert caught.value.where == "x.pdf"
    assert caught.value.cure
    return caught.value.what


# --- writers --------------------------------------------------------------------------


def test_reportlab() -> None:
    canvas, out = drawn()
    wanted = only(read_svg(FIXTURES / "simple.svg")).outline.path
    canvas.setDash(6, 3)
    canvas.setStrokeColorRGB(1, 0, 0)
    canvas.translate(20, 30)
    canvas.rotate(30)
    canvas.scale(MM, MM)
    path = canvas.beginPath()
    path.moveTo(*wanted.controls[0, 0])
    for (_, b, c, d), straight in zip(wanted.controls, wanted.lines, strict=True):
        path.lineTo(*d) if straight else path.curveTo(*b, *c, *d)
    path.close()
    canvas.drawPath(path)
    canvas.save()
    found = only(read_pdf(out.getvalue())).outline.path
    turn = np.deg2rad(30)
    way = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    moved = wanted.with_controls(wanted.controls @ way.T + np.array([20, 30]) / MM)
    assert apart(found, moved) < NEAR
    assert sorted(found.lines) == sorted(wanted.lines)  # its curves are curves, and no more


def test_cairo(tmp_path: Path) -> None:
    out = tmp_path / "out.pdf"
    source = FIXTURES / "features.svg"
    subprocess.run([need("rsvg-convert"), "-f", "pdf", "-o", out, source], check=True)
    same_outlines(read_pdf(out), read_svg(source))


def test_inkscape(tmp_path: Path) -> None:
    out = tmp_path / "out.pdf"
    source = FIXTURES / "inkscape-transforms.svg"
    command = [need("inkscape"), source, "--export-type=pdf", f"--export-filename={out}"]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    same_outlines(read_pdf(out), read_svg(source))


def test_chromium(tmp_path: Path) -> None:
    source = (FIXTURES / "simple.svg").read_text("utf-8")
    page, out = tmp_path / "page.html", tmp_path / "out.pdf"
    style = "@page { size: 210mm 297mm; margin: 0 } body { margin: 0 } svg { display: block }"
    page.write_text(f"<style>{style}</style>{source[source.index('<svg') :]}", "utf-8")
    command = [need("chromium"), "--headless", "--no-sandbox", "--disable-gpu"]
    command += ["--no-pdf-header-footer", f"--print-to-pdf={out}", page.as_uri()]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    same_outlines(read_pdf(out), read_svg(FIXTURES / "simple.svg"))


# --- pages ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "bounds"),
    [
        ("", (20, 30, 120, 90)),
        ("/Rotate 90", (30, 80, 90, 180)),
        ("/Rotate 180", (80, 60, 180, 120)),
        ("/Rotate 270", (60, 20, 120, 120)),
        ("/UserUnit 2", (40, 60, 240, 180)),
        (f"/CropBox [{10 * MM} {10 * MM} {190 * MM} {140 * MM}]", (10, 20, 110, 80)),
        (f"/Rotate 90 /CropBox [{10 * MM} {5 * MM} {190 * MM} {140 * MM}]", (25, 70, 85, 170)),
    ],
)
def test_a_page_is_read_as_it_is_shown(words: str, bounds: tuple[float, ...]) -> None:
    piece = only(read_pdf(made(PIECE, f"{PAGE} {words}")))
    assert piece.outline.path.bounds == pytest.approx(bounds, abs=1e-3)
    assert piece.outline.path.area == pytest.approx(
        (bounds[2] - bounds[0]) * (bounds[3] - bounds[1])
    )


def test_pages_lie_side_by_side_and_it_is_told() -> None:
    canvas, out = drawn()
    for width in (50, 80):
        canvas.rect(0, 0, *A4)
        canvas.rect(20 * MM, 20 * MM, width * MM, 40 * MM)
        canvas.showPage()
    canvas.drawString(100, 100, "A page of words alone")
    canvas.save()
    reading = read_pdf(out.getvalue())
    boxes = [p.outline.path.bounds for p in reading.pattern.pieces]
    assert [b[2] - b[0] for b in boxes] == pytest.approx([50, 80], abs=1e-3)
    assert boxes[1][0] > 210
    (told,) = [f for f in reading.findings if f.code == "pages-apart"]
    assert told.level == "warn"
    assert told.text.startswith("2 pages")
    assert [s.reason for s in reading.set_aside].count("page frame") == 2


def test_a_form_in_a_form_and_the_closing_of_lines() -> None:
    inner = stream(
        b"0 0 m 100 0 l 100 60 l 0 60 l h S", "/Type /XObject /Subtype /Form /BBox [0 0 200 200]"
    )
    outer = stream(
        b"q 0.5 0 0 0.5 10 20 cm /B Do Q",
        "/Type /XObject /Subtype /Form /BBox [0 0 200 200] /Matrix [2 0 0 2 0 0] "
        "/Resources << /XObject << /B 5 0 R >> >>",
    )
    content = f"{MM} 0 0 {MM} 0 0 cm /A Do"
    data = made(content, resources="/XObject << /A 6 0 R >>", more=(inner, outer))
    assert only(read_pdf(data)).outline.path.bounds == pytest.approx((20, 40, 120, 100), abs=1e-3)


def test_what_is_clipped_is_told_and_what_is_off_the_page_is_not_read() -> None:
    clip = f"q {10 * MM} {10 * MM} {60 * MM} {100 * MM} re W n {PIECE} Q"
    assert "clipped" in codes(read_pdf(made(clip)))
    wide = f"q 0 0 {190 * MM} {100 * MM} re W n {PIECE} Q {400 * MM} 0 200 200 re S"
    reading = read_pdf(made(wide))
    assert "clipped" not in codes(reading)
    assert len(reading.pattern.pieces) == 1
    assert "hidden" in [s.reason for s in reading.set_aside]


def test_layers_bear_their_names_and_those_that_are_off_are_left_out() -> None:
    content = f"/OC /L1 BDC {PIECE} EMC /OC /L2 BDC 300 300 90 90 re S EMC"
    resources = "/Properties << /L1 6 0 R /L2 7 0 R >>"

    def read(names: list[str], off: str) -> Reading:
        written = [name.encode("utf-16-be").hex() for name in names]
        layers = [f"<< /Type /OCG /Name <FEFF{name}> >>" for name in written]
        properties = f"<< /OCGs [6 0 R 7 0 R] /D << /OFF [{off}] >> >>"
        return read_pdf(
            made(
                content,
                resources=resources,
                more=(properties, *layers),
                catalog="/OCProperties 5 0 R",
            )
        )

    assert set(read(["12", "14"], "").pattern.sizes) == {"12", "14"}
    assert only(read(["Größe", "wörter"], "7 0 R")).name == "Größe"


def test_words_name_the_piece_however_they_are_split() -> None:
    words = (
        "BT /F 30 Tf 100 150 Td [(Po) -20 (ck) 15 (et)] TJ ET BT /F 30 Tf 200 150 Td (flap) Tj ET"
    )
    unseen = "BT /F 60 Tf 3 Tr 100 200 Td (never seen) Tj ET"
    font = "/Font << /F << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >>"
    reading = read_pdf(made(f"{PIECE} {words} {unseen}", resources=font))
    assert only(reading).name == "Pocket flap"


# --- what is refused ------------------------------------------------------------------


def test_locked() -> None:
    canvas, out = drawn(encrypt=StandardEncryption("secret", canPrint=0))
    canvas.rect(100, 100, 200, 200)
    canvas.save()
    assert "password" in refused(out.getvalue())


@pytest.mark.parametrize("module", ["raise ImportError", "raise OSError", ""])
def test_a_missing_package_is_told_and_not_blamed_on_the_file(
    module: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A package of that name that cannot be imported, or holds nothing, comes first."""
    (tmp_path / "pypdfium2.py").write_text(module, "utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    with pytest.raises(InputError, match=r"pypdfium2 is missing.*pip install"):
        read_pdf(b"%PDF-1.4")


def test_a_scan_with_unseen_words_is_pointed_to_tape() -> None:
    from PIL import Image

    canvas, out = drawn()
    canvas.drawImage(ImageReader(Image.new("L", (40, 60), 200)), 0, 0, *A4)
    words = canvas.beginText(100, 100)
    words.setTextRenderMode(3)
    words.textLine("recognised")
    canvas.drawText(words)
    canvas.save()
    assert "a picture and no lines" in refused(out.getvalue())


def test_without_anything() -> None:
    assert "no lines" in refused(made(""))


@pytest.mark.parametrize("data", [b"%PDF-1.7\n", b"%PDF-1.7\n1 0 obj << /Type /Catalog >> endobj"])
def test_broken(data: bytes) -> None:
    assert claims_pdf(data)
    assert "broken" in refused(data)


def bomb_of_forms(depth: int = 8, each: int = 10) -> bytes:
    """Forms that hold each other ten times each."""
    forms = [stream(PIECE.encode(), "/Type /XObject /Subtype /Form /BBox [0 0 900 900]")]
    for k in range(depth):
        words = (
            "/Type /XObject /Subtype /Form /BBox [0 0 900 900] "
            f"/Resources << /XObject << /A {5 + k} 0 R >> >>"
        )
        forms.append(stream(b"/A Do " * each, words))
    return made("/A Do", resources=f"/XObject << /A {5 + depth} 0 R >>", more=tuple(forms))


def bomb_of_content() -> bytes:
    """Very many lines in few bytes."""
    body = zlib.compress(b"0 0 m 9 9 l S\n" * 8_000_000, 9)
    data = made("")
    old = stream(b"")
    return data.replace(old, stream(body, "/Filter /FlateDecode"))


@pytest.mark.parametrize("bomb", [bomb_of_forms, bomb_of_content])
def test_bombs_are_given_up(bomb: Any) -> None:
    assert "more than any pattern" in refused(bomb())


def test_forms_that_hold_themselves() -> None:
    words = (
        "/Type /XObject /Subtype /Form /BBox [0 0 900 900] /Resources << /XObject << /A 5 0 R >> >>"
    )
    data = made(
        f"{PIECE} /A Do", resources="/XObject << /A 5 0 R >>", more=(stream(b"/A Do", words),)
    )
    assert "deeper" in refused(data)
