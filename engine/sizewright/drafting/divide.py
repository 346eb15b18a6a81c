"""Cutting a piece in two along a line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from ..errors import GeometryError, LookupFailed
from ..geometry import affine
from ..geometry.crossings import crossings
from ..geometry.nearest import nearest
from ..geometry.path import Path
from ..geometry.regions import contains
from ..geometry.types import Floats
from ..model.features import Dart
from ..model.piece import Piece
from .bearing import inside
from .ring import Line, Ring, Settled, Span, Zone

#: An end of a cutting line lies on the outline within this, mm; so near to a vertex it is that.
_ON = 0.01
#: A line this near to a dart's leg runs along it, mm.
_LEG = 0.5
#: The legs of a dart that a cut closes differ by no more than this, mm.
_LEGS = 1.0


@dataclass(frozen=True, eq=False)
class _End:
    """An end of a cut: the vertices where the outline, walked counter-clockwise, arrives at it
    and leaves from it, and the lines between them and the cut; one vertex unless the cut ends
    in a dart, whose legs they are then."""

    arrive: int
    leave: int
    legs: tuple[Path, Path] | None = None


def divide(
    piece: Piece,
    line: Path,
    parts: Mapping[str, str],
    *,
    seam: str,
    step: str,
    settled: Settled | None = None,
) -> dict[str, Ring]:
    """The rings of both parts of a piece that is cut along `line`, for `redraft`.

    `line` is an open path from one place of the outline to another, within the piece.
    `parts` names each new piece by a point that lies on it (`{"yoke": "neck-side"}`); a part
    that is not named is dropped. The new edges are called `seam`.

    A line may lead through the tip of a dart. Where it ends there, or leaves through the mouth,
    the legs are edges of the parts; where it passes, the dart is closed, and what lies beyond
    it turns. Of a part that is closed so, that with the fold stays, else the larger one.

    Raises GeometryError where the line does not begin and end on the outline, leaves the piece
    between, or cuts a dart elsewhere; LookupFailed for a point that is not there.

    >>> from sizewright.drafting import redraft
    >>> from sizewright.formats import read_svg
    >>> from sizewright.shipped import shipped
    >>> pattern = read_svg(shipped("examples/patch-pocket.svg")).pattern
    >>> def cut(pieces, settled):
    ...     x0, y0, x1, y1 = pieces["pocket"].bounds
    ...     level = Path.polyline([(x0, y1 - 30), (x1, y1 - 30)])
    ...     parts = {"flap": "#3", "pocket": "tip"}
    ...     return divide(pieces["pocket"], level, parts, seam="flap", step="cut off a flap")
    >>> new = redraft(pattern, ["pocket"], cut).pattern
    >>> [(piece.name, round(piece.area)) for piece in new.pieces]
    [('flap', 4200), ('pocket', 16100)]
    >>> sorted(run.name for run in new.piece("flap").outline.runs)
    ['flap', 'top']
    """
    line, ends_in = _trimmed(piece, line)
    for at, dart in zip((line.start, line.end), ends_in, strict=True):
        if dart is None:
            piece, _ = _vertex_at(piece, at)
    # Numbers as they are with all vertices in.
    darts = [d and next(x for x in piece.darts if x.name == d.name) for d in ends_in]
    ends = [_end(piece, at, d) for at, d in zip((line.start, line.end), darts, strict=True)]
    path = piece.outline.path
    if ends[0].arrive == ends[1].arrive:
        raise GeometryError("the line begins and ends at one place", where=piece.title)
    # The vertices have the last word on where the line ends.
    controls = line.controls.copy()
    for k, (end, dart) in enumerate(zip(ends, darts, strict=True)):
        at = path.vertices[end.arrive] if dart is None else np.array(dart.apex)
        controls[(0, -1)[k], (0, 3)[k]] = at
    line = line.with_controls(controls)
    passed = _passed(piece, line, [d for d in darts if d])
    for dart in passed:
        line, _ = line.with_vertex(float(nearest(line, np.array([dart.apex])).s[0]))
    _check_within(piece, line, [d for d in (*darts, *passed) if d])
    names = _names(piece, line, seam)
    (a, b), back = ends, line.reversed()
    sides = (
        (a.leave, b.arrive, _joined([b.legs and b.legs[0], back, a.legs and a.legs[1]])),
        (b.leave, a.arrive, _joined([a.legs and a.legs[0], line, b.legs and b.legs[1]])),
    )
    rings: dict[str, Ring] = {}
    for name, point in parts.items():
        vertex = piece.outline.vertex(point)
        on = [side for side in sides if _on_part(vertex, side[0], side[1], piece, ends)]
        if len(on) != 1:
            raise GeometryError(
                f'"{point}" lies on the cut itself, so it names no part',
                where=piece.title,
                cure="Name each part by a point that lies on it alone.",
            )
        first, last, cut = on[0]
        mine = [d for d in passed if _within(d, first, last, len(path))]
        taken = (*(d for d in darts if d), *passed)
        made = _Part(piece, first, last, cut, seam, names)
        rings[name] = replace(made.ring(mine, step, settled or Settled()), taken=taken)
    if len({ring.spans[0].start for ring in rings.values()}) < len(rings):
        raise LookupFailed(
            f"{' and '.join(parts)} name the same part",
            where=piece.title,
            cure="Name each part by a point of its own.",
        )
    return rings


@dataclass(frozen=True, eq=False)
class _Part:
    """One side of a cut: the old outline from `start` to `end`, and the cut back, as a path."""

    piece: Piece
    start: int
    end: int
    cut: Path
    seam: str
    names: Sequence[tuple[Floats, str]]

    def ring(self, darts: Sequence[Dart], step: str, settled: Settled) -> Ring:
        """The part as a ring, with the `darts` closed whose tips lie on the cut."""
        path = self.piece.outline.path
        n = len(path)
        darts = sorted(darts, key=lambda d: (d.a - self.start) % n)
        # Where the cut passes each tip, counted from the end of the stretch back to its start.
        tips = [float(nearest(self.cut, np.array([d.apex])).s[0]) for d in darts]
        if any(t <= u for t, u in pairwise(tips)):
            raise GeometryError(
                "the line passes the tips of its darts in another order than their mouths lie in",
                where=self.piece.title,
                cure="Cut through one of them at a time.",
            )
        starts = [self.start, *(d.b for d in darts)]
        ends = [*(d.a for d in darts), self.end]
        cuts = [self.cut.length, *tips, 0.0]
        sectors = []
        for k, (a, b) in enumerate(zip(starts, ends, strict=True)):
            legs = (_legs(self.piece, darts[k])[0] if k < len(darts) else None,)
            back = (_legs(self.piece, darts[k - 1])[1] if k else None,)
            cut = self.cut.part(cuts[k + 1], cuts[k])
            region = _joined([path.segments(a, b), *legs, cut, *back], closed=True)
            sectors.append((a, b, cut, region))
        stays = settled.once(
            f"{self.piece.name}: what stays of {self.seam}",
            lambda: max(range(len(sectors)), key=lambda k: self._holds(*sectors[k])),
        )
        moves = [affine.identity()] * len(sectors)
        for k in range(stays + 1, len(sectors)):
            moves[k] = affine.compose(moves[k - 1], self._closing(darts[k - 1], over=False))
        for k in range(stays - 1, -1, -1):
            moves[k] = affine.compose(moves[k + 1], self._closing(darts[k], over=True))
        zones = [
            Zone(self.piece, m, s[3], path.segments(s[0], s[1]))
            for m, s in zip(moves, sectors, strict=True)
        ]
        edge = _joined(
            [s[2].transformed(z.move) for s, z in zip(sectors, zones, strict=True)][::-1]
        )
        edge = self.cut if len(sectors) == 1 else edge
        spans = [Span(z, a, b) for z, (a, b, *_) in zip(zones, sectors, strict=True)]
        names = {
            k: name
            for k in range(1, len(self.cut))
            for at, name in self.names
            if float(np.hypot(*(at - self.cut.vertices[k]))) <= _ON
        }
        return Ring([*spans, Line(edge, self.seam, points=names)], step, zones[stays])

    def _holds(self, a: int, b: int, _cut: Path, region: Path) -> tuple[bool, float]:
        """Whether a sector holds the fold, else the grain's middle, and its area."""
        fold, grain = self.piece.fold, self.piece.grain
        n = len(self.piece.outline.path)
        if fold is not None:
            return (fold.start - a) % n < (b - a) % n, region.area
        middle = None if grain is None else np.mean([grain.start, grain.end], axis=0)
        return middle is not None and inside(region, middle), region.area

    def _closing(self, dart: Dart, *, over: bool) -> Floats:
        """The move that brings a leg of a dart onto the other: the second onto the first, or
        (`over`) the first onto the second."""
        outline, tip = self.piece.outline, np.array(dart.apex)
        onto, moving = (outline.vertex_at(v) for v in (dart.a, dart.b))
        if over:
            onto, moving = moving, onto
        to, of = onto - tip, moving - tip
        apart = abs(float(np.hypot(*to) - np.hypot(*of)))
        if apart > _LEGS:
            raise GeometryError(
                f'the legs of the dart "{dart.name}" differ by {apart:.1f} mm',
                where=self.piece.title,
                cure="Make them equal before the line is cut.",
            )
        turn = np.degrees(np.arctan2(to[1], to[0]) - np.arctan2(of[1], of[0]))
        x, y = map(float, moving)
        return affine.compose(
            affine.translation(*map(float, onto - moving)), affine.rotation(float(turn), (x, y))
        )


