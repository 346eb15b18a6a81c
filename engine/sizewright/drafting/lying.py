"""What lies within a piece: carried with the zone that it lies in, and cut at that one's border.

Drill holes, marks, cut-outs, labels and adjust lines; the grain line and the axis.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any, TypeVar

import numpy as np

from ..errors import GeometryError
from ..geometry import affine
from ..geometry.crossings import crossings
from ..geometry.nearest import nearest
from ..geometry.path import Path
from ..geometry.regions import centroid, contains
from ..geometry.straight import merged_lines
from ..geometry.types import Floats
from ..model.carrying import free_points, moved
from ..model.features import Axis, Cutout, Grain, Label
from ..model.piece import Piece
from .ring import Drawn, Settled, Zone

_Lying = TypeVar("_Lying", Grain, Axis)

_SAME = 1e-6
#: What is left of a line that is cut at a border is dropped when it is shorter, mm.
_SHORT = 1e-3


def on_side(feature: Any, zone: Zone) -> bool:
    """Whether a feature is on the wearer's side that goes with a zone."""
    side = getattr(feature, "side", "both")
    return side == "both" or zone.side in ("both", side)


def with_ending(feature: Any, zone: Zone) -> Any:
    """The feature with what its zone puts to every name."""
    words = getattr(feature, "name", None)
    return replace(feature, name=words + zone.ending) if words and zone.ending else feature


def moved_with(feature: Any, zone: Zone) -> Any:
    """The feature moved as its zone is."""
    if zone.still:
        return feature
    new = moved(feature, lambda p: affine.apply(zone.move, p))
    # Words are not mirrored: they stand at their new place as they stood.
    return replace(new, angle=feature.angle) if zone.mirrored and hasattr(new, "angle") else new


def lying_free(name: str, drawn: Drawn, kind: str, settled: Settled) -> Iterator[tuple[Any, Any]]:
    """Drill holes, marks, cut-outs, labels, adjust lines: each with the zone that it lies in."""
    if drawn.ring.bridged and kind in ("marks", "adjusts"):
        yield from _bridged(drawn, kind)
        return
    for z, zone in enumerate(drawn.ring.zones):
        for k, feature in enumerate(getattr(zone.piece, kind)):
            if isinstance(feature, Label) and zone.mirrored and zone.ending:
                continue  # words are not mirrored
            if on_side(feature, zone):
                what = f"{name}: {kind} {k} in {z}"
                for part in _within(feature, zone, what, settled):
                    yield feature, with_ending(moved_with(part, zone), zone)


def _within(feature: Any, zone: Zone, what: str, settled: Settled) -> Iterator[Any]:
    """A feature as far as it lies in a zone; a line is cut where the piece was cut."""
    path = getattr(feature, "path", None)
    if zone.region is None:
        yield feature
    elif not isinstance(path, Path):
        if settled.once(what, lambda: inside_zone(zone, free_points(feature)[0])):
            yield feature
    else:
        parts = _cut(path, zone)
        if isinstance(feature, Cutout) and parts and parts != [path]:
            x0, y0, x1, y1 = path.bounds
            raise GeometryError(
                f"a cut-out near ({(x0 + x1) / 2:.0f}, {(y0 + y1) / 2:.0f}) lies across the cut",
                where=zone.piece.name,
                cure="Move the line away from it.",
            )
        for part in parts:
            yield feature if part is path else replace(feature, path=part)


def _bridged(drawn: Drawn, kind: str) -> Iterator[tuple[Any, Any]]:
    """Marks or adjust lines that run on, straight, over what a cut opened."""
    # What lies along a cut goes with what stays.
    order = sorted(drawn.ring.zones, key=lambda zone: zone is not drawn.ring.staying)
    for piece in {id(zone.piece): zone.piece for zone in drawn.ring.zones}.values():
        zones = [zone for zone in order if zone.piece is piece and zone.region]
        for feature in getattr(piece, kind):
            path: Path = feature.path
            cuts = [c.s0 for zone in zones if zone.region for c in crossings(path, zone.region)]
            stretches: list[tuple[float, float, Zone]] = []
            for a, b in _bounds(path, cuts):
                at, outside = _on_piece(piece, path.at(((a + b) / 2) % path.length))
                zone = next((z for z in zones if _in_zone(z, at, outside)), None)
                if zone is not None and stretches and stretches[-1][1:] == (a, zone):
                    stretches[-1] = (stretches[-1][0], b, zone)
                elif zone is not None:
                    stretches.append((a, b, zone))
            if len({id(zone) for _, _, zone in stretches}) == 1:
                whole = sum(b - a for a, b, _ in stretches) > path.length - _SHORT
                if whole:
                    yield feature, moved_with(feature, stretches[0][2])
                    continue
            if stretches:
                yield feature, replace(feature, path=_joined(path, stretches))


