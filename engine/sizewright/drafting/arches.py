"""A run that rises between two ends that keep their place, as a sleeve's cap: drawn higher or
lower. A half that ends on the fold is one too, and its foot alone keeps its place."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import GeometryError
from ..geometry.flatten import flatten
from ..geometry.types import Floats
from ..model.carrying import moved
from ..model.features import Notch
from ..model.outline import Run, vertices_between
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..model.seams import Seam
from .sliding import fixed_vertices, followed

#: A run is an arch where its ends lie level within this share of the way between them, and
#: it dips no lower than this share of its height,
_LEVEL = 0.1
#: and where it rises above them by this share at least.
_RISES = 0.2
#: No arch is drawn lower or higher than these shares of its height.
_SHARES = (0.5, 1.5)
#: So much lower is level still, mm.
_ON = 0.1


@dataclass(frozen=True, slots=True)
class ArchSide:
    """A whole side of a seam that is one arch: whether the second; piece, run, and its count."""

    second: bool
    name: str
    piece: Piece
    run: Run
    count: int


def arch_sides(
    pattern: Pattern, seam: Seam, size: str | None = None, *, flat: bool = False
) -> tuple[ArchSide, ...]:
    """The sides of a seam that are one arch each, the second first. One is made of a single run
    or of several that follow on each other. With `flat` so are caps that hardly rise: the top
    of a piece that is sewn to lines which stand upright, as armholes do.

    Raises LookupFailed for a run that is not there.
    """
    found = []
    for second, chain in ((True, seam.second), (False, seam.first)):
        if len({(part.piece, part.count) for part in chain}) == 1:
            piece = pattern.piece(chain[0].piece, size)
            run = _whole(piece, [piece.run(part.run) for part in chain])
            if run is None:
                continue
            mates = seam.first if second else seam.second
            if is_arch(piece, run) or (
                flat
                and _is_top(piece, run)
                and all(_upright(pattern.piece(p.piece, size), p.run) for p in mates)
            ):
                name = " + ".join(f"{part.piece}:{part.run}" for part in chain)
                found.append(ArchSide(second, name, piece, run, chain[0].count))
    return tuple(found)


def _whole(piece: Piece, runs: list[Run]) -> Run | None:
    """The one run that several make end to end, counter-clockwise; None where they do not."""
    n = len(piece.outline.path)
    after = {run.start % n: run for run in runs}
    firsts = [run for run in runs if run.start % n not in {r.end % n for r in runs}]
    if len(firsts) != 1 or len(after) < len(runs):
        return None
    last = firsts[0]
    for _ in runs[1:]:
        if last.end % n not in after:
            return None
        last = after[last.end % n]
    return Run(firsts[0].start, last.end)


def is_arch(piece: Piece, run: Run) -> bool:
    """Whether a run is an arch: two ends on a level (or one end on the fold), all of it above
    them by the piece's axis, well risen, with no dart, pleat or hold in it, nor more of the
    fold."""
    return _is_level(piece, run, _RISES)


def _is_top(piece: Piece, run: Run) -> bool:
    """Whether a run of level ends is the top of its piece."""
    if not _is_level(piece, run, 0.0):
        return False
    own = piece.outline.path.controls[_segments(piece, run)].reshape(-1, 2)
    every = _heights(piece, run, piece.outline.path.controls.reshape(-1, 2))
    return bool(every.max() <= _heights(piece, run, own).max() + _ON)


def _upright(piece: Piece, run: str) -> bool:
    found = piece.run(run)
    n = len(piece.outline.path)
    step = np.subtract(*piece.outline.path.vertices[[found.end % n, found.start % n]])
    return abs(float(step @ np.array(piece.up))) > float(np.hypot(*step)) / 2


def _is_level(piece: Piece, run: Run, least: float) -> bool:
    """Whether a run has level ends, or a half of it, and rises by this share of its span."""
    vertices = vertices_between(run.start, run.end, len(piece.outline.path))
    inside, top = set(vertices), _fold_end(piece, run)
    if vertices[0] == vertices[-1]:
        return False
    if top is not None:
        inside.discard(top)
    if not fixed_vertices(piece).keys().isdisjoint(inside):
        return False
    ends = piece.outline.path.vertices[[vertices[0], vertices[-1]]]
    up = np.array(piece.up)
    step = ends[1] - ends[0]
    span = abs(float(step @ np.array([up[1], -up[0]])))
    if top is not None:
        span *= 2.0
        if not _hangs(piece, run):
            return False
    elif abs(float(step @ up)) > _LEVEL * span:
        return False
    heights = _heights(piece, run, piece.outline.path.controls[vertices[:-1]].reshape(-1, 2))
    high = float(heights.max())
    return span > 0.0 and high >= least * span and bool(heights.min() >= -_LEVEL * (high + _ON))


def _fold_end(piece: Piece, run: Run) -> int | None:
    """The vertex where one end of a run, but not both, meets an end of the fold."""
    if piece.fold is None:
        return None
    n = len(piece.outline.path)
    met = {run.start % n, run.end % n} & {piece.fold.start % n, piece.fold.end % n}
    return met.pop() if len(met) == 1 else None


def _hangs(piece: Piece, run: Run) -> bool:
    """Whether the fold runs along the piece's axis, so that its end can move along both, and on
    below the foot of a half arch."""
    assert piece.fold is not None
    ends = piece.outline.path.vertices[[piece.fold.start, piece.fold.end]]
    step = ends[1] - ends[0]
    straight = abs(float(step @ np.array(piece.up))) > (1.0 - 1e-9) * float(np.hypot(*step))
    return straight and float(_heights(piece, run, ends).min()) < -_ON


def _segments(piece: Piece, run: Run) -> list[int]:
    return vertices_between(run.start, run.end, len(piece.outline.path))[:-1]


def raised(piece: Piece, run: Run, gain: float) -> tuple[Piece, float]:
    """The piece with an arch whose sewn length is `gain` mm greater, and how far its top rose, mm.

    All of it goes up or down by the piece's axis, by its share of the height above the line
    between its ends. They stay, but for one on the fold, and so do slopes along the axis and
    square to it; what lies within the arch goes along. Notches keep their distances, those with
    a rule their place on the curve; a cutting line is made anew. Raises GeometryError where the
    arch would come out half as high or half as high again.
    """
    outline, path = piece.outline, piece.outline.path
    own = _segments(piece, run)
    up = np.array(piece.up)
    top = _fold_end(piece, run)
    at_end = (0, 0) if top == own[0] else (-1, 3)

    def drawn(share: float) -> Piece:
        controls = path.controls.copy()
        at = controls[own]
        rise = _heights(piece, run, at.reshape(-1, 2)).reshape(at.shape[:2])
        controls[own] = at + (share - 1.0) * rise[..., None] * up
        if top is not None:  # the end of the fold goes along
            controls[top - 1, 3] = controls[top, 0] = controls[own][at_end]
        return replace(piece, outline=outline.with_path(path.with_controls(controls)))

    target = piece.sewn_length(run) + gain

    def off(share: float) -> float:
        return drawn(share).sewn_length(run) - target

    low, high = _SHARES
    if not off(low) < 0.0 < off(high):
        raise GeometryError("it would have to be drawn half as high, or half as high again")
    from scipy.optimize import brentq

    share = float(brentq(off, low, high, xtol=1e-12))

    def within(points: Floats) -> Floats:
        rise = np.maximum(_heights(piece, run, points), 0.0)
        placed: Floats = points + (share - 1.0) * rise[:, None] * up
        return placed

    fresh = drawn(share).with_features(lambda one: moved(one, within))
    return _ruled_kept(piece, followed(piece, fresh)), (share - 1.0) * arch_height(piece, run)


def _ruled_kept(before: Piece, after: Piece) -> Piece:
    """Notches that have a rule, as one at a cap's top, on the same place of the curve."""

    def kept(was: Notch, notch: Notch) -> Notch:
        if was.rule is None:
            return notch
        segment, t = before.outline.path.locate(before.outline.arc_length_of(was.at))
        s = after.outline.path.arc_length_at(int(segment), float(t))
        return replace(notch, at=after.outline.spot(s))

    return replace(after, notches=tuple(map(kept, before.notches, after.notches)))


def _heights(piece: Piece, run: Run, points: Floats) -> Floats:
    """How far page points (m, 2) lie above the line between the ends of a run, by the axis; above
    its foot where the other end lies on the fold."""
    n = len(piece.outline.path)
    a, b = piece.outline.path.vertices[[run.start % n, run.end % n]]
    up = np.array(piece.up)
    across = np.array([up[1], -up[0]])
    top = _fold_end(piece, run)
    if top is not None:
        foot = b if top == run.start % n else a
        above: Floats = (points - foot) @ up
        return above
    slope = float((b - a) @ up) / float((b - a) @ across)
    heights: Floats = (points - a) @ up - slope * ((points - a) @ across)
    return heights


def arch_height(piece: Piece, run: Run) -> float:
    """How far the top of an arch lies above the line between its ends, by the axis, mm."""
    own = _segments(piece, run)
    line = flatten(piece.outline.path.segments(own[0], own[-1] + 1), 0.01)
    return float(_heights(piece, run, line).max())
