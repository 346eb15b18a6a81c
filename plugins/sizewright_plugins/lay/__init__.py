"""Lays the pieces on the cloth that there is: a picture, a full-size print, or a cutter's file."""

from __future__ import annotations

from sizewright.errors import UsageError
from sizewright.findings import Finding
from sizewright.model import Pattern
from sizewright.plugin import Output, Setting, Values, Writer, hookimpl

from ..tiling import PAGES

api = 1

_SETTINGS = (
    Setting("cloths", "cloths", "what the pieces are laid on", required=True),
    Setting("ending", "ending", "a picture (.svg, .pdf), or pieces for a cutter (.dxf)", ".svg"),
    Setting("seconds", "count", "how long to look for a better lay", 20, low=1, high=86_400),
    Setting("seed", "count", "where the search begins: another may find another lay", 1, low=0,
            high=1_000_000),
    Setting(
        "scale",
        "choice",
        "a PDF as a picture, or at full size on pages",
        "picture",
        choices=("picture", "full"),
    ),
    *PAGES,
)  # fmt: skip


@hookimpl
def add_writers() -> list[Writer]:
    """The writer `lay`."""
    return [
        Writer(
            "lay",
            "the pieces laid on the cloths of a job: picture, full-size print, cutter's file",
            write_lay,
            (".svg", ".pdf", ".dxf"),
            _SETTINGS,
            by_ending=False,
        )
    ]


def write_lay(pattern: Pattern, values: Values) -> Output:
    """One lay, looked for or kept, as the file that its ending asks for."""
    from .drawings import as_pages, as_pdf, as_svg, for_cutter
    from .report import report

    cloths = values["cloths"]
    if len(cloths.cloths) != 1:
        raise UsageError("a lay is of one cloth", cure="Put {cloth} into the name of the file.")
    (cloth,) = cloths.cloths
    if not pattern.pieces:
        raise UsageError("there is no piece to lay", cure="Give a pattern with pieces.")
    lay, findings = cloths.lay(cloth, pattern, float(values["seconds"]), values["seed"])
    found: list[Finding] = [*cloths.homeless(pattern), *findings, *report(lay)]
    if values["ending"] == ".dxf":
        data, more = for_cutter(pattern, lay)
    elif values["ending"] == ".svg":
        data, more = as_svg(pattern, lay), ()
    elif values["scale"] == "picture":
        data, more = as_pdf(pattern, lay), ()
    else:
        data, more = as_pages(pattern, lay, values)
    return Output(data, (*found, *more))