def _names(piece: Piece, line: Path, seam: str) -> list[tuple[Floats, str]]:
    """Names for the vertices within a cut, and where they lie: those of what lies there, else
    the seam's and a number, where straight lines meet."""
    known = [(piece.outline.vertex_at(p.vertex), p.name) for p in piece.outline.points if p.name]
    known += [(np.array(d.at), d.name) for d in piece.drills if d.name]
    known += [(np.array(d.apex), f"{d.name}-tip") for d in piece.darts]
    named = [
        (line.vertices[k], f"{seam}-{k}")
        for k in range(1, len(line))
        if line.lines[k - 1] and line.lines[k]
    ]
    return [*named, *known[::-1]]  # of several the last one counts


def _joined(parts: Sequence[Path | None], *, closed: bool = False) -> Path:
    return Path.join([part for part in parts if part is not None], closed=closed)


def _on_part(vertex: int, start: int, end: int, piece: Piece, ends: Sequence[_End]) -> bool:
    """Whether a vertex lies on a part and not on the cut; a leg's mouth end lies on its part."""
    n = len(piece.outline.path)
    along, long = (vertex - start) % n, (end - start) % n
    if 0 < along < long:
        return True
    legs = {v for e in ends if e.legs for v in (e.arrive, e.leave)}
    return vertex in legs and along in (0, long)


