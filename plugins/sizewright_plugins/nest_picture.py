"""Draws a nest: all sizes of each piece over each other, each size in its own line."""

from __future__ import annotations

from sizewright.findings import Finding
from sizewright.model import Pattern
from sizewright.plugin import Output, Setting, Values, Writer, hookimpl

api = 1


@hookimpl
def add_writers() -> list[Writer]:
    """The writer `nest-picture`."""
    return [
        Writer(
            "nest-picture",
            "a picture (SVG) of all sizes of each piece over each other",
            write_nest,
            (),
            (
                Setting(
                    "align",
                    "place",
                    "places that lie on each other in all sizes, each for the piece that it names "
                    "or else for every piece that has it; pieces without stay as graded",
                    (),
                    shape="list",
                ),
                Setting(
                    "lines",
                    "choice",
                    "which lines: the outermost ones, or the sewing lines",
                    "outermost",
                    choices=("outermost", "sewing"),
                ),
                Setting(
                    "arrows", "flag", "arrows at graded points, each from the size before", False
                ),
            ),
        )
    ]


def write_nest(pattern: Pattern, values: Values) -> Output:
    """The picture as SVG; a note where there are no sizes to compare."""
    from sizewright.grading import nest_growth
    from sizewright.pictures import laid_over, nest_picture, sizes_in_order

    laid = laid_over(pattern, values["align"])
    moves = nest_growth(laid, sizes_in_order(laid)) if values["arrows"] else ()
    svg = nest_picture(laid, lines=values["lines"], moves=moves)
    findings = []
    if len(pattern.sizes) < 2:
        findings.append(
            Finding(
                "nest-single",
                "note",
                "the nest shows one size only",
                cure='Grade to several sizes, as to = ["10", "12", "14"].',
            )
        )
    return Output(svg.encode("utf-8"), tuple(findings))
