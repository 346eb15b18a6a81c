"""SVG drawings in: `read_svg`."""

from __future__ import annotations

from collections.abc import Mapping

from ...budget import one_budget
from ...errors import InputError, SizewrightError
from ...model import CORNER_ANGLE
from ...units import Unit
from ..drawing.assemble import understood
from ..drawing.drafts import JOIN_TOLERANCE, REFIT_TOLERANCE, Options
from ..drawing.shapes import Element
from ..drawing.spelling import misspelt
from ..reading import Reading
from ..source import Source, content
from .page import read_page, scale_hint
from .shapes import SHAPES
from .walk import walk
from .xml_tree import Node, parse


@one_budget()
def read_svg(
    source: Source,
    *,
    name: str = "",
    units: Unit | None = None,
    corner_angle: float = CORNER_ANGLE,
    refit_tolerance: float = REFIT_TOLERANCE,
    join_tolerance: float = JOIN_TOLERANCE,
    sizes: Mapping[str, str] | None = None,
    square: float | None = None,
) -> Reading:
    """The pattern in an SVG drawing, true to scale in mm, y up from the page's lower left.

    `source` is a file (its name or path) or its bytes; `name` names it in messages. `units`
    is what one user unit of the drawing is, whatever its page says. `corner_angle` in
    degrees: a vertex that turns more is a corner. `refit_tolerance` in mm: how far a curve
    that replaces a run of short chords may lie from them. Loose lines whose ends are within
    `join_tolerance` mm are joined. `sizes` says which kind of line each size of a nest is
    (`line 3`). Everything is scaled so that the drawn test square is `square` mm wide.

    Raises InputError, with file and line, for what cannot be read or cannot be meant.
    What can be read but is doubtful comes back as findings, and every shape that is not
    taken for a piece as set aside.
    """
    data, where = content(source, name)
    root = parse(data, where)
    try:
        return _read(
            root, units, Options(corner_angle, refit_tolerance, join_tolerance, sizes or {}, square)
        )
    except SizewrightError as error:
        raise error.at(where) from None


def _read(root: Node, units: Unit | None, options: Options) -> Reading:
    if root.kind != "svg":
        raise InputError(
            f"this is XML, but no SVG drawing (its root is <{root.kind.rpartition('}')[2]}>)",
            where=f"line {root.line}",
            cure="Save the drawing as SVG.",
        )
    page = read_page(root, units)
    hint = scale_hint(page.size) if units is None else None
    hints = [*misspelt(root, _shows), *(() if hint is None else (hint,))]
    return understood(walk(root, page), options, hints)


def _shows(element: Element) -> bool:
    return element.kind in SHAPES or element.kind in ("g", "use", "text")
