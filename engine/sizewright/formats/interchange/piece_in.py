"""One block of an interchange drawing as a piece."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...errors import InputError
from ...geometry.nearest import nearest
from ...geometry.path import Path
from ...geometry.types import Floats
from ...model import Cutout, Drill, Fold, Outline, Piece
from ...model.outline import in_corner_order
from ..drawing.drafts import Draft
from ..drawing.loops import same_line
from ..drawing.pieces import judge_size
from .blocks_in import Block
from .boundary_in import Loop, fold_ends, outline_of
from .features_in import (
    cutout_lines,
    labels_of,
    mark_lines,
    marks_of,
    tell_cutouts,
    with_axis,
    with_words,
)
from .layers import (
    BOUNDARY,
    BOUNDARY_CHECK,
    CURVE,
    DRILL,
    INTERNAL,
    MIRROR,
    PLAID,
    SEW,
    SEW_CHECK,
    STRIPE,
    TURN,
)
from .lines_in import AT_VERTEX, DrawnLine, Points, on_points, on_vertices
from .notches_in import notches_of
from .rules_at import with_rules

#: A curve may lie this far from the one that the file gives to judge it by, mm.
_JUDGED = 0.5
#: A sewing line holds at least this share of the piece.
_SEWN_SHARE = 0.3
_MOST_POINTS, _MOST_TEXTS = 20_000, 4_000


def joined(block: Block, draft: Draft) -> Joined | None:
    """A block with its lines joined; None, with a failure told, where its boundary does not close.

    Raises InputError for a block that is no piece.
    """
    _refuse_crowds(block)
    mirror = _mirror(block, draft)
    boundary = outline_of(block.paths[BOUNDARY], mirror, draft)
    return None if boundary is None else Joined(block, draft, mirror, boundary)


class Joined:
    """What becomes the piece of a block, once its `lines` are refitted. What is odd is told.

    A sewing line within the boundary is the outline then, and the boundary its cutting line.
    """

    def __init__(self, block: Block, draft: Draft, mirror: Floats | None, boundary: Loop) -> None:
        self.block, self.draft, self.mirror, self.boundary = block, draft, mirror, boundary
        points = Points.of(block.points.get(TURN, ()), block.points.get(CURVE, ()))
        self.fold = None if mirror is None else fold_ends(boundary.path, mirror)
        if mirror is not None and self.fold is None:
            text = "the mirror line is no side of the boundary; kept as a mark"
            draft.find("mirror-inside", "note", text)
        self.sewn = _sewn(block, boundary, None if self.fold is None else mirror, draft)
        self.outlines = self._outlines(points)
        self.marks = [(k, DrawnLine(path, points)) for k, path in mark_lines(block, self.sewn)]
        closed, self.open_cutouts = cutout_lines(block, boundary)
        self.cutouts = [DrawnLine(path, points) for path in closed]

    def _outlines(self, points: Points) -> list[DrawnLine]:
        """The boundary, and the sewing line where it is another."""
        boundary, sewn, mirror = self.boundary.path, self.sewn, self.mirror
        inner = [p for k in (INTERNAL, STRIPE, PLAID) for p in self.block.paths.get(k, ())]
        if sewn is None or same_line(boundary, sewn.path, AT_VERTEX):
            return [DrawnLine(boundary, _own(points, boundary, inner), self.fold)]
        # A point at a vertex of one line only is no point of the other, though it lie on it.
        outer = _own(points, boundary, [sewn.path, *inner])
        own = _own(points, sewn.path, [boundary, *inner])
        fold = None if self.fold is None or mirror is None else fold_ends(sewn.path, mirror)
        return [DrawnLine(boundary, outer, self.fold), DrawnLine(sewn.path, own, fold)]

    @property
    def lines(self) -> list[DrawnLine]:
        """Every line whose chords may be curves."""
        return [*self.outlines, *(line for _, line in self.marks), *self.cutouts]

    def piece(self) -> Piece:
        """The piece, its lines settled."""
        block, draft = self.block, self.draft
        boundary, *inner = self.outlines
        outline, fold = _outline(boundary, "boundary", draft), self.fold
        cut_line = None
        for line in inner:
            if fold is not None and line.keep is None:
                text = (
                    "the mirror line is a side of the boundary and not of the sewing line; no fold"
                )
                draft.find(
                    "mirror-apart", "warn", text, "Let both lines run along the mirror line."
                )
            cut_line, fold = outline, line.keep
            outline = _outline(line, "sewing line", draft)
        ruled = with_rules(block, outline, cut_line, draft)
        marks = [(kind, line.settled().path) for kind, line in self.marks]
        mirror = self.mirror if self.fold is None else None
        piece = Piece(
            draft.name,
            ruled.outline,
            "unknown" if self.sewn is None else "sew",
            cut_line=ruled.cut_line,
            size=draft.size,
            fold=_fold(ruled.outline, fold),
            drills=tuple(Drill(at) for at in block.points.get(DRILL, ())),
            marks=marks_of(marks, self.boundary, self.sewn, mirror, draft),
            cutouts=tuple(Cutout(line.settled().path) for line in self.cutouts),
            labels=labels_of(block),
        )
        tell_cutouts(self.boundary, self.open_cutouts, draft)
        piece = with_axis(block, piece, draft)
        piece = replace(piece, notches=notches_of(block, piece, ruled.at_notches, draft))
        piece = with_words(block, piece, draft)
        _judge(block, piece, draft)
        return piece


def _refuse_crowds(block: Block) -> None:
    """Raise InputError for a block with so many points or texts that it is no piece."""
    points = sum(map(len, block.points.values()))
    texts = len(block.texts) + len(block.rules)
    if points > _MOST_POINTS or texts > _MOST_TEXTS:
        raise InputError(
            f"it has {points} points and {texts} texts, more than a piece can have",
            cure="Take out everything that is not the piece.",
        )


# --- outlines -------------------------------------------------------------------------


def _mirror(block: Block, draft: Draft) -> Floats | None:
    lines = sorted(block.paths.get(MIRROR, []), key=lambda p: -p.length)
    if len(lines) > 1:
        draft.find("mirror-twice", "warn", f"{len(lines)} mirror lines; the longest was taken")
    return np.array([lines[0].start, lines[0].end]) if lines else None


def _sewn(block: Block, boundary: Loop, mirror: Floats | None, draft: Draft) -> Loop | None:
    paths = block.paths.get(SEW, [])
    loop = outline_of(paths, mirror) if paths else None
    if paths and (loop is None or loop.path.area < _SEWN_SHARE * boundary.path.area):
        text = "the sewing lines do not go round the piece; kept as marks"
        draft.find("sew-open", "warn", text, "Draw them to meet, or state the allowance.")
        return None
    return loop


def _own(points: Points, path: Path, others: list[Path]) -> Points:
    """The points less the turn points of `others`, which may end on the outline: those at none
    of its vertices, or where it has a curve point of its own."""
    every = np.vstack([points.turn, points.curve])
    gone = [on_vertices(every, other) for other in others]
    if not gone:
        return points
    theirs = np.vstack(gone)
    mine = on_vertices(theirs, path)
    apart = (theirs[:, None] != mine[None]).any(axis=2).all(axis=1)
    left = points.without(theirs[apart])
    both = on_points(theirs, left.curve)
    return Points(left.without(both).turn, left.curve)


def _outline(drawn: DrawnLine, what: str, draft: Draft) -> Outline:
    line = drawn.settled()
    if line.runs:
        runs = "1 run" if line.runs == 1 else f"{line.runs} runs"
        draft.find("refitted", "note", f"{runs} of short chords in the {what} came back as curves")
    if line.strung:
        text = f"{line.strung} curves of the {what} were laid through its curve points"
        draft.find("curves-through-points", "note", text)
    if line.unmarked:
        text = f"{line.unmarked} corners of the {what} bear no turn point"
        draft.find("corner-unmarked", "note", text)
    if not len(drawn.points.turn):
        text = f"no turn points: the turns of the {what} itself tell its corners"
        draft.find("no-turn-points", "note", text)
    return Outline(line.path, in_corner_order(line.path, line.corners))


def _fold(outline: Outline, ends: Floats | None) -> Fold | None:
    if ends is None:
        return None
    vertices = outline.path.vertices
    start, end = (int(np.hypot(*(vertices - e).T).argmin()) for e in ends)
    return Fold(start, end) if start != end else None


# --- judging --------------------------------------------------------------------------


def _judge(block: Block, piece: Piece, draft: Draft) -> None:
    judge_size(piece, draft, "Check the units of the drawing, or say its unit (--units).")
    pairs = [(BOUNDARY_CHECK, piece.drawn.path)]
    if piece.cut_line is not None:
        pairs.append((SEW_CHECK, piece.outline.path))
    for layer, path in pairs:
        for check in block.paths.get(layer, ()):
            places = check.at(np.linspace(0.0, check.length, 50))
            away = float(nearest(path, places).distance.max())
            if away > _JUDGED:
                text = f"a curve lies {away:.2f} mm from the one that the file judges it by"
                draft.find("curve-doubtful", "warn", text)
