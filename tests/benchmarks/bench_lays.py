"""How dense lays become on a length, and how often puzzles on panels are put together.

    python tests/benchmarks/bench_lays.py --seconds 60 INSTANCE.json ...
    python tests/benchmarks/bench_lays.py --seconds 60 --puzzles 5

An instance is a file of the open strip packing project: `strip_height`, and `items` with `demand`,
`allowed_orientations` and a `shape` of type `simple_polygon`. Its density, areas over width times
length, stands beside the record that the project's files tell.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

import numpy as np
from shapely import Polygon, affinity

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from sizewright.geometry import Path as Line
from sizewright.laying import Cloth, Item, look
from sizewright.model import Grain, Outline, Piece
from tests.laying.test_on_panels import planted

#: Densities of the records, per cent: the open strip packing project's record files.
RECORDS = {
    "trousers": 92.61,
    "shirts": 90.92,
    "swim": 79.83,
    "albano": 89.82,
    "dagli": 90.17,
    "mao": 86.87,
    "marques": 92.01,
}
# Instances have units of their own: their strips are taken to be so wide, mm.
WIDTH = 1500.0


def instance(path: Path) -> tuple[Cloth, list[Item]]:
    """The cloth and items of an instance; items may be turned by half turns, as the cloth lets."""
    data = json.loads(path.read_text("utf-8"))
    scale = WIDTH / data["strip_height"]
    items = []
    turned = False
    for number, raw in enumerate(data["items"]):
        points = raw["shape"]["data"]
        ring = Polygon(points).buffer(0).exterior
        ring = ring if ring.is_ccw else ring.reverse()
        corners = np.array(affinity.scale(ring, scale, scale, origin=(0, 0)).coords)[:-1]
        path_ = Line.polyline(corners, closed=True)
        piece = Piece(f"i{number}", Outline.of(path_), kind="cut", grain=Grain((0, 0), (9, 0), 1))
        items += [Item(piece, k, "as drawn") for k in range(1, raw["demand"] + 1)]
        turned |= len(raw.get("allowed_orientations") or [0]) > 1
    nap = "none" if turned else "one-way"
    return Cloth(path.stem, width=WIDTH, nap=nap, gap=0.0), items


def main() -> None:
    """Print what was reached."""
    options = argparse.ArgumentParser()
    options.add_argument("--seconds", type=float, default=60.0)
    options.add_argument("--puzzles", type=int, default=0)
    options.add_argument("files", nargs="*", type=Path)
    given = options.parse_args()
    for path in given.files:
        cloth, items = instance(path)
        lay = look(cloth, items, given.seconds)
        record = RECORDS.get(path.stem.lower(), float("nan"))
        print(f"{path.stem:<12}{len(items):>5} items{lay.share:>8.2%}  record {record:.2f} %")
    done = 0
    for seed in range(1000, 1000 + given.puzzles):
        cloth, items = planted(seed, 0.95)
        done += look(cloth, items, given.seconds, seed=seed).whole
    if given.puzzles:
        print(f"puzzles of 95 %: {done} of {given.puzzles}")


if __name__ == "__main__":
    main()
