"""A dart turned about a point: its mouth closes, and the piece opens at another place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np

from sizewright.drafting import (
    Line,
    Ring,
    Settled,
    Span,
    Zone,
    bent,
    dart_cap,
    pressed_to,
    room,
    staying,
    with_vertices,
)
from sizewright.errors import GeometryError, InputError, LookupFailed
from sizewright.geometry import Floats, Path, affine, contains, crossings, curve_through
from sizewright.model import (
    CORNER_ANGLE,
    Amount,
    Dart,
    Drill,
    Located,
    Pattern,
    Piece,
    Place,
    Pleat,
    on_outline,
)

Into = Literal["dart", "gather", "ease", "flare"]

#: How far a tip is set back from the point, mm, where the old one lay too far off.
SET_BACK = 25.4
#: The part that turns keeps this far from the point, mm, so that what lies on it stays.
_OFF = 1e-3
#: Legs alike within this, mm, close as they are; others meet at their mean length, and the
#: edge is led there from so far on each side, mm.
_SAME = 1e-6
_REACH = 40.0
#: A hole this near to the tip marks it, mm.
_AT_TIP = 1.0
#: Lines meet the outline at their own ends, within this, mm.
_NEAR = 0.05


@dataclass(frozen=True)
class Move:
    """What is asked for: which dart, to where, how much of it, and what it becomes.

    `alike`: whether its legs, from the point that it turns about, are alike in every size.
    """

    pattern: Pattern
    dart: str
    to: Place
    part: float
    into: Into
    point: Place | None
    back_off: Amount | None
    fair: bool
    alike: bool = True


#: From which vertex to which the edge is drawn anew.
Window = tuple[int, int]


@dataclass(frozen=True, eq=False)
class Turn:
    """One turn of a piece: the dart, the point (2,) that it turns about, and where it opens.

    `ends` are the vertices there: one and the same, or the mouth's of the dart `other` that it
    goes into. `left` and `right` are the outline from the dart to it and from it
    to the dart, as they lie afterwards; `zones` those two parts, `stay` the one that stays.
    `by` is the angle, degrees counter-clockwise, of the one that turns. `closing` and
    `opening` tell where the edge is drawn anew at the old mouth and at the new place.
    """

    piece: Piece
    dart: Dart
    point: Floats
    ends: tuple[int, int]
    other: Dart | None
    zones: tuple[Zone, Zone]
    stay: int
    by: float
    left: Path
    right: Path
    closing: Window | None
    opening: Window | None


def find_dart(piece: Piece, name: str) -> Dart:
    """The dart called `name` (or `NAME-dart`). Raises LookupFailed."""
    for dart in piece.darts:
        if name in (dart.name, f"{dart.name}-dart"):
            return dart
    raise LookupFailed(
        f'no dart "{name}"',
        where=piece.title,
        cure=f"Its darts: {', '.join(d.name for d in piece.darts) or 'none'}.",
    )


def pivot(piece: Piece, move: Move, settled: Settled) -> tuple[Floats, bool]:
    """What a dart turns about, and whether something said so: the point that is asked for, the
    hole `bust-point`, else its own tip."""
    apex = np.array(find_dart(piece, move.dart).apex)
    if move.point is not None:
        point = settled.place(piece, move.point).point
    else:
        holes = [np.array(d.at) for d in piece.drills if d.name == "bust-point"]
        if not holes:
            return apex, False
        point = min(holes, key=lambda at: float(np.hypot(*(at - apex))))
    return (apex if _apart(point, apex) < _NEAR else point), True


def turned(piece: Piece, move: Move, settled: Settled) -> Ring:
    """The ring of a piece whose dart is moved.

    Raises GeometryError, with the place, where the line from the point to it leaves the piece
    or crosses a dart, and InputError for a place in a mouth or on the fold.
    """
    point, _ = pivot(piece, move, settled)
    dart, found = find_dart(piece, move.dart), settled.place(piece, move.to)
    into = settled.once(f"{piece.name}: {dart.name} goes into", lambda: _dart_there(piece, found))
    if into is not None and into != dart.name and move.into == "dart":
        cut, other = piece, find_dart(piece, into)
        ends = (other.a, other.b)
    else:
        cut, at = piece.with_vertex(on_outline(piece, move.to, found))
        other, ends = None, (at.vertex, at.vertex)
    _check(cut, find_dart(cut, move.dart), ends, other, point, move)
    return _ring(_turn(cut, ends, other, point, move, settled), move, settled)


def _dart_there(piece: Piece, at: Located) -> str | None:
    """The dart in whose mouth, or at whose tip, a place lies."""
    path = piece.outline.path
    for dart in piece.darts:
        if _apart(at.point, np.array(dart.apex)) < _SAME:
            return dart.name
        if at.s is not None:
            start = float(path.cumulative[dart.a])
            long = path.segments(dart.a, dart.b).length
            if (at.s - start + _SAME) % path.length <= long + 2 * _SAME:
                return dart.name
    return None


def legs_alike(piece: Piece, move: Move) -> bool:
    """Whether both legs of the dart, from the point that it turns about, are alike."""
    point, _ = pivot(piece, move, Settled())
    dart = find_dart(piece, move.dart)
    legs = [_apart(piece.outline.vertex_at(v), point) for v in (dart.a, dart.b)]
    return abs(legs[0] - legs[1]) <= _SAME


def _turn(
    cut: Piece, at: tuple[int, int], other: Dart | None, q: Floats, move: Move, settled: Settled
) -> Turn:
    dart = find_dart(cut, move.dart)
    closes = opens = None
    if move.part == 1 and not move.alike:
        closes = _window(cut, dart, at, (dart.a, dart.b), settled)
        if closes is None:
            raise GeometryError(
                f'the legs of "{dart.name}" are not alike, seen from the point, and beside its '
                "mouth there is no room to bend the edge to their mean",
                where=cut.title,
                cure="Draw both legs alike, or say another point.",
            )
    if move.fair and move.into != "dart":
        opens = _window(cut, dart, at, at, settled)
    cut, found, followed = with_vertices(cut, [*(closes or ()), *(opens or ())], at)
    ends = (followed[0], followed[1])
    closing = (found[0], found[1]) if closes else None
    opening = (found[-2], found[-1]) if opens else None
    dart, path = find_dart(cut, move.dart), cut.outline.path
    a, b = path.vertices[[dart.a, dart.b]]
    angle = _angle(a - q, b - q)
    if not 0 < angle < 180:
        raise GeometryError(
            f'the point does not lie between the legs of "{dart.name}", where it leads to',
            where=cut.title,
            cure="Say a point further on in the way that the dart points.",
        )
    spans = [path.segments(dart.b, ends[0]), path.segments(ends[1], dart.a)]
    # What lies in the dart, as a line drawn across it, goes half with each part.
    middle, there = (a + b) / 2, [path.vertices[[*ends]].mean(axis=0)] if other else []
    ways = [[*there, q, middle], [middle, q, *there]]
    regions = [_round(span, *way) for span, way in zip(spans, ways, strict=True)]
    stay = settled.once(f"{cut.name}: {dart.name} stays", lambda: staying(cut, regions))
    by = move.part * (angle if stay == 0 else -angle)
    # Short of the point itself, so that what lies there stays.
    one = spans[1 - stay]
    half = affine.rotation(_angle(one.start - q, one.end - q) / 2)
    inwards = affine.apply(half, (one.start - q) / _apart(one.start, q))
    short = [q + inwards * _OFF if p is q else p for p in ways[1 - stay]]
    turning = Zone(cut, _about(by, q), _round(one, *short))
    resting = Zone(cut, region=regions[stay])
    zones = (resting, turning) if stay == 0 else (turning, resting)
    left, right = (_moved(span, zone) for span, zone in zip(spans, zones, strict=True))
    other = other and find_dart(cut, other.name)
    return Turn(cut, dart, q, ends, other, zones, stay, by, left, right, closing, opening)


def _window(
    cut: Piece, dart: Dart, ends: tuple[int, int], about: tuple[int, int], settled: Settled
) -> tuple[float, float] | None:
    """Arc lengths from where to where the edge may be drawn anew about a mouth or a place; None
    where there is no room."""
    path = cut.outline.path
    own = {-1: (dart.b, ends[0]), 1: (ends[1], dart.a)}
    spans = {dart.a: own[1], dart.b: own[-1]}
    found = []
    for v, way in zip(about, (-1, 1), strict=True):
        reach = min(_REACH, 0.45 * path.segments(*spans.get(v, own[way])).length)
        key = f"{cut.name}: {dart.name} {about == ends} {way}"
        place = settled.once(key, partial(room, cut, v, way, reach))
        if place is None:
            return None
        found.append(place.at(cut, v, way))
    return found[0], found[1]


def _ring(turn: Turn, move: Move, settled: Settled) -> Ring:
    cut, dart, zones = turn.piece, turn.dart, turn.zones
    opened, tips = _opened(turn, move)
    # Holes that mark a tip go with it.
    holes = [(d, [] if turn.other else tips) for d in _holes(turn, dart)]
    if turn.other is not None:
        holes += [(d, tips) for d in _holes(turn, turn.other)]
    last, start = turn.closing or (dart.a, dart.b)
    end, begin = turn.opening or turn.ends
    elements: list[Span | Line] = [
        Span(zones[0], start, end),
        opened,
        Span(zones[1], begin, last),
    ]
    if move.part < 1:
        # What is left of the dart; its tip turns by half of what the mouth does.
        apex = affine.apply(_about(turn.by / 2, turn.point), np.array(dart.apex))
        holes += [(d, [apex]) for d in _holes(turn, dart)]
        runs = cut.outline.runs_over(dart.a, dart.b)
        elements.append(_mouth(turn, dart, dart.name, (turn.right, turn.left), apex, runs))
    elif turn.closing:
        elements += _closed(turn, turn.closing)
    share = "" if move.part == 1 else f"{move.part:.0%} of "
    words = {"dart": "", "flare": "as flare ", "gather": "as gathers ", "ease": "as ease "}
    # A joint within the corner angle is smooth as it is: so what is moved back is as it was.
    kink = _angle(turn.right.tangents_in[-1], turn.left.tangents_out[0])
    corner = settled.once(
        f"{cut.name}: {dart.name} leaves a corner", lambda: CORNER_ANGLE < kink < 360 - CORNER_ANGLE
    )
    fair = (len(elements) - 1 if turn.closing else 0,)
    return Ring(
        elements,
        f"{share}the dart {dart.name} moved {words[move.into]}to {move.to.text}",
        stays=zones[turn.stay],
        fair=fair if move.fair and move.part == 1 and corner else (),
        drills=tuple(replace(d, at=(float(x), float(y))) for d, at in holes for x, y in at),
        taken=(dart, *([turn.other] if turn.other else []), *(d for d, _ in holes)),
    )


def _holes(turn: Turn, dart: Dart) -> list[Drill]:
    """The holes that mark the tip of a dart; the one that it turns about stays."""
    near = [d for d in turn.piece.drills if _apart(np.array(d.at), np.array(dart.apex)) < _AT_TIP]
    return [d for d in near if _apart(np.array(d.at), turn.point) > _NEAR]


def _opened(turn: Turn, move: Move) -> tuple[Line, list[Floats]]:
    """The line across the new opening, and the tip of a new dart there."""
    cut, q, left, right = turn.piece, turn.point, turn.left, turn.right
    if move.into != "dart":
        start, end = turn.opening or turn.ends
        (p, way), (r, onward) = _ray(turn, start, 0), _ray(turn, end, 1)
        edge = curve_through(np.array([p, r]), way, onward)
        return Line(edge, goes_on=cut.outline.runs_over(start, end)), []
    runs = cut.outline.runs_over(*turn.ends)
    back = _set_back(turn, move)
    if back >= _apart(left.end, q):
        raise GeometryError(
            f"its legs would be {_apart(left.end, q):.1f} mm long, so its tip cannot be set back "
            f"by {back:.1f} mm",
            where=f'{cut.title}: place "{move.to.text}"',
            cure="Say a smaller back-off.",
        )
    # On the middle between the mouth's ends, so that the legs are alike.
    chord = right.start - left.end
    inwards = np.array([-chord[1], chord[0]]) / np.hypot(*chord)
    middle = (left.end + right.start) / 2
    apex = middle + inwards * (float((q - middle) @ inwards) - back)
    name = turn.dart.name
    if turn.other is not None:
        name = turn.other.name
    elif move.part < 1:
        taken = {d.name for d in cut.darts}
        name = next(n for k in range(2, 99) if (n := f"{name}-{k}") not in taken)
    return _mouth(turn, turn.other or turn.dart, name, (left, right), apex, runs), [apex]


def _set_back(turn: Turn, move: Move) -> float:
    """How far the new tip lies from the point: as the old one did, unless that says otherwise."""
    if move.back_off is not None:
        return move.back_off.of(move.pattern, turn.piece)
    old = turn.other or turn.dart
    was, leg = _apart(np.array(old.apex), turn.point), _apart(turn.left.end, turn.point)
    # Two tips at one point would leave the piece hanging together there by nothing.
    if was < leg / 2 and (was > _NEAR or move.part == 1):
        return was
    return min(SET_BACK, leg / 4)


def _mouth(
    turn: Turn,
    like: Dart,
    name: str,
    beside: tuple[Path, Path],
    apex: Floats,
    runs: tuple[str, ...],
) -> Line:
    """The line across a dart's mouth: its legs, or its cap, as the old one `like` has it."""
    before, after = beside
    a, b = before.end, after.start
    tip = (float(apex[0]), float(apex[1]))
    if like.tip is not None:
        legs = Path.polyline([a, apex, b])
        was = turn.piece.outline.point(like.tip).name
        points = {1: was} if was and name == like.name else {}
        return Line(legs, goes_on=runs, mouth=Dart(name, 0, 2, tip, 1), points=points)
    _, to = pressed_to(turn.piece, a, b, apex, None)
    corner_before, corner_after = _last_edge(before, turn, -1), _last_edge(after, turn, 1)
    cap = dart_cap(apex, corner_before, corner_after, to)
    return Line(cap, goes_on=runs, mouth=Dart(name, 0, len(cap), tip))


