"""Quadrature against numpy's own nodes and weights."""

import pytest
from numpy.polynomial.legendre import leggauss

from sizewright.geometry.quadrature import FIVE, SIXTEEN


@pytest.mark.parametrize(("count", "rule"), [(5, FIVE), (16, SIXTEEN)])
def test_nodes_and_weights_are_those_of_numpy(count, rule):
    nodes, weights = leggauss(count)
    assert rule[0] == pytest.approx((nodes + 1) / 2, rel=0, abs=4e-16)
    assert rule[1] == pytest.approx(weights / 2, rel=0, abs=4e-16)
