"""The cutting line as the edge of all the cloth that the allowances cover.

Each strip between a sewing line and its parallel, and each corner between two strips, is laid
down as small areas; shapely unites them with the piece. What of the strips' own lines lies on
the edge of the whole is then put together again as curves, cut where they truly meet. So a
side that its neighbours swallow is gone, whatever they are, and so is what bends too tightly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...errors import GeometryError
from ...geometry import bezier
from ...geometry.crossings import crossings, self_crossings
from ...geometry.flatten import chord_counts, flatten
from ...geometry.nearest import nearest_point
from ...geometry.path import Path
from ...geometry.strips import Strip, fine_parameters, strip_samples
from ...geometry.types import Floats, Ints
from .joins import Join, carried, chained, stretch
from .sides import Sides

#: A point of the edge this near a line, mm, lies on it.
_ON = 1e-6
#: The chords of curves leave them by at most about this, mm.
_FINE = 0.01
#: Loops shorter than this, mm, are no part of the edge.
_SPECK = 1.0


def line_round(sides: Sides, joins: Sequence[Join | None]) -> Path:
    """The line round the piece and its strips, closed.

    `joins` holds the shape of each corner that stands out, after each side; None where two
    strips lie over each other, or where a whole side is missing.
    """
    import shapely

    ground = _Ground(sides)
    for k, join in enumerate(joins):
        ground.corner(k, join)
    for k in range(len(sides.sides)):
        ground.side(k)
    whole = shapely.union_all(ground.areas)
    if whole.geom_type == "MultiPolygon":
        whole = max(whole.geoms, key=lambda one: one.area)
    ring = shapely.get_coordinates(whole.exterior.normalize())[::-1]
    return _curves(ring, ground)


@dataclass(frozen=True, eq=False)
class _Chords:
    """Short straight pieces (m, 2, 2) of a line that may lie on the edge."""

    line: Path
    chords: Floats


class _Ground:
    """The areas that are covered, and the lines at their outer edges."""

    def __init__(self, sides: Sides) -> None:
        import shapely

        self.sides = sides
        #: The strips of each segment, in order.
        self.strips: dict[int, list[Strip]] = {}
        for strip in (strip for side in sides.sides for strip in side.strips):
            self.strips.setdefault(strip.segment, []).append(strip)
        path = sides.path
        self.n = len(path)
        self.u = _parameters(sides)
        self.lines: list[_Chords] = []
        self.trims = np.tile([0.0, float(self.n)], (len(sides.sides), 1))
        for k, side in enumerate(sides.sides):
            self.trims[k, 1] = (side.end - side.start) % self.n or self.n
        ring = np.concatenate(
            [_points(path, i, u)[:-1] for i, u in enumerate(self.u)],
        )
        piece = shapely.Polygon(ring)
        if not piece.is_valid:
            reason = shapely.is_valid_reason(piece)
            at = reason[reason.find("[") + 1 : -1].split() if "[" in reason else []
            where = f" near ({float(at[0]):.0f}, {float(at[1]):.0f})" if len(at) == 2 else ""
            raise GeometryError(
                f"the sewing line crosses or touches itself{where}",
                cure="Mend the drawing there.",
            )
        self.areas: list[object] = [piece]

    # --- strips ---------------------------------------------------------------------

    def side(self, k: int) -> None:
        """The strips of a side between its trims, as small areas with their outer lines."""
        import shapely

        side = self.sides.sides[k]
        low, high = self.trims[k]
        by_segment = self.strips
        count = (side.end - side.start) % self.n or self.n
        rows: list[tuple[int, Floats]] = []
        for place in range(count):
            i = (side.start + place) % self.n
            a, b = max(low - place, 0.0), min(high - place, 1.0)
            if b - a <= 1e-9:
                continue
            cuts = [u for strip in by_segment.get(i, []) for u in (strip.u0, strip.u1)]
            u = np.unique(np.concatenate([self.u[i], [a, b], cuts]))
            rows.append((i, u[(u >= a) & (u <= b)]))
        if not rows:
            return
        source, outer, firsts = self._both(rows)
        last = np.zeros(len(source), dtype=bool)
        last[[*firsts[1:], len(source)] - np.array(1)] = True
        for (i, u), first in zip(rows, firsts, strict=True):
            for strip in by_segment.get(i, []):
                points = outer[first : first + len(u)][(u >= strip.u0) & (u <= strip.u1)]
                if len(points) > 1:
                    chords = np.stack([points[:-1], points[1:]], axis=1)
                    self.lines.append(_Chords(strip.path, chords))
        every = np.stack([source[:-1], source[1:], outer[1:], outer[:-1]], axis=1)[~last[:-1]]
        wide = (np.abs(every[:, 2] - every[:, 1]) + np.abs(every[:, 3] - every[:, 0])) > 1e-9
        some = every[wide.any(axis=1)]
        hulls = shapely.convex_hull(shapely.multipoints(some)) if len(some) else []
        self.areas += [h for h in hulls if h.geom_type == "Polygon"]

    def _both(self, rows: Sequence[tuple[int, Floats]]) -> tuple[Floats, Floats, list[int]]:
        """Points at parameters of segments, and of their parallels, all in one; where each begins.

        Ends of strips are those of their lines.
        """
        path, by_segment = self.sides.path, self.strips
        counts = [len(u) for _, u in rows]
        firsts = (np.cumsum(counts) - counts).tolist()
        number = np.repeat([i for i, _ in rows], counts)
        every = np.concatenate([u for _, u in rows])
        source, normal, width = strip_samples(path, self.sides.widths, number, every)
        for place, end in ((0.0, 0), (1.0, 3)):
            source[every == place] = path.controls[number[every == place], end]
        outer = source + width[:, None] * normal
        for (i, u), first in zip(rows, firsts, strict=True):
            points = outer[first : first + len(u)]
            for strip in by_segment.get(i, []):
                points[u == strip.u0] = strip.controls[0, 0]
                points[u == strip.u1] = strip.controls[-1, 3]
        return source, outer, firsts

    # --- corners ---------------------------------------------------------------------

    def corner(self, k: int, join: Join | None) -> None:
        """The area at the corner after side `k`, between its parallels as they are joined."""
        import shapely

        path = self.sides.path
        side, following = self.sides.sides[k], self.sides.sides[(k + 1) % len(self.sides.sides)]
        between = []
        if side.end != following.start:
            legs = _range(side.end, following.start, self.n)
            between = [_points(path, i, self.u[i])[:-1] for i in legs]
        source = np.concatenate([*between, path.controls[following.start, :1]])
        if join is None:
            # Where one ends beside the other's line, a straight step may show.
            if side.strips:
                self._line(np.array([side.strips[-1].path.end, path.controls[side.end, 0]]))
            if following.strips:
                begin = following.strips[0].path.start
                self._line(np.array([path.controls[following.start, 0], begin]))
            return
        # What is cut off a strip is laid down again with the corner.
        own = side.tail
        lead: list[Floats] = []
        if join.end < own.length - _ON:
            place = self._foot(k, carried(own, join.end), end=True)
            self.trims[k, 1] = place
            lead.append(self._source(side.start, place, self._count(k)))
        after = following.head
        tail: list[Floats] = []
        if join.begin > _ON:
            place = self._foot((k + 1) % len(self.sides.sides), carried(after, join.begin), False)
            self.trims[(k + 1) % len(self.sides.sides), 0] = place
            tail.append(self._source(following.start, 0.0, place))
        shapes: list[Path] = []
        if join.end > own.length + _ON:
            shapes += stretch(own, own.length, join.end)
        ends = [carried(own, join.end), carried(after, join.begin)]
        parts = list(join.between) or (
            [Path.polyline(np.array(ends))] if np.hypot(*(ends[1] - ends[0])) > _ON else []
        )
        shapes += parts
        if join.begin < -_ON:
            shapes += stretch(after, join.begin, 0.0)
        back = [self._line(flatten(s, _FINE), s) for s in shapes][::-1]
        first, last = carried(own, min(join.end, own.length)), carried(after, max(join.begin, 0.0))
        ring = np.concatenate([*lead, source, *tail, [last], *back, [first]])
        apart = np.hypot(*(ring - np.roll(ring, 1, axis=0)).T) > _ON
        if apart.sum() > 2:
            area = shapely.make_valid(shapely.Polygon(ring[apart]))
            self.areas += [a for a in shapely.get_parts(area) if a.geom_type == "Polygon"]

    def _line(self, points: Floats, line: Path | None = None) -> Floats:
        """Note a line by its points; the points the other way round."""
        if len(points) > 1 and np.hypot(*(points[-1] - points[0])) > _ON:
            chords = np.stack([points[:-1], points[1:]], axis=1)
            self.lines.append(_Chords(line or Path.polyline(points), chords))
        back: Floats = points[::-1]
        return back

    def _count(self, k: int) -> float:
        side = self.sides.sides[k]
        return float((side.end - side.start) % self.n or self.n)

    def _foot(self, k: int, point: Floats, end: bool) -> float:
        """Segments and parameter from the start of side `k` of the place below a point."""
        side = self.sides.sides[k]
        foot = nearest_point(self.sides.path.segments(side.start, side.end), point)
        place = foot.segment + foot.t
        return min(place, self._count(k)) if end else place

    def _source(self, start: int, low: float, high: float) -> Floats:
        """Points of the sewing line between two places counted from vertex `start`."""
        points = []
        for k in range(int(low), int(np.ceil(high))):
            i = (start + k) % self.n
            a, b = max(low - k, 0.0), min(high - k, 1.0)
            u = np.unique(np.concatenate([self.u[i], [a, b]]))
            points.append(_points(self.sides.path, i, u[(u >= a) & (u <= b)]))
        return np.concatenate(points)


def _parameters(sides: Sides) -> list[Floats]:
    """Parameters of each segment between which neither it nor its parallel leaves its chord by
    much: an arc of radius r that turns by a leaves its chord by r a^2 / 8."""
    path = sides.path
    out = [np.array([0.0, 1.0])] * len(path)
    curved = np.flatnonzero(~path.lines)
    most = np.sqrt(8 * _FINE / (sides.widths[curved].max(axis=1) + 1.0))
    counts = chord_counts(path, _FINE)
    for i, u in zip(curved.tolist(), fine_parameters(path, curved, most), strict=True):
        out[i] = np.union1d(u, np.linspace(0.0, 1.0, int(counts[i]) + 1))
    return out


def _range(start: int, end: int, n: int) -> Ints:
    return (start + np.arange((end - start) % n or n)) % n


def _points(path: Path, i: int, u: Floats) -> Floats:
    points = bezier.evaluate(path.controls[i], u)
    points[u == 0.0], points[u == 1.0] = path.controls[i, 0], path.controls[i, 3]
    return points


# --- the edge as curves ---------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Run:
    """A stretch of the edge on one line, from point to point; no line: a straight step."""

    line: Path | None
    start: Floats
    end: Floats


def _curves(ring: Floats, ground: _Ground) -> Path:
    runs = _runs(ring, ground.lines)
    parts: list[Path] = []
    count = len(runs)
    ends = [_joint(runs[k], runs[(k + 1) % count]) for k in range(count)]
    for k, run in enumerate(runs):
        begin, finish = ends[k - 1][1], ends[k][0]
        if run.line is None:
            continue
        whole = begin is None and finish is None
        if count == 1 or (whole and np.ptp(run.line.controls, axis=(0, 1)).max() > _ON):
            parts.append(run.line)
            continue
        begin, finish = begin or 0.0, run.line.length if finish is None else finish
        if finish - begin > _ON:
            parts.append(run.line.part(begin, finish))
    return _untangled(chained(parts))


def _untangled(path: Path) -> Path:
    """Without the specks of loops that the fit of curves leaves where two of them hardly cross."""
    for _ in range(len(path)):
        total = path.length
        tangles = [
            (min(c.s1 - c.s0, total - (c.s1 - c.s0)), c)
            for c in self_crossings(path)
            if c.kind != "touch"
        ]
        if not tangles or min(t for t, _ in tangles) > _SPECK:
            break
        speck, worst = min(tangles, key=lambda t: t[0])
        inner = worst.s1 - worst.s0 == speck
        low, high = (worst.s1, worst.s0) if inner else (worst.s0, worst.s1)
        path = Path.join([path.part(low, high)], closed=True)
    return path


def _runs(ring: Floats, lines: Sequence[_Chords]) -> list[_Run]:
    """The edge parted by the lines that it lies on."""
    import shapely

    owner = np.repeat(np.arange(len(lines)), [len(c.chords) for c in lines])
    chords = np.concatenate([c.chords for c in lines])
    tree = shapely.STRtree(shapely.linestrings(chords))
    a, b = ring[:-1], ring[1:]
    long = np.hypot(*(b - a).T) > 1e-9
    a, b = a[long], b[long]
    middles = shapely.points((a + b) / 2)
    edge, chord = tree.query(middles, predicate="dwithin", distance=_ON)
    ways, steps = chords[chord, 1] - chords[chord, 0], (b - a)[edge]
    same_way = (ways * steps).sum(axis=1) > 0
    edge, chord = edge[same_way], chord[same_way]
    found: list[list[int]] = [[] for _ in a]
    for e, c in zip(edge.tolist(), chord.tolist(), strict=True):
        found[e].append(int(owner[c]))
    labels: list[int] = []
    for options in found:
        last = labels[-1] if labels else -1
        labels.append(last if last in options else min(options, default=-1))
    first = next((k for k in range(len(labels)) if labels[k] != labels[k - 1]), 0)
    order = [*range(first, len(labels)), *range(first)]
    runs: list[_Run] = []
    last = -2
    for k in order:
        if runs and labels[k] == last:
            runs[-1] = _Run(runs[-1].line, runs[-1].start, b[k])
        else:
            line = lines[labels[k]].line if labels[k] >= 0 else None
            runs.append(_Run(line, a[k], b[k]))
        last = labels[k]
    return [r for r in runs if r.line is not None] or runs


def _joint(run: _Run, following: _Run) -> tuple[float | None, float | None]:
    """Arc lengths where a run leaves its line and the next comes onto its own; None for the
    end and the start of the line itself."""
    a, b = run.line, following.line
    if a is None or b is None:
        return 0.0, 0.0
    if max(np.hypot(*(a.end - run.end)), np.hypot(*(b.start - run.end))) <= _ON:
        return None, None
    near = (
        [c for c in crossings(a, b) if np.hypot(*(c.point - run.end)) <= 0.5] if a is not b else []
    )
    if near and np.hypot(*(run.end - following.start)) <= 0.5:
        best = min(near, key=lambda c: float(np.hypot(*(c.point - run.end))))
        return best.s0, best.s1
    return nearest_point(a, run.end).s, nearest_point(b, following.start).s
