"""Fairing edges whole: an edge that was cut in several places becomes one smooth line again."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np

from ..findings import Finding
from ..geometry.path import Path
from ..geometry.splines import curve_through
from ..geometry.types import Floats
from ..model.outline import Run
from ..model.piece import Piece
from .fairing import REACH, Room, room, with_stretch, with_vertices
from .ring import Line, Ring, Settled, Slides

#: Straight lines that turn less than this against each other are one, degrees.
_PARALLEL = 1e-4
#: A curved stretch between two cuts that is longer than this keeps its middle, mm.
_LONG = 2 * REACH
#: By so much an edge whose length stays may become shorter without its end moving, mm.
_LOSS = 0.03
#: Changes of length smaller than this are not told, mm.
_TOLD = 0.05


def faired_edges(
    piece: Piece, ring: Ring, joints: Sequence[int], settled: Settled
) -> tuple[Piece, tuple[Finding, ...], Mapping[int, int]]:
    """The piece with each edge of `ring.edges` faired as a whole; what vertices became.

    `joints` are the vertices at which the ring's elements start. An edge reaches from corner to
    corner, or to the mouth of a dart or pleat. Where it is straight on both sides of every cut,
    and these are parallel, it becomes one straight line. Else one fair curve goes through the
    middles of what lies between the cuts, its ends and end tangents staying; a curved stretch
    longer than 8 cm keeps its middle. With `slides` the edge keeps its length within 0.1 mm, its
    end sliding along its own tangent where it is a free corner.
    """
    findings: list[Finding] = []
    n = len(piece.outline.path)
    now = {v: v for v in range(n)}
    cut = {joints[k] % n for edge in ring.edges for k in edge.joints}
    for number, edge in enumerate(ring.edges):
        vertices = [joints[k] % n for k in edge.joints]
        opens = {joints[k] % n for k in edge.joints if isinstance(ring.elements[k], Line)}
        done: set[int] = set()
        for part, vertex in enumerate(vertices):
            stretch = None
            if vertex in now and vertex not in done:
                stretch = _stretch(piece, vertex, vertices, opens, cut, now)
            if stretch is None:
                continue
            done |= {v for v in vertices if now.get(v) in stretch.joints}
            key = f"{piece.name}: edge {number}.{part}"
            before = piece.outline.run_length(Run(stretch.start, stretch.end))
            piece, moved, after = _faired(piece, stretch, edge.slides, settled, key)
            now = {old: moved[v] for old, v in now.items() if v in moved}
            gained = after - before
            if abs(gained) > _TOLD:
                words = "longer" if gained > 0 else "shorter"
                findings.append(
                    piece.finding(
                        "faired",
                        "note",
                        f"faired as a whole, and {abs(gained):.2f} mm {words} by that",
                        stretch.name,
                    )
                )
    return piece, tuple(findings), now


@dataclass(frozen=True, slots=True)
class _Stretch:
    """An edge, or what of it lies between mouths, by vertices: its ends, where it was cut, and
    which of these begin an opening."""

    start: int
    end: int
    joints: tuple[int, ...]
    opens: frozenset[int]
    name: str


def _stretch(
    piece: Piece,
    vertex: int,
    vertices: Sequence[int],
    opens: set[int],
    cut: set[int],
    now: Mapping[int, int],
) -> _Stretch | None:
    """The stretch that holds the joint `vertex`; None where this is itself a mouth's end.

    `vertices`, `opens` and `cut` are numbers as they were when the piece was drawn, of which
    `now` tells what became.
    """
    outline, n = piece.outline, len(piece.outline.path)
    joint = now[vertex]
    mouths = _mouths(piece)
    loose = {now[v] for v in cut if v in now} - mouths
    stops = mouths | (set(outline.corners) - loose)
    if not stops or joint in stops:
        return None
    start = min(stops, key=lambda v: (joint - v) % n)
    end = min(stops, key=lambda v: (v - joint) % n)
    mine = [now[v] for v in vertices if v in now]
    mine = [j for j in mine if 0 < (j - start) % n < ((end - start) % n or n)]
    mine.sort(key=lambda j: (j - start) % n)
    begun = frozenset(now[v] for v in opens if v in now)
    return _Stretch(start, end, tuple(mine), begun, outline.shortest_run(joint))


def _faired(
    piece: Piece, stretch: _Stretch, slides: Slides | None, settled: Settled, key: str
) -> tuple[Piece, Mapping[int, int], float]:
    """The piece with one stretch faired, what its vertices became, and the new length, mm."""
    path = piece.outline.path
    parts = list(pairwise([stretch.start, *stretch.joints, stretch.end]))
    long = piece.outline.run_length(Run(stretch.start, stretch.end))
    if settled.once(f"{key} straight", lambda: _straight(path, parts, stretch.opens)):
        line = Path.polyline(path.vertices[[stretch.start, stretch.end]])
        done = with_stretch(piece, stretch.start, stretch.end, line, stretch.joints)
        return done.piece, done.to, line.length
    strips = [k for k, (a, _) in enumerate(parts) if k == 0 or a not in stretch.opens]
    kept = settled.once(
        f"{key} kept", lambda: [k for k in strips if _keeps_middle(path, *parts[k])]
    )
    if not kept:
        curve = _curve(path, stretch, [parts[k] for k in strips])
        lost = long - curve.length
        if slides is None or abs(lost) <= _LOSS:
            done = with_stretch(piece, stretch.start, stretch.end, curve, stretch.joints)
            return done.piece, done.to, curve.length
        free = {stretch.start, stretch.end} & set(piece.outline.corners) - _mouths(piece)
        ways = {"first": [stretch.start], "last": [stretch.end]}
        ends = ways.get(slides, [stretch.end, stretch.start])
        end = next((v for v in ends if v in free), None)
        if end is not None:
            piece, curve = _slid(piece, stretch, [parts[k] for k in strips], end, long)
            done = with_stretch(piece, stretch.start, stretch.end, curve, stretch.joints)
            return done.piece, done.to, curve.length
    reach = REACH
    if slides is not None:
        turn = max(math.radians(abs(float(path.turns[j]))) for j in stretch.joints)
        reach = min(REACH, 6 * _LOSS / max(len(stretch.joints) * turn**2, 1e-9))
    return _in_windows(piece, stretch, strips, reach, settled, key)


def _mouths(piece: Piece) -> set[int]:
    found = {v for d in piece.darts for v in (d.a, d.b, d.tip) if v is not None}
    return found | {v for p in piece.pleats for v in (p.a, p.b)}


def _straight(path: Path, parts: Sequence[tuple[int, int]], opens: frozenset[int]) -> bool:
    """Whether all that is not newly opened is straight and parallel."""
    ways = []
    for k, (a, b) in enumerate(parts):
        if k and a in opens:
            continue
        part = path.segments(a, b)
        if not part.lines.all():
            return False
        ways += list(part.tangents_out)
    first = ways[0]
    limit = math.sin(math.radians(_PARALLEL))
    return all(abs(float(first[0] * w[1] - first[1] * w[0])) < limit for w in ways)


def _keeps_middle(path: Path, start: int, end: int) -> bool:
    """Whether a strip is long and curved, so that only its ends are faired."""
    part = path.segments(start, end)
    return part.length > _LONG and not (
        part.lines.all() and np.abs(np.diff(_angles(part.tangents_out))).max(initial=0.0) < 1e-6
    )


def _angles(ways: Floats) -> Floats:
    angles: Floats = np.unwrap(np.arctan2(ways[:, 1], ways[:, 0]))
    return angles


def _curve(path: Path, stretch: _Stretch, strips: Sequence[tuple[int, int]]) -> Path:
    """One fair curve from end to end through the middles of the strips."""
    middles = []
    for a, b in strips:
        strip = path.segments(a, b)
        middles.append(strip.at(strip.length / 2))
    whole = path.segments(stretch.start, stretch.end)
    points = np.array([whole.start, *middles, whole.end])
    return curve_through(points, whole.tangents_out[0], whole.tangents_in[-1])


def _slid(
    piece: Piece,
    stretch: _Stretch,
    strips: Sequence[tuple[int, int]],
    end: int,
    long: float,
) -> tuple[Piece, Path]:
    """The piece with one end of a stretch slid along its tangent until the curve is `long` mm."""
    path = piece.outline.path
    whole = path.segments(stretch.start, stretch.end)
    way = whole.tangents_in[-1] if end == stretch.end else -whole.tangents_out[0]
    shift = 0.0
    curve = _curve(path, stretch, strips)
    for _ in range(8):
        shift += long - curve.length
        moved = _with_vertex_moved(path, end, way * shift)
        curve = _curve(moved, stretch, strips)
        if abs(long - curve.length) < 1e-4:
            break
    outline = piece.outline.with_path(moved)
    return replace(piece, outline=outline), curve


def _with_vertex_moved(path: Path, vertex: int, step: Floats) -> Path:
    controls = path.controls.copy()
    for k, ends in ((vertex, (0, 1)), (vertex - 1, (2, 3))):
        controls[k, list(ends)] += step
    return path.with_controls(controls)


def _in_windows(
    piece: Piece,
    stretch: _Stretch,
    strips: Sequence[int],
    reach: float,
    settled: Settled,
    key: str,
) -> tuple[Piece, Mapping[int, int], float]:
    """The stretch faired at its cuts alone, so far to each side; cuts that lie nearer to each
    other are faired together."""
    joints = [*stretch.joints]
    now: dict[int, int] = {v: v for v in range(len(piece.outline.path))}
    start, end = stretch.start, stretch.end

    # Cuts whose windows would meet, or that bound an opening, are one group.
    def groups() -> list[tuple[int, int]]:
        found: list[list[int]] = [[0]]
        for k, (a, b) in enumerate(pairwise(joints), 1):
            near = piece.outline.run_length(Run(a, b)) < 2 * reach
            if a in stretch.opens or near:
                found[-1].append(k)
            else:
                found.append([k])
        return [(g[0], g[-1]) for g in found]

    for first, last in settled.once(f"{key} groups", groups):
        a, b = now[joints[first]], now[joints[last]]
        back = settled.once(f"{key} {first} back", partial(room, piece, a, -1, reach))
        onward = settled.once(f"{key} {last} onward", partial(room, piece, b, 1, reach))
        if back is None or onward is None:
            continue
        group = [now[j] for j in joints[first : last + 1]]
        piece, now = _window(piece, group, back, onward, now)
    long = piece.outline.run_length(Run(now[start], now[end]))
    return piece, now, long


def _window(
    piece: Piece,
    joints: Sequence[int],
    back: Room,
    onward: Room,
    now: Mapping[int, int],
) -> tuple[Piece, dict[int, int]]:
    """One fair curve over a group of cuts."""
    places = [back.at(piece, joints[0], -1), onward.at(piece, joints[-1], 1)]
    order = list(now)
    piece, (a, b), followed = with_vertices(piece, places, [now[v] for v in order])
    became = dict(zip(order, followed, strict=True))
    number = dict(zip([now[v] for v in order], followed, strict=True))
    mine = [number[j] for j in joints]
    path = piece.outline.path
    middles = []
    for left, right in pairwise(mine):
        part = path.segments(left, right)
        if len(mine) > 2 or part.length > 2 * REACH:
            middles.append(part.at(part.length / 2))
    whole = path.segments(a, b)
    points = np.array([whole.start, *middles, whole.end])
    curve = curve_through(points, whole.tangents_out[0], whole.tangents_in[-1])
    done = with_stretch(piece, a, b, curve, mine)
    return done.piece, {old: done.to[v] for old, v in became.items() if v in done.to}
