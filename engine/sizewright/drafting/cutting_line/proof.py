"""The proof of a cutting line: all that its widths cover lies inside it."""

from __future__ import annotations

import numpy as np

from ...findings import Finding
from ...geometry.flatten import flatten
from ...geometry.path import Path
from ...geometry.strips import strip_samples
from ...geometry.types import Bools, Floats, Ints
from ...model.allowances import Allowances
from ...model.piece import Piece
from ...units import both
from .sides import SMOOTH, TOLERANCE, Sides, sides_of

#: A cutting line may lie so much nearer than its width says, mm.
_SLACK = 4 * TOLERANCE
#: Samples along the sewing line are at most this far apart, mm; and so many across the width.
_STEP = 2.0
_ACROSS = (0.0, 0.5, 1.0)


def allowance_faults(piece: Piece, allowances: Allowances | None = None) -> tuple[Finding, ...]:
    """Where a piece's cutting line lies nearer to the sewing line than its widths say.

    `allowances`: the piece's own unless others are given, whose corners are then not judged.
    Sampled at most 2 mm apart along the sewing line: each way straight out to the width must
    lie inside the cutting line, and so must the circle about each mitred corner. Declared
    corners, dart caps and the ends where a narrower allowance cuts off a wider one are left
    out. One finding for each place, `fail` where the line runs inside the sewing line, else
    `warn`.
    """
    known = allowances or piece.allowances
    if piece.cut_line is None or known is None:
        return ()
    import shapely

    sides = sides_of(piece, known)
    path = sides.path
    segment, u = _places(sides)
    at, out, width = strip_samples(path, sides.widths, segment, u)
    free = _excused(piece, known, sides, segment, u, judged=allowances is None)
    ring = shapely.LinearRing(flatten(piece.cut_line.path, 0.002))
    area = shapely.Polygon(ring).buffer(0)
    shapely.prepare(area)
    short = np.zeros(len(at), dtype=bool)
    for share in _ACROSS:
        reach = np.maximum(share * width - _SLACK, 0.0)
        tip = at + reach[:, None] * out
        inside = shapely.contains_xy(area, tip)
        if share == 0.0:
            near = shapely.distance(shapely.points(tip[~inside]), area)
            inside[~inside] = near <= _SLACK
        short |= ~inside & (width > _SLACK)
    short &= ~free & ~sides.legs[segment]
    found = [_finding(piece, group, at, width, area, ring) for group in _groups(short)]
    return tuple(found)


def tight_places(piece: Piece) -> tuple[Finding, ...]:
    """A note for each curve that bends inwards more tightly than its allowance is wide."""
    if piece.allowances is None:
        return ()
    sides = sides_of(piece, piece.allowances)
    found = []
    for side in sides.sides:
        if side.parallel is not None:
            continue
        count = (side.end - side.start) % len(sides.path) or len(sides.path)
        numbers = (side.start + np.arange(count)) % len(sides.path)
        whole = {s.segment for s in side.strips if s.whole}
        tight = [int(i) for i in numbers if int(i) not in whole]
        x, y = sides.path.controls[tight[0]].mean(axis=0)
        width = float(sides.widths[tight].max())
        found.append(
            piece.finding(
                "allowance-tight",
                "note",
                f"the sewing line bends inwards more tightly than its allowance of {both(width)} "
                "is wide: the cutting line runs straight across the bend",
                f"{x:.0f}, {y:.0f} mm",
                "Make the allowance narrower there to follow the curve.",
            )
        )
    return tuple(found)


def _places(sides: Sides) -> tuple[Ints, Floats]:
    """Segments and parameters of the samples along the sewing line."""
    counts = np.clip(np.ceil(sides.path.segment_lengths / _STEP), 4, 400).astype(np.intp)
    segment = np.repeat(np.arange(len(counts)), counts)
    first = np.cumsum(counts) - counts
    return segment, (np.arange(len(segment)) - first[segment] + 0.5) / counts[segment]


def _excused(
    piece: Piece, known: Allowances, sides: Sides, segment: Ints, u: Floats, *, judged: bool
) -> Bools:
    """Samples near a corner whose shape takes some of the allowance away."""
    path, n = sides.path, len(sides.path)
    s = path.cumulative[segment] + u * path.segment_lengths[segment]
    free = np.zeros(len(s), dtype=bool)
    mouths = {d.a: d.b for d in piece.darts if d.tip is not None}
    for vertex in range(n):
        w0, w1 = float(sides.widths[vertex - 1, 1]), float(sides.widths[vertex, 0])
        turn = float(path.turns[vertex])
        if not judged:
            reach = 1.5 * max(w0, w1) if abs(turn) > SMOOTH else 0.0
        else:
            reach = _reach(known, piece, vertex, turn, w0, w1, mouths)
        if reach > 0:
            at, reach = float(path.cumulative[vertex]), reach + _SLACK
            # Past the start and the end too; `s` is in order.
            for near in (at - path.length, at, at + path.length):
                low, high = np.searchsorted(s, (near - reach, near + reach))
                free[low:high] = True
    return free


def _reach(
    known: Allowances,
    piece: Piece,
    vertex: int,
    turn: float,
    w0: float,
    w1: float,
    mouths: dict[int, int],
) -> float:
    """How far from a corner along the sewing line its shape may reach, mm."""
    wide = max(w0, w1)
    if vertex in mouths or vertex in mouths.values():
        return 3 * wide
    if turn <= SMOOTH:
        return 0.0
    shape = known.shape_at(vertex)
    kind = known.corner if shape is None else shape.kind
    if kind in ("square", "fold-back") and piece.outline.corner_number(vertex) is not None:
        return 3 * wide
    # A mitre of unlike widths: the narrower line, carried on, cuts off an end of the wider.
    angle = np.radians(turn)
    cut = (wide * float(np.cos(angle)) - min(w0, w1)) / max(float(np.sin(angle)), 1e-9)
    return min(max(cut, 0.0), known.limit * wide)


def _groups(short: Bools) -> list[Ints]:
    """Numbers of neighbouring samples that fall short, together."""
    where = np.flatnonzero(short)
    if not len(where):
        return []
    groups = np.split(where, np.flatnonzero(np.diff(where) > 3) + 1)
    if len(groups) > 1 and short[0] and short[-1]:
        groups[0] = np.concatenate([groups.pop(), groups[0]])
    return groups


def _finding(
    piece: Piece, group: Ints, at: Floats, width: Floats, area: object, ring: object
) -> Finding:
    import shapely

    apart = shapely.distance(shapely.points(at[group]), ring)
    inside = shapely.contains_xy(area, at[group]) | (apart <= _SLACK)
    signed = np.where(inside, apart, -apart)
    k = int((signed - width[group]).argmin())
    x, y = at[group[k]]
    wanted, have = float(width[group[k]]), float(signed[k])
    if have < -_SLACK:
        text = f"the cutting line runs {both(-have)} inside the sewing line"
    else:
        text = f"the allowance is {both(max(have, 0.0))} wide where {both(wanted)} is meant"
    return piece.finding(
        "allowance-short",
        "fail" if have < -_SLACK else "warn",
        text,
        _place(piece, float(x), float(y)),
        "Add the seam allowance anew, or mend the cutting line there.",
    )


def _place(piece: Piece, x: float, y: float) -> str:
    from ...geometry.nearest import nearest_point

    path: Path = piece.outline.path
    edge, _ = piece.outline.edge_along(nearest_point(path, (x, y)).s)
    return f"{edge.name or f'#{edge.number}'} at {x:.0f}, {y:.0f} mm"
