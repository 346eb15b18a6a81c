"""An outline: a closed counter-clockwise path whose corners, points and runs have names."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from ..errors import GeometryError, InputError, LookupFailed, meant
from ..geometry.path import Path
from ..geometry.types import Floats
from .mixture import turned_over

#: A vertex where the tangent turns more than this, in degrees, is a corner.
CORNER_ANGLE = 3.0
#: Corners this close to the lowest one, in mm, count as just as low when numbering starts.
_LEVEL = 0.01


@dataclass(frozen=True, slots=True)
class Point:
    """What is known of one outline vertex besides its place: name, grade rule."""

    vertex: int
    name: str | None = None
    rule: str | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """A named stretch of the outline from vertex `start` to vertex `end`, counter-clockwise.

    Equal vertices mean once round. A run between neighbouring corners names that edge.
    """

    start: int
    end: int
    name: str | None = None


class Edge(NamedTuple):
    """The outline between neighbouring corners, with corner numbers (None: no corner at all).

    From vertex `start` to vertex `end`, counter-clockwise; `offset` is the arc length of its
    start from vertex 0, `length` its own, both in mm.
    """

    number: int
    name: str | None
    start: int
    end: int
    from_corner: int | None
    to_corner: int | None
    offset: float
    length: float


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on an edge: the vertex where the edge starts, and mm along it from there."""

    start: int
    distance: float


