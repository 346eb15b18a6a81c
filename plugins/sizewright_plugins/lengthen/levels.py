"""Where a piece is cut across: along its adjust lines, or level with places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sizewright.drafting import Settled, Span, Zone, with_vertices
from sizewright.errors import GeometryError, InputError, LookupFailed, meant
from sizewright.geometry import Floats, Path, affine, contains, crossings
from sizewright.model import Pattern, Piece, axis_frame, parse_place
from sizewright.units import format_length

#: Lines are led on beyond the piece by this, mm.
_BEYOND = 50.0
#: What lies on a line counts as above it: borders of zones lie lower by this, mm.
_BELOW = 0.01


def with_lines(pattern: Pattern, at: Sequence[str]) -> tuple[str, ...]:
    """The pieces that have adjust lines of the names `at`; LookupFailed where none has."""
    names = (p.name for p in pattern.pieces if any(a.name in at for a in p.adjusts))
    if found := tuple(dict.fromkeys(names)):
        return found
    lines = sorted({a.name for p in pattern.pieces for a in p.adjusts if a.name})
    raise LookupFailed(
        "no piece has an adjust line " + " or ".join(f'"{name}"' for name in at),
        cure=f"{meant(at[0], lines)}Adjust lines: {', '.join(lines) or 'none'}. "
        'To cut level with a place, say piece = "front" as well.',
    )


def lines_on(piece: Piece, at: Sequence[str], known: set[str], settled: Settled) -> list[Path]:
    """The lines across a piece, the highest first, each led on beyond its edges.

    `known` are the names of adjust lines on any of the pieces. Raises LookupFailed for a piece
    that none of `at` speaks of, InputError where two lines cross.
    """
    up = axis_frame(piece)[0].up
    found: list[Path] = []
    for text in at:
        mine = [a.path for a in piece.adjusts if a.name == text]
        if mine or text in known:
            found += [_led_on(piece, path, up) for path in mine]
            continue
        place = parse_place(text)
        if place.piece in (None, piece.name):
            point = settled.place(piece, place).point
            level = np.array([up[1], -up[0]])
            found.append(_led_on(piece, Path.polyline([point - level, point + level]), up))
    if not found:
        names = ", ".join(sorted({a.name for a in piece.adjusts if a.name})) or "none"
        raise LookupFailed(
            f"it has no adjust line {' or '.join(at)}",
            where=piece.title,
            cure=f"Its adjust lines: {names}. Or say a place, as 12 cm down from underarm.",
        )
    order = settled.once(
        f"{piece.name}: order of lines",
        lambda: sorted(range(len(found)), key=lambda k: -float(_middle(found[k]) @ up)),
    )
    found = [found[k] for k in order]
    for one, other in pairwise(found):
        if crossings(one, other):
            raise InputError(
                "two of the lines to lengthen at cross each other",
                where=piece.title,
                cure="Lengthen at one of them.",
            )
    return found


def _middle(path: Path) -> Floats:
    at: Floats = path.at(path.length / 2)
    return at


def _led_on(piece: Piece, path: Path, up: Floats) -> Path:
    """A line led on straight beyond the piece, from its left to its right, looking up."""
    right = np.array([up[1], -up[0]])
    if float((path.end - path.start) @ right) < 0:
        path = path.reversed()
    x0, y0, x1, y1 = piece.outline.path.bounds
    reach = float(np.hypot(x1 - x0, y1 - y0)) + _BEYOND
    ways = path.tangents_out[0], path.tangents_in[-1]
    if path.closed or min(float(way @ right) for way in ways) < 0.5:
        raise InputError(
            "an adjust line does not run across the piece",
            where=piece.title,
            cure="Draw it from edge to edge, square to the axis.",
        )
    before = Path.polyline([path.start - ways[0] * reach, path.start])
    after = Path.polyline([path.end, path.end + ways[1] * reach])
    return Path.join([before, path, after])


@dataclass(frozen=True, eq=False)
class Parted:
    """A piece cut across: its zones from the highest down, and the spans that are left of it."""

    piece: Piece
    zones: tuple[Zone, ...]
    spans: tuple[Span, ...]


def parted(piece: Piece, lines: Sequence[Path], by: float, settled: Settled) -> Parted:
    """The piece cut across at `lines`, what lies below each moved down by its part of `by`, mm.

    A negative `by` takes away the strip below each line. Raises GeometryError where a line
    misses the piece or lies along an edge, and where a strip reaches beyond the next line.
    """
    up = axis_frame(piece)[0].up
    step = by / len(lines)
    tops = lines
    # What lies above a line ends there; what lies below it begins there.
    lows = [line.transformed(affine.translation(*(up * min(step, 0.0)))) for line in lines]
    places: list[float] = []
    for top, low in zip(tops, lows, strict=True):
        for line in (top, low) if step < 0 else (top,):
            met = crossings(piece.outline.path, line)
            along = next((c for c in met if c.kind == "overlap"), None)
            if along is not None:
                x, y = along.point
                raise GeometryError(
                    f"the line lies along an edge near ({x:.0f}, {y:.0f})",
                    where=piece.title,
                    cure="Take a place within the piece, between two edges.",
                )
            places += [c.s0 for c in met if c.kind == "cross"]
        if sum(c.kind == "cross" for c in met) < 2:
            x, y = top.at(top.length / 2)
            what = "the line misses the piece"
            if step < 0:
                what = f"below the line there are no {format_length(-step)} to take away"
            raise GeometryError(
                f"{what} near ({x:.0f}, {y:.0f})",
                where=piece.title,
                cure="Take another place or a smaller amount.",
            )
    places.sort()
    count = settled.once(f"{piece.name}: crossings", lambda: len(places))
    if count != len(places):
        raise GeometryError(
            f"the lines cross its edges {len(places)} times here and {count} times on the base",
            where=piece.title,
            cure="Take a place that lies alike in every size.",
        )
    piece, numbers, _ = with_vertices(piece, places)
    shift = affine.translation(*(-up * _BELOW))
    regions = [
        _between(None if k == 0 else lows[k - 1], None if k == len(lines) else tops[k], up, shift)
        for k in range(len(lines) + 1)
    ]
    zones = [
        Zone(piece, affine.translation(*(-up * step * k)) if k else affine.identity(), region)
        for k, region in enumerate(regions)
    ]
    path, spans = piece.outline.path, list[Span]()
    for a, b in zip(numbers, [*numbers[1:], numbers[0]], strict=True):
        stretch = path.segments(a, b)
        middle = stretch.at(stretch.length / 2)[None]
        zone = next((z for z in zones if z.region and contains(z.region, middle)[0]), None)
        if zone is None:
            continue
        if spans and spans[-1].zone is zone and spans[-1].end == a:
            spans[-1] = Span(zone, spans[-1].start, b)
        else:
            spans.append(Span(zone, a, b))
    return Parted(piece, tuple(zones), tuple(spans))


def _between(above: Path | None, below: Path | None, up: Floats, shift: Floats) -> Path:
    """What lies below the line `above` and above the line `below`, as a closed line."""
    known = below if above is None else above
    assert known is not None
    far = up * known.length
    high = Path.polyline([known.start + far, known.end + far])
    low = Path.polyline([known.start - far, known.end - far])
    high = high if above is None else above.transformed(shift)
    low = low if below is None else below.transformed(shift)
    return Path.ringed([high, low.reversed()])
