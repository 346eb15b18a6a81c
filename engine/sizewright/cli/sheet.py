"""`sizewright sheet`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import debug_option
from .printing import say

if TYPE_CHECKING:
    from ..formats.photo.marks import PaperName


@click.command()
@click.argument("out", metavar="[OUT]", type=click.Path(path_type=Path), default=Path("sheet.pdf"))
@click.option(
    "--page",
    type=click.Choice(["A4", "Letter"], case_sensitive=False),
    default="A4",
    help="The paper in the printer (default: A4).",
)
@debug_option
def sheet(out: Path, page: PaperName) -> int:
    """The sheet of marks to lay beside a paper pattern for a photo.

    It is written to OUT, or to sheet.pdf.
    Page 1 is enough beside a small piece; the four pages are for laying round a long one.
    """
    from ..errors import UsageError
    from ..formats.photo.sheet_out import sheet_pdf
    from ..formats.safely import write_safely

    if out.suffix.lower() != ".pdf":
        raise UsageError(
            "the sheet is a PDF file", where=str(out), cure='Give it a name that ends in ".pdf".'
        )
    write_safely(out, sheet_pdf(page))
    say(f"{out}: 4 sheets of marks, {page}")
    say("Print it at 100 %, and check with a ruler that its line is 10 cm long.")
    return 0