def _joined(path: Path, stretches: Sequence[tuple[float, float, Zone]]) -> Path:
    """Stretches of a line moved with their zones, straight from one to the next."""
    parts: list[Path] = []
    for a, b, zone in stretches:
        part = path.part(a, b)
        part = part if zone.still else part.transformed(zone.move)
        if parts and float(np.hypot(*(part.start - parts[-1].end))) > _SAME:
            parts.append(Path.polyline([parts[-1].end, part.start]))
        parts.append(part)
    if path.closed and float(np.hypot(*(parts[0].start - parts[-1].end))) > _SAME:
        parts.append(Path.polyline([parts[-1].end, parts[0].start]))
    return merged_lines(Path.join(parts, closed=path.closed))


def inside_zone(zone: Zone, point: Floats) -> bool:
    """Whether a point of the old piece lies in a zone; one outside the piece goes with the
    nearest place of its outline."""
    return _in_zone(zone, *_on_piece(zone.piece, point))


def _on_piece(piece: Piece, point: Floats) -> tuple[Floats, bool]:
    """A point as (1, 2), one outside the piece put onto its outline, and whether it was outside."""
    old, at = piece.outline.path, np.asarray(point, dtype=np.float64).reshape(1, 2)
    if contains(old, at)[0]:
        return at, False
    return old.at(nearest(old, at).s), True


def _in_zone(zone: Zone, at: Floats, outside: bool) -> bool:
    assert zone.region is not None
    if outside and zone.edge is not None and float(nearest(zone.edge, at).distance[0]) > _SHORT:
        return False
    return inside(zone.region, at)


def _cut(path: Path, zone: Zone) -> list[Path]:
    """The parts of a line in a zone, cut at its border but not at the old outline."""
    return _parts(path, _cut_places(path, zone), lambda middle: inside_zone(zone, middle))


def _cut_places(path: Path, zone: Zone) -> list[float]:
    """Where the border of a zone cuts a line, the old outline left out."""
    assert zone.region is not None
    old = zone.edge or zone.piece.outline.path
    return [
        c.s0
        for c in crossings(path, zone.region)
        if float(nearest(old, c.point[None]).distance[0]) > _SHORT
    ]


def clipped(path: Path, region: Path) -> list[Path]:
    """The parts of a line within a closed line; the line itself where all of it is."""
    cuts = [c.s0 for c in crossings(path, region)]
    return _parts(path, cuts, lambda middle: inside(region, middle))


def inside(region: Path, point: Any) -> bool:
    """Whether a point (2,) lies within a closed line or on it."""
    at = np.asarray(point, dtype=np.float64).reshape(1, 2)
    (x, y), (x0, y0, x1, y1) = at[0].tolist(), region.bounds
    if max(x0 - x, x - x1, y0 - y, y - y1) >= _SAME:
        return False
    return bool(contains(region, at)[0]) or float(nearest(region, at).distance[0]) < _SAME


def _parts(path: Path, cuts: Iterable[float], kept: Callable[[Floats], bool]) -> list[Path]:
    pairs = _bounds(path, cuts)
    inner = [kept(path.at(((a + b) / 2) % path.length)) for a, b in pairs]
    if all(inner):
        return [path]
    return [path.part(a, b) for (a, b), yes in zip(pairs, inner, strict=True) if yes]


def _bounds(path: Path, cuts: Iterable[float]) -> list[tuple[float, float]]:
    """The stretches of a line between cuts, by arc length; ends of an open line are no cuts."""
    at = sorted({s for s in cuts if path.closed or _SAME < s < path.length - _SAME})
    if not at:
        return [(0.0, path.length)]
    bounds = [*at, at[0] + path.length] if path.closed else [0.0, *at, path.length]
    return [(a, b) for a, b in pairwise(bounds) if b - a > _SHORT]


def grain_within(grain: _Lying | None, path: Path) -> _Lying | None:
    """The grain line or axis as it was; one that does not lie within the new outline is put
    into it."""
    if grain is None:
        return None
    a, b = np.array(grain.start), np.array(grain.end)
    long = float(np.hypot(*(b - a)))
    middle = (a + b) / 2
    if long == 0.0 or all(inside(path, at) for at in (a, middle, b)):
        return grain
    way = (b - a) / long
    middle = middle if inside(path, middle) else centroid(path)
    x0, y0, x1, y1 = path.bounds
    reach = float(np.hypot(x1 - x0, y1 - y0))
    across = clipped(Path.polyline([middle - way * reach, middle + way * reach]), path)
    longest = max(across, key=lambda part: part.length, default=None)
    if longest is None:
        return grain
    centre, half = longest.at(longest.length / 2), min(long, 0.8 * longest.length) / 2
    (ax, ay), (bx, by) = centre - way * half, centre + way * half
    return replace(grain, start=(float(ax), float(ay)), end=(float(bx), float(by)))
