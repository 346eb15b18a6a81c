"""Where edges run on from piece to piece as sewn: across the ends of seams and closed darts.

The pieces are laid together along the seam; what the corners on both sides of it leave to a
straight angle is the kink, and by how much one edge stands beyond the other is the step.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from ..errors import SizewrightError
from ..geometry.types import Floats
from .features import Dart, Mark
from .matching import SeamMatch, match_seam, unjudged
from .outline import Run
from .pattern import Pattern
from .piece import Piece
from .seams import ChainPart, Seam
from .walk import ChainWalk, run_ends

#: Edges of other names that turn by more, in degrees, are not meant to run on.
_CORNER = 30.0
#: Edges in two seams that turn by more are not, where the other way across is smoother.
_LEANS = 10.0
#: Seams within two sides are meant to meet where they lie no further apart, mm.
_NEAR = 15.0
#: How the story of a facing that was drafted begins.
FACING_STEP = "facing drafted along"
#: What lines are called at which the cloth is folded over.
FOLD_LINE = "fold line"
#: A fold line ends at a corner that is so near, mm.
_ON = 0.05
#: Pieces that are turned back on what they are sewn to, as facings are, by their names.
_TURNED_BACK = frozenset(("lining", "binding"))


class JointSide(NamedTuple):
    """One side of a joint: the corner of a piece (a vertex, and how it is said), and the edge
    that runs on there; `onward` where that goes on from it counter-clockwise. Where the cloth is
    folded over at an edge that is its fold line (`folded`)."""

    piece: str
    vertex: int
    point: str
    line: str
    onward: bool
    folded: bool = False

    def __str__(self) -> str:
        return f"{self.piece}:{self.line}"


class SewnJoint(NamedTuple):
    """Where the edge of one piece runs on into that of another across a seam or closed dart.

    `kink` in degrees: by how much the line turns there, positive where it points out of the
    piece, negative where it dips in; None where it is not meant to run on. `step` in mm: by how
    much the first edge stands beyond the second. `ends`: at an end of the seam, not within it.
    `legs`: of the dart that `seam` names, mm.
    """

    seam: str
    size: str
    first: JointSide
    second: JointSide
    kink: float | None
    step: float
    ends: bool = True
    legs: tuple[float, float] | None = None


@dataclass(frozen=True)
class _Corner:
    """The end of a run: its vertex, and the segment of the outline beyond it; where the cloth is
    folded over there, the line that it is folded at."""

    piece: Piece
    vertex: int
    beyond: int

    @cached_property
    def fold(self) -> Mark | None:
        at = self.piece.outline.vertex_at(self.vertex)
        for mark in self.piece.marks:
            ends = (mark.path.start, mark.path.end)
            if mark.kind == FOLD_LINE and min(np.hypot(*(end - at)) for end in ends) <= _ON:
                return mark
        return None

    @property
    def turn(self) -> float:
        path = self.piece.outline.path
        if self.fold is None:
            return float(path.turns[self.vertex])
        line = self.fold.path
        if np.hypot(*(line.start - path.vertices[self.vertex])) > _ON:
            line = line.reversed()
        if self.beyond == self.vertex:
            return _turn(path.tangents_in[self.vertex - 1], line.tangents_out[0])
        return _turn(-line.tangents_out[0], path.tangents_out[self.vertex])

    @property
    def in_dart(self) -> bool:
        """Whether a leg of a dart lies beyond it."""
        outline = self.piece.outline
        return any(outline.holds(Run(d.a, d.b), self.beyond) for d in self.piece.darts)

    @property
    def lines(self) -> set[str | None]:
        """Names of the edges beyond it."""
        if self.fold is not None:
            return {self.fold.name}
        return {run.name for run in _runs_on_segment(self.piece, self.beyond)}

    def side(self) -> JointSide:
        outline = self.piece.outline
        return JointSide(
            self.piece.name,
            self.vertex,
            outline.reference(self.vertex) or "a curve",
            edge_name(self.piece, self.vertex, self.beyond)
            if self.fold is None
            else self.fold.name or FOLD_LINE,
            self.beyond == self.vertex,
            self.fold is not None,
        )


def dart_joints(piece: Piece) -> tuple[SewnJoint, ...]:
    """The joints across the closed darts of a piece: the kink of the edge, the step of the legs."""
    return tuple(_across_dart(piece, dart) for dart in piece.darts)


def sewn_joints(pattern: Pattern) -> tuple[SewnJoint, ...]:
    """The joints at the ends of every seam, and where seams within its two sides meet, by size.

    Whether edges are meant to run on is told by the first size: both lie in one seam, or bear
    one name, or nearly run on. Left out are folds, smooth ends (slits), facings against what
    they face, seams that are not judged or not found.

    >>> from sizewright.formats import read_svg
    >>> from sizewright.shipped import shipped
    >>> pattern = read_svg(shipped("examples/supper-top/supper-top.svg")).pattern
    >>> neck = sewn_joints(pattern)[0]
    >>> f"{neck.first} to {neck.second} over the {neck.seam}"
    'front:neck to back:neck over the shoulder'
    """
    found: list[SewnJoint] = []
    for seam in pattern.seams:
        if unjudged(pattern, seam):
            continue
        meant: dict[int, bool] = {}
        for size in pattern.sizes or (None,):
            try:
                found += _of_seam(pattern, seam, size, meant)
            except SizewrightError:
                continue  # the check of seams tells what is wrong with it
    return tuple(found)


def _of_seam(
    pattern: Pattern, seam: Seam, size: str | None, meant: dict[int, bool]
) -> Iterator[SewnJoint]:
    match = match_seam(pattern, seam, size)
    first, second = (_corners(pattern, chain, size) for chain in (seam.first, seam.second))
    far = _far_end(match, first)
    for at, (a, b) in enumerate(((first[0][0], second[0][0]), (first[-1][1], second[-1][1]))):
        kink = a.turn + b.turn - 180.0
        if at not in meant:
            meant[at] = _runs_on(pattern, seam, size, a, b, kink)
        if meant[at] or at == far:
            shown, step = kink if meant[at] else None, match.off if at == far else 0.0
            yield SewnJoint(seam.name, size or "", a.side(), b.side(), shown, step)
    if seam.ease is None:
        for one, other, step in _within(match, first, second):
            yield SewnJoint(seam.name, size or "", one.side(), other.side(), None, step, False)


def _within(
    match: SeamMatch, first: list[tuple[_Corner, _Corner]], second: list[tuple[_Corner, _Corner]]
) -> Iterator[tuple[_Corner, _Corner, float]]:
    """Seams within both sides that are meant to meet, and how far they miss each other."""
    there = [(match.to_first(s), corner) for s, corner in _inner(match.second, second)]
    for s, corner in _inner(match.first, first):
        t, other = min(there, key=lambda one: abs(one[0] - s), default=(s + 2 * _NEAR, corner))
        if abs(t - s) <= _NEAR:
            yield corner, other, s - t


def _inner(
    chain: ChainWalk, corners: list[tuple[_Corner, _Corner]]
) -> Iterator[tuple[float, _Corner]]:
    """Where one run of a chain ends and another begins, in mm from its start."""
    done, k = 0.0, 0
    for step in chain.steps:
        for _ in range(step.part.count):
            done, k = done + step.walk.length, k + 1
            if k < len(corners):
                a, b = corners[k - 1][1], corners[k][0]
                if (a.piece.name, a.vertex) != (b.piece.name, b.vertex):
                    yield done, a


def _corners(
    pattern: Pattern, chain: tuple[ChainPart, ...], size: str | None
) -> list[tuple[_Corner, _Corner]]:
    """Start and end of each run of a chain, as it is walked; of each count of it."""
    found = []
    for part in chain:
        piece = pattern.piece(part.piece, size)
        run = piece.run(part.run)
        start, end = (_corner(piece, run, v) for v in run_ends(piece, run))
        for turn in range(part.count):
            back = (turn % 2 == 1) != part.reverse
            found.append((end, start) if back else (start, end))
    return found


def _corner(piece: Piece, run: Run, vertex: int) -> _Corner:
    n = len(piece.outline.path)
    return _Corner(piece, vertex % n, (vertex if vertex == run.end else vertex - 1) % n)


def _far_end(match: SeamMatch, corners: list[tuple[_Corner, _Corner]]) -> int:
    """The end at which sides of unlike length part: 0 the start, 1 the end.

    Seams are pinned at the upper end where they are upright, else at that nearer the centre.
    """
    (a, b) = corners[0][0], corners[-1][1]
    up = np.array(a.piece.up)
    if a.piece.name != b.piece.name:
        return 1
    step = b.piece.outline.vertex_at(b.vertex) - a.piece.outline.vertex_at(a.vertex)
    rise = float(step @ up)
    return 0 if rise > float(np.hypot(*(step - rise * up))) else 1


def _runs_on(
    pattern: Pattern, seam: Seam, size: str | None, a: _Corner, b: _Corner, kink: float
) -> bool:
    """Whether the edges beyond two corners that meet are one line of the garment."""
    if any(c.fold is None and c.vertex not in c.piece.outline.corners for c in (a, b)):
        return False
    if any(c.piece.on_fold(c.beyond) or c.in_dart for c in (a, b)):
        return False
    if _turned_back(a.piece) != _turned_back(b.piece):
        return False
    if _faces(a.piece, b.piece) or _faces(b.piece, a.piece):
        return False
    one, other = (_seams_of(pattern, c) - {seam.name} for c in (a, b))
    if one & other:
        return True
    alike = bool(a.lines & b.lines)
    if one and other and not alike:
        return False
    if one and other and abs(kink) > _LEANS:
        ways = [w for c in (a, b) for w in _across(pattern, seam, size, c)]
        if any(abs(way) < abs(kink) for way in ways):
            return False
    itself = (a.piece.name, a.vertex) == (b.piece.name, b.vertex)
    return (alike and not itself) or abs(kink) <= _CORNER


def _across(pattern: Pattern, but: Seam, size: str | None, corner: _Corner) -> Iterator[float]:
    """The kinks across the other seams that end at a corner."""
    here = (corner.piece.name, corner.vertex)
    for seam in pattern.seams:
        if seam is but:
            continue
        try:
            chains = [_corners(pattern, chain, size) for chain in (seam.first, seam.second)]
        except SizewrightError:
            continue
        for ends in ([c[0][0] for c in chains], [c[-1][1] for c in chains]):
            if here in [(c.piece.name, c.vertex) for c in ends]:
                yield sum(c.turn for c in ends) - 180.0


def is_facing(piece: Piece) -> bool:
    """Whether a piece was drafted to face an edge, or bears the name of a facing."""
    return any(step.startswith(FACING_STEP) for step in piece.story) or "facing" in _words(piece)


def _faces(piece: Piece, other: Piece) -> bool:
    """Whether a piece was drafted as a facing for another, which may be a facing itself."""
    steps = (step for step in piece.story if step.startswith(FACING_STEP))
    return any(f" {other.name}:" in step for step in steps)


def _turned_back(piece: Piece) -> bool:
    return is_facing(piece) or not _TURNED_BACK.isdisjoint(_words(piece))


def _words(piece: Piece) -> list[str]:
    return re.findall(r"[a-z]+", piece.name.lower())


def _seams_of(pattern: Pattern, corner: _Corner) -> set[str]:
    """Names of the seams that the edge beyond a corner lies in."""
    piece, found = corner.piece, set()
    for seam in pattern.seams:
        for part in (*seam.first, *seam.second):
            if part.piece != piece.name:
                continue
            try:
                run = piece.run(part.run)
            except SizewrightError:
                continue
            if piece.outline.holds(run, corner.beyond):
                found.add(seam.name)
    return found


def edge_name(piece: Piece, vertex: int, segment: int) -> str:
    """What the edge on a segment is called: by the longest run that ends at `vertex`, else the
    shortest that it lies on, else its number."""
    outline = piece.outline
    runs = _runs_on_segment(piece, segment)
    ending = [r for r in runs if vertex in (r.start % len(outline.path), r.end % len(outline.path))]
    if runs:
        long = outline.run_length
        return str((max(ending, key=long) if ending else min(runs, key=long)).name)
    s = float(outline.path.cumulative[segment] + outline.path.segment_lengths[segment] / 2)
    return f"#{outline.edge_along(s)[0].number}"


def _runs_on_segment(piece: Piece, segment: int) -> list[Run]:
    outline = piece.outline
    return [r for r in outline.runs if r.name and outline.holds(r, segment)]


def _across_dart(piece: Piece, dart: Dart) -> SewnJoint:
    outline = piece.outline
    path, n = outline.path, len(outline.path)
    a, b = dart.a % n, dart.b % n
    mouth = outline.vertex_at(a), outline.vertex_at(b)
    if dart.tip is not None:
        one, other = (outline.run_length(r) for r in (Run(a, dart.tip), Run(dart.tip, b)))
        turn = float(path.turns[a] + path.turns[b])
    else:
        apex = np.array(dart.apex)
        one, other = (float(np.hypot(*(apex - v))) for v in mouth)
        turn = _turn(path.tangents_in[a - 1], apex - mouth[0])
        turn += _turn(mouth[1] - apex, path.tangents_out[b])
    first = _Corner(piece, a, (a - 1) % n).side()
    second = _Corner(piece, b, b).side()
    kink = turn % 360.0 - 180.0
    return SewnJoint(
        dart.name, piece.size or "", first, second, kink, one - other, legs=(one, other)
    )


def _turn(before: Floats, after: Floats) -> float:
    cross = before[0] * after[1] - before[1] * after[0]
    return float(np.degrees(np.arctan2(cross, before @ after)))
