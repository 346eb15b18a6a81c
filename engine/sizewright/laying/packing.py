"""The search for a plan that needs few pages.

Shapes are laid the largest first, for several widths of the sheet and in several orders,
coarsely; the best of these plans are changed a little, as long as that helps, and done
again finely.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence

import numpy as np

from .board import Board, Pixels
from .shape import Shape
from .sheet import Grid, Plan, plan_of

# Side of a pixel, mm: first and final round. They grow with the sheet, which has no more
# than about so many pixels in the first round.
_COARSE, _FINE = 9.0, 4.5
_PIXELS = 60_000
# Widths of the sheet that are tried.
_WIDTHS = 7
# So many plans of the first round are done again finely.
_FINALISTS = 2
# Changes of the order that are tried on each of them before.
_MOVES = 10
# Bound on the work of the first round: shapes laid, in all their turns, and all plans together.
_TRIALS = 700


def pack(shapes: Sequence[Shape], grids: Sequence[Grid]) -> Plan:
    """The best plan found for `shapes` on one of `grids`, which all are sheets or all rolls.

    No two shapes come nearer than their gap, to within the chords that they are given in.
    Same shapes, same plan.
    """
    area = sum(s.area for s in shapes)
    pixel = max(1.0, math.sqrt(1.5 * area / _PIXELS) / _COARSE)
    orders = _orders(shapes)
    plans = [
        (board, order)
        for grid in grids
        for board in _boards(shapes, grid, _COARSE * pixel, 1 if grid.roll else _WIDTHS)
        for order in orders
    ]
    load = sum(len(s.turns) for s in shapes)
    keep = max(2 * len(grids), _TRIALS // max(load, 1))
    if len(plans) > keep:
        chosen = np.linspace(0, len(plans) - 1, keep).round().astype(int)
        plans = [plans[int(k)] for k in dict.fromkeys(chosen)]
    tries = [(_laid(board, order), board, order) for board, order in plans]
    tries.sort(key=lambda t: t[0].rank)
    moves = min(_MOVES, _TRIALS // (2 * max(load, 1)))
    # With many shapes orders matter less, and each takes its time.
    finalists = _FINALISTS if moves > 4 else 1
    best = tries[0][0]
    fine_pixels: dict[Grid, Pixels] = {}
    for found, coarse, first in tries[:finalists]:
        plan, order = _improved(found, coarse, first, moves)
        if coarse.grid not in fine_pixels:
            fine_pixels[coarse.grid] = Pixels(coarse.grid, shapes, _FINE * pixel)
        fine = Board(fine_pixels[coarse.grid], coarse.columns)
        again = [plan, _laid(fine, order)] if fine.holds_all else [plan]
        best = min([best, *again], key=lambda p: p.rank)
    return best


def _laid(board: Board, order: Sequence[int]) -> Plan:
    return plan_of(board.pixels.shapes, board.lay(order), board.grid)


def _improved(
    plan: Plan, board: Board, order: Sequence[int], moves: int
) -> tuple[Plan, Sequence[int]]:
    """A plan bettered by laying one shape earlier or later, so often, wherever that helps."""
    chance = random.Random(len(order))
    for _ in range(moves):
        other = list(order)
        shape = other.pop(chance.randrange(len(other)))
        other.insert(chance.randrange(len(other) + 1), shape)
        changed = _laid(board, other)
        if changed.rank <= plan.rank:
            plan, order = changed, other
    return plan, order


def _boards(shapes: Sequence[Shape], grid: Grid, pixel: float, most: int) -> list[Board]:
    """Sheets of several widths in pages that are worth a try, `most` of them."""
    least = max(min(wide for wide, _ in s.sizes.values()) for s in shapes)
    first = grid.columns(least)
    area = sum(s.area for s in shapes)
    square = math.ceil(math.sqrt(area) / grid.step_x)
    longest = math.ceil(sum(max(s.sizes[s.turns[0]]) for s in shapes) / grid.step_x)
    last = min(max(first, square) + 3, max(first, longest))
    # A sheet one page high that is far larger than the shapes helps nothing.
    last = min(last, max(first, math.ceil(3 * area / (grid.step_x * grid.step_y))))
    pixels = Pixels(grid, shapes, pixel)
    boards: list[Board] = []
    columns = first
    while not boards or (columns <= last and len(boards) < most):
        board = Board(pixels, columns)
        if board.holds_all:
            boards.append(board)
        columns += 1
    return boards


def _orders(shapes: Sequence[Shape]) -> list[tuple[int, ...]]:
    """Orders in which to lay the shapes: by size in several senses, and shaken a little."""
    every = range(len(shapes))
    largest = [max(s.sizes[s.turns[0]]) for s in shapes]
    box = [math.prod(s.sizes[s.turns[0]]) for s in shapes]
    keys = [[s.area for s in shapes], largest, box]
    chance = random.Random(len(shapes))
    for _ in range(4):
        keys.append([s.area * chance.uniform(0.6, 1.4) for s in shapes])
    return list(dict.fromkeys(tuple(sorted(every, key=lambda i: (-k[i], i))) for k in keys))
