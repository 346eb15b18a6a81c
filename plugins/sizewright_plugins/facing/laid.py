"""Edges laid flat as they are sewn: darts and pleats closed, pieces joined at their seams."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sizewright.drafting import inner_parallel, with_vertices
from sizewright.errors import GeometryError
from sizewright.geometry import Floats, Path, affine, crossings
from sizewright.model import Dart, Pattern, Piece, Run

#: Edges of one piece that lie further apart than this share of its outline are not one facing.
_GAP = 0.2


@dataclass(frozen=True, eq=False)
class Stretch:
    """A stretch of outline between mouths, from vertex `start` to `end`, and where it lies.

    `faced`: it is an edge that is finished, not one between two of them.
    """

    piece: Piece
    start: int
    end: int
    move: Floats
    faced: bool = True

    @property
    def drawn(self) -> Path:
        """The stretch on its piece."""
        return self.piece.outline.path.segments(self.start, self.end)

    @property
    def path(self) -> Path:
        """The stretch as it lies; counter-clockwise on the new piece."""
        path = self.drawn.transformed(self.move)
        return path.reversed() if affine.determinant(self.move) < 0 else path


@dataclass(frozen=True, eq=False)
class Edge:
    """An edge as it is sewn: its stretches in order, counter-clockwise, and what lies before
    and after it on the outlines that it comes from."""

    stretches: tuple[Stretch, ...]

    @property
    def path(self) -> Path:
        """The edge as one open path."""
        return Path.join([one.path for one in self.stretches])

    def beyond(self, *, end: bool) -> tuple[Stretch, Path]:
        """The edge of the outline that goes on beyond one end: the stretch there, and the way
        from it, walked away from it."""
        one = self.stretches[-1 if end else 0]
        onward = end != (affine.determinant(one.move) < 0)
        path = one.piece.outline.way_on(one.end if onward else one.start, after=onward)
        return one, path.transformed(one.move)

    def end_segment(self, *, end: bool) -> tuple[Piece, int, int]:
        """The piece at one end, its vertex there, and the segment of its outline beyond."""
        one = self.stretches[-1 if end else 0]
        n = len(one.piece.outline.path)
        onward = end != (affine.determinant(one.move) < 0)
        vertex = (one.end if onward else one.start) % n
        return one.piece, vertex, vertex if onward else (vertex - 1) % n


def laid_edge(piece: Piece, runs: Sequence[Run]) -> Edge:
    """The edge of one piece along one run, or several with what lies between them.

    Raises GeometryError where runs are too far apart to be finished by one facing.
    """
    n = len(piece.outline.path)
    ordered = _in_order(piece, runs)
    spans: list[tuple[int, int, bool]] = []
    for k, run in enumerate(ordered):
        if k and ordered[k - 1].end % n != run.start % n:
            spans.append((ordered[k - 1].end, run.start, False))
        spans.append((run.start, run.end, True))
    stretches: list[Stretch] = []
    move = affine.identity()
    for start, end, faced in spans:
        at = start
        for mouth in piece.mouths(Run(start, end)):
            if (mouth.start - at) % n:
                stretches.append(Stretch(piece, at, mouth.start, move, faced))
            move = affine.compose(move, _closing(piece, mouth))
            at = mouth.end
        if (end - at) % n:
            stretches.append(Stretch(piece, at, end, move, faced))
    return Edge(tuple(stretches))


def _in_order(piece: Piece, runs: Sequence[Run]) -> list[Run]:
    """Runs counter-clockwise, from the one before which the widest gap lies."""
    outline = piece.outline
    n = len(outline.path)
    ordered = sorted(runs, key=lambda r: r.start % n)
    if len(ordered) == 1:
        return ordered

    def gap(k: int) -> float:
        a, b = ordered[k - 1].end % n, ordered[k].start % n
        return 0.0 if a == b else outline.run_length(Run(a, b))

    first = max(range(len(ordered)), key=gap)
    ordered = ordered[first:] + ordered[:first]
    for before, after in itertools.pairwise(ordered):
        a, b = before.end % n, after.start % n
        if a != b and outline.run_length(Run(a, b)) > _GAP * outline.path.length:
            raise GeometryError(
                f"{before.name or 'one edge'} and {after.name or 'the other'} lie too far apart "
                "for one facing",
                where=piece.title,
                cure="Draft a facing for each.",
            )
    return ordered


def _closing(piece: Piece, mouth: Run) -> Floats:
    """The rigid map that lays the far side of a mouth onto its near side."""
    a, b = piece.outline.vertex_at(mouth.start), piece.outline.vertex_at(mouth.end)
    n = len(piece.outline.path)
    dart = next((d for d in piece.darts if d.a % n == mouth.start % n), None)
    if dart is None:
        return affine.translation(*(a - b))
    return onto(b, np.array(dart.apex) - b, a, np.array(dart.apex) - a)


def onto(at: Floats, way: Floats, there: Floats, to: Floats, *, over: bool = False) -> Floats:
    """The rigid map that takes a point and a direction to others; `over` turns over."""
    first = affine.mirror(at, at + way) if over else affine.identity()
    turn = np.degrees(np.arctan2(to[1], to[0]) - np.arctan2(way[1], way[0]))
    rotation = affine.rotation(float(turn), (float(at[0]), float(at[1])))
    return affine.compose(affine.translation(*(there - at)), rotation, first)


def joined(first: Edge, second: Edge, seams: Sequence[EdgeSeam]) -> Edge | None:
    """Two edges as one, where a seam joins them at their ends; None where none does.

    The second is laid so that its seam lies on that of the first, turned over if need be.
    """
    for at_end in (True, False):
        _, beyond = first.beyond(end=at_end)
        corner, way = beyond.start, beyond.tangents(0.0)
        for other_end in (True, False):
            _, path = second.beyond(end=other_end)
            if (
                shared_seam(seams, first.end_segment(end=at_end), second.end_segment(end=other_end))
                is None
            ):
                continue
            # Counter-clockwise, the end of one must be the start of the other.
            over = at_end == other_end
            move = onto(path.start, path.tangents(0.0), corner, way, over=over)
            laid = [replace(s, move=affine.compose(move, s.move)) for s in second.stretches]
            laid = laid[::-1] if over else laid
            both = (*first.stretches, *laid) if at_end else (*laid, *first.stretches)
            return Edge(both)
    return None


def joined_all(edges: Sequence[Edge], seams: Sequence[EdgeSeam]) -> Edge:
    """Edges of several pieces as one, laid together at their seams.

    Raises GeometryError where no seam joins one of them to the others.
    """
    whole, left = edges[0], list(edges[1:])
    while left:
        for k, other in enumerate(left):
            both_edges = joined(whole, other, seams)
            if both_edges is not None:
                whole = both_edges
                del left[k]
                break
        else:
            raise GeometryError(
                "no seam joins its edge to the others, so nothing in one piece follows all",
                where=left[0].stretches[0].piece.title,
                cure="Declare the seam between them, or draft something for each.",
            )
    return whole


def edge_seams(pattern: Pattern) -> list[EdgeSeam]:
    """The seams of one run with one other."""
    found = []
    for seam in pattern.seams:
        if len(seam.first) == len(seam.second) == 1:
            a, b = seam.first[0], seam.second[0]
            found.append(EdgeSeam(seam.name, (a.piece, a.run), (b.piece, b.run)))
    return found


@dataclass(frozen=True, slots=True)
class EdgeSeam:
    """A seam of one run with one other, by piece names and references."""

    name: str
    first: tuple[str, str]
    second: tuple[str, str]


End = tuple[Piece, int, int]


def shared_seam(seams: Sequence[EdgeSeam], one: End, other: End) -> EdgeSeam | None:
    """The seam in which the edges beyond two ends lie, its first side that of `one`."""
    for seam in seams:
        for a, b in ((seam.first, seam.second), (seam.second, seam.first)):
            if _holds(one, a) and _holds(other, b):
                return EdgeSeam(seam.name, a, b)
    return None


def _holds(end: End, side: tuple[str, str]) -> bool:
    piece, _, segment = end
    if piece.name != side[0]:
        return False
    return piece.outline.holds(piece.run(side[1]), segment)


def shorter_than(dart: Dart, piece: Piece, width: float) -> bool:
    """Whether a dart ends within a facing of that width."""
    a, b = piece.outline.vertex_at(dart.a), piece.outline.vertex_at(dart.b)
    apex = np.array(dart.apex)
    return bool(min(np.hypot(*(apex - a)), np.hypot(*(apex - b))) < width)


def inner_line(edge: Edge, widths: tuple[float, float]) -> Path:
    """The parallel of the edges that are finished, from one end's edge to the other's.

    `widths` at both ends, changing evenly between. Raises GeometryError where it does not reach
    these edges: the facing would be wider than its piece.
    """
    groups: list[list[Path]] = []
    last = False
    for one in edge.stretches:
        if one.faced:
            if last:
                groups[-1].append(one.path)
            else:
                groups.append([one.path])
        last = one.faced
    lines = [Path.join(group) for group in groups]
    total = sum(line.length for line in lines)
    done, inner = 0.0, []
    for line in lines:
        ends = [widths[0] + (widths[1] - widths[0]) * s / total for s in (done, done + line.length)]
        try:
            inner.append(inner_parallel(line, (ends[0], ends[1])))
        except GeometryError as error:
            error.cure = "Take a smaller width, or draft a facing for each edge."
            raise
        done += line.length
    path = inner[0]
    for other in inner[1:]:
        met = crossings(path, other)
        if not met:
            raise GeometryError(
                "the facings of its edges do not meet",
                where=edge.stretches[0].piece.title,
                cure="Take a greater width, or draft a facing for each edge.",
            )
        path = Path.join([path.part(0.0, met[0].s0), other.part(met[0].s1, other.length)])
    return path


def cut_ends(edge: Edge, inner: Path) -> tuple[Path, float, float]:
    """The inner line from edge to edge, and how far along each of them it ends, mm."""
    reach = 4 * inner.length + 1000.0
    along = []
    for end in (False, True):
        stretch, beyond = edge.beyond(end=end)
        tip = inner.end if end else inner.start
        way = inner.tangents(inner.length) if end else -inner.tangents(0.0)
        long = Path.polyline([tip - way * reach * 0.0, tip + way * reach])
        whole = Path.join([inner, long]) if end else Path.join([inner.reversed(), long])
        found = [c for c in crossings(beyond, whole) if c.s0 > 1e-6]
        if not found:
            raise GeometryError(
                "a facing so wide does not end on the edges beside it",
                where=stretch.piece.title,
                cure="Take a smaller width.",
            )
        first = min(found, key=lambda c: c.s0)
        along.append(first.s0)
        kept = whole.part(0.0, first.s1)
        inner = kept if end else kept.reversed()
    return inner, along[0], along[1]


def with_ends(edge: Edge, along: tuple[float, float]) -> tuple[Edge, int, int]:
    """The edge on pieces that have a vertex where the facing ends, and those vertices."""
    pieces: dict[int, Piece] = {}
    wanted: dict[int, list[tuple[bool, float]]] = {}
    for end in (False, True):
        one, _ = edge.beyond(end=end)
        onward = end != (affine.determinant(one.move) < 0)
        vertex = one.end if onward else one.start
        s = float(one.piece.outline.path.cumulative[vertex % len(one.piece.outline.path)])
        s += along[end] if onward else -along[end]
        pieces[id(one.piece)] = one.piece
        wanted.setdefault(id(one.piece), []).append((end, s % one.piece.outline.path.length))
    ends = {}
    stretches = list(edge.stretches)
    for key, piece in pieces.items():
        mine = [k for k, one in enumerate(stretches) if id(one.piece) == key]
        follow = [v for k in mine for v in (stretches[k].start, stretches[k].end)]
        n = len(piece.outline.path)
        new, numbers, followed = with_vertices(
            piece, [s for _, s in wanted[key]], [v % n for v in follow]
        )
        for j, k in enumerate(mine):
            start, end_ = followed[2 * j], followed[2 * j + 1]
            stretches[k] = replace(stretches[k], piece=new, start=start, end=end_)
        for (end, _), number in zip(wanted[key], numbers, strict=True):
            ends[end] = number
    return Edge(tuple(stretches)), ends[False], ends[True]
