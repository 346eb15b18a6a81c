"""Affine maps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sizewright.geometry import affine

_number = st.floats(-10, 10)
_maps = st.builds(affine.affine, *[_number] * 6)
_point = st.tuples(_number, _number).map(np.array)


@given(_maps, _maps, _point)
def test_the_last_map_acts_first(outer, inner, p):
    both = affine.apply(affine.compose(outer, inner), p)
    np.testing.assert_allclose(both, affine.apply(outer, affine.apply(inner, p)), atol=1e-10)


def test_svg_order_of_numbers():
    # SVG 1.1, section 7.5: matrix(a b c d e f) takes (x, y) to (a x + c y + e, b x + d y + f).
    assert affine.apply(affine.affine(1, 2, 3, 4, 5, 6), np.array([10.0, 100.0])).tolist() == [
        315,
        426,
    ]


def test_quarter_turns_are_exact():
    for turns in range(-4, 9):
        m = affine.rotation(90.0 * turns)
        assert set(np.abs(m[:, :2]).ravel()) == {0.0, 1.0}
    assert affine.apply(affine.rotation(90), np.array([1.0, 0.0])).tolist() == [0, 1]
    np.testing.assert_allclose(
        affine.apply(affine.rotation(30, (5, 5)), np.array([6.0, 5.0])),
        [5 + np.sqrt(3) / 2, 5.5],
        rtol=1e-15,
    )


def test_mirror_keeps_its_line_and_turns_the_plane_over():
    m = affine.mirror(np.array([1.0, 1.0]), np.array([4.0, 5.0]))
    for share in (0.0, 0.3, 2.0):
        p = np.array([1.0 + 3 * share, 1.0 + 4 * share])
        np.testing.assert_allclose(affine.apply(m, p), p, atol=1e-14)
    assert affine.determinant(m) == pytest.approx(-1, abs=1e-15)
    np.testing.assert_allclose(affine.compose(m, m), affine.identity(), atol=1e-14)
