"""Measures that several geometry tests share, on shapely as an outside judge."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely

from sizewright.geometry import bezier
from sizewright.geometry.path import Path
from sizewright.geometry.types import Floats

Samples = Callable[[Path, int], Floats]
Deviation = Callable[[Floats, Floats], float]


@pytest.fixture(scope="session")
def samples() -> Samples:
    """Points at even parameters of every segment, ends included."""

    def sample(path: Path, count: int = 500) -> Floats:
        t = np.linspace(0.0, 1.0, count)
        return bezier.evaluate(path.controls[:, None], t[None]).reshape(-1, 2)

    return sample


@pytest.fixture(scope="session")
def deviation() -> Deviation:
    """Largest distance from points to a finely sampled line."""

    def largest(points: Floats, line: Floats) -> float:
        chords = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
        _, distances = shapely.STRtree(chords).query_nearest(
            shapely.points(points), return_distance=True, all_matches=False
        )
        return float(distances.max())

    return largest
