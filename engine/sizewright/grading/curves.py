"""How the control points of curves follow the vertices that are settled.

A tangent handle h at a vertex goes to h times the complex ratio (t + d) / t, where t is
the unit tangent there and d, its change for each mm along the curve, is linear in the
amounts. Both handles of a smooth vertex take the same ratio, so the angle between them
cannot change; a curve's handle beside a straight segment takes that segment's ratio.
All of it depends on the base outline alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from ..geometry.path import Path
from ..geometry.straight import straight_segments
from ..geometry.types import Bools, Floats
from .stations import pairs, uses_coordinate

#: A segment this near to its chord, mm, counts as straight.
STRAIGHT = 1e-6
#: A section that leaves its chord by a smaller share of its length is straight, by a
#: larger one curved; between them it is blended.
_BOWED = (1e-4, 1e-3)
#: A tangent keeps its direction along an axis where it lies along it, and is free from
#: this sine of the angle on (3 degrees); between them it is blended.
_ALIGNED = 0.052335956242943835
#: A chain of straight segments that turns less than this in all, degrees, moves as one
#: straight line does.
_NEARLY_STRAIGHT = 6.0
#: Straight segments that turn less than this, degrees, run on as one line.
_EXACTLY = 0.01
_NO_HANDLE = 1e-9


def follow(
    path: Path,
    corners: Bools,
    weights: Floats,
    known: Bools,
    rigid: Bools,
    told: Mapping[tuple[int, int], Floats] | None = None,
) -> Floats:
    """Weights (n, 3, 2, columns) of each segment's first three control points.

    `path` is closed, in (width, length) coordinates; `corners` (n,) tells its corners;
    `weights` (n, 2, columns) hold for the vertices where `known` (at least one); `rigid`
    (n,) tells the segments that are held whole. `told` gives for ends of segments (its number,
    0 for its start or 1) the change (2, columns) for each mm outwards, where it is settled.
    """
    work = _Curves(path, corners, weights.copy(), known, rigid)
    for chain in pairs(np.flatnonzero(known), len(path)):
        work.section(chain)
    work.place_handles()
    work.place_told(told or {})
    return np.concatenate([work.weights[:, None], work.handles], axis=1)


class _Section(NamedTuple):
    """How one stretch between settled vertices moves.

    `change` (2, columns) is what its end gains over its start; `length` in mm. For each
    axis `span` is the coordinate difference where coordinates rule, else None; then
    `slopes` are the end slopes of the share of `change` that a share of length takes.
    """

    change: Floats
    length: float
    span: tuple[float | None, float | None]
    slopes: tuple[tuple[float, float], tuple[float, float]]

    def share(self, axis: int, u: float) -> float:
        """The share of the change taken at share `u` of the length: a cubic of Hermite."""
        m0, m1 = self.slopes[axis]
        rest = 1.0 - u
        return u * u * (3 - 2 * u) + u * rest * rest * m0 - u * u * rest * m1

    def slope(self, u: float, tangent: Floats) -> Floats:
        """Change (2, columns) for each mm along the curve at share `u` of the length."""
        out = np.zeros_like(self.change)
        for axis in (0, 1):
            span = self.span[axis]
            if span is not None:
                out[axis] = self.change[axis] * (tangent[axis] / span)
            elif self.length > 0:
                m0, m1 = self.slopes[axis]
                d = 6 * u * (1 - u) + (1 - u) * (1 - 3 * u) * m0 + u * (3 * u - 2) * m1
                out[axis] = self.change[axis] * (d / self.length)
        return out


class _Curves:
    """The work on one outline: vertices section by section, then all handles."""

    def __init__(
        self, path: Path, corners: Bools, weights: Floats, known: Bools, rigid: Bools
    ) -> None:
        self.path, self.local, self.corners = path, path.controls, corners
        self.weights, self.known, self.rigid = weights, known, rigid
        n = len(path)
        self.straight = straight_segments(path, STRAIGHT)
        self.tangents_out, self.tangents_in = path.tangents_out, path.tangents_in
        columns = weights.shape[2]
        self.handles = np.zeros((n, 2, 2, columns))
        # Change per mm along the curve at the start and at the end of each segment.
        self.start_slope = np.zeros((n, 2, columns))
        self.end_slope = np.zeros((n, 2, columns))
        self.section_length = np.zeros(n)

    # --- one section ------------------------------------------------------------

    def section(self, chain: list[int]) -> None:
        """Settle the smooth vertices inside a section, and the slopes at all of them."""
        segments = chain[:-1]
        lengths = self.path.segment_lengths[segments]
        length = float(lengths.sum())
        self.section_length[segments] = length
        start, end = self.weights[chain[0]], self.weights[chain[-1]]
        change = end - start
        if self._turns_as_a_line(chain):
            self._as_a_line(chain, change)
            return
        points = self.local[segments]
        first, last = points[0, 0], points[-1, 3]
        span: list[float | None] = []
        slopes: list[tuple[float, float]] = []
        for axis in (0, 1):
            by_place = uses_coordinate(points[..., axis], first[axis], last[axis], length)
            span.append(float(last[axis] - first[axis]) if by_place else None)
            slopes.append(self._end_slopes(chain, points, axis, length))
        one = _Section(change, length, (span[0], span[1]), (slopes[0], slopes[1]))
        along = np.concatenate([[0.0], np.cumsum(lengths)])
        share = along / length if length > 0 else np.linspace(0.0, 1.0, len(along))
        for k, v in enumerate(chain[1:-1], start=1):
            for axis in (0, 1):
                reach = span[axis]
                here = self.local[v, 0, axis] - first[axis]
                f = one.share(axis, share[k]) if reach is None else here / reach
                self.weights[v, axis] = start[axis] + f * change[axis]
        self._keep_straight_stretches(chain)
        for k, segment in enumerate(segments):
            if self.rigid[segment]:
                continue
            nxt = chain[k + 1]
            self.start_slope[segment] = one.slope(share[k], self._tangent(chain[k], segment, 0))
            self.end_slope[segment] = one.slope(share[k + 1], self._tangent(nxt, segment, 1))

    def _keep_straight_stretches(self, chain: list[int]) -> None:
        """Vertices inside a straight stretch of a section stay on the line of its ends.

        So do those of one that turns a little in all, which keeps its turns. One that turns
        more is a curve in chords: only what runs on exactly straight is kept so.
        """
        for stretch in self._stretches(chain, 180.0):
            turn = float(np.abs(self.path.turns[stretch[1:-1]]).sum())
            parts = [stretch]
            if turn > _NEARLY_STRAIGHT:
                parts = self._stretches(stretch, _EXACTLY)
            for part in parts:
                self._put_on_line(part)

    def _stretches(self, chain: list[int], turn: float) -> list[list[int]]:
        """Stretches of straight segments without a vertex that turns more than `turn` degrees."""
        found = [[chain[0]]]
        for k, segment in enumerate(chain[:-1]):
            goes_on = k == 0 or (self.straight[segment] and self.straight[chain[k - 1]])
            if k > 0 and not (goes_on and abs(self.path.turns[segment]) <= turn):
                found.append([segment])
            found[-1].append(chain[k + 1])
        return found

    def _put_on_line(self, stretch: list[int]) -> None:
        first, last = stretch[0], stretch[-1]
        chord = self.local[last, 0] - self.local[first, 0]
        if len(stretch) < 3 or not chord.any():
            return
        change = self.weights[last] - self.weights[first]
        for v in stretch[1:-1]:
            ratio = _ratio(self.local[v, 0] - self.local[first, 0], chord)
            self.weights[v] = self.weights[first] + _times(ratio, change)

    def _turns_as_a_line(self, chain: list[int]) -> bool:
        inside = chain[1:-1]
        turn = float(np.abs(self.path.turns[inside]).sum()) if inside else 0.0
        step = self.local[chain[-1], 0] - self.local[chain[0], 0]
        return bool(self.straight[chain[:-1]].all() and turn <= _NEARLY_STRAIGHT and step.any())

    def _as_a_line(self, chain: list[int], change: Floats) -> None:
        """A straight or all but straight section turns and stretches whole, as its chord does."""
        first = self.local[chain[0], 0]
        chord = self.local[chain[-1], 0] - first
        start = self.weights[chain[0]]
        for segment in chain[:-1]:
            if segment != chain[0]:
                ratio = _ratio(self.local[segment, 0] - first, chord)
                self.weights[segment] = start + _times(ratio, change)
            tangent = self.tangents_out[segment]
            slope = _times(_ratio(tangent, chord), change)
            self.start_slope[segment] = self.end_slope[segment] = slope

    def _end_slopes(
        self, chain: list[int], points: Floats, axis: int, length: float
    ) -> tuple[float, float]:
        """Slopes of the share at both ends: less than 1 where a corner's tangent must stay."""
        chord = points[-1, 3] - points[0, 0]
        size = float(np.hypot(*chord))
        offset = points.reshape(-1, 2) - points[0, 0]
        across = np.abs(offset[:, 0] * chord[1] - offset[:, 1] * chord[0])
        bow = float(across.max()) / size if size > 0 else length
        curved = _smooth((bow / length - _BOWED[0]) / (_BOWED[1] - _BOWED[0])) if length else 0.0

        def at(vertex: int, segment: int, tangent: Floats) -> float:
            if self.straight[segment] or not self.corners[vertex]:
                return 1.0
            return 1.0 - curved * (1.0 - _smooth(abs(float(tangent[axis])) / _ALIGNED))

        return (
            at(chain[0], chain[0], self.tangents_out[chain[0]]),
            at(chain[-1], chain[-2], self.tangents_in[chain[-2]]),
        )

    def _tangent(self, vertex: int, segment: int, end: int) -> Floats:
        """The tangent that a vertex is turned by: one for both sides of a smooth one."""
        if self.corners[vertex]:
            own: Floats = (self.tangents_in if end else self.tangents_out)[segment]
            return own
        return self._mean_tangent(vertex)

    def _mean_tangent(self, vertex: int) -> Floats:
        both = self.tangents_in[vertex - 1] + self.tangents_out[vertex]
        size = float(np.hypot(*both))
        mean: Floats = both / size if size > 0 else self.tangents_out[vertex]
        return mean

    # --- handles ------------------------------------------------------------------

    def place_handles(self) -> None:
        """All handles: by slopes, then those that must follow a straight neighbour."""
        n = len(self.path)
        late: list[tuple[int, int]] = []
        for v in range(n):
            before, after = (v - 1) % n, v
            smooth = not self.corners[v]
            slope_in, slope_out = self.end_slope[before], self.start_slope[after]
            if smooth:
                slope_in = slope_out = self._common_slope(before, after)
            for segment, end, slope in ((before, 1, slope_in), (after, 0, slope_out)):
                stiff = self.straight[segment] and not (smooth and self._bends(segment, v))
                if stiff:
                    self._place_on_chord(segment, end)
                    continue
                other = after if end else before
                if smooth and self._leads(other, v) and not self._leads(segment, v):
                    late.append((segment, end))
                self._place(segment, end, self._tangent(v, segment, end), slope)
        self._keep_bare_corners()
        for segment, end in late:
            self._follow_neighbour(segment, end)

    def place_told(self, told: Mapping[tuple[int, int], Floats]) -> None:
        """Handles of curves whose change at an end is settled beforehand."""
        for (segment, end), slope in told.items():
            p = self.local[segment]
            vertex = (segment + 1) % len(self.path) if end else segment
            step = p[2] - p[3] if end else p[1] - p[0]
            if not self.path.lines[segment]:
                reach = float(np.hypot(*step))
                self.handles[segment, end] = self.weights[vertex] + reach * slope

    def _common_slope(self, before: int, after: int) -> Floats:
        """One slope for both sides of a smooth vertex, the longer section counting more.

        Weighing by length bounds what a short section's change can do to a long handle.
        """
        a, b = float(self.section_length[before]), float(self.section_length[after])
        held = bool(self.rigid[before] or self.rigid[after])
        share = 0.0 if held or a + b == 0 else 1.0 / (a + b)
        mean: Floats = share * (a * self.end_slope[before] + b * self.start_slope[after])
        return mean

    def _bends(self, segment: int, vertex: int) -> bool:
        """Whether a straight cubic bends to stay smooth with another one at a vertex."""
        n = len(self.path)
        other = vertex if segment != vertex else (vertex - 1) % n
        return not self.path.lines[segment] and bool(self.straight[other])

    def _leads(self, segment: int, vertex: int) -> bool:
        """Whether the tangent at a vertex is not free on the side of `segment`: a straight
        one, or a cubic without a handle there."""
        if self.path.lines[segment]:
            return True
        other = vertex if segment != vertex else (vertex - 1) % len(self.path)
        if self.straight[segment] and not self.straight[other]:
            return True
        return self._bare(segment, 0 if segment == vertex else 1)

    def _bare(self, segment: int, end: int) -> bool:
        p = self.local[segment]
        size = float(np.abs(p - p[0]).max())
        step = p[2] - p[3] if end else p[1] - p[0]
        return not self.path.lines[segment] and float(np.hypot(*step)) <= _NO_HANDLE * size

    def _place(self, segment: int, end: int, tangent: Floats, slope: Floats) -> None:
        p = self.local[segment]
        vertex = (segment + 1) % len(self.path) if end else segment
        handle = p[2] - p[3] if end else p[1] - p[0]
        ratio = _ratio(handle, tangent)
        if self.corners[vertex]:
            ratio = (ratio[0], 0.0)
        self.handles[segment, end] = self.weights[vertex] + _times(ratio, slope)

    def _place_on_chord(self, segment: int, end: int) -> None:
        """A handle of a straight segment keeps its place relative to the chord."""
        p, far = self.local[segment], (segment + 1) % len(self.path)
        start = self.weights[segment]
        chord = p[3] - p[0]
        if not chord.any():
            self.handles[segment, end] = start
            return
        ratio = _ratio(p[2 if end else 1] - p[0], chord)
        self.handles[segment, end] = start + _times(ratio, self.weights[far] - start)

    def _follow_neighbour(self, segment: int, end: int) -> None:
        """The handle turns and stretches as the straight neighbour across the vertex does."""
        n = len(self.path)
        vertex = (segment + 1) % n if end else segment
        if end:
            lead, lead_weights = self._leading(vertex, start=True)
        else:
            lead, lead_weights = self._leading((vertex - 1) % n, start=False)
        if not lead.any():
            return
        p = self.local[segment]
        handle = p[2] - p[3] if end else p[1] - p[0]
        turned = _times(_ratio(handle, lead), lead_weights)
        self.handles[segment, end] = self.weights[vertex] + turned

    def _leading(self, segment: int, *, start: bool) -> tuple[Floats, Floats]:
        """Step from a vertex to the point that gives the tangent there, and its weights."""
        n = len(self.path)
        p, far = self.local[segment], (segment + 1) % n
        vertex = segment if start else far
        places = [*self.handles[segment], self.weights[far]]
        points = [p[1], p[2], p[3]]
        if not start:
            places = [self.handles[segment, 1], self.handles[segment, 0], self.weights[segment]]
            points = [p[2], p[1], p[0]]
        if self.straight[segment]:
            points, places = points[2:], places[2:]
        base = p[0] if start else p[3]
        size = float(np.abs(p - p[0]).max())
        for point, place in zip(points, places, strict=True):
            step = point - base
            if float(np.hypot(*step)) > _NO_HANDLE * size:
                return step, place - self.weights[vertex]
        return np.zeros(2), np.zeros_like(self.weights[vertex])

    def _keep_bare_corners(self) -> None:
        """A corner whose handle has no length takes its tangent from the far handle.

        Where that tangent lies along an axis and the far end is a corner too, the far
        handle keeps it so.
        """
        n = len(self.path)
        for segment in range(n):
            for end in (0, 1):
                vertex, far = ((segment + 1) % n, segment) if end else (segment, (segment + 1) % n)
                if not (self.corners[vertex] and self.corners[far]) or self.straight[segment]:
                    continue
                if not self._bare(segment, end) or self._bare(segment, 1 - end):
                    continue
                tangent = (self.tangents_in if end else self.tangents_out)[segment]
                for axis in (0, 1):
                    keep = 1.0 - _smooth(abs(float(tangent[axis])) / _ALIGNED)
                    handle = self.handles[segment, 1 - end, axis]
                    handle += keep * (self.weights[vertex, axis] - handle)


def _ratio(a: Floats, b: Floats) -> tuple[float, float]:
    """The complex number a / b of two plane vectors."""
    d = float(b @ b)
    return float(a @ b) / d, float(b[0] * a[1] - b[1] * a[0]) / d


def _times(z: tuple[float, float], w: Floats) -> Floats:
    """Weights (2, columns) turned and stretched by the complex number `z`."""
    re, im = z
    return np.stack([re * w[0] - im * w[1], re * w[1] + im * w[0]])


def _smooth(x: float) -> float:
    """0 below 0, 1 above 1, and smooth between."""
    x = min(max(x, 0.0), 1.0)
    return x * x * (3 - 2 * x)
