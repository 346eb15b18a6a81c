"""Which closed lines of a stranger's drawing are pieces, sewing lines and cut-outs."""

from __future__ import annotations

import numpy as np

from ...errors import InputError
from ...geometry.nearest import nearest
from ...geometry.path import Path
from ..svg.frames import is_rectangle
from ..svg.loose import MOST_PIECES
from .board import SMALLEST, Board, StrangePiece, mark_kind, middle
from .layers import hint
from .loops_in import Loop, samples

#: A line within that keeps more than this share of the area is no cut-out.
_NEARLY = 0.5
#: A sewing line lies between these from the cutting line, in mm.
_ALLOWANCE = (1.0, 80.0)
#: Roles whose lines are never outlines while others are there.
_INNER = frozenset(
    {
        "cutout",
        "drill",
        "notch",
        "mark",
        "label",
        "aside",
        "adjust",
        "grain",
        "axis",
        "fold",
        "frame",
    }
)


def pick_pieces(board: Board) -> list[Loop]:
    """Pieces put on the board; the closed lines on layers for inner things come back."""
    loops = [lp for lp in board.lines.loops if hint(lp.layer) not in _INNER]
    inner = [lp for lp in board.lines.loops if hint(lp.layer) in _INNER]
    if not any(lp.side >= SMALLEST for lp in loops):
        # All is on layers named for drawing or marking: then that says nothing.
        loops, inner = (
            loops + [lp for lp in inner if hint(lp.layer) == "mark"],
            [lp for lp in inner if hint(lp.layer) != "mark"],
        )
    loops = _without_frames(board, loops)
    loops.sort(key=lambda lp: -abs(lp.path.area))
    for loop in loops:
        around = _around(board, loop)
        if around is None:
            _outer(board, loop)
        else:
            _within(board, loop, around, loops)
    order = {id(lp): i for i, lp in enumerate(board.lines.loops)}
    board.pieces.sort(key=lambda p: order[id(p.loop)])
    return inner


def _around(board: Board, loop: Loop) -> StrangePiece | None:
    """The smallest piece of the same size that a closed line lies in."""
    points = samples(loop.path)
    size = board.size(loop)
    held = [
        p
        for p in board.pieces
        if p.size == size
        and abs(p.loop.path.area) > abs(loop.path.area) * (1 + 1e-9)
        and p.loop.holds(points)
    ]
    return min(held, key=lambda p: abs(p.loop.path.area), default=None)


def _outer(board: Board, loop: Loop) -> None:
    if loop.side < SMALLEST:
        board.aside(loop.entities[0], f"smaller than {SMALLEST:.0f} mm")
        return
    if len(board.pieces) >= MOST_PIECES:
        raise InputError(
            f"the drawing has more than {MOST_PIECES} closed lines that might be pieces",
            cure="Take everything but the pieces out of it.",
        )
    board.pieces.append(StrangePiece(loop, board.size(loop)))


def _within(board: Board, loop: Loop, around: StrangePiece, loops: list[Loop]) -> None:
    """A closed line in a piece: cut-out, sewing line, mark, or a piece laid in a hole."""
    first = loop.entities[0]
    share = abs(loop.path.area) / abs(around.loop.path.area)
    role = hint(loop.layer)
    parallel = _parallel(loop.path, around.loop.path)
    if role == "sew" or (share > _NEARLY and parallel and loop.layer != around.loop.layer):
        if not any(r == "sew" for r, *_ in around.shapes) and share > 0.25:
            around.shapes.append(("sew", "", [loop.path], first))
            return
        around.shapes.append(("mark", mark_kind(loop.layer), [loop.path], first))
        return
    if any(hole.holds(samples(loop.path)) for hole in around.holes):
        # Cloth inside a hole is another piece.
        _outer(board, loop)
        return
    if loop.layer != around.loop.layer and role != "cut":
        around.shapes.append(("mark", mark_kind(loop.layer), [loop.path], first))
        around.marks += 1
    elif share <= _NEARLY:
        around.shapes.append(("cutout", "", [loop.path], first))
        around.holes.append(loop)
    elif parallel and not _nested(board, loop, loops):
        around.shapes.append(("sew", "", [loop.path], first))
        board.find(
            "inner-line",
            "warn",
            "a line all round within an outline was taken for its sewing line",
            "Put it on a layer named SEW, or leave it out.",
            place=middle(loop.path),
        )
    else:
        _outer(board, loop)
        board.find(
            "lines-nested",
            "warn",
            "a closed line lies in another of nearly its size and was taken for a piece of its own",
            "If they are sizes of one piece, put each size on a layer named by it.",
            place=middle(loop.path),
        )


def _nested(board: Board, loop: Loop, loops: list[Loop]) -> bool:
    """Whether a line stands in a row of lines within one another, as sizes do."""
    area = abs(loop.path.area)
    points = samples(loop.path)
    smaller = any(
        lp is not loop
        and lp.layer == loop.layer
        and _NEARLY * area < abs(lp.path.area) < area
        and loop.holds(samples(lp.path))
        for lp in loops
    )
    larger = [p for p in board.pieces if p.loop.layer == loop.layer and p.loop.holds(points)]
    return smaller or len(larger) > 1


def _without_frames(board: Board, loops: list[Loop]) -> list[Loop]:
    """Rectangles along the axes round everything else are frames or sheets."""
    large = [lp for lp in loops if lp.side >= SMALLEST]
    for loop in sorted(large, key=lambda lp: -abs(lp.path.area)):
        others = [lp for lp in large if lp is not loop]
        if not is_rectangle(loop.path) or not others:
            break
        x0, y0, x1, y1 = loop.path.bounds
        boxes = np.array([lp.path.bounds for lp in others])
        inside = (boxes[:, :2] >= (x0, y0)).all() and (boxes[:, 2:] <= (x1, y1)).all()
        apart = [lp for lp in others if not _in_any(lp, others)]
        covered = sum(abs(lp.path.area) for lp in apart) / abs(loop.path.area)
        if not inside or len(apart) < 2 or covered < 0.2:
            break
        board.aside(loop.entities[0], "a frame round everything else")
        board.find(
            "page-frame",
            "note",
            "a rectangle round everything else was taken for a frame and left out",
            "If it is a piece, move it away from the others.",
        )
        large.remove(loop)
        loops = [lp for lp in loops if lp is not loop]
    return loops


def _parallel(inner: Path, outer: Path) -> bool:
    """Whether one line runs round within another at about an allowance's distance."""
    away = nearest(outer, inner.at(np.linspace(0, 1, 65)[:-1] * inner.length)).distance
    low, high = float(np.quantile(away, 0.05)), float(np.quantile(away, 0.95))
    return _ALLOWANCE[0] <= low and high <= _ALLOWANCE[1] and high <= 5 * low


def _in_any(loop: Loop, others: list[Loop]) -> bool:
    points = samples(loop.path)
    return any(o is not loop and o.holds(points) for o in others)
