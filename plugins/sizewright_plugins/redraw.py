"""Draws a stretch of a piece's outline anew: a neckline, an armhole, a hem."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import chain, count
from typing import TYPE_CHECKING

import numpy as np

from sizewright.errors import GeometryError, InputError
from sizewright.findings import Finding
from sizewright.geometry import Floats, Path, nearest
from sizewright.model import Pattern, Piece, Place, Run
from sizewright.plugin import (
    Operation,
    Outcome,
    Setting,
    Values,
    hookimpl,
    line_settings,
    piece_settings,
    pieces_asked,
)

if TYPE_CHECKING:
    from sizewright.drafting import Edit, LineAsked, Ring, Settled

api = 1

#: Ends of a new line lie on the outline within this, mm; so near to a vertex they are that.
_ON = 0.01


@hookimpl
def add_operations() -> list[Operation]:
    """The operation `redraw`."""
    return [
        Operation(
            "redraw",
            "draw a stretch of an outline anew",
            redraw,
            redraw_settings(),
            before_grading=True,
        )
    ]


def redraw_settings() -> tuple[Setting, ...]:
    """The settings of `redraw`."""
    return (
        *piece_settings("redraw"),
        Setting("from", "place", "where the new line begins, on the outline"),
        Setting("to", "place", "where it ends, on the outline"),
        *line_settings(),
        Setting("past", "place", "a place on the stretch to replace; without it the shorter one"),
        Setting("name", "text", "the name of the new edge; else that of what it replaces"),
        Setting("fair", "flag", "let a curve within an edge run smoothly into that edge", True),
    )


def redraw(pattern: Pattern, values: Values) -> Outcome:
    """The pattern with a stretch of each piece replaced by a new line."""
    from sizewright.drafting import LineAsked, redraft

    names = pieces_asked(pattern, values)
    if (values["from"] is None) != (values["to"] is None):
        raise InputError("a line has two ends", cure="Say from and to.")
    line = LineAsked.of(values, values["from"], values["to"])
    findings: list[Finding] = []
    for name in names:
        done = redraft(pattern, [name], _edit(pattern, name, line, values))
        pattern = done.pattern
        findings += done.findings
    return Outcome(pattern, tuple(findings))


def _edit(pattern: Pattern, name: str, line: LineAsked, values: Values) -> Edit:
    def edit(pieces: Mapping[str, Piece], settled: Settled) -> Mapping[str, Ring]:
        fair = values["fair"] and line.curved
        drawn = _Redrawing(pattern, pieces[name], line, values["past"], settled, fair)
        return {name: drawn.ring(values["name"])}

    return edit


class _Redrawing:
    """A piece with a new line across its outline, from vertex `a` to vertex `b`
    counter-clockwise, and the stretch between them to go."""

    def __init__(
        self,
        pattern: Pattern,
        piece: Piece,
        line: LineAsked,
        past: Place | None,
        settled: Settled,
        fair: bool,
    ) -> None:
        self.title = piece.title
        rough = line.path(pattern, piece, settled)
        for at in (rough.start, rough.end):
            piece = _with_vertex(piece, at)
        self.piece, self.settled, self.fair = piece, settled, fair
        self.n = len(piece.outline.path)
        ends = [_vertex(piece, at) for at in (rough.start, rough.end)]
        if ends[0] == ends[1]:
            raise GeometryError("the line begins and ends at one place", where=self.title)
        forward = settled.once(f"{piece.name}: forward", lambda: self._forward(ends, past))
        self.a, self.b = ends if forward else ends[::-1]
        # The ends are square to the edges that stay.
        before = piece.outline.path.tangents_in[self.a - 1]
        after = piece.outline.path.tangents_out[self.b]
        edges = (before, after) if forward else (after, before)
        path = line.path(pattern, piece, settled, edges)
        path = path if forward else path.reversed()
        self.path = path.with_ends(*piece.outline.path.vertices[[self.a, self.b]])

    def _forward(self, ends: Sequence[int], past: Place | None) -> bool:
        """Whether the stretch to go lies counter-clockwise from the first end to the second."""
        there = self.piece.outline.run_length(Run(ends[0], ends[1]))
        total = self.piece.outline.path.length
        if past is None:
            return there <= total / 2
        s = self.settled.place(self.piece, past).s
        if s is None:
            raise InputError(
                f'"{past.text}" does not lie on the outline, so no stretch lies past it',
                where=self.title,
                cure="Name a place on the stretch that is to go.",
            )
        along = (s - float(self.piece.outline.path.cumulative[ends[0]])) % total
        return along < there

    def ring(self, name: str | None) -> Ring:
        """The piece with the new line, called `name` or as what it replaces."""
        from sizewright.drafting import Line, Ring, Span, Zone

        self._check_fold()
        whole, short, over = self._runs()
        one = len({(run.start, run.end) for run in whole}) == 1
        stands_for = tuple(str(run.name) for run in whole) if one else ()
        if one:
            edge = stands_for[0]
        elif over:
            edge = f"{_plain(over[0])}-redrawn"
        else:
            edge = "-".join([str(run.name) for run in whole] or short) or "redrawn"
        taken = {run.name for run in self.piece.outline.runs} - {*stands_for}
        if name in taken:
            raise InputError(
                f'it has an edge or run "{name}" already',
                where=self.title,
                cure="Give the new edge another name.",
            )
        edge = name or _free(edge, taken)
        line = Line(self.path, edge, tuple(over), stands_for, points=self._end_names(whole))
        kept = self.piece.outline.path.segments(self.b, self.a)
        zone = Zone(self.piece, region=Path.join([kept, self.path], closed=True))
        # A curve within an edge leaves it and comes back to it smoothly.
        corners = {*self.piece.outline.corners} if over and self.fair else range(self.n)
        fair = tuple(k for k, v in enumerate((self.b, self.a)) if v not in corners)
        return Ring([Span(zone, self.b, self.a), line], f"{edge} redrawn", fair=fair)

    def _check_fold(self) -> None:
        fold, long = self.piece.fold, self._past_a(self.b)
        if fold is not None:
            first, last = (self.a - fold.start) % self.n, (fold.end - fold.start) % self.n
            if first + long <= last and long < last:
                raise GeometryError(
                    "the line begins and ends on the fold, which would not be straight then",
                    where=self.title,
                    cure="Let one end lie on another edge.",
                )

    def _past_a(self, vertex: int) -> int:
        """How many vertices past `a` one lies."""
        return (vertex - self.a) % self.n

    def _runs(self) -> tuple[list[Run], list[str], list[str]]:
        """Runs that the stretch to go holds whole, but those within others of them; the names
        of runs that it cuts short; and of those that hold it, the shortest first."""
        outline, long = self.piece.outline, self._past_a(self.b)
        whole: list[Run] = []
        short: list[str] = []
        over: list[tuple[float, str]] = []
        for run in outline.runs:
            if run.name is None:
                continue
            first, count = self._past_a(run.start), (run.end - run.start) % self.n or self.n
            if first + count <= long:
                whole.append(run)
            elif (self.a - run.start) % self.n + long <= count:
                over.append((outline.run_length(run), run.name))
            elif first < long or first + count > self.n:
                short.append(run.name)

        def within(a: Run, b: Run) -> bool:
            begins = self._past_a(b.start) <= self._past_a(a.start)
            ends = self._past_a(a.end) <= self._past_a(b.end)
            return begins and ends and (a.start, a.end) != (b.start, b.end)

        largest = [a for a in whole if not any(within(a, b) for b in whole)]
        return largest, short, [name for _, name in sorted(over)]

    def _end_names(self, whole: Sequence[Run]) -> dict[int, str]:
        """Names for the ends of the new line that have none: those of the ends of what it
        replaces, where these are gone; and for what it goes through."""
        outline, names = self.piece.outline, dict[int, str]()
        if whole:
            first = min(whole, key=lambda run: self._past_a(run.start)).start
            last = max(whole, key=lambda run: self._past_a(run.end)).end
            for at, was, k in ((self.a, first, 0), (self.b, last, len(self.path))):
                old = outline.point(was).name
                if was != at and old and outline.point(at).name is None:
                    names[k] = old
        # Points that the line was led through stay on it.
        for point in outline.points:
            off = np.hypot(*(self.path.vertices[1:-1] - outline.vertex_at(point.vertex)).T)
            if point.name and 0 < self._past_a(point.vertex) < self._past_a(self.b):
                names |= {int(k) + 1: point.name for k in np.flatnonzero(off <= _ON)}
        return names


def _vertex(piece: Piece, at: Floats) -> int:
    return int(np.hypot(*(piece.outline.path.vertices - at).T).argmin())


def _with_vertex(piece: Piece, at: Floats) -> Piece:
    """The piece with a vertex at a point of its outline."""
    path = piece.outline.path
    if float(np.hypot(*(path.vertices - at).T).min()) <= _ON:
        return piece
    foot = nearest(path, at[None])
    off = float(foot.distance[0])
    if off > _ON:
        raise GeometryError(
            f"the line ends {off:.1f} mm off the outline near ({at[0]:.0f}, {at[1]:.0f})",
            where=piece.title,
            cure="Let from and to lie on the outline.",
        )
    return piece.with_vertex(float(foot.s[0]))[0]


def _plain(name: str) -> str:
    """A name without what earlier redrawing added to it."""
    return re.sub(r"-redrawn(-\d+)?$", "", name)


def _free(name: str, taken: set[str | None]) -> str:
    """The name, or with `-redrawn` and a number the first that is not taken."""
    plain = f"{_plain(name)}-redrawn"
    names = chain([name, plain], (f"{plain}-{k}" for k in count(2)))
    return next(one for one in names if one not in taken)
