"""How long 10,000 bodies take through the grade map, against numpy's bare product, and how time
and memory grow with points, rules, bodies, sizes and pieces.

Run by hand: python -m tests.benchmarks.bench_grading
"""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sizewright.geometry.path import Path
from sizewright.grading import Asked, GradeMap, grade, grade_map, read_rules
from sizewright.model import Pattern, Piece
from tests.grading.outlines import bodice_half, ruled

BODIES = 10_000


def best(work: Callable[[], object], times: int = 7) -> float:
    """Shortest of several runs, seconds."""
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    return min(spent)


def peak(work: Callable[[], object]) -> int:
    """Most memory in use at one time while it runs, bytes."""
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def many_sided(vertices: int, rules: int) -> Piece:
    """A ring of curves with a rule of its own at each of `rules` points."""
    turn = 2 * np.pi * np.arange(vertices) / vertices
    at = 300 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    reach = 300 * 4 / 3 * np.tan(np.pi / vertices / 2)
    along = reach * np.stack([-np.sin(turn), np.cos(turn)], axis=1)
    nxt = np.roll(np.arange(vertices), -1)
    segments = np.stack([at, at + along, at[nxt] - along[nxt], at[nxt]], axis=1)
    every = {int(k): f"r{k}" for k in np.linspace(0, vertices, rules, endpoint=False)}
    return ruled(Path.of(list(segments), closed=True), every)


def random_amounts(one: GradeMap, bodies: int) -> np.ndarray:
    """Amounts of up to 10 mm for so many bodies."""
    return np.random.default_rng(1).uniform(-10, 10, (bodies, one.columns))


def main() -> None:
    """Print the figures."""
    piece = bodice_half()
    one = grade_map(piece)
    amounts = random_amounts(one, BODIES)
    bare = np.ascontiguousarray(one.matrix.reshape(-1, one.columns).T)
    product = best(lambda: amounts @ bare)
    batch = best(lambda: one.batch(amounts))
    by_one = best(lambda: [one.apply(a) for a in amounts[:100]], 3) / 100
    build = best(lambda: grade_map(piece))
    print(f"{len(one.base)} control points, {one.columns} amounts, {BODIES} bodies")
    print(f"bare product       {product * 1e3:8.2f} ms")
    print(f"batch              {batch * 1e3:8.2f} ms   {batch / product:.2f} times the product")
    print(f"building the map   {build * 1e3:8.2f} ms   {build / product:.2f} times")
    print(f"one body, trued no {by_one * 1e3:8.2f} ms")
    growth()
    nests()


def growth() -> None:
    """The map and the batch as points, rules and bodies grow."""
    print("\npoints rules bodies    build ms   batch ms   output MB   peak MB")
    for vertices, rules, bodies in (
        (25, 10, 1_000),
        (100, 10, 1_000),
        (400, 10, 1_000),
        (100, 20, 1_000),
        (100, 40, 1_000),
        (100, 10, 4_000),
        (100, 10, 16_000),
    ):
        piece = many_sided(vertices, rules)
        one = grade_map(piece)
        amounts = random_amounts(one, bodies)
        build, batch = (
            best(lambda p=piece: grade_map(p), 3),
            best(lambda o=one, a=amounts: o.batch(a), 3),
        )
        size = one.batch(amounts).nbytes
        most = peak(lambda o=one, a=amounts: o.batch(a))
        print(
            f"{vertices:6d} {rules:5d} {bodies:6d} {build * 1e3:11.2f} {batch * 1e3:10.2f}"
            f" {size / 1e6:11.2f} {most / 1e6:9.2f}"
        )


def nests() -> None:
    """Whole gradings, trued and checked, as sizes and pieces grow, and a blend."""
    piece = bodice_half()
    labels = [str(s) for s in range(2, 34, 2)]
    rows = [
        f"{p.rule},{axis},mm,{',1' * (len(labels) - 1)}"
        for p in piece.outline.points
        for axis in ("width", "length")
    ]
    rules = read_rules("\n".join([",".join(["rule,axis,unit", *labels]), *rows]))
    print("\npieces sizes   grading ms   peak MB")
    for pieces, sizes in ((1, 4), (1, 8), (1, 16), (4, 4), (16, 4)):
        pattern = Pattern(tuple(replace(piece, name=f"p{k}") for k in range(pieces)), "10")

        def work(pattern: Pattern = pattern, sizes: int = sizes) -> object:
            return grade(pattern, rules, labels[:sizes])

        print(f"{pieces:6d} {sizes:5d} {best(work, 3) * 1e3:12.1f} {peak(work) / 1e6:9.2f}")
    pattern = Pattern((piece,), "10")
    asked = Asked(at={"waist": "14"})
    blend = best(lambda: grade(pattern, rules, ["10"], asked=asked), 3)
    print(f"blend of two sizes {blend * 1e3:8.1f} ms")


if __name__ == "__main__":
    main()
