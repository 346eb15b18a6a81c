"""Matching of two loops in order, against every matching there is."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as nps

from sizewright.geometry import cheapest_in_order


def price(cost: np.ndarray, skip: float, pairs: tuple[tuple[int, int], ...]) -> float:
    n, m = cost.shape
    return sum(cost[i, j] for i, j in pairs) + skip * (n + m - 2 * len(pairs))


def every_price(cost: np.ndarray, skip: float) -> float:
    """The least price of all matchings that keep the cyclic order, tried one by one."""
    n, m = cost.shape
    best = skip * (n + m)
    for count in range(1, min(n, m) + 1):
        for mine in combinations(range(n), count):
            for yours in combinations(range(m), count):
                for k in range(count):
                    turned = yours[k:] + yours[:k]
                    best = min(best, price(cost, skip, tuple(zip(mine, turned, strict=True))))
    return best


costs = nps.arrays(
    np.float64,
    st.tuples(st.integers(1, 5), st.integers(1, 5)),
    elements=st.floats(-2, 5).map(lambda x: round(x, 3)),
)


@given(costs, st.floats(0, 3))
def test_no_matching_is_cheaper(cost: np.ndarray, skip: float) -> None:
    pairs = cheapest_in_order(cost, skip)
    mine, yours = [i for i, _ in pairs], [j for _, j in pairs]
    assert mine == sorted(set(mine))
    assert len(set(yours)) == len(yours)
    falls = sum(b < a for a, b in zip(yours, yours[1:] + yours[:1], strict=True))
    assert falls <= 1  # round the loop once
    assert abs(price(cost, skip, pairs) - every_price(cost, skip)) < 1e-9


def test_a_turned_loop_is_found_at_every_turn() -> None:
    points = np.random.default_rng(5).normal(size=(30, 2))
    for turn in range(30):
        other = np.roll(points, turn, axis=0)
        cost = np.hypot(*np.moveaxis(points[:, None] - other[None], -1, 0))
        found = cheapest_in_order(cost, 0.5)
        assert found == tuple((i, (i + turn) % 30) for i in range(30))


def test_many_items_in_little_time() -> None:
    points = np.random.default_rng(6).normal(size=(400, 2))
    other = np.delete(np.roll(points, 123, axis=0), [7, 200], axis=0)
    cost = np.hypot(*np.moveaxis(points[:, None] - other[None], -1, 0))
    assert len(cheapest_in_order(cost, 0.05)) == 398


def test_nothing_to_match() -> None:
    assert cheapest_in_order(np.zeros((0, 3)), 1.0) == ()
    assert cheapest_in_order(np.full((2, 2), 9.0), 1.0) == ()
