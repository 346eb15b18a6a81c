"""A length of cloth by the strip packing library: runs as a worker (see `workers`)."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from threading import Thread
from typing import Any

import spyrrow

_POLL = 0.05
# The first tries with each block get at least this long, s.
_SLICE = 2.0


def search(task: Mapping[str, Any], tell: Callable[[Mapping[str, Any]], None]) -> None:
    """Tell ever shorter lays of `shapes` on a strip `height` high, for `seconds`.

    `shapes` are rings of points, each with its `turns` (`turns[i]`) in degrees. A find has
    `places`, (x, y, turn) for each shape about its own origin, and `width`, how long it is.
    `until`: a width that is short enough. `blocks` are rings of which one is laid besides, not
    turned: each gets its share of the time, and a find says which `block` it has, its place
    being the first.
    """
    begun = time.monotonic()
    seconds, until = float(task["seconds"]), float(task["until"])
    blocks = task.get("blocks", [None])
    rings = list(zip(task["shapes"], task["turns"], strict=True))
    seed, best = int(task["seed"]), float("inf")
    tries = 0
    while (left := seconds - (time.monotonic() - begun)) > 0:
        number = tries % len(blocks)
        block = blocks[number]
        every = rings if block is None else [(block, [0]), *rings]
        items = [
            spyrrow.Item(
                str(i), [(float(x), float(y)) for x, y in ring], 1, list(map(float, turns))
            )
            for i, (ring, turns) in enumerate(every)
        ]
        slice_ = left if len(blocks) == 1 else min(left, max(_SLICE, seconds / len(blocks)))
        config = spyrrow.StripPackingConfig(
            total_computation_time=max(1, round(slice_)),
            num_workers=1,
            # It may end early, where it finds no more; begun anew it may.
            seed=seed + tries,
        )
        instance = spyrrow.StripPackingInstance("", float(task["height"]), items)
        for solution in _feasible(instance, config):
            if solution.width < best - 1e-4:
                best = solution.width
                tell({**_told(solution), "block": number})
                if best <= until:
                    return
        tries += 1


def _feasible(instance: Any, config: Any) -> Iterator[Any]:
    """The last feasible lay of every moment while the solver runs."""
    kinds = (
        spyrrow.ReportType.ExplFeas,
        spyrrow.ReportType.CmprFeas,
        spyrrow.ReportType.Final,
    )
    trouble: list[BaseException] = []

    def solve() -> None:
        try:
            instance.solve(config, progress=queue)
        except BaseException as error:  # its panics are no Exceptions
            trouble.append(error)

    queue = spyrrow.ProgressQueue()
    solver = Thread(target=solve, daemon=True)
    solver.start()
    running = True
    while running:
        running = solver.is_alive()
        found = [solution for kind, solution in queue.drain() if kind in kinds]
        if found:
            yield min(found, key=lambda one: float(one.width))
        if running:
            time.sleep(_POLL)
    if trouble:
        raise trouble[0]


def _told(solution: Any) -> dict[str, Any]:
    placed = sorted(solution.placed_items, key=lambda one: int(one.id))
    places = [(*map(float, one.translation), round(one.rotation) % 360) for one in placed]
    return {"width": float(solution.width), "places": places}
