"""How far drawn lines lie from each other, on shapely as an outside judge."""

from __future__ import annotations

import numpy as np
import shapely

from sizewright.geometry import Path, bezier
from sizewright.geometry.types import Floats


def samples(path: Path, count: int = 500) -> Floats:
    """Points at even parameters of every segment, ends included."""
    t = np.linspace(0.0, 1.0, count)
    return bezier.evaluate(path.controls[:, None], t[None]).reshape(-1, 2)


def deviation(points: Floats, line: Floats) -> float:
    """Largest distance from points to a finely sampled line."""
    chords = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
    # Small nodes halve the time of a search.
    _, distances = shapely.STRtree(chords, node_capacity=4).query_nearest(
        shapely.points(points), return_distance=True, all_matches=False
    )
    return float(distances.max())


def apart(a: Path, b: Path) -> float:
    """The most that either line lies from the other, mm: points and chords of 1 mm or less."""
    one, other = (
        p.at(np.union1d(np.linspace(0, p.length, int(p.length) + 2), p.cumulative)) for p in (a, b)
    )
    return max(deviation(one, other), deviation(other, one))
