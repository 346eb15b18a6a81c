"""How two parallels are joined at a corner: mitred, squared, folded back or bevelled."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...geometry import affine
from ...geometry.crossings import crossings
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model.allowances import CornerKind
from .sides import SMOOTH, TOLERANCE

_NEAR = 1e-6
_FITTED = 4 * TOLERANCE


@dataclass(frozen=True, eq=False)
class Corner:
    """A corner of the sewing line with the parallels that come to it and leave it.

    Arc lengths on `before` past its end, and on `after` below nothing, lie on its end tangent
    carried on. `way_` are tangents of the sewing line, `w_` the widths at the corner, mm.
    """

    at: Floats
    before: Path
    after: Path
    way_in: Floats
    way_out: Floats
    w_before: float
    w_after: float

    @property
    def turn(self) -> float:
        """Turn of the sewing line, degrees, left positive."""
        a, b = self.way_in, self.way_out
        return float(np.degrees(np.arctan2(_cross(a, b), a @ b)))

    @property
    def width(self) -> float:
        """The greater of both widths, mm."""
        return max(self.w_before, self.w_after)

    def flipped(self) -> Corner:
        """The same corner walked the other way; its parallels lie to the left then."""
        return replace(
            self,
            before=self.after.reversed(),
            after=self.before.reversed(),
            way_in=-self.way_out,
            way_out=-self.way_in,
            w_before=self.w_after,
            w_after=self.w_before,
        )


@dataclass(frozen=True, eq=False)
class Join:
    """Where `before` ends, what lies between, where `after` begins (arc lengths, mm)."""

    end: float
    between: tuple[Path, ...]
    begin: float

    def flipped(self, corner: Corner) -> Join:
        """The join of a flipped corner as one of `corner` itself."""
        return Join(
            corner.before.length - self.begin,
            tuple(p.reversed() for p in self.between[::-1]),
            corner.after.length - self.end,
        )


def join(corner: Corner, kind: CornerKind, belongs_before: bool, limit: float) -> Join:
    """The two parallels of a corner joined as `kind` says.

    `belongs_before`: a squared or folded corner belongs to the edge that comes to the
    corner, not to the one that leaves it. `limit` in widths, for mitres.
    """
    if np.hypot(*(corner.before.end - corner.after.start)) <= _NEAR:
        return straight(corner)
    if abs(corner.turn) < SMOOTH:
        return straight(corner)
    if corner.turn < 0 or min(corner.w_before, corner.w_after) == 0.0:
        return _mitre(corner, limit)
    if kind == "bevel":
        return straight(corner)
    if kind in ("square", "fold-back"):
        shape: Callable[[Corner, float], Join | None]
        shape = _square if kind == "square" else _fold_back
        if belongs_before:
            found = shape(corner, limit)
        else:
            other = shape(corner.flipped(), limit)
            found = None if other is None else other.flipped(corner)
        if found is not None:
            return found
    return _mitre(corner, limit)


def straight(corner: Corner) -> Join:
    """Both parallels as they are, with a straight step between them."""
    return Join(corner.before.length, (), 0.0)


def carried(path: Path, s: float) -> Floats:
    """The point at arc length `s` of an open path whose end tangents are carried on."""
    if s <= 0:
        before: Floats = path.start + s * path.tangents_out[0]
        return before
    if s >= path.length:
        past: Floats = path.end + (s - path.length) * path.tangents_in[-1]
        return past
    return path.at(s)


def stretch(path: Path, low: float, high: float) -> list[Path]:
    """The line from `low` to `high`, on the end tangents carried on too; none of no length."""
    parts = []
    if low < -_NEAR:
        parts.append(Path.polyline(np.array([carried(path, low), carried(path, min(high, 0.0))])))
    inner = max(low, 0.0), min(high, path.length)
    if inner[1] - inner[0] > _NEAR:
        parts.append(path.part(*inner))
    if high > path.length + _NEAR:
        first = carried(path, max(low, path.length))
        parts.append(Path.polyline(np.array([first, carried(path, high)])))
    return parts


def chained(parts: Sequence[Path]) -> Path:
    """A closed line of open ones in order, with straight steps where the next begins apart.

    Where it begins as near as the fit of curves lets it, it is drawn to the end before it.
    """
    linked: list[Path] = []
    for k, part in enumerate(parts):
        before = parts[k - 1]
        if np.hypot(*(before.end - part.start)) > _FITTED:
            linked.append(Path.polyline(np.array([before.end, part.start])))
        linked.append(part)
    return Path.join(linked, closed=True)


def _mitre(corner: Corner, limit: float) -> Join:
    """Both lines carried on until they meet; cut off square beyond the limit."""
    most = limit * corner.width
    found = _met(corner, most)
    if found is not None:
        end, begin = found
        away = carried(corner.before, end) - corner.at
        within = end <= corner.before.length + _NEAR and begin >= -_NEAR
        if within or float(np.hypot(*away)) <= most + _NEAR:
            return Join(end, (), begin)
    elif corner.turn > 0:
        # So sharp that they meet far off: the way between both edges.
        away = corner.way_in - corner.way_out
    else:
        return straight(corner)
    way = away / np.hypot(*away)
    foot = corner.at + way * most
    across = np.array([-way[1], way[0]])
    a = _on_line(corner.before.end, corner.before.tangents_in[-1], foot, across)
    b = _on_line(corner.after.start, corner.after.tangents_out[0], foot, across)
    if a is None or b is None:
        return straight(corner)
    return Join(corner.before.length + max(a, 0.0), (), min(b, 0.0))


def _met(corner: Corner, most: float) -> tuple[float, float] | None:
    """Arc lengths where both parallels meet, carried on where need be; None where nowhere."""
    a, b = corner.before, corner.after
    x = _on_line(a.end, a.tangents_in[-1], b.start, b.tangents_out[0])
    y = _on_line(b.start, b.tangents_out[0], a.end, a.tangents_in[-1])
    if x is not None and y is not None:
        # Lines meet as they lie; curves only on their tangents carried on.
        room_a = float(a.segment_lengths[-1]) if a.lines[-1] else 0.0
        room_b = float(b.segment_lengths[0]) if b.lines[0] else 0.0
        if -room_a - _NEAR <= x < 4 * most and -4 * most < y <= room_b + _NEAR:
            return a.length + x, y
    # Where the sewing line turns inward nothing is carried on to find a crossing.
    reach = 2 * most + 1.0 if corner.turn > 0 else 0.0
    first = Path.join(stretch(a, 0.0, a.length + reach))
    second = Path.join(stretch(b, -reach, b.length))
    near = [(c.s0, c.s1 - reach) for c in crossings(first, second)]
    return min(near, key=lambda p: abs(p[0] - a.length) + abs(p[1]), default=None)


def _square(corner: Corner, limit: float) -> Join | None:
    """The allowance of `before` ends at right angles to its seam.

    The sewing line of `before` is carried on to the cutting line of `after`; from there
    the end goes square out.
    """
    met = _seam_carried_on(corner, limit)
    if met is None:
        return None
    k, point = met
    # The parallel is straight past its end, so the square end lies where the point does on it.
    past = float((point - corner.before.end) @ corner.way_in)
    end = corner.before.length + past
    if past < -_NEAR:
        return None
    return Join(end, (Path.polyline(np.array([carried(corner.before, end), point])),), k)


def _fold_back(corner: Corner, limit: float) -> Join | None:
    """The allowance of `before`, folded back along its seam, lies on the piece's edge.

    From where the fold meets the cutting line of `after`, its end is that cutting line
    mirrored across the fold.
    """
    met = _seam_carried_on(corner, limit)
    if met is None:
        return None
    k, point = met
    mirror = affine.mirror(point, point + corner.way_in)
    last = min(k + 3 * corner.w_before, corner.after.length + corner.w_before)
    if last - k <= _NEAR:
        return None
    image = Path.join(stretch(corner.after, k, last)).transformed(mirror)
    reach = limit * corner.width + 3 * corner.w_before
    long = Path.join(stretch(corner.before, 0.0, corner.before.length + reach))
    near = corner.before.length
    found = [(c.s0, c.s1) for c in crossings(long, image) if c.s1 > _NEAR]
    if not found:
        return None
    end, along = min(found, key=lambda p: abs(p[0] - near) + p[1])
    return Join(end, (image.part(0.0, along).reversed(),), k)


def _seam_carried_on(corner: Corner, limit: float) -> tuple[float, Floats] | None:
    """Where the sewing line of `before`, carried on, meets the parallel of `after`."""
    return ray_meets(corner.at, corner.way_in, corner.after, limit * corner.width)


def ray_meets(at: Floats, way: Floats, path: Path, most: float) -> tuple[float, Floats] | None:
    """Where a ray of `most` mm meets a parallel, carried back at its start; and the point."""
    y = _on_line(path.start, path.tangents_out[0], at, way)
    x = _on_line(at, way, path.start, path.tangents_out[0])
    room = float(path.segment_lengths[0]) if path.lines[0] else 0.0
    if x is not None and y is not None and y <= room + _NEAR and 0 <= x <= most:
        return y, carried(path, y)
    ray = Path.polyline(np.array([at, at + way * most]))
    found = [(c.s1, c.point) for c in crossings(ray, path)]
    return min(found, key=lambda p: p[0], default=None)


def _on_line(at: Floats, way: Floats, other: Floats, along: Floats) -> float | None:
    """How far from `at` along `way` the line through `other` along `along` is met."""
    cross = _cross(way, along)
    if abs(cross) < 1e-12:
        return None
    return _cross(other - at, along) / cross


def _cross(a: Floats, b: Floats) -> float:
    return float(a[0] * b[1] - a[1] * b[0])
