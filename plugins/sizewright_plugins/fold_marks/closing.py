"""Closing a symmetric piece: the half to lay on the fold, and the seams that meet it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sizewright.errors import GeometryError
from sizewright.geometry import Floats, Path, affine, centroid, crossings, nearest
from sizewright.model import MIRRORED, ChainPart, Fold, Outline, Pattern, Piece, Point, Run, Seam
from sizewright.plugin import working_on

#: Ends of the axis are set this far outside the piece, so that it crosses the outline whole.
_BEYOND = 10.0
_ON = 1e-6


def close_pieces(pattern: Pattern, names: frozenset[str], tolerance: float) -> Pattern:
    """The pattern with the named pieces halved along their centre, in every size.

    Raises GeometryError for a piece whose halves differ by more than `tolerance` mm.
    """
    aliases: dict[str, dict[str, str]] = {}

    def closed(piece: Piece) -> Piece:
        if piece.name not in names:
            return piece
        with working_on(piece):
            half, found = close_half(piece, tolerance)
        aliases[piece.name] = found
        return half

    pieces = tuple(closed(p) for p in pattern.pieces)
    seams = tuple(_closed_seam(s, aliases) for s in pattern.seams if not _all_gone(s, aliases))
    return replace(pattern, pieces=pieces, seams=seams)


def close_half(piece: Piece, tolerance: float) -> tuple[Piece, dict[str, str]]:
    """The half of a symmetric piece right of its centre, looking up, with a fold there.

    The centre is the internal line named `centre`, else the grade axis through the middle
    of the piece. Also returns, for each run of the half that is gone, its twin that stays;
    a run across the fold stays under its own name, halved, and is its own twin.
    """
    a, b = _centre(piece)
    _check_symmetric(piece, affine.mirror(a, b), tolerance)
    cuts = crossings(piece.outline.path, Path.polyline([a, b]))
    if len(cuts) != 2:
        raise GeometryError(
            f"its centre line crosses the outline {len(cuts)} times, not twice",
            cure="Draw an axis line along its middle.",
        )
    old = piece
    for cut in cuts:
        s = float(nearest(piece.outline.path, cut.point[None]).s[0])
        piece = piece.with_vertex(s)
    path = piece.outline.path
    low, high = sorted(
        (int(nearest_vertex(path, cut.point)) for cut in cuts),
        key=lambda v: float(path.vertices[v] @ np.array(piece.up)),
    )
    # Counter-clockwise, the side from the lower to the upper end is the right one.
    half = path.segments(low, high)
    m, n = len(half), len(path)
    whole = Path.join([half, Path.polyline([half.end, half.start])], closed=True)

    def to(v: int) -> int | None:
        i = (v - low) % n
        return i if i <= m else None

    points = [
        Point(i, p.name, p.rule) for p in piece.outline.points if (i := to(p.vertex)) is not None
    ]
    outline = Outline.of(whole, points=sorted(points, key=lambda p: p.vertex))
    aliases: dict[str, str] = {}
    for run in piece.outline.runs:
        i, j = to(run.start), to(run.end)
        name = run.name or ""
        if i is not None and j is not None and i < j:
            outline = outline.with_run(Run(i, j, name))
        elif i is not None or j is not None:
            kept = Run(i, m, name) if i is not None else Run(0, j or 0, name)
            if kept.start < kept.end:
                outline = outline.with_run(kept)
                aliases[name] = name
    for run in piece.outline.runs:
        name = run.name or ""
        twin = name.removesuffix(MIRRORED) if name.endswith(MIRRORED) else name + MIRRORED
        there = {r.name for r in outline.runs}
        if name not in there and twin in there:
            aliases[name] = twin

    def right(x: float, y: float) -> bool:
        step = b - a
        return bool(step[0] * (y - a[1]) - step[1] * (x - a[0]) <= _ON)

    def on_half(p: Path) -> bool:
        return right(*map(float, p.at(p.length / 2)))

    begin = float(path.cumulative[low])
    notches = []
    for notch in piece.notches:
        s = (piece.outline.arc_length_of(notch.at) - begin) % path.length
        if s <= half.length + _ON:
            notches.append(replace(notch, at=outline.spot(s)))
    return (
        old.with_changes(
            "closed to a half on the fold",
            outline=outline,
            cut_line=None,
            fold=Fold(m, 0),
            notches=tuple(notches),
            drills=tuple(d for d in piece.drills if right(*d.at)),
            marks=tuple(
                k for k in piece.marks if "centre" not in (k.name, k.kind) and on_half(k.path)
            ),
            cutouts=tuple(c for c in piece.cutouts if on_half(c.path)),
            labels=tuple(t for t in piece.labels if right(*t.at)),
            adjusts=tuple(k for k in piece.adjusts if on_half(k.path)),
            darts=tuple(
                replace(d, a=i, b=j, tip=None if d.tip is None else to(d.tip))
                for d in piece.darts
                if (i := to(d.a)) is not None and (j := to(d.b)) is not None and i < j
            ),
            pleats=tuple(
                replace(p, a=i, b=j)
                for p in piece.pleats
                if (i := to(p.a)) is not None and (j := to(p.b)) is not None and i < j
            ),
            holds=tuple(
                replace(h, vertices=held)
                for h in piece.holds
                if (held := tuple(i for v in h.vertices if (i := to(v)) is not None))
            ),
        ),
        aliases,
    )


def nearest_vertex(path: Path, point: Floats) -> int:
    """Number of the vertex nearest a point."""
    return int(np.hypot(*(path.vertices - point).T).argmin())


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


def _all_gone(seam: Seam, aliases: dict[str, dict[str, str]]) -> bool:
    """Whether the seam lies wholly on halves that are gone: its twin stands for it."""
    twins = [(aliases.get(p.piece, {}).get(p.run), p.run) for p in (*seam.first, *seam.second)]
    return all(twin not in (None, run) for twin, run in twins)


def _closed_seam(seam: Seam, aliases: dict[str, dict[str, str]]) -> Seam:
    return replace(
        seam,
        first=_closed_chain(seam.first, aliases),
        second=_closed_chain(seam.second, aliases),
    )


def _closed_chain(
    chain: tuple[ChainPart, ...], aliases: dict[str, dict[str, str]]
) -> tuple[ChainPart, ...]:
    parts: list[ChainPart] = []
    for part in chain:
        twin = aliases.get(part.piece, {}).get(part.run)
        if twin is None:
            parts.append(part)
        elif twin == part.run:
            parts.append(replace(part, count=2 * part.count))
        else:
            kept = ChainPart(part.piece, twin, not part.reverse, part.count)
            before = parts[-1] if parts else None
            if before and (before.piece, before.run) == (kept.piece, kept.run):
                parts[-1] = replace(before, count=before.count + kept.count)
            else:
                parts.append(kept)
    return tuple(parts)
