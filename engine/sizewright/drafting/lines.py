"""New lines on a piece: through places, straight or as one fair curve, or beside a run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

import numpy as np

from ..errors import GeometryError, InputError
from ..geometry.crossings import crossings
from ..geometry.offset import offset_open
from ..geometry.path import Path
from ..geometry.splines import curve_through
from ..geometry.types import Floats
from ..model.amount import Amount
from ..model.frame import CENTRES
from ..model.outline import CORNER_ANGLE, Run
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..model.place import Located, Place
from ..model.references import RunReference
from ..units import both
from .ring import Settled

End = Literal["square", "free"]
Edges = tuple[Floats | None, Floats | None]


@dataclass(frozen=True)
class LineAsked:
    """A line as settings say it (see `sizewright.plugin.line_settings`).

    Through places in order, `curved` or straight between them; or beside a run at a distance.
    `ends` tell how a curve meets the edges where it begins and ends.
    """

    through: tuple[Place, ...] = ()
    curved: bool = False
    ends: tuple[End, ...] = ()
    beside: RunReference | None = None
    by: Amount | None = None

    @classmethod
    def of(
        cls, values: Mapping[str, Any], start: Place | None = None, end: Place | None = None
    ) -> LineAsked:
        """From settings, with places before and after those of `through` where an operation
        has its own. Raises InputError where they tell no line, or two."""
        inner: Sequence[Place] = values["through"]
        places = (*([start] if start else []), *inner, *([end] if end else []))
        if values["beside"] is not None:
            if places:
                raise InputError(
                    "a line goes through places or lies beside a run, not both",
                    cure="Leave through or beside out.",
                )
            if values["by"] is None:
                raise InputError("nothing says how far beside the run", cure='Say by = "5 cm".')
        elif len(places) < 2:
            raise InputError(
                "a line needs two places at least",
                cure='Say through = ["PLACE", "PLACE"], or beside = "RUN" and by = "5 cm".',
            )
        elif values["by"] is not None:
            raise InputError("by counts beside a run only", cure='Say beside = "RUN".')
        ends = tuple(values["ends"])
        if len(ends) not in (0, 2):
            raise InputError("a line has two ends", cure='Write ends = ["square", "free"].')
        curved = values["line"] == "curve"
        if ends and not curved:
            raise InputError("only a curve can be told how it ends", cure='Say line = "curve" too.')
        return cls(places, curved, ends, values["beside"], values["by"])

    @classmethod
    def inside(cls, piece: Piece, start: int, end: int, by: float) -> LineAsked:
        """Beside the outline from vertex to vertex, `by` mm further in."""
        words = piece.outline.reference
        n = len(piece.outline.path)
        run = RunReference(None, f"{words(start % n)}..{words(end % n)}")
        return cls(beside=run, by=Amount(by))

    def path(
        self, pattern: Pattern, piece: Piece, settled: Settled, edges: Edges = (None, None)
    ) -> Path:
        """The line on a piece, an open path from its first place to its last.

        `edges`: the unit tangent (2,) of the edge that "square" means at each end, where the
        operation knows it. A line beside a run goes the way that the outline does, from edge
        to edge. Raises LookupFailed and GeometryError with the place.
        """
        if self.beside is not None:
            assert self.by is not None
            return _beside(piece, self.beside.on(piece), self.by.of(pattern, piece))
        found = [settled.place(piece, place) for place in self.through]
        points = np.array([one.point for one in found])
        steps = np.hypot(*np.diff(points, axis=0).T)
        if float(steps.min()) < 0.01:
            k = int(steps.argmin())
            raise GeometryError(
                f'"{self.through[k].text}" and "{self.through[k + 1].text}" are one place',
                where=piece.title,
                cure="Leave one of them out.",
            )
        if not self.curved:
            return Path.polyline(points)
        tangents: list[Floats | None] = []
        for k, (one, onward) in enumerate(
            ((found[0], points[1] - points[0]), (found[-1], points[-1] - points[-2]))
        ):
            end: End = self.ends[k] if self.ends else _usual(piece, one)
            tangents.append(_square(piece, one, onward, edges[k]) if end == "square" else None)
        return curve_through(points, *tangents)


def _usual(piece: Piece, end: Located) -> End:
    """How a curve ends when nothing is said: square on a fold or a centre edge."""
    return "free" if end.s is None or _centre_tangent(piece, end.s) is None else "square"


def _centre_tangent(piece: Piece, s: float) -> Floats | None:
    """The tangent of the fold or centre edge at a place on it; None where it is on none."""
    outline = piece.outline
    runs = [r for r in outline.runs if r.name and r.name.lower() in CENTRES]
    if piece.fold is not None:
        runs.append(Run(piece.fold.start, piece.fold.end))
    for run in runs:
        begin = float(outline.path.cumulative[run.start])
        long = outline.run_length(run)
        along = (s - begin) % outline.path.length
        if outline.path.length - along < 1e-6:
            along = 0.0
        if along <= long + 1e-6:
            tangent: Floats = outline.run_path(run).tangents(min(along, long))
            return tangent
    return None


def _square(piece: Piece, end: Located, onward: Floats, edge: Floats | None) -> Floats | None:
    """The unit tangent of a line that meets an edge squarely, the way that the line runs."""
    if edge is None:
        if end.s is None:
            return None
        edge = _centre_tangent(piece, end.s)
    if edge is None:
        assert end.s is not None
        path = piece.outline.path
        s = np.array([end.s - 1e-6, end.s + 1e-6]) % path.length
        # At a corner: of the edge that the line runs most squarely to.
        edge = min(path.tangents(s), key=lambda t: abs(float(t @ onward)))
    normal: Floats = np.array([-edge[1], edge[0]]) / np.hypot(*edge)
    return normal if float(normal @ onward) >= 0 else -normal


def _beside(piece: Piece, run: Run, by: float) -> Path:
    """The parallel of a run inside the piece, from edge to edge, the way the outline goes."""
    outline = piece.outline
    line = inner_parallel(outline.run_path(run), by)
    ends = line.tangents(np.array([0.0, line.length]))
    x0, y0, x1, y1 = outline.path.bounds
    reach = float(np.hypot(x1 - x0, y1 - y0))
    long = Path.join(
        [
            Path.polyline([line.start - ends[0] * reach, line.start]),
            line,
            Path.polyline([line.end, line.end + ends[1] * reach]),
        ]
    )
    at = [c.s0 for c in crossings(long, outline.path)]
    middle = reach + line.length / 2
    before = [s for s in at if s < middle]
    after = [s for s in at if s > middle]
    if not before or not after:
        raise GeometryError(
            f"a line {both(by)} beside it does not run from edge to edge",
            where=f"{piece.title}: {run.name or 'run'}",
            cure="Take a smaller distance.",
        )
    return long.part(max(before), min(after))


def inner_parallel(path: Path, by: float | tuple[float, float]) -> Path:
    """The parallel of an open path on its left, `by` mm away; at corners the sides meet.

    Two distances hold at its start and end, and change evenly between.

    Sides that run apart are led straight on until they meet, sides that cross are cut there.
    Raises GeometryError, with the place, where a side is too short for that.
    """
    turns = path.turns
    corners = [k for k in range(1, len(path)) if abs(turns[k]) > CORNER_ANGLE]
    bounds = [0, *corners, len(path)]
    sides = []
    for a, b in pairwise(bounds):
        part = Path(path.controls[a:b], path.lines[a:b], False)
        if isinstance(by, tuple):
            shares = path.cumulative[[a, b]] / path.length
            ends = by[0] + (by[1] - by[0]) * shares
            sides.append(offset_open(part, (-float(ends[0]), -float(ends[1]))))
        else:
            sides.append(offset_open(part, -by))
    widest = max(by) if isinstance(by, tuple) else by
    for k in range(len(sides) - 1):
        first, second = _met(sides[k], sides[k + 1], widest)
        sides[k], sides[k + 1] = first, second
    return Path.join(sides)


def _met(a: Path, b: Path, by: float) -> tuple[Path, Path]:
    found = crossings(a, b)
    if found:
        last = found[-1]
        return a.part(0.0, last.s0), b.part(last.s1, b.length)
    out, back = a.tangents(a.length), b.tangents(0.0)
    step = b.start - a.end
    area = float(out[0] * back[1] - out[1] * back[0])
    if abs(area) > 1e-9:
        along = float(step[0] * back[1] - step[1] * back[0]) / area
        if 0 <= along < 20 * by:
            meet = a.end + out * along
            return (
                Path.join([a, Path.polyline([a.end, meet])]),
                Path.join([Path.polyline([meet, b.start]), b]),
            )
    x, y = a.end
    raise GeometryError(
        f"lines {both(by)} beside the edges do not meet near ({x:.0f}, {y:.0f})",
        cure="Take a smaller distance.",
    )
