"""Random and awkward curves for the geometry tests."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from sizewright.geometry.path import Path

_unit = st.floats(-1, 1, allow_nan=False, width=32).map(float)
_point = st.tuples(_unit, _unit).map(np.array)
#: Sizes from a tenth of a millimetre to 10 m.
sizes = st.sampled_from([0.1, 10.0, 300.0, 1e4])


@st.composite
def cubics(draw: st.DrawFn) -> np.ndarray:
    """One cubic (4, 2) of about unit size: free, straight, cusped, looped or with empty handles."""
    kind = draw(
        st.sampled_from(["free", "no start handle", "no handles", "straight", "cusp", "loop"])
    )
    start, end = draw(_point), draw(_point)
    if np.hypot(*(end - start)) < 0.1:
        end = start + np.array([0.5, 0.3])
    p1, p2 = draw(_point), draw(_point)
    if kind == "no start handle":
        p1 = start
    elif kind == "no handles":
        p1, p2 = start, end
    elif kind == "straight":
        a, b = draw(st.floats(-0.5, 1.5)), draw(st.floats(-0.5, 1.5))
        p1, p2 = start + a * (end - start), start + b * (end - start)
    elif kind in ("cusp", "loop"):
        chord = end - start
        side = np.array([-chord[1], chord[0]])
        reach = 1.0 if kind == "cusp" else draw(st.floats(1.2, 2.0))
        p1 = start + (0.5 + reach / 2) * chord + side
        p2 = start + (0.5 - reach / 2) * chord + side
    return np.array([start, p1, p2, end])


@st.composite
def paths(draw: st.DrawFn, closed: bool | None = None, least: int = 1) -> Path:
    """Lines and cubics end to end, of any size, perhaps far from the origin."""
    if closed is None:
        closed = draw(st.booleans())
    size = draw(sizes)
    shapes = draw(st.lists(st.one_of(cubics(), st.none()), min_size=least, max_size=5))
    corner = draw(_point)
    first = corner.copy()
    segments = []
    for number, shape in enumerate(shapes):
        last = closed and number == len(shapes) - 1 and len(shapes) > 1
        if shape is None:
            shape = np.array([corner, corner + draw(_point) + (0.3, 0.0)])
        else:
            shape = shape - shape[0] + corner
        if last:
            shape[-1] = first
        if np.hypot(*np.ptp(shape, axis=0)) < 1e-3:
            shape[-1] = shape[0] + (0.5, 0.3)
        segments.append(shape * size)
        corner = shape[-1]
    shift = draw(st.sampled_from([0.0, 1e4])) if size <= 300 else 0.0
    path = Path.of([s + shift for s in segments], closed=False)
    if closed and np.array_equal(path.start, path.end):
        return Path(path.controls, path.lines, True)
    if closed:
        return Path.of(
            [*(s + shift for s in segments), np.array([path.end, path.start])], closed=True
        )
    return path


def circle(radius: float = 100.0) -> Path:
    """A circle of four cubics with the usual handles, counter-clockwise from (radius, 0)."""
    k = 4 / 3 * (np.sqrt(2) - 1)
    quarter = np.array([[1, 0], [1, k], [k, 1], [0, 1]])
    turn = np.array([[0, 1], [-1, 0]])
    return Path.of(
        [radius * quarter @ np.linalg.matrix_power(turn, n) for n in range(4)], closed=True
    )
