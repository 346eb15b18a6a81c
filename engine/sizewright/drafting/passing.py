"""What an edit takes along must be the same in every size: which points, corners and mouths."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ..errors import GeometryError, SizewrightError
from ..model.outline import Run
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..model.place import Place, locate
from ..model.walk import walk
from ..units import format_length
from .ring import Drawn, Settled

#: Where a cut lies on a notch, it passes it in no size, mm.
_ON = 1e-6


@dataclass(frozen=True, slots=True)
class Bearing:
    """Something on an outline that a cut may pass: its words, and whether it may be given up."""

    words: str
    point: str = ""


class Passed(GeometryError):
    """A cut passes something in this size that it does not pass on the base."""

    def __init__(self, piece: Piece, bearings: Sequence[Bearing]) -> None:
        words = " and ".join(sorted(b.words for b in bearings))
        super().__init__(f"here the cut lies on another side of {words} than on the base")
        self.piece = piece
        #: The named smooth points among them, where there is nothing else.
        self.points = tuple(b.point for b in bearings if all(c.point for c in bearings))


def check_passed(drawn: Mapping[str, Drawn], settled: Settled) -> None:
    """Raises `Passed` where a stretch bears other things than on the base, first seen."""
    for name, one in drawn.items():
        for k, placed in enumerate(one.placed):
            piece = placed.zone.piece
            here = frozenset(_borne(piece, placed.start, placed.count))
            base = settled.once(f"{name}: borne by {k}", lambda here=here: here)  # type: ignore[misc]
            if here != base:
                raise Passed(piece, [*(here ^ base)])


def _borne(piece: Piece, start: int, count: int) -> Iterator[Bearing]:
    """What lies within a stretch of the outline, its ends left out."""
    outline = piece.outline
    n = len(outline.path)

    def inside(vertex: int) -> bool:
        return 0 < (vertex - start) % n < count

    for number, vertex in enumerate(outline.corners, 1):
        if inside(vertex):
            name = outline.point(vertex).name
            yield Bearing(f"corner {number}" + (f" ({name})" if name else ""))
    for point in outline.points:
        if point.name and inside(point.vertex) and point.vertex not in outline.corners:
            yield Bearing(f"the point {point.name}", point.name)
    mouths = [(d.a, d.b, d.name) for d in piece.darts]
    mouths += [(p.a, p.b, p.name) for p in piece.pleats]
    for a, b, named in mouths:
        if inside(a) and inside(b):
            yield Bearing(f"the mouth of {named}")
    long = outline.run_length(Run(start, (start + count) % n))
    begin = float(outline.path.cumulative[start])
    for number, notch in enumerate(piece.notches, 1):
        along = (outline.arc_length_of(notch.at) - begin) % outline.path.length
        if _ON < along < long - _ON:
            yield Bearing(f"notch {notch.name or number}")


def without_points(pattern: Pattern, name: str, points: Sequence[str]) -> Pattern:
    """The pattern with a piece that no longer bears these smooth points, in every size; what
    is known of rules at its control points stays."""

    def without(piece: Piece) -> Piece:
        kept = tuple(p for p in piece.outline.points if p.name not in points)
        return replace(piece, outline=replace(piece.outline, points=kept))

    return pattern.changing([name], without)


def good_lengths(pattern: Pattern, places: Mapping[tuple[str, str], Place]) -> str:
    """For each place that was said by a length along a run: the lengths that pass no corner,
    notch or mouth in any size. In words; empty where no place was said so."""
    told = []
    for (name, text), place in places.items():
        if place.run is None or place.way not in ("along", "up", "down") or place.share:
            continue
        sizes = sorted(pattern.sizes_of(name), key=lambda p: p.size != pattern.base_size)
        known = [stops for p in sizes if (stops := _stops(p, place)) is not None]
        if len(known) < len(sizes):
            continue
        # Between the same two as on the base.
        begin, here, along = known[0]
        k = min(max(sum(d <= here for d in along), 1), len(along) - 1)
        bounds = [
            (d[k - 1] - o, d[k] - o) if here >= begin else (o - d[k], o - d[k - 1])
            for o, _, d in known
        ]
        # Rounded so that what is told is good.
        low = math.ceil(10 * max(b[0] for b in bounds)) / 10
        high = math.floor(10 * min(b[1] for b in bounds)) / 10
        if low < high:
            told.append(
                f'"{text}" is good in every size from {format_length(low)} to '
                f"{format_length(high)}."
            )
        else:
            told.append(f'No length is good for "{text}" in every size: say a share or a point.')
    return " ".join(told)


def _stops(piece: Piece, place: Place) -> tuple[float, float, list[float]] | None:
    """On the run of a place: where it counts from, where it is, and where the corners and
    notches are, with both ends, all as sewn distances in mm."""
    try:
        s = locate(piece, place).s
        run = piece.run(str(place.run))
        way = walk(piece, run)
        here = None if s is None else way.distance(s)
        origin = None if place.origin is None else locate(piece, place.origin).s
        begin = 0.0 if origin is None else way.distance(origin)
    except SizewrightError:
        return None
    if here is None or begin is None:
        return None
    outline = piece.outline
    n = len(outline.path)
    start, long = run.start % n, (run.end - run.start) % n or n
    stops = [outline.path.cumulative[v] for v in outline.corners if 0 < (v - start) % n < long]
    stops += [outline.arc_length_of(notch.at) for notch in piece.notches]
    along = sorted(d for s in stops if (d := way.distance(float(s))) is not None)
    return begin, here, [0.0, *along, way.length]
