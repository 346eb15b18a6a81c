"""Closing a symmetric piece: the half to lay on the fold."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from sizewright.drafting import Line, Ring, Settled, Span, Zone
from sizewright.errors import GeometryError, InputError
from sizewright.geometry import Floats, Path, affine, centroid, contains, crossings, nearest
from sizewright.model import (
    MIRRORED,
    Label,
    Notch,
    Piece,
    Pleat,
    free_points,
    moved,
    right_of_centre,
    sides_unknown,
)

#: Allowances that differ by less than this, mm, are one.
_SAME = 1e-6
#: Ends of the axis are set this far outside the piece, so that it crosses the outline whole.
_BEYOND = 10.0


def closing(tolerance: float) -> Callable[[Mapping[str, Piece], Settled], dict[str, Ring]]:
    """The edit that halves a piece whose two sides differ by at most `tolerance` mm.

    The half right of the centre stays, looking up. The centre is the internal line named
    `centre`, else the grade axis through the middle of the piece. What is on one half only
    stays, for its side of the wearer.
    """

    def close_half(pieces: Mapping[str, Piece], _: Settled) -> dict[str, Ring]:
        ((name, piece),) = pieces.items()
        if piece.fold is not None:
            raise InputError(
                "it has a fold: it is a half already",
                where=f'piece "{name}"',
                cure="Leave it out of `close`; `open` makes a whole of it.",
            )
        a, b = _centre(piece)
        mirror = affine.mirror(a, b)
        _check_symmetric(piece, mirror, tolerance)
        cuts = crossings(piece.outline.path, Path.polyline([a, b]))
        if len(cuts) != 2:
            raise GeometryError(
                f"its centre line crosses the outline {len(cuts)} times, not twice",
                cure="Draw an axis line along its middle.",
            )
        up = np.array(piece.up)
        for cut in cuts:
            s = float(nearest(piece.outline.path, cut.point[None]).s[0])
            piece, _point = piece.with_vertex(s)
        if piece.allowances is not None:
            piece = _matched(piece, mirror, tolerance)
        path = piece.outline.path
        low, high = (
            int(np.hypot(*(path.vertices - cut.point).T).argmin())
            for cut in sorted(cuts, key=lambda cut: float(cut.point @ up))
        )
        # Counter-clockwise, the side from the lower to the upper end is the right one.
        right = path.segments(low, high)
        fold = Path.polyline([right.end, right.start])
        region = Path.join([right, fold], closed=True)
        piece = _one_half(piece, low, high, region, mirror, tolerance)
        zone = Zone(piece, region=region)
        return {
            name: Ring(
                [Span(zone, low, high), Line(fold, fold=True)],
                "closed to a half on the fold",
                stands_for=_stand_ins(piece, low, high),
            )
        }

    return close_half


def _matched(piece: Piece, mirror: Floats, tolerance: float) -> Piece:
    """The piece with a vertex on each half where the other has one: widths change at vertices."""
    for at in affine.apply(mirror, piece.outline.path.vertices):
        path = piece.outline.path
        if np.hypot(*(path.vertices - at).T).min() > tolerance:
            piece, _point = piece.with_vertex(float(nearest(path, at[None]).s[0]))
    return piece


def _stand_ins(piece: Piece, low: int, high: int) -> dict[str, str]:
    """For each run of the half that goes its twin on the one that stays; a run across the
    centre, halved, stands for itself."""
    n = len(piece.outline.path)
    kept, across, gone = set(), {}, []
    for run in piece.outline.runs:
        name = run.name or ""
        first, long = (run.start - low) % n, (run.end - run.start) % n or n
        if first + long <= (high - low) % n:
            kept.add(name)
        elif first < (high - low) % n or first + long > n:
            across[name] = name
        else:
            gone.append(name)
    twins = {
        name: name.removesuffix(MIRRORED) if name.endswith(MIRRORED) else name + MIRRORED
        for name in gone
    }
    return across | {name: twin for name, twin in twins.items() if twin in kept}


def _one_half(
    piece: Piece, low: int, high: int, region: Path, mirror: Floats, tolerance: float
) -> Piece:
    """The piece with all that it bears put on the half that stays, each twin once."""
    outline = piece.outline
    n, m = len(outline.path), (high - low) % len(outline.path)
    right = right_of_centre(piece)

    def place(one: Any) -> Floats:
        if isinstance(one, Notch):
            return outline.path.at(outline.arc_length_of(one.at))[None]
        return free_points(one)

    def mirrored(one: Any) -> Any:
        image = affine.apply(mirror, place(one))
        if isinstance(one, Notch):
            foot = nearest(outline.path, image)
            return replace(one, at=outline.spot(float(foot.s[0])))
        if isinstance(one, Label):
            return replace(one, at=(float(image[0, 0]), float(image[0, 1])))
        return moved(one, lambda points: affine.apply(mirror, points))

    def on_right(one: Any) -> bool:
        middle = place(one).mean(axis=0)
        inside = nearest(region, middle[None]).distance[0] < tolerance
        return bool(inside or contains(region, middle[None])[0])

    def twins(a: Any, b: Any) -> bool:
        p, q = place(a), affine.apply(mirror, place(b))
        return len(p) == len(q) and bool(np.hypot(*(p - q).T).max() <= max(tolerance, 0.01))

    def halved(things: tuple[Any, ...]) -> tuple[Any, ...]:
        stay = [one for one in things if on_right(one)]
        go = [one for one in things if not on_right(one)]
        out = []
        for one in stay:
            lone = not any(twins(one, other) for other in go)
            out.append(_for_side(piece, one, right) if lone and _off_centre(one) else one)
        for one in go:
            if not any(twins(other, one) for other in stay):
                other_side = {"left": "right", "right": "left"}.get(right, right)
                out.append(_for_side(piece, mirrored(one), other_side))
        return tuple(out)

    def _off_centre(one: Any) -> bool:
        image = affine.apply(mirror, place(one))
        return bool(np.hypot(*(image - place(one)).T).max() > max(tolerance, 0.01))

    def pleats() -> Any:
        for pleat in piece.pleats:
            first, long = (pleat.a - low) % n, (pleat.b - pleat.a) % n or n
            if first + long > n:
                yield Pleat(pleat.name, low, pleat.b)
            elif first < m:
                yield Pleat(pleat.name, pleat.a, high if first + long > m else pleat.b)

    allowances = piece.allowances
    if allowances is not None and n == 2 * m:
        k, rows = np.arange(m), allowances.by_segment(outline.path)
        other = rows.copy()
        other[(low + k) % n] = rows[(low - 1 - k) % n, ::-1]
        if np.abs(other - rows)[(low + k) % n].max() > _SAME:
            if right == "both":
                raise sides_unknown(piece)
            allowances = allowances.with_side(
                outline.path, other, "left" if right == "right" else "right"
            )
    return piece.with_changes(
        allowances=allowances,
        marks=halved(tuple(k for k in piece.marks if "centre" not in (k.name, k.kind))),
        notches=halved(piece.notches),
        drills=halved(piece.drills),
        cutouts=halved(piece.cutouts),
        adjusts=tuple(
            one
            for k, one in enumerate(piece.adjusts)
            if on_right(one) or not any(twins(other, one) for other in piece.adjusts[:k])
        ),
        labels=tuple(one if on_right(one) else mirrored(one) for one in piece.labels),
        darts=tuple(d for d in piece.darts if on_right(d)),
        pleats=tuple(pleats()),
    )


def _for_side(piece: Piece, one: Any, side: str) -> Any:
    if one.side != "both":
        return one
    if side == "both":
        raise sides_unknown(piece)
    return replace(one, side=side)


def _centre(piece: Piece) -> tuple[Floats, Floats]:
    """Two points on the centre line, both outside the piece, the lower one first."""
    up = np.array(piece.up)
    for mark in piece.marks:
        if "centre" in (mark.name, mark.kind) and not mark.path.closed:
            step = mark.path.end - mark.path.start
            up = step / np.hypot(*step) * (1 if step @ up >= 0 else -1)
            middle = mark.path.at(mark.path.length / 2)
            break
    else:
        middle = centroid(piece.outline.path)
    x0, y0, x1, y1 = piece.outline.path.bounds
    reach = float(np.hypot(x1 - x0, y1 - y0)) + _BEYOND
    return middle - up * reach, middle + up * reach


def _check_symmetric(piece: Piece, mirror: Floats, tolerance: float) -> None:
    path = piece.outline.path
    s = np.linspace(0.0, path.length, 400, endpoint=False)
    off = nearest(path, affine.apply(mirror, np.vstack([path.at(s), path.vertices]))).distance
    if float(off.max()) > tolerance:
        raise GeometryError(
            f"its two halves differ by {float(off.max()):.2f} mm",
            cure="Only a symmetric piece can be laid on the fold; a larger tolerance may be set.",
        )
