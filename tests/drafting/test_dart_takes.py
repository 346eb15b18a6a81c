"""Darts that take more or less, so that their run is as long as asked."""

from __future__ import annotations

import numpy as np
import pytest

from sizewright.drafting import darts_within, taken_up
from sizewright.errors import GeometryError
from tests.operations import drawn

from ..drawn import length

PATTERN = drawn("basic-set")


@pytest.mark.parametrize(
    ("name", "edge", "gain"),
    [("front", "side", -3.0), ("front", "side", 2.5), ("skirt-back", "waist", 4.0)],
)
def test_a_dart_gives_what_its_run_is_to_gain(name: str, edge: str, gain: float) -> None:
    piece = PATTERN.piece(name)
    run = piece.run(edge)
    (dart,) = darts_within(piece, run)
    after, (wider,) = taken_up(piece, run, [dart], gain)
    assert wider * gain < 0.0
    assert after.sewn_length(run) - piece.sewn_length(run) == pytest.approx(gain, abs=1e-6)

    def legs(one: np.ndarray) -> list[float]:
        return [length(one[dart.a]), length(one[dart.tip])]

    before, now = piece.outline.path.controls, after.outline.path.controls
    # By quadrature: the run with its legs, less these.
    own = range(run.start, run.end if run.end > run.start else run.end + len(before))
    sewn = [sum(length(c[k % len(c)]) for k in own) - sum(legs(c)) for c in (before, now)]
    assert sewn[1] - sewn[0] == pytest.approx(gain, abs=1e-4)
    # Legs stay as alike as they were, and the tip, and all but the mouth, where it was.
    assert np.diff(legs(now)) == pytest.approx(np.diff(legs(before)), abs=0.05)
    still = [v for v in range(len(before)) if v not in (dart.a, dart.b)]
    np.testing.assert_array_equal(before[still, 0], now[still, 0])


def test_no_dart_takes_a_quarter_less() -> None:
    piece = PATTERN.piece("skirt-back")
    run = piece.run("waist")
    darts = darts_within(piece, run)
    with pytest.raises(GeometryError, match="too much"):
        taken_up(piece, run, darts, 30.0)
    assert darts_within(piece, piece.run("hem")) == ()
