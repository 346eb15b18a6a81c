"""Speed of the geometry room against other libraries in the same run; started by hand.

    python tests/benchmarks/bench_geometry.py

Prints the time of each job, the reference's time for the same job, and the ratio
(above 1: faster than the reference). Best of five.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import shapely
from fontTools.misc import bezierTools

from sizewright.geometry import Path, contains, ellipse, flatten, nearest, self_crossings
from sizewright.geometry.lengths import arc_lengths

ROUNDS = 5


def best(job: Callable[[], object]) -> float:
    """Least time of some rounds, in seconds."""
    times = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        job()
        times.append(time.perf_counter() - begun)
    return min(times)


def report(
    what: str, ours: Callable[[], object], against: str, theirs: Callable[[], object]
) -> None:
    mine, other = best(ours), best(theirs)
    times = f"{mine * 1e3:8.2f} ms   {against:36} {other * 1e3:8.2f} ms   x {other / mine:.2f}"
    print(f"{what:42} {times}")


def waves(count: int) -> Path:
    """A closed wavy ring of cubics that does not cross itself."""
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    radius = 500 + 50 * np.sin(7 * angle)
    p = np.column_stack([np.cos(angle), np.sin(angle)]) * radius[:, None]
    handle = (np.roll(p, -1, axis=0) - np.roll(p, 1, axis=0)) / 6
    after = np.roll(p, -1, axis=0)
    controls = np.stack([p, p + handle, after - np.roll(handle, -1, axis=0), after], axis=1)
    return Path(controls, np.zeros(count, dtype=bool), True)


def main() -> None:
    rng = np.random.default_rng(1)
    cubics = rng.uniform(0, 100, (10_000, 4, 2))
    curved = np.zeros(len(cubics), dtype=bool)
    tuples = [[tuple(p) for p in cubic] for cubic in cubics.tolist()]
    report(
        "arc length, 10,000 cubics, 1e-13",
        lambda: arc_lengths(cubics, curved),
        "fontTools, tolerance 0.005",
        lambda: [bezierTools.calcCubicArcLength(*t) for t in tuples],
    )

    ring = waves(60)
    _ = ring.cumulative
    points = rng.uniform(-600, 600, (5000, 2))
    line = shapely.LinearRing(flatten(ring, 1e-3))
    shapely.prepare(line)
    there = shapely.points(points)
    report(
        "nearest, 5,000 points, 60 cubics, exact",
        lambda: nearest(ring, points),
        f"shapely, {len(line.coords)} chords within 1e-3",
        lambda: shapely.line_locate_point(line, there),
    )
    area = shapely.Polygon(line)
    shapely.prepare(area)
    report(
        "contains, 5,000 points, 60 cubics, exact",
        lambda: contains(ring, points),
        "shapely, prepared, the same chords",
        lambda: shapely.contains_xy(area, points),
    )

    big = waves(500)
    _ = big.cumulative
    report(
        "self-crossings, 500 cubics, 1e-6",
        lambda: self_crossings(big),
        "shapely, flattened 1e-3, is_simple",
        lambda: shapely.is_simple(shapely.LinearRing(flatten(big, 1e-3))),
    )
    s = np.linspace(0, big.length, 10_000)
    fine = shapely.LinearRing(flatten(big, 1e-3))
    report(
        "places at 10,000 arc lengths",
        lambda: big.at(s),
        "shapely, flattened 1e-3",
        lambda: shapely.line_interpolate_point(fine, s),
    )
    round_ = ellipse(0, 0, 300, 200)
    report(
        "flatten an ellipse within 0.01",
        lambda: flatten(round_, 0.01),
        "shapely, buffer of a point, 256 chords",
        lambda: shapely.Point(0, 0).buffer(300, quad_segs=64),
    )


if __name__ == "__main__":
    main()
