"""A front opened at the bust: its four parts moved, and the darts between them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sizewright.drafting import Line, Ring, Span, Zone, dart_cap, pressed_to, runs_over, slashed
from sizewright.errors import GeometryError
from sizewright.geometry import Floats, Path, affine
from sizewright.model import Dart, Drill, Piece
from sizewright.units import format_length

from .places import POINT, Slashes

#: A new dart's tip stays this far from the point, mm.
BACK_OFF = 25.4


@dataclass(frozen=True, eq=False)
class Opened:
    """What opens: by how much the side turns (a map), and by how much the centre grows, mm."""

    by: float
    shift: float
    turned: Floats

    @classmethod
    def of(cls, at: Slashes, by: float, slid: float) -> Opened:
        """For a level opening of `by` mm at the point. `slid`: the turned part lies so much
        farther along the armhole, mm."""
        out, up = at.frame.out, at.frame.up
        hinge = at.piece.outline.vertex_at(at.hinge)
        across, height = float((at.point - hinge) @ out), float((at.point - hinge) @ up)
        reach = math.hypot(across, height)
        new = (across + by) / reach
        if height >= 0 or across >= 0 or abs(new) >= 1 or across + by > 0:
            raise GeometryError(
                f"it cannot open by {format_length(by)} about a hinge "
                f"{format_length(abs(across))} "
                f"{'nearer to the centre' if across >= 0 else 'farther out'} than the point",
                where=at.piece.title,
                cure="Take a smaller amount, or a hinge higher up and farther out on the armhole.",
            )
        turn = -math.acos(new) - math.atan2(height, across)
        turn = (turn + math.pi) % (2 * math.pi) - math.pi
        shift = height + reach * math.sqrt(1 - new * new)
        c, s = math.cos(turn), math.sin(turn)
        basis = at.frame.basis
        matrix = basis.T @ np.array([[c, -s], [s, c]]) @ basis
        path = at.piece.outline.path
        along = path.tangents_in[at.hinge - 1] * (-1.0 if at.forward else 1.0)
        move = hinge - matrix @ hinge + matrix @ along * slid
        return cls(by, shift, np.column_stack([matrix, move]))


def opened(
    at: Slashes, by: float, slid: float, back_off: float | None, name: str, step: str, fair: bool
) -> Ring:
    """The ring of a front that is opened by `by` mm."""
    out, up = at.frame.out, at.frame.up
    holes = [at.piece.drills[k] for k in at.holes]
    piece = _bare(at, holes)
    path, point = piece.outline.path, at.point
    what = Opened.of(at, by, slid)
    down = affine.translation(*(-up * what.shift))
    lower_move = affine.translation(*(out * by - up * what.shift))
    tips = [None if d is None else np.array(d.apex) for d in (at.dart, at.waist_dart or at.beside)]
    towards_side = [p for p in (point, tips[0]) if p is not None]
    towards_waist = [p for p in (point, tips[1]) if p is not None]
    (w0, w1), (s0, s1), h, c = at.waist, at.side, at.hinge, at.centre
    p = path.vertices

    def zone(start: int, end: int, back: Sequence[Floats], move: Floats) -> Zone:
        """From one vertex on to another, and back over the points `back`."""
        a, b = (start, end) if at.forward else (end, start)
        inner = [*back] if at.forward else [*back][::-1]
        border = Path.polyline([p[b], *inner, p[a]])
        return Zone(piece, move, Path.join([path.segments(a, b), border], closed=True))

    upper = zone(h, c, [point], affine.identity())
    centre = zone(c, w0, towards_waist[::-1], down)
    lower = zone(w1, s0, [*towards_side[::-1], *towards_waist[1:]], lower_move)
    side = zone(s1, h, [point, *towards_side[1:]], what.turned)
    ends = [(lower, w1, s0), (side, s1, h), (upper, h, c), (centre, c, w0)]
    if not at.forward:
        ends = [(z, b, a) for z, a, b in ends][::-1]
    spans = [Span(z, a, b) for z, a, b in ends]

    def opening(start: int, end: int, one: Zone, other: Zone) -> tuple[int, int, Zone, Zone]:
        """A mouth from vertex to vertex, and the zones beside it, in outline order."""
        return (start, end, one, other) if at.forward else (end, start, other, one)

    middle = point + out * (by / 2) - up * what.shift
    lines: dict[tuple[int, int], Line] = {}
    near = BACK_OFF if at.dart is None else float(np.hypot(*(np.array(at.dart.apex) - point)))
    near = near if back_off is None else back_off
    a, b, first, second = opening(s0, s1, lower, side)
    mouth = affine.apply(first.move, p[a]), affine.apply(second.move, p[b])
    tip = _tip(mouth, middle, near)
    lines[a, b] = _dart_line(at, a, b, first, second, mouth, tip, at.dart, name)
    if at.waist_dart is not None:
        a, b, first, second = opening(w0, w1, centre, lower)
        mouth = affine.apply(first.move, p[a]), affine.apply(second.move, p[b])
        apex = np.array(at.waist_dart.apex) + out * (by / 2) - up * what.shift
        off = float(np.hypot(*(np.array(at.waist_dart.apex) - point)))
        tip = _tip(mouth, apex, 0.0) if off else _tip(mouth, middle, 0.0)
        lines[a, b] = _dart_line(at, a, b, first, second, mouth, tip, at.waist_dart, "")
    _check_opens(at, affine.apply(lower.move, p[s0]), affine.apply(side.move, p[s1]), what)
    groups: list[tuple[set[int], Any]] = [({c}, None)]
    if fair:
        groups += [({h}, None), *([({w0}, None)] if at.waist_dart is None else [])]
    ring = slashed(spans, step, upper, lines=lines, fair=groups)
    drills: list[Drill] = []
    for hole in holes or [Drill((float(point[0]), float(point[1])), POINT)]:
        x, y = map(float, middle + np.array(hole.at) - point)
        drills.append(replace(hole, at=(x, y)))
    return replace(ring, drills=tuple(drills))


def _bare(at: Slashes, holes: Sequence[Drill]) -> Piece:
    """The piece without what is made anew: darts with their tips, and the holes at the point."""
    anew = [d for d in (at.dart, at.waist_dart) if d is not None]
    outline = at.piece.outline
    tips = {d.tip for d in anew}
    points = tuple(p for p in outline.points if p.vertex not in tips)
    return replace(
        at.piece,
        outline=replace(outline, points=points),
        darts=tuple(d for d in at.piece.darts if d not in anew),
        drills=tuple(d for d in at.piece.drills if d not in holes),
    )


def _tip(mouth: tuple[Floats, Floats], towards: Floats, near: float) -> Floats:
    """The tip of a dart: on the line through the middle of its mouth, `near` mm before it comes
    level with a point."""
    middle = (mouth[0] + mouth[1]) / 2
    chord = mouth[1] - mouth[0]
    # Counter-clockwise along the mouth, the piece lies to the left.
    way = np.array([-chord[1], chord[0]]) / np.hypot(*chord)
    along = float((towards - middle) @ way)
    tip: Floats = middle + way * (along - near)
    return tip


def _dart_line(
    at: Slashes,
    a: int,
    b: int,
    first: Zone,
    second: Zone,
    mouth: tuple[Floats, Floats],
    tip: Floats,
    old: Dart | None,
    name: str,
) -> Line:
    """The line across a mouth from vertex `a` to `b`: along the legs where the dart is cut out
    of the outline, else capped."""
    piece, path = at.piece, at.piece.outline.path
    goes_on = tuple(sorted({*runs_over(piece, a)} & {*runs_over(piece, b)}))
    apex = (float(tip[0]), float(tip[1]))
    if old is not None and old.tip is not None:
        legs = Path.polyline([mouth[0], tip, mouth[1]])
        was = piece.outline.point(old.tip)
        named = {1: was.name} if was.name else {}
        rules = {1: was.rule} if was.rule else {}
        mouthed = Dart(old.name, 0, 2, apex, 1)
        return Line(legs, goes_on=goes_on, mouth=mouthed, points=named, rules=rules)
    before = path.segments(piece.outline.corner_beside(a, after=False), a)
    after = path.segments(b, piece.outline.corner_beside(b, after=True))
    before, after = before.transformed(first.move), after.transformed(second.move)
    _, to = pressed_to(piece, *mouth, tip, None)
    cap = dart_cap(tip, before, after, to)
    return Line(cap, goes_on=goes_on, mouth=Dart(old.name if old else name, 0, len(cap), apex))


def _check_opens(at: Slashes, lower: Floats, upper: Floats, what: Opened) -> None:
    if float((upper - lower) @ at.frame.up) <= 0 and at.dart is None:
        x, y = lower
        raise GeometryError(
            f"the new dart would lie over itself near ({x:.0f}, {y:.0f})",
            where=at.piece.title,
            cure="Take another place on the side.",
        )
    if what.shift < 0:
        raise GeometryError(
            "its centre would become shorter",
            where=at.piece.title,
            cure="Take a hinge farther out on the armhole.",
        )
