"""A length of cloth by the strip packing library: runs as a worker (see `workers`)."""

from __future__ import annotations

import time
from collections.abc import Mapping
from threading import Thread
from typing import Any

_POLL = 0.05


def search(task: Mapping[str, Any], tell: Any) -> None:
    """Tell ever shorter lays of `shapes` on a strip `height` high, for `seconds`.

    `shapes` are rings of points, each with its `turns` (`turns[i]`) in degrees. A find has
    `places`, (x, y, turn) for each shape about its own origin, and `width`, how long it is.
    `until`: a width that is short enough.
    """
    import spyrrow

    items = [
        spyrrow.Item(str(i), [(float(x), float(y)) for x, y in ring], 1, list(map(float, turns)))
        for i, (ring, turns) in enumerate(zip(task["shapes"], task["turns"], strict=True))
    ]
    instance = spyrrow.StripPackingInstance("", float(task["height"]), items)
    begun = time.monotonic()
    seconds, until = float(task["seconds"]), float(task.get("until", 0.0))
    seed = int(task["seed"])
    best = float("inf")
    while True:
        left = seconds - (time.monotonic() - begun)
        if left <= 0:
            return
        config = spyrrow.StripPackingConfig(
            early_termination=True,
            total_computation_time=max(1, round(left)),
            num_workers=1,
            seed=seed,
        )
        queue = spyrrow.ProgressQueue()
        trouble: list[BaseException] = []
        solver = Thread(target=_solve, args=(instance, config, queue, trouble), daemon=True)
        solver.start()
        while True:
            running = solver.is_alive()
            found = None
            for kind, solution in queue.drain():
                feasible = kind in (
                    spyrrow.ReportType.ExplFeas,
                    spyrrow.ReportType.CmprFeas,
                    spyrrow.ReportType.Final,
                )
                if feasible and solution.width < best - 1e-4:
                    best, found = solution.width, solution
            if found is not None:
                tell(_told(found))
                if best <= until:
                    return
            if not running:
                break
            time.sleep(_POLL)
        if trouble:
            raise trouble[0]
        # It ends early where it finds no more; begun anew it may.
        seed += 1


def _solve(instance: Any, config: Any, queue: Any, trouble: list[BaseException]) -> None:
    try:
        instance.solve(config, progress=queue)
    except BaseException as error:  # its panics are no Exceptions
        trouble.append(error)


def _told(solution: Any) -> dict[str, Any]:
    placed = sorted(solution.placed_items, key=lambda one: int(one.id))
    places = [(*map(float, one.translation), round(one.rotation) % 360) for one in placed]
    return {"width": float(solution.width), "places": places}
