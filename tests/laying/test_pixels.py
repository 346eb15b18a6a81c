"""Free places of masks on a sheet, against scipy's correlation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import correlate2d

from sizewright.laying.pixels import Taken, runs_of


@pytest.mark.parametrize("seed", range(6))
def test_free_places_are_those_where_a_mask_meets_nothing(seed: int) -> None:
    chance = np.random.default_rng(seed)
    height, width = chance.integers(9, 40, 2).tolist()
    lying = chance.random((height, width)) < 0.02
    sheet = Taken(height, width)
    sheet.put(lying, 0, 0)
    for wide in (1, 2, 5, 9):
        mask = chance.random((int(chance.integers(1, 9)), wide)) < 0.7
        meets = correlate2d(lying.astype(int), mask.astype(int), mode="valid")
        assert (sheet.free(mask.shape, runs_of(mask)) == (meets == 0)).all()


def test_a_mask_as_large_as_the_sheet() -> None:
    sheet = Taken(3, 4)
    whole = np.ones((3, 4), dtype=np.bool_)
    assert sheet.free(whole.shape, runs_of(whole)).tolist() == [[True]]
    sheet.put(np.ones((1, 1), dtype=np.bool_), 2, 3)
    assert sheet.free(whole.shape, runs_of(whole)).tolist() == [[False]]
