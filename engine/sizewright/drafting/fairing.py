"""Fairing: a joint where an edit left a kink becomes one smooth curve again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np

from ..findings import Finding
from ..geometry.path import Path
from ..geometry.splines import curve_through
from ..model.outline import Run
from ..model.piece import Piece
from ..model.rule_weights import RuleWeights
from .ring import Settled

#: A joint is faired so far to each side at most, mm.
REACH = 40.0
#: A joint that turns less than this is smooth, degrees.
_SMOOTH = 0.01
#: With less room than this on a side a joint is left as it is, mm.
_LEAST = 2.0
#: Changes of length smaller than this are not told, mm.
_TOLD = 0.05


@dataclass(frozen=True, eq=False)
class Restretched:
    """A piece with another line on a stretch of its outline, and the new numbers of the old
    vertices that it kept."""

    piece: Piece
    to: Mapping[int, int]


def marked_vertices(piece: Piece) -> set[int]:
    """The vertices of the outline that something names or ends at; corners by themselves do
    not count."""
    n = len(piece.outline.path)
    found = {p.vertex for p in piece.outline.points}
    found |= {v for r in piece.outline.runs for v in (r.start, r.end)}
    for feature in piece.features:
        carry = feature.CARRY
        for name in (*carry.stretch, *carry.vertices):
            value = getattr(feature, name)
            found |= set(value) if isinstance(value, tuple) else {value} - {None}
    if piece.allowances is not None:
        found |= {v for s in piece.allowances.stretches for v in (s.start, s.end)}
    return {v % n for v in found}


def with_stretch(
    piece: Piece, start: int, end: int, path: Path, smooth: Iterable[int] = ()
) -> Restretched:
    """The piece with the open path `path` as its outline from vertex `start` to vertex `end`.

    What lies between keeps its share of the stretch: named points, ends of runs, notches.
    Corners between stay corners, but for those in `smooth`. The cutting line is taken off.
    """
    outline = piece.outline
    n = len(outline.path)
    c, total = outline.path.cumulative, outline.path.length
    long = outline.run_length(Run(start, end))
    smooth = {v % n for v in smooth}
    keep = (marked_vertices(piece) | set(outline.corners)) - (smooth - marked_vertices(piece))
    inner = [(start + k) % n for k in range(1, (end - start) % n or n)]
    inner = [v for v in inner if v in keep]
    share = [((float(c[v]) - float(c[start])) % total) / long for v in inner]
    bounds = [0.0, *(s * path.length for s in share), path.length]
    parts = [path.part(a, b) for a, b in pairwise(bounds)]
    parts[0] = _from(parts[0], outline.path.vertices[start])
    parts[-1] = _to(parts[-1], outline.path.vertices[end])
    rest = [] if start % n == end % n else [outline.path.segments(end, start)]
    new = Path.join([*parts, *rest], closed=True)
    at = np.cumsum([0, *(len(p) for p in parts)])
    to = {start % n: 0}
    to |= {v: int(at[k + 1]) for k, v in enumerate(inner)}
    for k in range((start - end) % n):
        to[(end + k) % n] = int(at[-1]) + k

    notches = [(notch, outline.arc_length_of(notch.at)) for notch in piece.notches]
    corners = tuple(v for v in outline.corners if v not in smooth)
    allowances = piece.allowances
    if allowances is not None:
        shapes = tuple(s for s in allowances.corners if s.vertex in corners)
        allowances = replace(allowances, corners=shapes)
    weights = piece.weights
    if weights is not None:
        unknown = RuleWeights.unknown(weights.rules, int(at[-1]))
        kept = [weights.segments(end, start)] if rest else []
        weights = RuleWeights.joined([unknown, *kept])
    bare = replace(
        piece,
        outline=replace(outline, corners=corners),
        notches=(),
        allowances=allowances,
        cut_line=None,
    )
    renewed = bare.outline.renumbered(new, to.__getitem__)
    placed = []
    for notch, s in notches:
        along = (s - float(c[start])) % total
        there = along / long * path.length if along < long else along - long + path.length
        placed.append(replace(notch, at=renewed.spot(there % new.length)))
    moved = bare.renumbered(renewed, to.__getitem__)
    return Restretched(replace(moved, notches=tuple(placed), weights=weights), to)


def _from(path: Path, point: np.ndarray) -> Path:
    controls = path.controls.copy()
    controls[0, 0] = point
    return path.with_controls(controls)


def _to(path: Path, point: np.ndarray) -> Path:
    controls = path.controls.copy()
    controls[-1, 3] = point
    return path.with_controls(controls)


def faired(
    piece: Piece, vertices: Iterable[int], settled: Settled, reach: float = REACH
) -> tuple[Piece, tuple[Finding, ...]]:
    """The piece with a smooth curve at each of the `vertices` where its outline turns.

    The curve goes at most `reach` mm to each side, never past a corner, a named point, the
    end of a run, a notch or a mouth; its ends and its tangents there stay. The places are
    settled on the base. Findings tell by how much an edge became longer or shorter, and where
    there was no room.
    """
    findings: list[Finding] = []
    pending = [v % len(piece.outline.path) for v in vertices]
    for turn, _ in enumerate(pending):
        v = pending[turn]
        if abs(float(piece.outline.path.turns[v])) < _SMOOTH:
            continue
        key = f"{piece.name}: fair {turn}"
        x, y = piece.outline.vertex_at(v)
        where = piece.outline.shortest_run(v) or f"({x:.0f}, {y:.0f})"
        back = settled.once(f"{key} back", partial(room, piece, v, -1, reach))
        onward = settled.once(f"{key} onward", partial(room, piece, v, 1, reach))
        if back is None or onward is None:
            findings.append(
                piece.finding(
                    "not-faired",
                    "note",
                    "there is no room to fair a joint: it stays a corner",
                    where,
                )
            )
            continue
        places = [back.at(piece, v, -1), onward.at(piece, v, 1)]
        piece, (a, b), (v, *rest) = with_vertices(piece, places, pending[turn:])
        before = piece.outline.run_length(Run(a, b))
        path = piece.outline.path
        points = path.vertices[[a, b]]
        curve = curve_through(points, path.tangents_out[a], path.tangents_in[b - 1])
        done = with_stretch(piece, a, b, curve, [v])
        piece = done.piece
        pending[turn + 1 :] = [done.to[w] for w in rest]
        gained = curve.length - before
        if abs(gained) > _TOLD:
            words = "longer" if gained > 0 else "shorter"
            findings.append(
                piece.finding(
                    "faired",
                    "note",
                    f"faired at a joint, and {abs(gained):.2f} mm {words} by that",
                    where,
                )
            )
    return piece, tuple(findings)


def with_vertices(
    piece: Piece, places: Sequence[float], follow: Sequence[int] = ()
) -> tuple[Piece, list[int], list[int]]:
    """The piece with vertices at arc lengths `places`, their numbers, and what the vertices
    `follow` are called now."""
    numbers: list[int] = []
    followed = [*follow]
    for s in places:
        n = len(piece.outline.path)
        piece, point = piece.with_vertex(s)
        if len(piece.outline.path) > n:
            numbers = [v + 1 if v >= point.vertex else v for v in numbers]
            followed = [v + 1 if v >= point.vertex else v for v in followed]
        numbers.append(point.vertex)
    return piece, numbers, followed


@dataclass(frozen=True, slots=True)
class Room:
    """Where a window ends: so many whole segments from the joint, and this share of the next."""

    segments: int
    share: float

    def at(self, piece: Piece, v: int, way: int) -> float:
        """Its arc length on the outline, from the joint `v` one way or the other."""
        path = piece.outline.path
        n = len(path)
        end = (v + self.segments * way) % n
        segment = end if way > 0 else (end - 1) % n
        step = self.share * float(path.segment_lengths[segment])
        return (float(path.cumulative[end]) + way * step) % path.length


def room(piece: Piece, v: int, way: int, reach: float) -> Room | None:
    """How far a joint may be faired to one side (`way` 1: counter-clockwise, -1: clockwise), at
    most `reach` mm; None where there is less than 2 mm.

    Settled on the base, it gives the place in every size.
    """
    outline = piece.outline
    path = outline.path
    n = len(path)
    stops = marked_vertices(piece) | set(outline.corners)
    here = float(path.cumulative[v])
    notches = [(outline.arc_length_of(q.at) - here) * way % path.length for q in piece.notches]
    notches = [d for d in notches if d > 1e-6]
    done = 0.0
    for k in range(n):
        segment = (v + k) % n if way > 0 else (v - k - 1) % n
        long = float(path.segment_lengths[segment])
        limit = min([reach - done, *(d - done for d in notches if d > done - 1e-9)])
        if long >= limit:
            found = Room(k, max(limit, 0.0) / long)
            return found if done + limit >= _LEAST else None
        done += long
        if (v + (k + 1) * way) % n in stops:
            return Room(k + 1, 0.0) if done >= _LEAST else None
    return None
