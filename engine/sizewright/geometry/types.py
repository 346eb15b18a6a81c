"""Array types of the geometry room."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: Arrays; their shapes stand in brackets where they are spoken of.
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]