def _last_edge(path: Path, turn: Turn, way: int) -> Path:
    """The part of an open path that lies next to a mouth, up to the first corner."""
    turns = np.abs(path.turns)
    corners = [k for k in range(1, len(path)) if turns[k] > CORNER_ANGLE]
    if way < 0:
        k = corners[-1] if corners else 0
        return Path(path.controls[k:], path.lines[k:], False)
    k = corners[0] if corners else len(path)
    return Path(path.controls[:k], path.lines[:k], False)


def _closed(turn: Turn, window: Window) -> list[Line]:
    """The edge on both sides of a closed mouth, bent so that its ends meet where legs differ."""
    cut, dart = turn.piece, turn.dart
    path = cut.outline.path
    before = _moved(path.segments(window[0], dart.a), turn.zones[1])
    after = _moved(path.segments(dart.b, window[1]), turn.zones[0])
    meet = (before.end + after.start) / 2
    before = bent(before, meet - before.end)
    after = bent(after.reversed(), meet - after.start).reversed()
    # Of both ends, that of the part that stays gives the name.
    ends = (dart.a, dart.b) if turn.stay == 1 else (dart.b, dart.a)
    name = next((n for v in ends if (n := cut.outline.point(v).name)), None)
    points = {0: name} if name else {}
    return [
        Line(before, goes_on=cut.outline.runs_over(window[0], dart.a)),
        Line(after, goes_on=cut.outline.runs_over(dart.b, window[1]), points=points),
    ]