@dataclass(frozen=True)
class Outline:
    """A closed, counter-clockwise path with corners and names.

    `corners` holds vertex numbers in corner order: corner 1 is the lowest (then
    leftmost) when the outline is made, the others follow counter-clockwise. They stay
    the same corners when the outline is graded, wherever they move to.
    Make one with `Outline.of`.

    >>> path = Path.polyline([(0, 0), (80, 0), (80, 60), (0, 60)], closed=True)
    >>> pocket = Outline.of(path, points=[Point(2, "tip")], runs=[Run(2, 3, "top")])
    >>> pocket.corners, pocket.vertex("tip"), pocket.vertex("#3"), pocket.reference(0)
    ((0, 1, 2, 3), 2, 2, '#1')
    >>> pocket.run("top"), pocket.run("#4")
    (Run(start=2, end=3, name='top'), Run(start=3, end=0, name=None))
    >>> pocket.run_length(pocket.run("tip..#1"))
    140.0
    """

    path: Path
    corners: tuple[int, ...]
    points: tuple[Point, ...] = ()
    runs: tuple[Run, ...] = ()

    def __post_init__(self) -> None:
        if not self.path.closed:
            raise GeometryError("an outline must be closed")
        if self.path.area <= 0:
            raise GeometryError("an outline must run counter-clockwise round an area")
        seen: dict[str, int] = {}
        for point in self.points:
            if point.name is not None and seen.setdefault(point.name, point.vertex) != point.vertex:
                raise InputError(
                    f'the point name "{point.name}" is used twice on one outline',
                    cure="Give each point its own name.",
                )
        vertices = [p.vertex for p in self.points]
        if len(set(vertices)) != len(vertices):
            raise InputError("two entries describe one outline vertex", cure="Name it once.")
        names = [r.name for r in self.runs if r.name]
        if len(set(names)) != len(names):
            twice = next(n for n in names if names.count(n) > 1)
            raise InputError(
                f'the edge name "{twice}" is used twice on one outline',
                cure="Give each edge or run its own name.",
            )

    @classmethod
    def of(
        cls,
        path: Path,
        *,
        points: Iterable[Point] = (),
        runs: Iterable[Run] = (),
        corner_angle: float = CORNER_ANGLE,
    ) -> Outline:
        """From a closed path, turned counter-clockwise if need be (only without names).

        `corner_angle` in degrees: a vertex where the tangent turns more is a corner.
        """
        points, runs = tuple(points), tuple(runs)
        if path.closed and path.area < 0:
            if points or runs:
                raise GeometryError("a clockwise path cannot take vertex names: turn it first")
            path = path.reversed()
        return cls(path, number_corners(path, corner_angle), points, runs)

    # --- vertices and names ---------------------------------------------------

    @cached_property
    def _by_vertex(self) -> Mapping[int, Point]:
        return {p.vertex: p for p in self.points}

    def point(self, vertex: int) -> Point:
        """What is known of a vertex; a bare `Point` when nothing is."""
        return self._by_vertex.get(vertex % len(self.path), Point(vertex % len(self.path)))

    def corner_number(self, vertex: int) -> int | None:
        """1-based corner number of a vertex; None where it is smooth."""
        return self._numbers.get(vertex)

    @cached_property
    def _numbers(self) -> Mapping[int, int]:
        return {v: i + 1 for i, v in enumerate(self.corners)}

    def vertex(self, reference: str | int) -> int:
        """Vertex number of a point given by name, or of a corner given by number or `#3`.

        `#3+2` is the second curve point after corner 3. Raises LookupFailed, which lists the
        names that there are.
        """
        text = str(reference)
        for p in self.points:
            if p.name == text:
                return p.vertex
        number, _, after = text.removeprefix("#").partition("+")
        if 1 <= _number(number) <= len(self.corners):
            corner = self.corners[_number(number) - 1]
            if not after and "+" not in text:
                return corner
            edge = self.edge_from(corner)
            inner = (edge.end - edge.start - 1) % len(self.path)
            if 1 <= _number(after) <= inner:
                return (corner + _number(after)) % len(self.path)
        known = sorted(p.name for p in self.points if p.name)
        raise LookupFailed(
            f'no point or corner "{reference}"',
            cure=f"{meant(text, known)}Named points: {', '.join(known) or 'none'}; "
            f"corners: 1 to {len(self.corners)}.",
        )

    def reference(self, vertex: int) -> str | None:
        """How `vertex` is said: by name, `#3`, or `#3+2`; None where nothing says it.

        The last is a curve point without a name on an outline without corners.
        """
        vertex %= len(self.path)
        name = self.point(vertex).name
        if name is not None or not self.corners:
            return name
        n = len(self.path)
        corner = min(self.corners, key=lambda c: (vertex - c) % n)
        after = (vertex - corner) % n
        return f"#{self._numbers[corner]}" + (f"+{after}" if after else "")

    def vertex_at(self, vertex: int) -> Floats:
        """Coordinates (2,) of a vertex, mm."""
        place: Floats = self.path.controls[vertex % len(self.path), 0]
        return place

    # --- edges and runs -------------------------------------------------------

    @cached_property
    def edges(self) -> tuple[Edge, ...]:
        """All edges in corner order; an outline without corners is one edge."""
        n = len(self.corners)
        named = {(r.start, r.end): r.name for r in reversed(self.runs)}
        if n == 0:
            return (Edge(1, named.get((0, 0)), 0, 0, None, None, 0.0, self.path.length),)
        edges = []
        for i, start in enumerate(self.corners):
            end = self.corners[(i + 1) % n]
            offset = float(self.path.cumulative[start])
            length = self._between(start, end)
            to = (i + 1) % n + 1
            name = named.get((start, end))
            edges.append(Edge(i + 1, name, start, end, i + 1, to, offset, length))
        return tuple(edges)

    def _between(self, start: int, end: int) -> float:
        c = self.path.cumulative
        length = float(c[end] - c[start])
        return length if length > 0 else length + self.path.length

    def edge_from(self, vertex: int) -> Edge:
        """The edge that starts at the corner `vertex`."""
        for edge in self.edges:
            if edge.start == vertex:
                return edge
        raise LookupFailed(f"no edge starts at vertex {vertex}")

    def edge_along(self, s: float) -> tuple[Edge, float]:
        """The edge that holds arc length `s` from vertex 0, and mm from that edge's start."""
        total = self.path.length
        for edge in self.edges:
            along = (s - edge.offset) % total
            if along <= edge.length or len(self.edges) == 1:
                return edge, along
        # Rounding put `s` between two edges: it is the start of the next one.
        edge = min(self.edges, key=lambda e: (e.offset - s) % total)
        return edge, 0.0

    def spot(self, s: float) -> Spot:
        """Arc length `s` from vertex 0 as a place on its edge."""
        edge, along = self.edge_along(s)
        return Spot(edge.start, along)

    def arc_length_of(self, spot: Spot) -> float:
        """Arc length from vertex 0, mm, of a place on an edge."""
        return float(self.path.cumulative[spot.start] + spot.distance) % self.path.length

    def run(self, reference: str | int) -> Run:
        """A run by name, by edge number (`3`, `#3`), or between two points (`hip..hem`).

        `a..b` goes counter-clockwise from a to b. Raises LookupFailed with the names
        that there are.
        """
        text = str(reference).strip()
        for r in self.runs:
            if r.name == text:
                return r
        if ".." in text:
            first, last = (part.strip() for part in text.split("..", 1))
            return Run(self.vertex(first), self.vertex(last), text)
        number = text.removeprefix("#")
        if 1 <= _number(number) <= len(self.edges):
            edge = self.edges[_number(number) - 1]
            return Run(edge.start, edge.end, edge.name)
        known = sorted(r.name for r in self.runs if r.name)
        raise LookupFailed(
            f'no edge or run "{reference}"',
            cure=f"{meant(text, known)}Named edges and runs: {', '.join(known) or 'none'}; "
            f"edges: 1 to {len(self.edges)}; "
            "or two points, as in hip..hem.",
        )

    def run_path(self, run: Run) -> Path:
        """The run as an open path, walked counter-clockwise."""
        return self.path.segments(run.start, run.end)

    def run_length(self, run: Run) -> float:
        """Arc length of a run, mm, dart mouths as drawn."""
        return self._between(run.start, run.end)

    def count(self, run: Run) -> int:
        """How many segments a run has; all of them where it ends where it starts."""
        n = len(self.path)
        return (run.end - run.start) % n or n

    def holds(self, run: Run, segment: int) -> bool:
        """Whether the segment that starts at a vertex lies on a run."""
        return (segment - run.start) % len(self.path) < self.count(run)

    def runs_over(self, start: int, end: int | None = None) -> tuple[str, ...]:
        """The named runs that go on over a stretch between vertices; over one vertex, its own
        ends left out."""
        found = []
        for run in self.runs:
            first, long = (start - run.start) % len(self.path), self.count(run)
            if end is None or end == start:
                inside = 0 < first < long
            else:
                inside = first + (end - start) % len(self.path) <= long
            if run.name and inside:
                found.append(run.name)
        return tuple(found)

    def shortest_run(self, vertex: int) -> str:
        """The name of the shortest named run that a vertex lies on; empty where there is none."""
        n = len(self.path)
        names = [
            (self.run_length(run), run.name)
            for run in self.runs
            if run.name and (vertex - run.start) % n <= self.count(run)
        ]
        return min(names)[1] if names else ""

    def corner_beside(self, vertex: int, *, after: bool) -> int:
        """The next corner counter-clockwise of a vertex, or the one before it; the vertex
        itself where there is no other."""
        n = len(self.path)
        others = [c for c in self.corners if c != vertex % n] or [vertex % n]
        return min(others, key=lambda c: (c - vertex if after else vertex - c) % n)

    def way_on(self, vertex: int, *, after: bool) -> Path:
        """The line from a vertex to the next corner, counter-clockwise or back, walked to it."""
        corner = self.corner_beside(vertex, after=after)
        if after:
            return self.path.segments(vertex, corner)
        return self.path.segments(corner, vertex).reversed()

    # --- new outlines ---------------------------------------------------------

    def with_path(self, path: Path) -> Outline:
        """The same names and corners on a path with as many segments (grading, moving)."""
        if len(path) != len(self.path):
            raise GeometryError("the new path has another number of segments")
        return replace(self, path=path)

    def with_point(
        self, vertex: int, *, name: str | None = None, rule: str | None = None
    ) -> Outline:
        """With a name or a rule (or both) at a vertex; what is not given stays."""
        old = self.point(vertex)
        new = Point(old.vertex, name or old.name, rule or old.rule)
        others = [p for p in self.points if p.vertex != old.vertex]
        return replace(self, points=tuple(sorted([*others, new], key=lambda p: p.vertex)))

    def with_run(self, run: Run) -> Outline:
        """With one more named run. A stretch may bear several names; none is taken from it."""
        if run in self.runs:
            return self
        return replace(self, runs=(*self.runs, run))

    def with_vertex(self, s: float) -> tuple[Outline, int]:
        """With a smooth vertex at arc length `s`; also that vertex's number."""
        path, k = self.path.with_vertex(s)
        if path is self.path:
            return self, k

        return self.renumbered(path, lambda v: v + 1 if v >= k else v), k

    def renumbered(self, path: Path, to: Callable[[int], int]) -> Outline:
        """Names and corners carried to `path`; `to` gives each old vertex its new number."""
        return Outline(
            path,
            tuple(to(v) for v in self.corners),
            tuple(sorted((Point(to(p.vertex), p.name, p.rule) for p in self.points), key=_vertex)),
            tuple(Run(to(r.start), to(r.end), r.name) for r in self.runs),
        )

    def transformed(self, m: Floats) -> Outline:
        """Moved by an affine map; one that turns it over keeps it counter-clockwise.

        After turning over, vertex i becomes vertex (n - i) mod n and runs swap their ends.
        """
        path = self.path.transformed(m)
        if path.area > 0:
            return replace(self, path=path)
        n = len(path)

        def to(v: int) -> int:
            return (n - v) % n

        points = (Point(to(p.vertex), p.name, turned_over(p.rule)) for p in self.points)
        return Outline(
            path.reversed(),
            tuple(to(v) for v in (self.corners[:1] + self.corners[:0:-1])),
            tuple(sorted(points, key=_vertex)),
            tuple(Run(to(r.end), to(r.start), r.name) for r in self.runs),
        )


def _number(text: str) -> int:
    """A number as it may count corners and edges; 0 for what is none."""
    return int(text) if text.isdecimal() and len(text) < 8 else 0


def _vertex(point: Point) -> int:
    return point.vertex


def vertices_between(first: int, last: int, n: int) -> list[int]:
    """Vertex numbers from `first` to `last` counter-clockwise, both included."""
    return [(first + k) % n for k in range((last - first) % n + 1)]


def number_corners(path: Path, corner_angle: float = CORNER_ANGLE) -> tuple[int, ...]:
    """Vertex numbers of a closed path's corners, the lowest (then leftmost) first."""
    return in_corner_order(path, np.flatnonzero(np.abs(path.turns) > corner_angle))


def in_corner_order(path: Path, vertices: Iterable[int]) -> tuple[int, ...]:
    """Vertices of a closed path that are corners, the lowest (then leftmost) first."""
    found = np.array(sorted({int(v) for v in vertices}), dtype=np.intp)
    if len(found) == 0:
        return ()
    places = path.vertices[found]
    low = np.flatnonzero(places[:, 1] <= places[:, 1].min() + _LEVEL)
    first = int(low[places[low, 0].argmin()])
    return tuple(int(v) for v in np.roll(found, -first))