def _within(dart: Dart, start: int, end: int, n: int) -> bool:
    """Whether a dart's mouth lies within a stretch."""
    first, last = (dart.a - start) % n, (dart.b - start) % n
    return first < last <= (end - start) % n


# --- darts ------------------------------------------------------------------------------------


def _legs(piece: Piece, dart: Dart) -> tuple[Path, Path]:
    """The legs of a dart: from its first mouth end to the tip, and from there to the second."""
    path = piece.outline.path
    if dart.tip is not None:
        return path.segments(dart.a, dart.tip), path.segments(dart.tip, dart.b)
    a, b = path.vertices[dart.a], path.vertices[dart.b]
    return Path.polyline([a, dart.apex]), Path.polyline([dart.apex, b])


def _wedge(piece: Piece, dart: Dart) -> Path:
    return Path.ringed([Path.join(_legs(piece, dart))])


def _trimmed(piece: Piece, line: Path) -> tuple[Path, list[Dart | None]]:
    """The line without what of it lies in darts whose tips it leads to, and the dart that it
    ends in, for its start and its end."""
    found: list[Dart | None] = []
    for _ in range(2):
        line = line.reversed()  # the start first, as an end
        taken = None
        for dart in piece.darts:
            near = nearest(line, np.array([dart.apex]))
            s = float(near.s[0])
            if float(near.distance[0]) > _ON:
                continue
            left = line.length - s
            if left > _ON and not _runs_in(piece, dart, line.at(s + left * np.array([0.3, 0.9]))):
                continue
            if s <= _ON:
                continue  # it leads from the tip away
            line = line.part(0.0, s)
            taken = dart
        found.append(taken)
    return line, found