def _ray(turn: Turn, vertex: int, zone: int) -> tuple[Floats, Floats]:
    """A vertex, and the way that the outline goes there, as they lie afterwards: where part 0
    ends, or part 1 begins."""
    path, move = turn.piece.outline.path, turn.zones[zone].move
    way = path.tangents_out[vertex] if zone == 1 else path.tangents_in[vertex - 1]
    return affine.apply(move, path.vertices[vertex]), move[:, :2] @ way


# --- what is in the way ---------------------------------------------------------------------


def _check(
    cut: Piece, dart: Dart, ends: tuple[int, int], into: Dart | None, q: Floats, move: Move
) -> None:
    where = f'{cut.title}: place "{move.to.text}"'
    outline = cut.outline
    path, n, t = outline.path, len(outline.path), ends[0]
    mouths: tuple[Dart | Pleat, ...] = (*cut.darts, *cut.pleats)
    for mouth in mouths:
        if mouth is not into and (t - mouth.a) % n <= (mouth.b - mouth.a) % n:
            raise InputError(
                f'it lies in the mouth of "{mouth.name}"',
                where=where,
                cure="Say a place beside it.",
            )
    fold = cut.fold
    if fold is not None and (t - fold.start) % n <= (fold.end - fold.start) % n:
        raise InputError("it lies on the fold", where=where, cure="Say a place on another edge.")
    if move.into != "dart" and t in outline.corners:
        raise InputError(
            f"at a corner there is no edge to hold {move.into}",
            where=where,
            cure="Say a place along an edge.",
        )
    if dart.tip is None or _apart(q, path.vertices[dart.tip]) > _NEAR:
        within = bool(contains(path, q[None])[0])
        if not within:
            raise GeometryError(
                f"the point near ({q[0]:.0f}, {q[1]:.0f}) lies outside the piece", where=where
            )
    own = [path.vertices[v] for v in (dart.a, dart.b, t)]
    own += [path.vertices[d.tip] for d in (dart, into) if d and d.tip is not None]
    drawn = [
        Path.polyline([path.vertices[d.a], d.apex, path.vertices[d.b]])
        for d in cut.darts
        if d.tip is None and d is not dart and d is not into
    ]
    start = path.vertices[t] if into is None else np.array(into.apex)
    if _apart(start, q) < _NEAR:
        return
    line = Path.polyline([start, q])
    for other in (path, *drawn, *(c.path for c in cut.cutouts)):
        for cross in crossings(line, other):
            if min(_apart(cross.point, p) for p in (*own, q)) > _NEAR or (
                other is not path and cross.s0 < line.length - _NEAR
            ):
                x, y = cross.point
                raise GeometryError(
                    f"the line from it to the point that the dart turns about leaves the piece or "
                    f"meets a dart near ({x:.0f}, {y:.0f})",
                    where=where,
                    cure="Say another place, or another point.",
                )


# --- small geometry -------------------------------------------------------------------------


def _round(span: Path, *points: Floats) -> Path:
    """A stretch of outline closed by straight lines through points."""
    return Path.join([span, Path.polyline([span.end, *points, span.start])], closed=True)


def _about(degrees: float, q: Floats) -> Floats:
    return affine.rotation(degrees, (float(q[0]), float(q[1])))


def _moved(path: Path, zone: Zone) -> Path:
    return path if zone.still else path.transformed(zone.move)


def _angle(a: Floats, b: Floats) -> float:
    """From one way to another, degrees counter-clockwise, 0 to 360."""
    turn = np.arctan2(a[0] * b[1] - a[1] * b[0], float(a @ b))
    return float(np.degrees(turn)) % 360


def _apart(a: Floats, b: Floats) -> float:
    return float(np.hypot(*(a - b)))
