"""The lines along which a front is slashed for the bust, found on one piece in one size."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sizewright.drafting import Settled, with_vertices
from sizewright.errors import GeometryError, InputError, LookupFailed
from sizewright.geometry import Floats, Path, crossings
from sizewright.model import (
    MIRRORED,
    Dart,
    Frame,
    Piece,
    Place,
    Run,
    axis_frame,
    on_outline,
    parse_place,
)
from sizewright.plugin import Values

#: The name of the drill hole that marks the bust point.
POINT = "bust-point"
#: A place this near to another is the same, mm.
_SAME = 0.05


@dataclass(frozen=True, eq=False)
class Slashes:
    """Where a front is slashed: its point (2,), and vertices on the outline.

    `waist` below the point, `side` the ends of the dart's mouth (one vertex where it is new),
    `hinge` on the armhole, `centre` level with the point. The ends of `waist` and `side` come in
    the order from centre to side to armhole: the two ends of a mouth, or one vertex twice.
    `dart` and `waist_dart` are the darts there, `beside` one below the point that stays as it is,
    `holes` the drill holes at the point, by number.
    """

    piece: Piece
    frame: Frame
    point: Floats
    waist: tuple[int, int]
    side: tuple[int, int]
    hinge: int
    centre: int
    forward: bool
    dart: Dart | None
    waist_dart: Dart | None
    beside: Dart | None
    holes: tuple[int, ...]


def find(piece: Piece, values: Values, settled: Settled) -> Slashes:
    """The slashes of one piece. Raises LookupFailed for what is not there, GeometryError where
    the places do not lie round the piece in their order, InputError for an opened piece."""
    frame, _ = axis_frame(piece)
    names = [str(p.name) for p in piece.outline.points]
    if frame.centre is not None or any(name.endswith(MIRRORED) for name in names):
        raise InputError(
            "it is opened out, and room is put into a half",
            where=piece.title,
            cure="Put it in before the piece is opened (fold-marks).",
        )
    if not frame.away_from and (piece.axis is None or piece.axis.away is None):
        raise InputError(
            "nothing tells where its centre is",
            where=piece.title,
            cure="Mark the fold, or name the centre's edge centre-front.",
        )
    point = settled.place(piece, _point(piece, values["point"])).point
    dart = _dart(piece, values)
    below = None if values["waist-dart"] is None else _named(piece, values["waist-dart"])
    if dart is not None and below is not None and dart.name == below.name:
        raise InputError("one dart cannot take both", where=piece.title, cure="Name two darts.")
    cumulative = piece.outline.path.cumulative
    new = values["new-dart"]
    if dart is not None:
        sides = [float(cumulative[v]) for v in (dart.a, dart.b)]
    else:
        found = settled.place(piece, new)
        sides = [on_outline(piece, new, found)] * 2
    beside = None
    if below is not None:
        waists = [float(cumulative[v]) for v in (below.a, below.b)]
    else:
        under = _met(piece, point, -frame.up, "below it", darts=False)
        beside = next((d for d in piece.darts if _within(piece, d, under)), None)
        if beside is not None:
            # The dart stays whole with the centre.
            away = [float(frame.out @ piece.outline.vertex_at(v)) for v in (beside.a, beside.b)]
            under = float(cumulative[(beside.a, beside.b)[int(np.argmax(away))]])
        waists = [under, under]
    centre = _met(piece, point, -frame.out, "level with it, at the centre", darts=True)
    hinge = _hinge(piece, values["hinge"], sides, waists[0], settled)
    order = [*waists, *sides, hinge, centre]
    piece, numbers, _ = with_vertices(piece, order)
    n = len(piece.outline.path)
    after = [(v - numbers[0]) % n for v in numbers]
    forward = settled.once(f"{piece.name}: way round", lambda: after[2] < after[4] < after[5])
    w, s = numbers[:2], numbers[2:4]
    if not forward:
        w, s = w[::-1], s[::-1]
    h, c = numbers[4], numbers[5]
    turn = [w[1], s[0], s[1], h, c, w[0]]
    steps = [((b - a) if forward else (a - b)) % n for a, b in pairwise(turn)]
    if sum(steps) > n or min(steps[0], *steps[2:]) == 0:
        raise GeometryError(
            "waist, side dart, armhole and centre do not follow each other round it",
            where=piece.title,
            cure="The dart has to lie on the side, between waist and armhole; say hinge = a place "
            "on the armhole.",
        )

    def renewed(one: Dart | None) -> Dart | None:
        return one and next(d for d in piece.darts if d.name == one.name)

    return Slashes(
        piece,
        frame,
        point,
        (w[0], w[1]),
        (s[0], s[1]),
        h,
        c,
        forward,
        renewed(dart),
        renewed(below),
        renewed(beside),
        settled.once(f"{piece.name}: holes at the point", lambda: _holes(piece, point)),
    )


def _point(piece: Piece, place: Place | None) -> Place:
    if place is not None:
        return place
    if all(drill.name != POINT for drill in piece.drills):
        raise LookupFailed(
            f"it has no drill hole {POINT}",
            where=piece.title,
            cure='Mark it in the drawing, or say point = "1 in up from waist-dart-tip".',
        )
    return parse_place(POINT)


def _holes(piece: Piece, point: Floats) -> tuple[int, ...]:
    """The numbers of the drill holes that lie at a point."""
    away = [float(np.hypot(*(np.array(drill.at) - point))) for drill in piece.drills]
    return tuple(k for k, off in enumerate(away) if off < _SAME)


def _named(piece: Piece, name: str) -> Dart:
    for dart in piece.darts:
        if dart.name == name:
            return dart
    names = ", ".join(d.name for d in piece.darts) or "none"
    raise LookupFailed(f'no dart "{name}"', where=piece.title, cure=f"Its darts: {names}.")


def _dart(piece: Piece, values: Values) -> Dart | None:
    """The dart in the side; None for a new one."""
    if values["dart"] is not None and values["new-dart"] is not None:
        raise InputError("dart and new-dart both tell which dart", cure="Leave one out.")
    if values["new-dart"] is not None:
        return None
    if values["dart"] is not None:
        return _named(piece, values["dart"])
    up = axis_frame(piece)[0].up

    def level(dart: Dart) -> bool:
        mouth = piece.outline.vertex_at(dart.b) - piece.outline.vertex_at(dart.a)
        return abs(float(mouth @ up)) > 0.7 * float(np.hypot(*mouth))

    lying = [dart for dart in piece.darts if level(dart)]
    if len(lying) == 1:
        return lying[0]
    names = ", ".join(d.name for d in piece.darts) or "none"
    raise LookupFailed(
        f"it has {len(lying)} darts in its side",
        where=piece.title,
        cure=f'Say dart = "NAME" (its darts: {names}), or new-dart = "8 cm along side from '
        'underarm".',
    )


def _within(piece: Piece, dart: Dart, s: float) -> bool:
    c, total = piece.outline.path.cumulative, piece.outline.path.length
    long = piece.outline.run_length(Run(dart.a, dart.b))
    return -_SAME < (s - float(c[dart.a]) + total / 2) % total - total / 2 < long + _SAME


def _met(piece: Piece, point: Floats, way: Floats, words: str, *, darts: bool) -> float:
    """Where the outline is met from a point in a direction: the last place, mouths counting as
    one (`darts` False); the first one else. Arc length."""
    x0, y0, x1, y1 = piece.outline.path.bounds
    reach = float(np.hypot(x1 - x0, y1 - y0)) + 10.0
    line = Path.polyline([point, point + way * reach])
    met = [c for c in crossings(line, piece.outline.path) if c.s0 > _SAME]
    if not darts:
        legs = [c for c in met if any(_on_leg(piece, d, c.s1) for d in piece.darts)]
        rest = [c for c in met if c not in legs]
        met = rest or legs
    if not met:
        x, y = point
        raise GeometryError(
            f"the point ({x:.0f}, {y:.0f}) has no edge {words}: it lies outside",
            where=piece.title,
            cure="Take a point within the piece.",
        )
    return float(met[0].s1)


def _on_leg(piece: Piece, dart: Dart, s: float) -> bool:
    return dart.tip is not None and _within(piece, dart, s)


def _hinge(
    piece: Piece, place: Place | None, sides: list[float], waist: float, settled: Settled
) -> float:
    """Where the armhole turns, as arc length: a place, else on the edge beyond the side's end."""
    outline = piece.outline
    if place is not None:
        return on_outline(piece, place, settled.place(piece, place))
    if any(run.name == "armhole" for run in outline.runs):
        run = outline.run("armhole")
    else:
        run = _beyond_side(piece, sides, waist)
    n = len(outline.path)
    long = outline.run_length(run)
    begin = float(outline.path.cumulative[run.start])
    named = {p.vertex for p in outline.points if p.name}
    inner = [(run.start + k) % n for k in range(1, (run.end - run.start) % n)]

    def off(v: int) -> float:
        return abs((float(outline.path.cumulative[v]) - begin) % outline.path.length - long / 2)

    def chosen() -> str | None:
        near = min((v for v in inner if v in named), key=off, default=None)
        return None if near is None or off(near) > long / 4 else outline.point(near).name

    name = settled.once(f"{piece.name}: hinge", chosen)
    if name is not None:
        return float(outline.path.cumulative[outline.vertex(name)])
    return (begin + long / 2) % outline.path.length


def _beyond_side(piece: Piece, sides: list[float], waist: float) -> Run:
    """The edge beyond the corner where the side ends, away from the waist."""
    outline, total = piece.outline, piece.outline.path.length
    way = 1 if (sides[0] - waist) % total < total / 2 else -1
    s = sides[-1] if way > 0 else sides[0]
    c = outline.path.cumulative
    order = sorted(outline.corners, key=lambda v: (way * (float(c[v]) - s)) % total)
    beyond = [v for v in order if (way * (float(c[v]) - s)) % total > _SAME]
    if len(beyond) < 2:
        raise LookupFailed(
            "nothing tells where its armhole is", where=piece.title, cure="Say hinge = a place."
        )
    return Run(beyond[0], beyond[1]) if way > 0 else Run(beyond[1], beyond[0])
