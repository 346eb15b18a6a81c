"""Pieces larger than any panel, cut in parts by the fewest straight seams."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np

from ..errors import GeometryError
from ..findings import Finding
from ..geometry.crossings import crossings
from ..geometry.flatten import flatten
from ..geometry.path import Path
from ..geometry.regions import contains
from ..model import Grain, Label, Mark, Outline, Piece
from ..units import format_length
from .cloth import CHORD, Cloth
from .items import ON_FOLD, Item, grain_angle
from .looking import fits_alone

#: So many seams at most go through one piece; one seam is tried at so many places.
_MOST_SEAMS, _PLACES = 4, 15
# Pixels by which it is settled whether a part lies on a panel, mm; parts are taken to be so much
# larger all round that what fits by pixels fits.
_PIXEL, _SURE = 6.0, -4.3
_SEAM = "piecing seam"


def pieced(cloth: Cloth, items: Sequence[Item]) -> tuple[list[Item], list[Finding]]:
    """The items, those that lie nowhere alone as parts with an allowance at their new seams.

    What no few seams help stays as it is; what is cut on a fold stays whole.
    """
    found: list[Item] = []
    findings: list[Finding] = []
    parts_of: dict[tuple[str, str | None], tuple[Piece, ...]] = {}
    alone: dict[tuple[Any, str], bool] = {}
    for item in items:
        if item.side == ON_FOLD:
            found.append(item)
            continue
        key = item.piece.key
        if (key, item.side) not in alone:
            alone[key, item.side] = lies_alone(cloth, item)
        if alone[key, item.side]:
            found.append(item)
            continue
        if key not in parts_of:
            parts_of[key], told = _parts(cloth, item)
            findings.append(told)
        found += [replace(item, piece=part) for part in parts_of[key]] or [item]
    return found, findings


def lies_alone(cloth: Cloth, item: Item) -> bool:
    """Whether an item lies on an empty cloth: of panels, surely, by pixels of 6 mm."""
    if not fits_alone(cloth, item) or cloth.width is not None:
        return fits_alone(cloth, item)
    from .on_panels import OnPanels
    from .panels.ground import Ground
    from .panels.level import Level

    ground = Ground(OnPanels((item,), cloth.panels).task(cloth, 1.0, 1))
    pixels = Level(ground, _PIXEL, _SURE)
    stamps = (pixels.stamp(ground.shapes[0], turn) for turn in range(len(cloth.turns)))
    return any(all(s.rooms) and bool((s.off < 0.25).any()) for s in stamps)


def _parts(cloth: Cloth, item: Item) -> tuple[tuple[Piece, ...], Finding]:
    piece = item.piece
    whole = Item(piece, 1, "as drawn").level
    flat = piece.drawn.path.transformed(whole)
    x0, y0, x1, y1 = flat.bounds
    for seams in range(1, _MOST_SEAMS + 1):
        ways: list[tuple[float, tuple[Piece, ...], str]] = []
        for across, low, high in ((0, x0, x1), (1, y0, y1)):
            for cuts in _cuts(seams, low, high):
                parts = _cut(piece, flat, whole, across, cuts, cloth.piecing)
                if parts and all(lies_alone(cloth, replace(item, piece=p)) for p in parts):
                    words = "across" if across == 0 else "along"
                    ways.append((_long(flat, across, cuts), parts, words))
        if ways:
            _, parts, words = min(ways, key=lambda way: way[0])
            text = (
                f"it lies on no panel whole: cut in {len(parts)} by {seams} "
                f"seam{'s' if seams > 1 else ''} {words} the grain, with "
                f"{format_length(cloth.piecing)} of allowance on both sides"
            )
            lost = " Its notches are not on the parts." if piece.notches else ""
            cure = f"Sew it together first, along the marked lines.{lost}"
            return parts, Finding(
                "pieced", "warn", text, piece.name, piece.size or "", cloth.name, cure
            )
    text = f"it lies on no panel, and no {_MOST_SEAMS} straight seams help"
    return (), Finding("pieced", "warn", text, piece.name, piece.size or "", cloth.name)


def _cuts(seams: int, low: float, high: float) -> Iterator[tuple[float, ...]]:
    """Where so many seams could run: one at several places, more of them evenly."""
    if seams > 1:
        yield tuple(float(c) for c in np.linspace(low, high, seams + 2)[1:-1])
        return
    for share in np.linspace(0.15, 0.85, _PLACES):
        yield (float(low + share * (high - low)),)


def _line(flat: Path, across: int, at: float) -> Path:
    x0, y0, x1, y1 = flat.bounds
    ends = [(at, y0 - 9), (at, y1 + 9)] if across == 0 else [(x0 - 9, at), (x1 + 9, at)]
    return Path.polyline(ends)


def _long(flat: Path, across: int, cuts: Sequence[float]) -> float:
    """How long the seams are together, mm."""
    total = 0.0
    for at in cuts:
        found = sorted(c.s0 for c in crossings(_line(flat, across, at), flat))
        total += found[-1] - found[0] if found else 0.0
    return total


def _cut(
    piece: Piece, flat: Path, whole: Any, across: int, cuts: Sequence[float], allowance: float
) -> tuple[Piece, ...]:
    """The parts between cuts, each reaching over them by the allowance; empty where that fails."""
    back = np.linalg.inv(np.vstack([whole, [0.0, 0.0, 1.0]]))[:2]
    edges = [-np.inf, *cuts, np.inf]
    parts = []
    for k, (low, high) in enumerate(pairwise(edges), start=1):
        part: Path | None = flat
        if np.isfinite(low):
            part = _beyond(flat, across, low - allowance, upper=True)
        if np.isfinite(high) and part is not None:
            part = _beyond(part, across, high + allowance, upper=False)
        if part is None:
            return ()
        seams = [
            s for c in cuts if c in (low, high) and (s := _within(part, across, c)) is not None
        ]
        outline = part.transformed(back)
        if outline.area < 0:
            outline = outline.reversed()
        middle = flatten(outline, CHORD).mean(axis=0)
        turn = np.radians(grain_angle(piece))
        along = 20.0 * np.array([np.cos(turn), np.sin(turn)])
        a, b = middle - along, middle + along
        ends = piece.grain.ends if piece.grain is not None else 2
        name = f"{piece.name} part {k}"
        marks = [m for m in piece.marks if _in(outline, m.path.start)]
        marks += [Mark(s.transformed(back), _SEAM) for s in seams]
        labels = (Label(f"part {k} of {len(cuts) + 1}", (float(middle[0]), float(middle[1]))),)
        parts.append(
            Piece(
                name,
                Outline.of(outline),
                kind="cut",
                size=piece.size,
                quantity=piece.quantity,
                pair=piece.pair,
                faces=piece.faces,
                grain=Grain((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), ends),
                labels=labels,
                story=(*piece.story, f"part {k} of {len(cuts) + 1}, pieced"),
                marks=tuple(marks),
                drills=tuple(d for d in piece.drills if _in(outline, d.at)),
                cutouts=tuple(c for c in piece.cutouts if _in(outline, c.path.start)),
            )
        )
    return tuple(parts)


def _beyond(path: Path, across: int, at: float, *, upper: bool) -> Path | None:
    """What of a closed path lies above (else below) a straight line; None unless it is one part."""
    found = sorted({round(c.s1, 6) for c in crossings(_line(path, across, at), path)})
    if len(found) != 2:
        return None
    for a, b in (found, found[::-1]):
        try:
            part = path.part(a, b)
        except GeometryError:
            return None
        middle = float(part.at(np.array(part.length / 2))[across])
        if (middle > at) == upper:
            close = Path.polyline([part.end, part.start])
            return Path.join([part, close], closed=True)
    return None


def _within(path: Path, across: int, at: float) -> Path | None:
    """The stretch of a straight line within a closed path."""
    line = _line(path, across, at)
    found = sorted(c.s0 for c in crossings(line, path))
    return line.part(found[0], found[-1]) if len(found) >= 2 and found[-1] > found[0] else None


def _in(path: Path, at: Any) -> bool:
    return bool(contains(path, np.array([at], dtype=np.float64))[0])
