"""Pages to print and stick together: pieces packed to save paper, with marks and a map, as PDF."""

from __future__ import annotations

from sizewright.findings import Finding
from sizewright.model import Pattern
from sizewright.plugin import Output, Setting, Values, Writer, hookimpl

from .paper import PAPERS

api = 1

#: Settings of every writer of pages: the paper, and how the pages are joined.
PAGES = (
    Setting("paper", "choice", "size of the pages", "A4", choices=tuple(PAPERS)),
    Setting(
        "page",
        "text",
        'any other page, as "30 cm x 60 cm", or the width of a roll, as "36 in"; '
        "stands in for `paper`",
    ),
    Setting(
        "orientation",
        "choice",
        "pages upright or lying; `auto` takes what needs fewer",
        "auto",
        choices=("auto", "portrait", "landscape"),
    ),
    Setting("margin", "length", "left free round each page", "10 mm", low=0, high=50),
    Setting("overlap", "length", "strip that neighbouring pages share", "10 mm", low=0, high=50),
    Setting("cover", "flag", "begin with test squares, map and list of pieces", True),
)
_SETTINGS = (
    *PAGES[:-1],
    Setting(
        "pack",
        "flag",
        "lay the pieces so that few pages are needed; else they stay as they were drawn",
        True,
    ),
    Setting("gap", "length", "least distance between packed pieces", "6 mm", low=0, high=100),
    Setting(
        "turn",
        "choice",
        "how packing may turn a piece: not at all, by half turns, by quarter turns",
        "quarter",
        choices=("none", "half", "quarter"),
    ),
    Setting("nest", "flag", "draw the sizes of a piece on top of each other; else apart", True),
    PAGES[-1],
)


def write_pages(pattern: Pattern, values: Values) -> Output:
    """The pattern as a PDF of pages at true size."""
    from .cover import draw_cover, pages_words
    from .layout import lay_out
    from .pages import draw_page, draw_sheet
    from .pen import Pen

    layout, findings = lay_out(pattern, values)
    pen = Pen(layout.title)
    if values["cover"]:
        draw_cover(pen, layout)
    draw_sheet(pen, layout)
    for page in layout.pages:
        draw_page(pen, layout, page)
    data = pen.bytes()
    findings.append(Finding("pages", "note", pages_words(layout)))
    for piece in pattern.pieces:
        if piece.kind == "sew" and piece.cut_line is None:
            findings.append(
                piece.finding(
                    "no-allowance",
                    "warn",
                    "the sewing line is printed, without any seam allowance",
                    cure="Add it first, or mark it on the cloth.",
                )
            )
    if pen.lacking:
        shown = " ".join(sorted(pen.lacking))
        findings.append(
            Finding(
                "letters-lacking",
                "warn",
                f'the typeface of the pages lacks {shown}: they are printed as "?"',
                cure="Name pieces in Latin letters for printing.",
            )
        )
    return Output(data, tuple(findings))


@hookimpl
def add_writers() -> list[Writer]:
    """The writer `pages`."""
    return [
        Writer(
            "pages",
            "Full-size pages to print and stick together.",
            write_pages,
            (".pdf",),
            _SETTINGS,
        )
    ]
