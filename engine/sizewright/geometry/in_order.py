"""Two loops of items matched one to one, cheapest in sum, both walked the same way round.

Dynamic programming over an alignment table (Needleman and Wunsch 1970; recalled), once for
each item of the second loop that the walk may begin at, all beginnings together.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from .types import Floats

#: So many table cells are held at once at most.
_CELLS = 20_000_000


def cheapest_in_order(cost: Floats, skip: float) -> tuple[tuple[int, int], ...]:
    """Pairs (i, j) of two loops of n and m items, in order of i, that keep the cyclic order.

    `cost` (n, m) is what each pair costs, negative where it gains; an item of either loop
    that stays alone costs `skip`. Of equally cheap matchings the one that begins at the
    earliest item of the second loop is taken.
    """
    cost = np.asarray(cost, dtype=np.float64)
    n, m = cost.shape
    if n == 0 or m == 0:
        return ()
    totals = np.concatenate([_totals(cost, skip, begin) for begin in _batches(m)])
    # Rounding must not choose between beginnings that are equally good.
    begin = int(np.flatnonzero(totals <= totals.min() + 1e-9)[0])
    return tuple((i, (j + begin) % m) for i, j in _pairs(np.roll(cost, -begin, axis=1), skip))


def _batches(m: int) -> Iterator[np.ndarray]:
    step = max(1, _CELLS // ((m + 1) * 4))
    for k in range(0, m, step):
        yield np.arange(k, min(k + step, m))


def _totals(cost: Floats, skip: float, begins: np.ndarray) -> Floats:
    """Least cost with the second loop cut open before each of `begins`."""
    n, m = cost.shape
    order = (np.arange(m)[:, None] + begins[None, :]) % m
    alone = skip * np.arange(m + 1)[:, None]
    row = np.broadcast_to(alone, (m + 1, len(begins)))
    for i in range(n):
        row = _next_row(row, cost[i][order], skip, alone)
    last: Floats = row[-1]
    return last


def _next_row(row: Floats, paired: Floats, skip: float, alone: Floats) -> Floats:
    best = row + skip
    best[1:] = np.minimum(best[1:], row[:-1] + paired)
    # Skips along the second loop: the running least of what is paid less the skips.
    fresh: Floats = np.minimum.accumulate(best - alone, axis=0) + alone
    return fresh


def _pairs(cost: Floats, skip: float) -> list[tuple[int, int]]:
    """The cheapest matching of two lists, walked back from its end."""
    n, m = cost.shape
    alone = skip * np.arange(m + 1)[:, None]
    table = np.empty((n + 1, m + 1))
    table[0] = alone[:, 0]
    for i in range(n):
        table[i + 1] = _next_row(table[i][:, None], cost[i][:, None], skip, alone)[:, 0]
    found = []
    i, j = n, m
    while i and j:
        ways = (
            table[i - 1, j - 1] + cost[i - 1, j - 1],
            table[i - 1, j] + skip,
            table[i, j - 1] + skip,
        )
        way = int(np.argmin(ways))
        if way == 0:
            found.append((i - 1, j - 1))
        i, j = i - (way != 2), j - (way != 1)
    return found[::-1]
