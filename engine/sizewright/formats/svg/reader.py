"""SVG drawings in: `read_svg`."""

from __future__ import annotations

from ...errors import InputError, SizewrightError
from ...model import CORNER_ANGLE
from ...units import Unit
from ..reading import Reading
from ..source import Source, content
from .assemble import assembled
from .options import REFIT_TOLERANCE, Options
from .page import read_page, scale_hint
from .spelling import misspelt
from .walk import walk
from .xml_tree import Node, parse


def read_svg(
    source: Source,
    *,
    name: str = "",
    units: Unit | None = None,
    corner_angle: float = CORNER_ANGLE,
    refit_tolerance: float = REFIT_TOLERANCE,
) -> Reading:
    """The pattern in an SVG drawing, true to scale in mm, y up from the page's lower left.

    `source` is a file (its name or path) or its bytes; `name` names it in messages. `units`
    is what one user unit of the drawing is, whatever its page says. `corner_angle` in
    degrees: a vertex that turns more is a corner. `refit_tolerance` in mm: how far a curve
    that replaces a run of short chords may lie from them.

    Raises InputError, with file and line, for what cannot be read or cannot be meant.
    What can be read but is doubtful comes back as findings, and every shape that is not
    taken for a piece as set aside.
    """
    data, where = content(source, name)
    root = parse(data, where)
    try:
        return _read(root, units, Options(corner_angle, refit_tolerance))
    except SizewrightError as error:
        raise error.at(where) from None


def _read(root: Node, units: Unit | None, options: Options) -> Reading:
    if root.tag != "svg":
        raise InputError(
            f"this is XML, but no SVG drawing (its root is <{root.tag.rpartition('}')[2]}>)",
            where=f"line {root.line}",
            cure="Save the drawing as SVG.",
        )
    page = read_page(root, units)
    hint = scale_hint(page.size) if units is None else None
    hints = [*misspelt(root), *(() if hint is None else (hint,))]
    return assembled(root, page, walk(root, page), options, hints)