def _runs_in(piece: Piece, dart: Dart, points: Floats) -> bool:
    """Whether all points lie in a dart, or on its legs."""
    wedge = _wedge(piece, dart)
    return bool((contains(wedge, points) | (nearest(wedge, points).distance < _LEG)).all())


def _end(piece: Piece, at: Floats, dart: Dart | None) -> _End:
    if dart is not None:
        return _End(dart.a, dart.b, _legs(piece, dart))
    _, vertex = _vertex_at(piece, at)
    for mouth, kind in (
        *(((d.a, d.b), f'dart "{d.name}"') for d in piece.darts),
        *(((p.a, p.b), f'pleat "{p.name}"') for p in piece.pleats),
    ):
        n = len(piece.outline.path)
        if 0 < (vertex - mouth[0]) % n < (mouth[1] - mouth[0]) % n:
            raise GeometryError(
                f"the line ends in the mouth of the {kind} near ({at[0]:.0f}, {at[1]:.0f})",
                where=piece.title,
                cure="Lead it through the tip of a dart, or end it beside the mouth.",
            )
    return _End(vertex, vertex)


def _tip_name(piece: Piece, dart: Dart) -> str:
    named = None if dart.tip is None else piece.outline.point(dart.tip).name
    return named or f"{dart.name}-tip"


def _passed(piece: Piece, line: Path, ends_in: Sequence[Dart]) -> list[Dart]:
    """The darts whose tips a line passes. Raises GeometryError where it cuts one elsewhere."""
    passed = []
    for dart in piece.darts:
        if dart in ends_in:
            continue
        first, second = _legs(piece, dart)
        tip = np.array(dart.apex)
        if float(nearest(line, tip[None]).distance[0]) <= _ON:
            passed.append(dart)
        for cross in crossings(line, Path.join([first, second])):
            at_end = cross.s0 < _ON or cross.s0 > line.length - _ON
            if not at_end and float(np.hypot(*(cross.point - tip))) > _ON:
                raise GeometryError(
                    f'the line cuts the dart "{dart.name}" near '
                    f"({cross.point[0]:.0f}, {cross.point[1]:.0f})",
                    where=piece.title,
                    cure=f"Lead it through the dart's tip ({_tip_name(piece, dart)}), or past it.",
                )
    return passed


# --- where it lies ----------------------------------------------------------------------------


def _vertex_at(piece: Piece, at: Floats) -> tuple[Piece, int]:
    """The piece with a vertex at a point on its outline, and its number."""
    path = piece.outline.path
    off = np.hypot(*(path.vertices - at).T)
    if float(off.min()) <= _ON:
        return piece, int(off.argmin())
    foot = nearest(path, at[None])
    if float(foot.distance[0]) > _ON:
        raise GeometryError(
            f"the line ends {float(foot.distance[0]):.2f} mm off the outline "
            f"near ({at[0]:.0f}, {at[1]:.0f})",
            where=piece.title,
            cure="Let it begin and end on the outline, or in the tip of a dart.",
        )
    piece, point = piece.with_vertex(float(foot.s[0]))
    return piece, point.vertex


def _check_within(piece: Piece, line: Path, darts: Sequence[Dart]) -> None:
    """Raises GeometryError, with all places, where a line leaves the piece; at the tips of
    darts it may touch the outline."""
    path = piece.outline.path
    tips = [np.array(d.apex) for d in darts]
    places = []
    for cross in crossings(line, path):
        free = all(float(np.hypot(*(cross.point - tip))) > _ON for tip in tips)
        if _ON < cross.s0 < line.length - _ON and free:
            edge, _ = piece.outline.edge_along(cross.s1)
            x, y = cross.point
            places.append(f"near ({x:.0f}, {y:.0f})" + (f" on {edge.name}" if edge.name else ""))
    if places:
        raise GeometryError(
            f"the line leaves the piece {' and '.join(places)}",
            where=piece.title,
            cure="Take places that lie opposite each other, or another line.",
        )
    touches = sorted(float(nearest(line, tip[None]).s[0]) for tip in tips)
    bounds = [0.0, *(s for s in touches if _ON < s < line.length - _ON), line.length]
    middles = np.array([(a + b) / 2 for a, b in pairwise(bounds)])
    if not contains(path, line.at(middles)).all():
        raise GeometryError(
            "the line lies outside the piece",
            where=piece.title,
            cure="Take places between which the piece lies.",
        )
