"""The boundary, sewing line and mirror line of a block as one closed outline each."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ...geometry.path import Path
from ...geometry.types import Floats
from ..drawing.chains import join_ends
from ..drawing.drafts import Draft
from ..drawing.loops import gap_of

#: Ends of drawn lines this close, in mm, meet.
JOIN = 0.1
#: A boundary open by at most this, in mm, is closed with a warning.
_GAP = 2.0
#: Ends and sides this near to the mirror line, in mm, lie on it.
ON_MIRROR = 0.5
_NEAR_MIRROR = 2.0


class Loop(NamedTuple):
    """A closed line, counter-clockwise; other closed and open ones drawn with it.

    `closing` holds the ends of a side that was put in to close it.
    """

    path: Path
    closed: tuple[Path, ...] = ()
    open: tuple[Path, ...] = ()
    closing: Floats | None = None


def outline_of(
    paths: list[Path], mirror: Floats | None, boundary: Draft | None = None
) -> Loop | None:
    """The largest closed line that drawn lines make, the mirror line (2, 2) helping.

    An open line whose ends lie on the mirror line is closed along it. None where nothing
    closes. Of the lines that are the `boundary` of a piece it is told what was closed or not.
    """
    joined = join_ends(paths, JOIN)
    closed = sorted((c.path for c in joined.closed), key=lambda p: -abs(p.area))
    left = sorted((c.path for c in joined.open), key=lambda p: -p.length)
    if joined.gaps and boundary is not None:
        widest = max(joined.gaps)[0]
        text = f"{len(joined.gaps)} gaps in the boundary were closed, the widest {widest:.3f} mm"
        boundary.find("gaps-closed", "note", text)
    closing = None
    longest = left[0] if left else None
    gap = 0.0 if longest is None else gap_of(longest)
    if longest is not None and (not closed or longest.length > 2 * closed[0].length):
        on = mirror is not None and off_line(mirror, np.array([longest.start, longest.end])).max()
        if mirror is not None and on <= _NEAR_MIRROR and gap > JOIN:
            closing = np.array([longest.end, longest.start])
            closed.insert(0, Path.join([longest, Path.polyline(closing)], closed=True))
            left = left[1:]
        elif gap <= _GAP and len(longest) > 2:
            if boundary is not None:
                text = f"the boundary was open by {gap:.2f} mm and was closed"
                boundary.find("gap-closed", "warn", text, at=longest.end)
            controls = longest.controls.copy()
            controls[-1, 3] = controls[0, 0]
            closed.insert(0, Path(controls, longest.lines, True))
            left = left[1:]
    closed = [p for p in closed if abs(p.area) > 1.0]
    if not closed:
        if boundary is not None:
            text = f"the boundary does not close (its ends are {gap:.1f} mm apart); left out"
            cure = "Close the line on layer 1, or draw the mirror line between its ends."
            at = None if longest is None else longest.end
            boundary.find("open-outline", "fail", text, cure, at=at)
        return None
    first = closed[0] if closed[0].area > 0 else closed[0].reversed()
    return Loop(first, tuple(closed[1:]), tuple(left), closing)


def off_line(line: Floats, places: Floats) -> Floats:
    """Distance of places (m, 2) from the whole straight line through two points, mm."""
    step = line[1] - line[0]
    across = (places - line[0]) @ np.array([-step[1], step[0]])
    found: Floats = np.abs(across) / max(float(np.hypot(*step)), 1e-12)
    return found


def fold_ends(path: Path, mirror: Floats) -> Floats | None:
    """Ends (2, 2), counter-clockwise, of the stretch of a closed path on the mirror line.

    None where the path has no side there.
    """
    on = off_line(mirror, path.vertices) <= ON_MIRROR
    step = mirror[1] - mirror[0]
    size = float(np.hypot(*step))
    if size == 0.0:
        return None
    along = (path.vertices - mirror[0]) @ (step / size)
    nxt = np.roll(along, -1)
    overlap = np.minimum(np.maximum(along, nxt), size) - np.maximum(np.minimum(along, nxt), 0.0)
    side = on & np.roll(on, -1) & path.lines & (overlap > ON_MIRROR)
    if not side.any() or side.all():
        return None
    n = len(path)
    best: tuple[float, int, int] = (0.0, 0, 0)
    for k in np.flatnonzero(side & ~np.roll(side, 1)):
        end = int(k)
        while side[end % n]:
            end += 1
        length = float(abs(along[end % n] - along[k]))
        best = max(best, (length, int(k), end % n))
    ends: Floats = path.vertices[[best[1], best[2]]]
    return ends
