"""Which of many points lie near each other, and what hangs together."""

from __future__ import annotations

import numpy as np

from .types import Floats, Ints

# So few pairs are all looked at; a tree takes longer to come in than to search.
_FEW = 2**18


def pairs_within(
    points: Floats, reach: float, *, box: Floats | None = None, most: int | None = None
) -> Ints | None:
    """Pairs (m, 2) of the `points` (n, 2) no more than `reach` mm apart, the lesser number first.

    `box` (2,) is the length after which each coordinate, from 0, begins again. None where there
    are more than `most` pairs, each counted twice, and points with themselves.
    """
    if len(points) ** 2 <= _FEW:
        away = np.abs(points[:, None] - points)
        if box is not None:
            away = np.minimum(away, box - away)
        near = np.hypot(away[..., 0], away[..., 1]) <= reach
        if most is not None and near.sum() > most:
            return None
        return np.argwhere(np.triu(near, 1))
    from scipy.spatial import cKDTree

    tree = cKDTree(points, boxsize=box)
    if most is not None and tree.count_neighbors(tree, reach) > most:
        return None
    pairs: Ints = tree.query_pairs(reach, output_type="ndarray")
    return pairs


def nearest_of(points: Floats, places: Floats) -> tuple[Ints, Floats]:
    """For each of `places` (m, 2) the number of the nearest of `points` (n, 2), and how far, mm."""
    if len(points) * len(places) <= _FEW:
        away = np.hypot(*np.moveaxis(places[:, None] - points, 2, 0))
        number: Ints = away.argmin(axis=1)
        return number, away[np.arange(len(places)), number]
    from scipy.spatial import cKDTree

    far, found = cKDTree(points).query(places)
    return np.asarray(found, dtype=np.intp), np.asarray(far, dtype=np.float64)


def connected(pairs: Ints, count: int) -> Ints:
    """For each of `count` things the number of its group: things hang together by `pairs` (m, 2).

    Groups are numbered from 0 in the order of their first things.
    """
    i, j = pairs[:, 0], pairs[:, 1]
    label = np.arange(count)
    while (label[i] != label[j]).any():
        # The lower group takes the higher one in, and every thing goes to the head of its own.
        low, high = np.minimum(label[i], label[j]), np.maximum(label[i], label[j])
        np.minimum.at(label, high, low)
        while (label != label[label]).any():
            label = label[label]
    groups: Ints = np.unique(label, return_inverse=True)[1]
    return groups
