"""The lines and signs of one piece: outline, fold, grain, notches, darts, marks."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from ..geometry import affine
from ..geometry.nearest import nearest
from ..geometry.path import Path
from ..geometry.types import Floats
from ..model import Mark, Piece
from ..model.drawn import drawn_fold, drawn_notches
from ..palette import (
    ADJUST_LINE,
    AXIS_LINE,
    CUT_LINE,
    CUTOUT_LINE,
    FOLD_LINE,
    GRAIN_LINE,
    HAIR,
    LINEN,
    MARK_LINE,
    PAPER,
    PLAIN_LINE,
    SEW_LINE,
    Line,
)
from . import symbols
from .room import Room
from .sketch import Sketch
from .symbols import left_of, unit

# A line within this of another, mm, lies on it.
_ON = 0.05

OUTLINES = {"cut": CUT_LINE, "sew": SEW_LINE, "unknown": PLAIN_LINE}


def scaled(piece: Piece, scale: float) -> Piece:
    """The piece as large as it is drawn; lengths on it are `scale` times the true ones."""
    if scale == 1.0:
        return piece
    labels = tuple(replace(one, height=one.height * scale) for one in piece.labels)
    # Moving a piece keeps the lengths that say where on its edge a notch is, and how deep.
    notches = tuple(
        replace(one, at=replace(one.at, distance=one.at.distance * scale), depth=one.depth * scale)
        for one in piece.notches
    )
    return replace(piece, labels=labels, notches=notches).transformed(affine.scaling(scale))


def draw_lines(sketch: Sketch, room: Room, piece: Piece, size: float) -> None:
    """Everything of a piece but its words. `size` is the letter height, mm."""
    _outlines(sketch, room, piece)
    for cutout in piece.cutouts:
        sketch.stroke(cutout.path, CUTOUT_LINE, PAPER)
        room.add_path(cutout.path)
    for adjust in piece.adjusts:
        _adjust(sketch, room, adjust.path, size)
    for mark in piece.marks:
        _mark(sketch, room, mark)
    _axis_and_grain(sketch, room, piece, size)
    _darts(sketch, room, piece, size)
    for pleat in symbols.drawn_pleats(piece):
        a, b = (piece.outline.vertex_at(v) for v in (pleat.a, pleat.b))
        symbols.pleat(sketch, room, a, b, left_of(unit(b - a)), size)
    for hole in piece.drills:
        symbols.drill(sketch, room, np.array(hole.at), size)
    _notches(sketch, room, piece, size)


def _outlines(sketch: Sketch, room: Room, piece: Piece) -> None:
    drawn, line = piece.drawn, OUTLINES[piece.drawn_kind]
    sketch.stroke(drawn.path, None, LINEN)
    room.add_path(drawn.path)
    fold = fold_path(piece)
    if fold is None:
        sketch.stroke(drawn.path, line)
    else:
        stretch, rest = fold
        if rest is not None:
            sketch.stroke(rest, line)
        sketch.stroke(stretch, FOLD_LINE)
    if piece.cut_line is not None:
        inner = OUTLINES[piece.kind if piece.kind != "cut" else "sew"]
        sewn = sewn_path(piece)
        if sewn is not None:
            sketch.stroke(sewn, inner)
        room.add_path(piece.outline.path)


def sewn_path(piece: Piece) -> Path | None:
    """The outline of a piece without the stretch that lies on the line of its fold.

    None where the whole outline lies there.
    """
    path, fold = piece.outline.path, piece.fold
    drawn = fold_path(piece)
    if fold is None or drawn is None:
        return path
    alone = fold.start == fold.end
    stretch = path.opened() if alone else path.segments(fold.start, fold.end)
    places = stretch.at(np.linspace(0.0, stretch.length, 9))
    if float(nearest(drawn[0], places).distance.max()) > _ON:
        return path
    return None if alone else path.segments(fold.end, fold.start)


def fold_path(piece: Piece) -> tuple[Path, Path | None] | None:
    """The stretch of the outermost line on the fold, and the rest of it; None without a fold."""
    found = drawn_fold(piece)
    if found is None or piece.fold is None:
        return None
    path = piece.drawn.path
    if piece.cut_line is None:
        start, end = piece.fold.start, piece.fold.end
    else:
        start, end = found[0].start, found[0].end
    if start == end:
        return path.opened(), None
    return path.segments(start, end), path.segments(end, start)


def _adjust(sketch: Sketch, room: Room, path: Path, size: float) -> None:
    """Two lines side by side, as paper patterns have them."""
    across = left_of(unit(path.end - path.start)) * 0.22 * size
    for side in (across, -across):
        moved = path.with_controls(path.controls + side)
        sketch.stroke(moved, ADJUST_LINE)
        room.add_path(moved)


def _mark(sketch: Sketch, room: Room, mark: Mark) -> None:
    sketch.stroke(mark.path, MARK_LINE)
    room.add_path(mark.path)


def _axis_and_grain(sketch: Sketch, room: Room, piece: Piece, size: float) -> None:
    if piece.axis is not None and piece.axis.given:
        start, end = np.array(piece.axis.start), np.array(piece.axis.end)
        symbols.arrow(sketch, start, end, AXIS_LINE, size * 0.9, both=False)
        room.add_line(start, end)
    if piece.grain is not None:
        start, end = np.array(piece.grain.start), np.array(piece.grain.end)
        symbols.arrow(sketch, start, end, GRAIN_LINE, size * 1.1, both=piece.grain.ends == 2)
        room.add_line(start, end)


def _darts(sketch: Sketch, room: Room, piece: Piece, size: float) -> None:
    leg = Line(MARK_LINE.colour, MARK_LINE.width, MARK_LINE.dashes)
    for dart in piece.darts:
        apex = np.array(dart.apex)
        a, b = (piece.outline.vertex_at(v) for v in (dart.a, dart.b))
        middle = (a + b) / 2
        if dart.tip is None:
            for end in (a, b):
                sketch.polyline([end, apex], leg)
                room.add_line(end, apex)
        sketch.polyline([middle, apex], HAIR)
        room.add_line(middle, apex)
        sketch.dot(apex, 0.22 * size, None, MARK_LINE.colour)


def _notches(sketch: Sketch, room: Room, piece: Piece, size: float) -> None:
    for one, (at, along) in zip(piece.notches, notch_places(piece), strict=True):
        # A notch is drawn deep enough that its kind can be told.
        depth = max(one.depth, 0.95 * size)
        symbols.notch(sketch, room, at, along, one.kind, depth, one.count)


@lru_cache(maxsize=64)
def notch_places(piece: Piece) -> tuple[tuple[Floats, Floats], ...]:
    """Where each notch is on the outermost line, and that line's direction there."""
    path = piece.drawn.path
    s = [path.cumulative[edge.start] + along for edge, along in drawn_notches(piece)]
    # At a smooth joint the two sides agree; at a corner the outgoing one is as good.
    return tuple(zip(path.at(np.array(s)), path.tangents(np.array(s)), strict=True))
