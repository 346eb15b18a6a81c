"""Gauss-Legendre quadrature on [0, 1]: `(nodes, weights)`, written out.

numpy finds them anew at each start, by eigenvalues whose last bits are the machine's own.
"""

from __future__ import annotations

import numpy as np

from .types import Floats


def _rule(half: list[tuple[float, float]], middle: list[tuple[float, float]]) -> tuple[Floats, ...]:
    """Nodes and weights, from those to the right of the middle on [-1, 1]."""
    left = [(-node, weight) for node, weight in reversed(half)]
    nodes, weights = np.array([*left, *middle, *half]).T
    return (nodes + 1.0) / 2.0, weights / 2.0


#: Exact for polynomials of degree 9.
FIVE = _rule(
    [(0.5384693101056831, 0.4786286704993663), (0.906179845938664, 0.23692688505618928)],
    [(0.0, 0.5688888888888887)],
)
#: Exact for polynomials of degree 31.
SIXTEEN = _rule(
    [
        (0.09501250983763744, 0.18945061045506864),
        (0.2816035507792589, 0.18260341504492364),
        (0.45801677765722737, 0.16915651939500265),
        (0.6178762444026438, 0.1495959888165767),
        (0.755404408355003, 0.12462897125553407),
        (0.8656312023878318, 0.0951585116824926),
        (0.9445750230732326, 0.062253523938647456),
        (0.9894009349916499, 0.027152459411754176),
    ],
    [],
)
