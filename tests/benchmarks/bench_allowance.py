"""Speed of cutting lines against shapely's buffer in the same run; started by hand.

    python -m tests.benchmarks.bench_allowance

Prints for each piece of the demo, and for wavy rings of 100 to 10,000 cubics, the time that its
cutting line takes, that of its proof, and that of shapely's buffer of its chords.
"""

from __future__ import annotations

from dataclasses import replace

import shapely

from sizewright.drafting import allowance_faults, with_cutting_line
from sizewright.geometry import Path, flatten
from sizewright.jobs.files import open_pattern
from sizewright.model import Allowances, Outline, Piece
from sizewright.shipped import shipped
from tests.benchmarks.bench_geometry import best, waves


def report(what: str, piece: Piece) -> None:
    meant = replace(piece, kind="sew", allowances=Allowances(15.0))
    made = with_cutting_line(meant)
    path = piece.outline.path
    line = best(lambda: with_cutting_line(meant)) * 1e3
    proof = best(lambda: allowance_faults(made)) * 1e3
    theirs = best(lambda: shapely.Polygon(flatten(path, 0.01)).buffer(15.0)) * 1e3
    times = f"line {line:9.2f} ms   proof {proof:9.2f} ms   buffer {theirs:8.2f} ms"
    print(f"{what:24} {len(path):7} cubics   {times}   x {line / theirs:.0f}")


def main() -> None:
    drawing = shipped("examples/basic-set/basic-set.svg")
    for piece in open_pattern(drawing).pattern.pieces:
        report(piece.name, piece)
    for count in (100, 1_000, 10_000):
        ring = waves(count)
        path = Path(ring.controls * max(1.0, count / 300), ring.lines, True)
        report("wavy ring", Piece("ring", Outline.of(path)))


if __name__ == "__main__":
    main()
