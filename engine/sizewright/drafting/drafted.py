"""Pieces drafted anew, from lengths or from the edges that they finish."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from types import MappingProxyType
from typing import Any

import numpy as np

from ..errors import InputError
from ..geometry import affine
from ..geometry.path import Path
from ..model.features import Grain, Mark
from ..model.joints import FOLD_LINE
from ..model.outline import Outline, Point, Run
from ..model.pattern import Pattern
from ..model.piece import Piece
from ..model.seams import Seam

#: Room between pieces that were drafted or grew and others, mm: they may get allowance yet.
APART = 60.0
#: A drafted grain line takes this share of the way that it lies along.
_GRAIN = 0.6


def drafted_piece(
    name: str,
    size: str | None,
    corners: Sequence[tuple[str, tuple[float, float]]],
    runs: Mapping[str, tuple[str, str]],
    step: str,
    **more: Any,
) -> Piece:
    """A straight-edged piece by its named corners, counter-clockwise, in mm.

    `runs` by name, each from one corner to another, counter-clockwise. `step` begins its story;
    `more` are other fields of the piece.
    """
    path = Path.polyline([at for _, at in corners], closed=True)
    number = {word: k for k, (word, _) in enumerate(corners)}
    outline = Outline.of(
        path,
        points=[Point(k, word) for word, k in number.items()],
        runs=[Run(number[a], number[b], word) for word, (a, b) in runs.items()],
    )
    return Piece(name, outline, kind="sew", size=size, story=(step,), **more)


def drafted_strip(
    name: str,
    size: str | None,
    sides: tuple[float, float],
    step: str,
    folds: Sequence[float] = (),
    fold_name: str = "fold",
    **more: Any,
) -> Piece:
    """A level strip by its length and height, mm, with edges `low`, `end`, `high` and `start`.

    `folds`: how high lines along it lie to be folded at; called `fold_name` and a number. The
    rest as `drafted_piece` has it.
    """
    long, tall = sides
    corners = {
        "start-low": (0.0, 0.0),
        "end-low": (long, 0.0),
        "end-high": (long, tall),
        "start-high": (0.0, tall),
    }
    runs = {
        "low": ("start-low", "end-low"),
        "end": ("end-low", "end-high"),
        "high": ("end-high", "start-high"),
        "start": ("start-high", "start-low"),
    }
    marks = tuple(
        Mark(Path.polyline([(0.0, y), (long, y)]), FOLD_LINE, f"{fold_name}-{k}")
        for k, y in enumerate(folds, 1)
    )
    return drafted_piece(name, size, [*corners.items()], runs, step, marks=marks, **more)


def lengthwise_grain(box: tuple[float, float, float, float], degrees: float = 0.0) -> Grain:
    """A grain line through the middle of a box (x0, y0, x1, y1), level or so many degrees up."""
    x0, y0, x1, y1 = box
    way = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
    sides = np.array([x1 - x0, y1 - y0])
    with np.errstate(divide="ignore"):
        half = _GRAIN / 2 * float((sides / np.abs(way)).min())
    middle = np.array([x0 + x1, y0 + y1]) / 2
    (ax, ay), (bx, by) = middle - way * half, middle + way * half
    return Grain((float(ax), float(ay)), (float(bx), float(by)))


def with_drafted(
    pattern: Pattern,
    make: Callable[[str | None], Sequence[Piece]],
    seams: Sequence[Seam] = (),
) -> Pattern:
    """The pattern with the pieces that `make` gives for each size, right of all others, and
    with `seams`.

    Sizes of a drafted piece lie over each other. Raises InputError for a name that is taken.
    """
    made = [piece for size in pattern.sizes or (None,) for piece in make(size)]
    taken = set(pattern.names)
    for piece in made:
        if piece.name in taken:
            raise InputError(
                f'there is a piece "{piece.name}" already',
                cure="Give the new piece another name.",
            )
    known = {seam.name for seam in pattern.seams}
    for seam in seams:
        if seam.name in known:
            raise InputError(
                f'there is a seam "{seam.name}" already', cure="Give the new piece another name."
            )
    names = tuple(dict.fromkeys(piece.name for piece in made))
    after = replace(pattern, pieces=(*pattern.pieces, *made), seams=(*pattern.seams, *seams))
    return placed_beside(after, names)


def placed_beside(
    pattern: Pattern,
    names: Sequence[str],
    there: Mapping[str, tuple[float, float]] = MappingProxyType({}),
) -> Pattern:
    """The pattern with these pieces moved to the right of all others, in their order; those of
    which `there` tells the lower left corner, mm, to that. All sizes of one move alike."""
    others = [piece.bounds for piece in pattern.pieces if piece.name not in names]
    left = max((box[2] for box in others), default=0.0) + APART
    low = min((box[1] for box in others), default=0.0)
    for name in names:
        sizes = pattern.sizes_of(name)
        x0, y0 = lower_left(sizes)
        if name in there:
            x, y = there[name]
        else:
            x, y = left, low
            left += max(piece.bounds[2] for piece in sizes) - x0 + APART
        pattern = pattern.changing(
            [name], partial(Piece.transformed, m=affine.translation(x - x0, y - y0))
        )
    return pattern


def lower_left(pieces: Sequence[Piece]) -> tuple[float, float]:
    """The lower left corner (x, y) of the box round pieces, mm."""
    return min(p.bounds[0] for p in pieces), min(p.bounds[1] for p in pieces)
