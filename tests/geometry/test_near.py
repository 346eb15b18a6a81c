"""Points near each other and groups that hang together, against scipy's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from sizewright.geometry.near import connected, nearest_of, pairs_within


@pytest.mark.parametrize("count", [2, 40, 300, 700])
@pytest.mark.parametrize("box", [None, np.array([10.0, 7.0])])
def test_pairs_and_groups_are_those_of_scipy(count: int, box: np.ndarray | None) -> None:
    points = np.random.default_rng(count).uniform(0, (10, 7), (count, 2))
    reach = 4.0 / count**0.5
    tree = cKDTree(points, boxsize=box)
    found = pairs_within(points, reach, box=box)
    assert found is not None
    assert {tuple(p) for p in found} == tree.query_pairs(reach)
    graph = coo_array((np.ones(len(found)), found.T), shape=(count, count))
    groups, label = connected_components(graph, directed=False)
    ours = connected(found, count)
    assert ours.max() + 1 == groups
    assert (ours == label).all()


def test_a_long_row_is_one_group_whatever_its_order() -> None:
    row = np.random.default_rng(3).permutation(3000)
    assert (connected(np.stack([row[:-1], row[1:]], axis=1), 3000) == 0).all()
    assert (connected(np.empty((0, 2), dtype=np.intp), 4) == np.arange(4)).all()


@pytest.mark.parametrize("count", [50, 900])
def test_too_many_pairs_are_counted_as_scipy_counts_them(count: int) -> None:
    points = np.zeros((count, 2))
    assert pairs_within(points, 1.0, most=count**2 - 1) is None
    assert pairs_within(points, 1.0, most=count**2) is not None


@pytest.mark.parametrize("count", [1, 60, 2000])
def test_the_nearest_are_those_of_scipy(count: int) -> None:
    rng = np.random.default_rng(count)
    points, places = rng.uniform(0, 10, (count, 2)), rng.uniform(0, 10, (300, 2))
    number, away = nearest_of(points, places)
    theirs, found = cKDTree(points).query(places)
    assert (number == found).all()
    np.testing.assert_allclose(away, theirs, rtol=1e-12)
