"""DXF of any kind in: `read_dxf`, which sees for itself whether a drawing is interchange."""

from __future__ import annotations

from collections.abc import Mapping

from ..budget import one_budget
from ..model import CORNER_ANGLE
from ..units import Unit
from .drawing.drafts import JOIN_TOLERANCE, REFIT_TOLERANCE, Options
from .dxf.load import damaged, dxf_errors, load
from .dxf.reader import reading_of
from .interchange.reader import interchange_of, looks_like_interchange
from .reading import Reading
from .source import Source, content


@one_budget()
def read_dxf(
    source: Source,
    *,
    name: str = "",
    units: Unit | None = None,
    join_tolerance: float = JOIN_TOLERANCE,
    refit_tolerance: float = REFIT_TOLERANCE,
    corner_angle: float = CORNER_ANGLE,
    sizes: Mapping[str, str] | None = None,
    square: float | None = None,
) -> Reading:
    """The pattern in a DXF drawing, in mm, y up from the drawing's own origin.

    `source` is a file (its name or path) or its bytes; `name` names it in messages.
    `units` is what a number of the drawing is, whatever its header says. Loose lines whose
    ends are within `join_tolerance` mm are joined. `refit_tolerance` in mm: how far a curve
    that replaces a run of short chords may lie from them. `corner_angle` in degrees: a vertex
    that turns more is a corner. `sizes` says which kind of line each size of a nest is
    (`line 3`). Everything is scaled so that the drawn test square is `square` mm wide. A
    drawing in the interchange format says itself what joins, what is a corner and what size.
    What is doubtful comes back as findings. Raises InputError for what cannot be read or
    cannot be meant.
    """
    data, where = content(source, name)
    loaded = load(data, where)
    try:
        if looks_like_interchange(loaded.doc):
            return interchange_of(loaded, name=where, units=units)
        options = Options(corner_angle, refit_tolerance, join_tolerance, sizes or {}, square)
        return reading_of(loaded, options, name=where, units=units)
    except dxf_errors() as error:
        raise damaged(error, where) from None
