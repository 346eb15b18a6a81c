"""Sewn edges of a facing within the edges that they finish, so that the seam rolls inwards."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

import numpy as np

from sizewright.drafting import Line, LineAsked, Ring, Settled, Span, Zone, redraft, with_vertices
from sizewright.geometry import Floats, Path, nearest_point
from sizewright.model import CORNER_ANGLE, Pattern, Piece, Run
from sizewright.units import both

#: So near to where straight edges would meet, curved ones do, mm.
_NEAR = 0.5


def rolled(made: Pattern, name: str, runs: Sequence[str], by: float) -> Pattern:
    """The facing `name` with the edges `runs` `by` mm further in, in every size.

    Edges that adjoin, as those of two pieces do over a shoulder, are one line, which each of
    them has its part of still. Names, notches and seams follow.
    """

    def edit(pieces: Mapping[str, Piece], settled: Settled) -> Mapping[str, Ring]:
        piece = pieces[name]
        groups = [[str(run.name) for run in group] for group in _groups(piece, runs)]
        lines = []
        for group in groups:
            a, b = piece.run(group[0]).start, piece.run(group[-1]).end
            lines.append(LineAsked.inside(piece, a, b, by).path(made, piece, settled))
        at = [nearest_point(piece.outline.path, p).s for x in lines for p in (x.start, x.end)]
        marked, ends, _ = with_vertices(piece, at)
        parts = [
            list(_parts(marked, group, line, by)) for group, line in zip(groups, lines, strict=True)
        ]
        stays = [(ends[k - 1], ends[k]) for k in range(0, len(ends), 2)]
        outline: list[Path] = []
        for (a, b), new in zip(stays, parts, strict=True):
            outline += [marked.outline.path.segments(a, b), *(line.path for line in new)]
        zone = Zone(marked, region=Path.join(outline, closed=True))
        ring: list[Span | Line] = []
        for (a, b), new in zip(stays, parts, strict=True):
            ring += [Span(zone, a, b), *new]
        return {name: Ring(ring, f"its sewn edge {both(by)} further in, to roll")}

    return redraft(made, [name], edit).pattern


def _groups(piece: Piece, runs: Sequence[str]) -> list[list[Run]]:
    """Runs counter-clockwise, those together that adjoin."""
    n = len(piece.outline.path)
    left = sorted((piece.run(run) for run in runs), key=lambda run: run.start % n)
    ends = {run.end % n for run in left}
    heads = [run for run in left if run.start % n not in ends]
    groups = [[run] for run in heads]
    starts = {run.start % n: run for run in left}
    for group in groups:
        while (follows := starts.get(group[-1].end % n)) is not None:
            group.append(follows)
    return groups


def _parts(piece: Piece, group: Sequence[str], line: Path, by: float) -> Iterator[Line]:
    """The part of a parallel that belongs to each run, cut where it passes their joints."""
    found = [piece.run(run) for run in group]
    cuts = [_passing(line, _within(piece, run.end, by)) for run in found[:-1]]
    for run, (a, b) in zip(found, pairwise([0.0, *cuts, line.length]), strict=True):
        path = line.part(a, b)
        names = [
            piece.outline.point(v % len(piece.outline.path)).name for v in (run.start, run.end)
        ]
        points = {k: words for k, words in zip((0, len(path)), names, strict=True) if words}
        yield Line(path, run.name, stands_for=(str(run.name),), points=points)


def _passing(line: Path, at: Floats) -> float:
    """Where a line passes a place, as arc length: at its corner there, if it has one."""
    off = np.hypot(*(line.vertices - at).T)
    k = int(np.where(np.abs(line.turns) > CORNER_ANGLE, off, np.inf).argmin())
    return float(line.cumulative[k]) if off[k] < _NEAR else nearest_point(line, at).s


def _within(piece: Piece, vertex: int, by: float) -> Floats:
    """The place within an outline that is `by` mm from both edges at a vertex."""
    path = piece.outline.path
    before, after = path.tangents_in[vertex - 1], path.tangents_out[vertex]
    across = np.array([[-before[1], before[0]], [-after[1], after[0]]])
    inward: Floats = across.sum(axis=0) / (1.0 + float(across[0] @ across[1]))
    place: Floats = path.vertices[vertex] + by * inward
    return place


def roll_gives(piece: Piece, run: str, runs: Sequence[str], by: float) -> float:
    """How much longer an edge of a facing is when it lies `by` mm further in, mm.

    A parallel loses its distance times the turn of its edge (in radians), at a corner twice its
    distance times the tangent of half the turn, and at an end what the edge beside it takes
    (exact where that is straight). All of `runs` lie further in.
    """
    outline, own = piece.outline, piece.run(run)
    n = len(outline.path)
    path = outline.run_path(own)
    loses = sum(
        float(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b))
        for a, b in zip(path.tangents_out, path.tangents_in, strict=True)
    )
    loses += sum(2 * float(np.tan(np.radians(turn) / 2)) for turn in path.turns[1 : len(path)])
    others = [piece.run(other) for other in runs]
    for vertex, met in ((own.start % n, "end"), (own.end % n, "start")):
        turn = np.radians(outline.path.turns[vertex])
        both_in = any(getattr(other, met) % n == vertex for other in others)
        loses += float(np.tan(turn / 2)) if both_in else -1.0 / float(np.tan(turn))
    return -by * loses
