"""How two parallels are joined at a corner: mitred, squared, folded back or bevelled."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sizewright.geometry import Floats, Path, affine, crossings

#: A direction that turns by less than this, in degrees, runs on.
_SMOOTH = 3.0
_NEAR = 1e-6


@dataclass(frozen=True)
class Corner:
    """A corner of the sewing line with the parallels that come to it and leave it.

    `before` and `after` are the parallels, carried straight on at both ends by `reach`
    mm. Tangents are those of the sewing line, `out_` are unit vectors outward.
    """

    at: Floats
    before: Path
    after: Path
    reach: float
    way_in: Floats
    way_out: Floats
    out_before: Floats
    out_after: Floats
    w_before: float
    w_after: float

    @property
    def turn(self) -> float:
        """Turn of the sewing line, degrees, left positive."""
        a, b = self.way_in, self.way_out
        return float(np.degrees(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b)))

    @property
    def width(self) -> float:
        """The greater of both widths, mm."""
        return max(self.w_before, self.w_after)

    @property
    def end(self) -> float:
        """Arc length on `before` where the true parallel ends."""
        return self.before.length - self.reach

    @property
    def begin(self) -> float:
        """Arc length on `after` where the true parallel begins."""
        return self.reach

    def flipped(self) -> Corner:
        """The same corner walked the other way."""
        return replace(
            self,
            before=self.after.reversed(),
            after=self.before.reversed(),
            way_in=-self.way_out,
            way_out=-self.way_in,
            out_before=self.out_after,
            out_after=self.out_before,
            w_before=self.w_after,
            w_after=self.w_before,
        )


@dataclass(frozen=True)
class Join:
    """Where `before` ends, what lies between, where `after` begins (arc lengths, mm)."""

    end: float
    between: tuple[Path, ...]
    begin: float


def join(corner: Corner, kind: str, squared_first: bool, limit: float) -> Join:
    """The two parallels of a corner joined as `kind` says.

    `squared_first`: a squared or folded corner belongs to the edge that comes to the
    corner, not to the one that leaves it. `limit` in widths, for mitres.
    """
    if np.hypot(*(corner.before.at(corner.end) - corner.after.at(corner.begin))) <= _NEAR:
        return Join(corner.end, (), corner.begin)
    if abs(corner.turn) < _SMOOTH:
        return _straight(corner)
    if corner.turn < 0 or min(corner.w_before, corner.w_after) == 0.0:
        return _mitre(corner, limit)
    if kind == "bevel":
        return _straight(corner)
    if kind in ("square", "fold-back"):
        shape = _square if kind == "square" else _fold_back
        found = shape(corner, limit) if squared_first else _unflipped(corner, shape, limit)
        if found is not None:
            return found
    return _mitre(corner, limit)


def _straight(corner: Corner) -> Join:
    return Join(corner.end, (), corner.begin)


def _unflipped(
    corner: Corner, shape: Callable[[Corner, float], Join | None], limit: float
) -> Join | None:
    found = shape(corner.flipped(), limit)
    if found is None:
        return None
    return Join(
        corner.before.length - found.begin,
        tuple(p.reversed() for p in found.between[::-1]),
        corner.after.length - found.end,
    )


def _mitre(corner: Corner, limit: float) -> Join:
    """Both lines carried on until they meet; cut off square beyond the limit."""
    found = meeting(corner.before, corner.after, corner.end, corner.begin)
    most = limit * corner.width
    if found is not None:
        s, r = found
        away = corner.before.at(s) - corner.at
        within = s <= corner.end + _NEAR and r >= corner.begin - _NEAR
        if within or float(np.hypot(*away)) <= most:
            return Join(s, (), r)
    elif corner.turn > 0:
        # So sharp that they meet far off: the way between both edges.
        away = corner.way_in - corner.way_out
    else:
        return _straight(corner)
    way = away / np.hypot(*away)
    across = np.array([-way[1], way[0]]) * 2 * corner.reach
    foot = corner.at + way * most
    cut = Path.polyline(np.array([foot - across, foot + across]))
    a = meeting(corner.before, cut, corner.end, 2 * corner.reach)
    b = meeting(cut, corner.after, 2 * corner.reach, corner.begin)
    if a is None or b is None:
        return _straight(corner)
    return Join(max(a[0], corner.end), (), min(b[1], corner.begin))


def _square(corner: Corner, limit: float) -> Join | None:
    """The allowance of `before` ends at right angles to its seam.

    The sewing line of `before` is carried on to the cutting line of `after`; from there
    the end goes square out.
    """
    met = _seam_carried_on(corner, limit)
    if met is None:
        return None
    k, point = met
    out = point + corner.out_before * corner.w_before
    end = corner.end + float((out - corner.before.at(corner.end)) @ corner.way_in)
    if end > corner.before.length or end < corner.end - _NEAR:
        return None
    return Join(end, (Path.polyline([corner.before.at(end), point]),), k)


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
    last = min(k + 3 * corner.w_before, corner.after.length)
    if last - k <= _NEAR:
        return None
    image = corner.after.part(k, last).transformed(mirror)
    cut = meeting(corner.before, image, corner.end, 0.0)
    if cut is None:
        return None
    end, along = cut
    if along <= _NEAR:
        return None
    return Join(end, (image.part(0.0, along).reversed(),), k)


def _seam_carried_on(corner: Corner, limit: float) -> tuple[float, Floats] | None:
    """Where the sewing line of `before`, carried on, meets the parallel of `after`."""
    most = limit * corner.width
    ray = Path.polyline([corner.at, corner.at + corner.way_in * most])
    found = meeting(ray, corner.after, 0.0, corner.begin)
    if found is None:
        return None
    return found[1], ray.at(found[0])


def meeting(a: Path, b: Path, near_a: float, near_b: float) -> tuple[float, float] | None:
    """Arc lengths on both of the crossing nearest to two places on them; None without any."""
    found = [(c.s0, c.s1) for c in crossings(a, b)]
    return min(found, key=lambda p: abs(p[0] - near_a) + abs(p[1] - near_b), default=None)
