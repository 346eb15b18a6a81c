"""The sheet of marks as a PDF to print."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

from ...palette import INK
from ...units import Unit
from .marks import NUMBERS, SIDE, PaperName, Sheet

_POINTS = Unit.PT.from_mm(1.0)
#: Length of the line that a ruler checks, mm.
_LINE = 100.0
_FONTS = {"Vera": "Vera.ttf", "VeraBd": "VeraBd.ttf"}
_WORDS = (
    "Print at 100 % (actual size, not fitted to the page), and lay a ruler",
    "on the line above. If it is not 10 cm long, print again.",
    "",
    "Stick the sheet down flat beside the piece, no corner lifted,",
    "all of its squares in the photo.",
    "",
    "For a long piece print all four sheets, and lay one",
    "at each end of it and on either side.",
)


def sheet_pdf(paper: PaperName) -> bytes:
    """The four sheets of marks, a page each, as PDF."""
    import reportlab
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

    for name, file in _FONTS.items():
        registerFont(TTFont(name, str(Path(reportlab.__file__).parent / "fonts" / file)))
    out = BytesIO()
    canvas: Any = Canvas(out, pageCompression=1, invariant=1, initialFontName="Vera")
    canvas.setTitle(f"Sheets of marks for photographs, {paper}")
    canvas.setCreator("Sizewright")
    canvas.setAuthor("")
    canvas.setViewerPreference("PrintScaling", "None")
    for number in NUMBERS:
        _draw(canvas, Sheet(paper, number))
    canvas.save()
    return out.getvalue()


def _draw(canvas: Any, sheet: Sheet) -> None:
    width, height = sheet.size
    canvas.setPageSize((width * _POINTS, height * _POINTS))
    canvas.scale(_POINTS, _POINTS)
    canvas.setFillColor("#000000")
    for x, y in sheet.places(sheet.nodes):
        canvas.rect(x - SIDE / 2, y - SIDE / 2, SIDE, SIDE, stroke=0, fill=1)
    canvas.setFillColor(INK)
    canvas.setStrokeColor(INK)
    middle = width / 2

    def words(text: str, y: float, size: float, font: str = "Vera") -> None:
        canvas.setFont(font, size)
        canvas.drawCentredString(middle, y, text)

    top = height - 96.0
    words(f"Sheet {sheet.number} of {len(NUMBERS)}", top, 9.0, "VeraBd")
    words(f"{sheet.paper}, for photographs of patterns", top - 9.0, 4.0)
    y = top - 36.0
    words("this line is 10 cm", y + 4.0, 4.0)
    canvas.setLineWidth(0.3)
    canvas.line(middle - _LINE / 2, y, middle + _LINE / 2, y)
    for end in (middle - _LINE / 2, middle + _LINE / 2):
        canvas.line(end, y - 3.0, end, y + 3.0)
    for row, text in enumerate(_WORDS):
        words(text, y - 14.0 - 6.0 * row, 3.6)
    canvas.showPage()
