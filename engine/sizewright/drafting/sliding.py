"""Ends of the runs of a seam, and how one slides along its own run until that is long enough."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import GeometryError, SizewrightError
from ..geometry.crossings import self_crossings
from ..geometry.path import Path
from ..geometry.types import Floats
from ..model.features import kept_distance
from ..model.outline import Outline, Run, vertices_between
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..model.seams import ChainPart, Seam
from ..model.walk import run_ends
from .cutting_line import with_cutting_line
from .told_allowances import known_allowances

_EXACT = 1e-7
#: An end slides on over so much of its own run, in times the way.
_OWN = 3.0


@dataclass(frozen=True, slots=True)
class SeamEnd:
    """An end of one run of a seam: which part, on its second side or its first; the vertex.

    `at_end`: it is the run's end counter-clockwise; `begins`: the chain comes to it first.
    `stuck` says why it cannot slide; empty where it can. `others`: seams that the lines on
    either side of it lie in, but for its own.
    """

    part: ChainPart
    second: bool
    run: Run
    vertex: int
    at_end: bool
    begins: bool
    place: str
    stuck: str = ""
    others: tuple[str, ...] = ()

    @property
    def free(self) -> bool:
        """Whether it can slide and no other seam feels it."""
        return not self.stuck and not self.others

    def on(self, piece: Piece) -> SeamEnd:
        """The same end on the piece in another size, or after a vertex was put in."""
        run = piece.run(self.part.run)
        vertex = (run.end if self.at_end else run.start) % len(piece.outline.path)
        return replace(self, run=run, vertex=vertex)


def seam_ends(pattern: Pattern, seam: Seam, size: str | None = None) -> tuple[SeamEnd, ...]:
    """Both ends of every run of a seam, those of its second side first.

    Of one run the lower end by the axis comes first: a cutter takes it off below, at the hem
    before the waist. Raises LookupFailed for a run that is not there.
    """
    found: list[SeamEnd] = []
    for second, chain in ((True, seam.second), (False, seam.first)):
        for part in chain:
            piece = pattern.piece(part.piece, size)
            run = piece.run(part.run)
            start, end = piece.outline.path.vertices[
                [run.start % len(piece.outline.path), run.end % len(piece.outline.path)]
            ] @ np.array(piece.up)
            ends = [True, False] if end <= start else [False, True]
            found += [_end(pattern, seam, part, second, piece, run, at_end) for at_end in ends]
    return tuple(dict.fromkeys(found))


def _end(
    pattern: Pattern,
    seam: Seam,
    part: ChainPart,
    second: bool,
    piece: Piece,
    run: Run,
    at_end: bool,
) -> SeamEnd:
    n = len(piece.outline.path)
    vertex = (run.end if at_end else run.start) % n
    place = f"{piece.name}:{piece.outline.reference(vertex)}"
    inside, beyond = beside(piece.outline, vertex, at_end)
    own = vertices_between(run.start, run.end, n)[:-1]
    legs = _legs(piece, run)
    stuck = ""
    if run.start % n == run.end % n or beyond in own:
        stuck = "its run goes once round"
    elif _twice(seam, part):
        stuck = "its run lies on both sides of the seam"
    elif vertex not in piece.outline.corners:
        stuck = "its line runs smoothly on there"
    elif vertex in fixed_vertices(piece, legs):
        stuck = fixed_vertices(piece, legs)[vertex]
    others = tuple(
        dict.fromkeys(
            s.name
            for s in pattern.seams
            if s is not seam and not {inside, beyond}.isdisjoint(_segments(piece, s))
        )
    )
    if not stuck and beyond in _segments(piece, seam):
        stuck = "the line beyond it lies in the same seam"
    begins = (run_ends(piece, run)[0] % n == vertex) != part.reverse
    return SeamEnd(part, second, run, vertex, at_end, begins, place, stuck, others)


def _twice(seam: Seam, part: ChainPart) -> bool:
    """Whether the same run is on both sides of the seam: then moving it changes nothing."""
    runs = [(p.piece, p.run) for p in (*seam.first, *seam.second)]
    return runs.count((part.piece, part.run)) > 1


def beside(outline: Outline, vertex: int, at_end: bool) -> tuple[int, int]:
    """The segments at an end: the one inside the run, and the one beyond it."""
    before = (vertex - 1) % len(outline.path)
    return (before, vertex) if at_end else (vertex, before)


def _segments(piece: Piece, seam: Seam) -> set[int]:
    """Segments of a piece that lie on a seam."""
    found: set[int] = set()
    for part in (*seam.first, *seam.second):
        if part.piece == piece.name:
            try:
                run = piece.run(part.run)
            except SizewrightError:
                continue
            found.update(vertices_between(run.start, run.end, len(piece.outline.path))[:-1])
    return found


def _legs(piece: Piece, run: Run) -> str:
    """The dart of which a run is one leg; empty where it is none."""
    n = len(piece.outline.path)
    ends = {run.start % n, run.end % n}
    for dart in piece.darts:
        if dart.tip is not None and ends in ({dart.a, dart.tip}, {dart.tip, dart.b}):
            return dart.name
    return ""


def fixed_vertices(piece: Piece, but: str = "") -> dict[int, str]:
    """Vertices that do not slide, and why: of fold, darts, pleats and holds.

    The mouth of the dart `but` may: its own legs are meant.
    """
    n = len(piece.outline.path)
    fixed: dict[int, str] = {}
    for hold in piece.holds:
        fixed.update(dict.fromkeys(hold.vertices, "it is held"))
    for pleat in piece.pleats:
        fixed.update(dict.fromkeys(vertices_between(pleat.a, pleat.b, n), "it lies on a pleat"))
    for dart in piece.darts:
        inside = vertices_between(dart.a, dart.b, n)
        inside = inside[1:-1] if dart.name == but else inside
        fixed.update(dict.fromkeys(inside, f'it belongs to the dart "{dart.name}"'))
    if piece.fold is not None:
        on_fold = vertices_between(piece.fold.start, piece.fold.end, n)
        fixed.update(dict.fromkeys(on_fold, "it lies on the fold"))
    return fixed


def slid(piece: Piece, end: SeamEnd, gain: float, until: int | None = None) -> tuple[Piece, float]:
    """The piece with the sewn length of a run `gain` mm greater, and how far its end slid, mm.

    The end slides along the tangent of its run, which stays a straight line where it is one.
    The line beyond is faired to it as far as the vertex `until`, its tangents kept; without one
    its first segment goes along, and turns where it is straight. Notches keep their distances; a
    cutting line is made anew. Raises GeometryError where the run is too short for it, or where
    the outline would cross itself.
    """
    outline = piece.outline
    path = outline.path
    inside, _ = beside(outline, end.vertex, end.at_end)
    along: Floats = path.tangents_in[inside] if end.at_end else -path.tangents_out[inside]
    target = piece.sewn_length(end.run) + gain
    own = _own_stretch(piece, end, abs(gain))
    step = 1 if end.at_end else -1
    stop = (end.vertex + step) % len(path) if until is None else until
    beyond = _stretch(piece, end.vertex, step, {stop})
    by, fresh = 0.0, piece
    for _ in range(50):
        left = target - fresh.sewn_length(end.run)
        if abs(left) <= _EXACT:
            break
        by += left
        controls, lines = path.controls.copy(), path.lines.copy()
        for stretch, way in ((own, -step), (beyond, step)):
            controls[stretch] = _carried(path, stretch, way, by * along)
        if until is not None:
            lines[beyond] = False
        fresh = replace(piece, outline=outline.with_path(Path(controls, lines, True)))
    if abs(target - fresh.sewn_length(end.run)) > 1e-3:
        raise GeometryError("its run cannot be brought to that length")
    return followed(piece, fresh), by


def _stops(piece: Piece) -> set[int]:
    """Vertices that a smooth change does not pass."""
    stops = set(piece.outline.corners) | set(fixed_vertices(piece))
    for dart in piece.darts:
        stops |= {dart.a, dart.b}
    return stops


def next_stop(piece: Piece, end: SeamEnd) -> int:
    """The vertex beyond an end past which a smooth change of the edge does not go."""
    n, step = len(piece.outline.path), 1 if end.at_end else -1
    stops, at = _stops(piece), (end.vertex + step) % n
    while at not in stops and at != end.vertex:
        at = (at + step) % n
    return at


def _stretch(
    piece: Piece, vertex: int, step: int, stops: set[int], least: float | None = None
) -> list[int]:
    """Segments from a vertex on, the nearest first, as far as a stop, or as `least` mm."""
    path, found, long, at = piece.outline.path, [], 0.0, vertex
    while True:
        segment = (at if step > 0 else at - 1) % len(path)
        found.append(segment)
        long += float(path.segment_lengths[segment])
        at = (at + step) % len(path)
        if at in stops or at == vertex or (least is not None and long >= least):
            return found


def _own_stretch(piece: Piece, end: SeamEnd, way: float) -> list[int]:
    """The last segments of a run, so many that sliding its end bends none of them over."""
    n = len(piece.outline.path)
    stops = _stops(piece) | {end.run.start % n, end.run.end % n}
    stretch = _stretch(piece, end.vertex, -1 if end.at_end else 1, stops, _OWN * way)
    long = float(piece.outline.path.segment_lengths[stretch].sum())
    if long < 1.5 * way:
        raise GeometryError(f"only {long:.1f} mm of its run lie before the next corner")
    return stretch


def _carried(path: Path, stretch: list[int], way: int, by: Floats) -> Floats:
    """Control points of segments that go along with their near end, less and less.

    The move of a point at arc length s of the stretch is `by` times 1 - 3 u2 + 2 u3, with
    u = s / length; each cubic takes that at its ends with its slope, so tangents run on. `way` is
    -1 where the stretch is listed clockwise.
    """
    lengths = path.segment_lengths[stretch]
    total = float(lengths.sum())
    u = np.minimum(np.concatenate([[0.0], np.cumsum(lengths)]) / total, 1.0)
    weight, slope = 1 - 3 * u**2 + 2 * u**3, way * 6 * (u**2 - u) / total
    near, far = np.arange(len(stretch)), np.arange(len(stretch)) + 1
    a, b = (near, far) if way > 0 else (far, near)
    c = path.controls[stretch]
    handles = [np.hypot(*step.T) for step in (c[:, 1] - c[:, 0], c[:, 3] - c[:, 2])]
    moves = [
        weight[a],
        weight[a] + slope[a] * handles[0],
        weight[b] - slope[b] * handles[1],
        weight[b],
    ]
    moved: Floats = c + np.stack(moves, axis=1)[..., None] * by
    return moved


def followed(before: Piece, after: Piece) -> Piece:
    """A piece with a line drawn anew: its notches at their distances, its cutting line made anew.

    Raises GeometryError where the outline would cross itself.
    """
    if after.outline.path.area <= 0:
        raise GeometryError("the outline would be turned inside out")
    crossed = next((c for c in self_crossings(after.outline.path) if c.kind != "touch"), None)
    if crossed is not None:
        x, y = crossed.point
        raise GeometryError(f"the outline would cross itself near ({x:.0f}, {y:.0f})")
    after = _notches_kept(before, after)
    if before.cut_line is None:
        return after
    return with_cutting_line(replace(after, allowances=known_allowances(before)))


def _notches_kept(before: Piece, after: Piece) -> Piece:
    """Each notch at its distance in mm from the end of its edge that it goes by."""
    notches = []
    for notch in after.notches:
        a = before.outline.edge_from(notch.at.start).length
        b = after.outline.edge_from(notch.at.start).length
        if a != b:
            distance = min(max(kept_distance(notch, a, b), 0.0), b)
            notch = replace(notch, at=replace(notch.at, distance=distance))
        notches.append(notch)
    return replace(after, notches=tuple(notches))
