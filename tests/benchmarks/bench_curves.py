"""Times of refitting and offsetting, beside shapely doing its nearest like. Run by hand.

python tests/benchmarks/bench_curves.py
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import shapely

from sizewright.geometry.insets import offset_loop
from sizewright.geometry.offset import offset_open
from sizewright.geometry.path import Path
from sizewright.geometry.refit import refit


def _best(work: Callable[[], object], rounds: int = 15) -> float:
    work()
    times = []
    for _ in range(rounds):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return 1e3 * min(times)


def main() -> None:
    """Print milliseconds, best of fifteen."""
    a = np.linspace(0, 2 * np.pi, 2000, endpoint=False)
    ring = np.column_stack([100 * np.cos(a), 100 * np.sin(a)])
    for name, points in (("exact", ring), ("to 0.01 mm", np.round(ring, 2))):
        path = Path.polyline(points, closed=True)
        ours = _best(lambda path=path: refit(path))
        print(f"refit of 2000 chords, {name}: {ours:.1f} ms, {len(refit(path).path)} cubics")
    polygon = shapely.Polygon(ring)
    print(f"  shapely simplify of the same: {_best(lambda: polygon.simplify(0.05)):.1f} ms")
    chain = Path.of(
        [
            [[60 * k, y], [60 * k + 27, y], [60 * k + 33, 20 - y], [60 * k + 60, 20 - y]]
            for k, y in enumerate([0, 20] * 6)
        ],
        closed=False,
    )
    moved = offset_open(chain, 10.0)
    ours = _best(lambda: offset_open(chain, 10.0))
    print(f"offset of 12 cubics: {ours:.1f} ms, {len(moved)} cubics")
    ours = _best(lambda: offset_open(chain, (10.0, 15.0)))
    print(f"offset of 12 cubics, distance changing: {ours:.1f} ms")
    piece = Path.of(
        [
            [[0, 0], [80, 0], [170, 4], [255, 8]],
            [[255, 8], [250, 60], [230, 120], [240, 180]],
            [[240, 180], [170, 200], [180, 260], [200, 300]],
            [[200, 300], [75, 390]],
            [[75, 390], [70, 350], [40, 330], [0, 330]],
            [[0, 330], [0, 0]],
        ],
        closed=True,
    )
    print(f"loop of 6 segments with corners: {_best(lambda: offset_loop(piece, 10.0)):.1f} ms")


if __name__ == "__main__":
    main()
