"""Darts made in an edge of one piece: mouths, legs, caps, and the edge led square to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import combinations

import numpy as np

from sizewright.drafting import (
    Line,
    Ring,
    Settled,
    Span,
    Zone,
    dart_cap,
    pressed_to,
    with_vertices,
)
from sizewright.errors import GeometryError
from sizewright.geometry import Floats, Path, contains, crossings, curve_through
from sizewright.model import Dart, Piece, Pleat, Pressed, Run
from sizewright.units import both

#: The edge is led square to a leg along so much of it, mm, at most ...
_REACH = 40.0
#: ... and along this share of what there is to the next corner, notch, point or mouth.
_SHARE = 0.9
#: Where it begins lies so far within a segment of the outline, as a share of it.
_EDGE = 0.01
#: A mouth keeps this far from corners and notches, mm.
_CLEAR = 1.0
#: The end of a leg on the edge counts as met within this, mm.
_NEAR = 0.5


@dataclass(frozen=True)
class Wanted:
    """A dart to make: its middle at arc length `s` of the outline, `take` mm wide there.

    It is `length` mm long, square to the edge, or runs to the point `tip` (2,).
    """

    name: str
    s: float
    take: float
    length: float | None
    tip: Floats | None
    pressed: Pressed | None
    place: str


@dataclass(frozen=True)
class _Made:
    """A dart on the page: its mouth on the old outline (arc lengths, mm) and its new ends."""

    wanted: Wanted
    first: float
    last: float
    a: Floats
    b: Floats
    tip: Floats
    runs: tuple[str, ...]


def darted(piece: Piece, darts: Sequence[Wanted], settled: Settled, *, fair: bool) -> Ring:
    """The ring of a piece with new darts in its edges.

    The edge is led square to the legs of each, which get their mean length; without `fair` it
    stays as it is. Raises GeometryError, with the place, for one that does not fit.
    """
    made = sorted((_made(piece, one, fair=fair) for one in darts), key=lambda d: d.first)
    _check_apart(piece, made)
    bounds = [_bounds(piece, made, k, settled) for k in range(len(made))]
    cut, vertices, _ = with_vertices(piece, [s for pair in bounds for s in pair])
    zone = Zone(cut)
    elements: list[Span | Line] = []
    steps = []
    for k, one in enumerate(made):
        start, end = bounds[k]
        elements.append(Span(zone, vertices[2 * k - 1], vertices[2 * k]))
        before = _beside(cut, start, one, before=True, fair=fair)
        after = _beside(cut, end, one, before=False, fair=fair)
        word, to = pressed_to(piece, one.a, one.b, one.tip, one.wanted.pressed)
        cap = dart_cap(
            one.tip,
            _longer(cut, start, before, before=True),
            _longer(cut, end, after, before=False),
            to,
        )
        tip = (float(one.tip[0]), float(one.tip[1]))
        dart = Dart(one.wanted.name, 0, len(cap), tip)
        elements += [
            Line(before, goes_on=one.runs),
            Line(cap, goes_on=one.runs, mouth=dart),
            Line(after, goes_on=one.runs),
        ]
        steps.append(
            f"dart {one.wanted.name}, {both(one.wanted.take)} at {one.wanted.place}, "
            + (f"pressed {word}" if word in ("down", "up", "open") else f"pressed to the {word}")
        )
    return Ring(elements, "; ".join(steps))


def _made(piece: Piece, wanted: Wanted, *, fair: bool) -> _Made:
    path = piece.outline.path
    first, last = wanted.s - wanted.take / 2, wanted.s + wanted.take / 2
    _check_stretch(piece, wanted, first, last)
    a, b = path.at(first % path.length), path.at(last % path.length)
    if wanted.tip is not None:
        tip = wanted.tip
    else:
        assert wanted.length is not None
        along = path.tangents(wanted.s % path.length)
        tip = path.at(wanted.s % path.length) + wanted.length * np.array([-along[1], along[0]])
    _check_legs(piece, wanted, a, b, tip)
    if fair:
        legs = [float(np.hypot(*(p - tip))) for p in (a, b)]
        mean = sum(legs) / 2
        a, b = (tip + (p - tip) * (mean / leg) for p, leg in zip((a, b), legs, strict=True))
    return _Made(wanted, first, last, a, b, tip, _runs(piece, first, last))


def _beside(piece: Piece, s: float, one: _Made, *, before: bool, fair: bool) -> Path:
    """The edge from a vertex at `s` to the mouth, or from the mouth to it, in outline order."""
    path = piece.outline.path
    if not fair:
        return path.part(s, one.first) if before else path.part(one.last, s)
    end = one.a if before else one.b
    leg = (end - one.tip) / np.hypot(*(end - one.tip))
    # Square to the leg, counter-clockwise as the outline goes.
    way = np.array([-leg[1], leg[0]])
    at = s % path.length
    if before:
        return curve_through(np.array([path.at(at), end]), path.tangents(at), way)
    return curve_through(np.array([end, path.at(at)]), way, path.tangents(at))


def _longer(piece: Piece, s: float, beside: Path, *, before: bool) -> Path:
    """The edge beside a mouth with what comes before it, back to the next corner."""
    path = piece.outline.path
    corners = [float(path.cumulative[v]) for v in piece.outline.corners] or [s]
    if before:
        back = min((s - c) % path.length or path.length for c in corners)
        return Path.join([path.part(s - back, s), beside])
    on = min((c - s) % path.length or path.length for c in corners)
    return Path.join([beside, path.part(s, s + on)])


def _bounds(piece: Piece, made: Sequence[_Made], k: int, settled: Settled) -> tuple[float, float]:
    """Arc lengths from where to where the edge is drawn anew about a mouth.

    They lie on the same segments in every size, where that can be, so that all keep the same
    vertices.
    """
    path = piece.outline.path
    one = made[k]
    stops = [s for s, _ in _stops(piece)]
    before, after = made[k - 1], made[(k + 1) % len(made)]
    ends = []
    for way, s, other in ((-1, one.first, before.last), (1, one.last, after.first)):
        room = min(((way * (stop - s)) % path.length for stop in stops), default=path.length)
        if len(made) > 1:
            room = min(room, (way * (other - s)) % path.length / 2)
        reach = min(_REACH, _SHARE * room)
        what = f"{piece.name}: {one.wanted.name} {way}"
        wished = (s + way * reach) % path.length
        segment = settled.once(what, partial(_segment, path, wished))
        long = float(path.segment_lengths[segment])
        start = float(path.cumulative[segment])
        along = (wished - start + path.length / 2) % path.length - path.length / 2
        # How far from `s` the segment lies; its ends are left alone.
        nearer = reach - (along if way > 0 else long - along) + _EDGE * long
        there = min(max(reach, nearer), nearer + (1 - 2 * _EDGE) * long)
        if 0 < there < room:
            reach = there
        ends.append((s + way * reach) % path.length)
    return ends[0], ends[1]


def _segment(path: Path, s: float) -> int:
    return int(path.locate(s)[0])


# --- what is in the way ---------------------------------------------------------------------


def _stops(piece: Piece) -> list[tuple[float, str]]:
    """Arc lengths that no edge is drawn anew past, with words for what is there."""
    outline = piece.outline
    c = outline.path.cumulative
    found = [(float(c[v]), f"the corner {outline.reference(v)}") for v in outline.corners]
    found += [
        (outline.arc_length_of(n.at), f"the notch {n.name}" if n.name else "a notch")
        for n in piece.notches
    ]
    runs = [*outline.runs, *([Run(piece.fold.start, piece.fold.end)] if piece.fold else [])]
    for run in runs:
        found += [(float(c[v]), f'an end of "{run.name or "fold"}"') for v in (run.start, run.end)]
    for mouth in _mouths(piece):
        found += [(float(c[v]), f'the mouth of "{mouth.name}"') for v in (mouth.a, mouth.b)]
    found += [(float(c[v]), "what is held together") for h in piece.holds for v in h.vertices]
    named = [(float(c[p.vertex]), f'the point "{p.name or p.rule}"') for p in outline.points]
    known = {round(s, 6) for s, _ in found}
    return found + [(s, words) for s, words in named if round(s, 6) not in known]


def _mouths(piece: Piece) -> tuple[Dart | Pleat, ...]:
    return (*piece.darts, *piece.pleats)


def _check_stretch(piece: Piece, wanted: Wanted, first: float, last: float) -> None:
    path = piece.outline.path
    take = last - first
    for mouth in _mouths(piece):
        start = float(path.cumulative[mouth.a])
        long = piece.outline.run_length(Run(mouth.a, mouth.b))
        apart = (start - last) % path.length, (first - start - long) % path.length
        over = min(apart) < _CLEAR or max(apart) > path.length - take - long - _CLEAR
        if over:
            raise _bad(piece, wanted, f'would meet "{mouth.name}"', path.at(wanted.s % path.length))
    for s, words in _stops(piece):
        named = words.startswith("the point")
        if not named and (s - first + _CLEAR) % path.length <= take + 2 * _CLEAR:
            raise _bad(piece, wanted, f"would cross {words}", path.at(s))


def _check_legs(piece: Piece, wanted: Wanted, a: Floats, b: Floats, tip: Floats) -> None:
    path = piece.outline.path
    legs = Path.polyline([a, tip, b])
    if not contains(path, tip[None])[0]:
        raise _bad(piece, wanted, "would have its tip outside the piece", tip)
    for cross in crossings(legs, path):
        if min(float(np.hypot(*(cross.point - p))) for p in (a, b)) > _NEAR:
            raise _bad(piece, wanted, "would leave the piece", cross.point)
    for dart in piece.darts:
        if dart.tip is None:
            a0, b0 = (piece.outline.vertex_at(v) for v in (dart.a, dart.b))
            met = crossings(legs, Path.polyline(np.array([a0, dart.apex, b0])))
            if met:
                raise _bad(piece, wanted, f'would meet the dart "{dart.name}"', met[0].point)
    for cutout in piece.cutouts:
        met = crossings(legs, cutout.path)
        if met:
            raise _bad(piece, wanted, "would cross a cut-out", met[0].point)


def _check_apart(piece: Piece, made: Sequence[_Made]) -> None:
    path = piece.outline.path
    for one, other in combinations(made, 2):
        apart = (other.first - one.first) % path.length
        over = apart < one.wanted.take + _CLEAR or path.length - apart < other.wanted.take + _CLEAR
        legs = [Path.polyline(np.array([d.a, d.tip, d.b])) for d in (one, other)]
        met = crossings(legs[0], legs[1])
        if over or met:
            at = met[0].point if met else (one.b + other.a) / 2
            raise _bad(piece, one.wanted, f'would meet the dart "{other.wanted.name}"', at)


def _runs(piece: Piece, first: float, last: float) -> tuple[str, ...]:
    """The named runs that a stretch of the outline lies on."""
    outline = piece.outline
    found = []
    for run in outline.runs:
        along = (first - float(outline.path.cumulative[run.start])) % outline.path.length
        if run.name and along + (last - first) <= outline.run_length(run) + 1e-6:
            found.append(run.name)
    return tuple(found)


def _bad(piece: Piece, wanted: Wanted, what: str, at: Floats | None = None) -> GeometryError:
    near = "" if at is None else f" near ({at[0]:.0f}, {at[1]:.0f})"
    return GeometryError(
        f'the dart "{wanted.name}" {what}{near}',
        where=f'{piece.title}: place "{wanted.place}"',
        cure="Take another place, a smaller take or a shorter length.",
    )
