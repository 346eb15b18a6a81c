"""Looking for a lay: which searches are set to work, and the best proved lay of what they find."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..errors import SizewrightError
from .cloth import Cloth
from .items import Item
from .lay import Laid, Lay, proved
from .on_length import Strip
from .workers import working

#: Told what was found so far and which share of the time has gone.
Told = Callable[[str, float], None]
# No lay at all yet: waited for it so many times longer than asked, and at least so long.
_GRACE, _PATIENCE = 3.0, 60.0
_POLL = 0.2
# So many finds are kept to be proved, the best ones.
_KEPT = 40
_MOST_WORKERS = 8


class SearchFailed(SizewrightError):
    """A search that could not be run at all."""

    exit_code = 3


@dataclass
class _Search:
    """A search under way."""

    cloth: Cloth
    items: tuple[Item, ...]
    best: Lay | None
    told: Told
    begun: float
    seconds: float
    enough: float | None = None
    first: bool = True


def look(
    cloth: Cloth,
    items: Sequence[Item],
    seconds: float,
    *,
    seed: int = 1,
    start: Lay | None = None,
    told: Told = lambda _words, _share: None,
) -> Lay:
    """The best proved lay of the items that is found in so many seconds.

    `start` is a lay to do better than. Ends early where everything lies on a cloth of a given
    size. Interrupted (by Ctrl-C) it gives the best whole lay so far, where there is one. Raises
    SearchFailed where a search cannot be run.
    """
    fit = [item for item in items if fits_alone(cloth, item)]
    best = start if start is not None and start.cloth == cloth else None
    if best is None:
        best = Lay(cloth, (), tuple(items))
    if not fit or (_sized(cloth) and best.whole):
        return best
    try:
        for lay in _finds(cloth, fit, seconds, seed, told):
            lay = replace(lay, left=tuple(i for i in items if i.key not in _keys(lay)))
            best = min(best, lay, key=lambda one: one.rank)
            if _sized(cloth) and len(best.laid) == len(fit):
                break
    except KeyboardInterrupt:
        if not best.whole:
            raise
    return best


def _keys(lay: Lay) -> set[tuple[str, str, int]]:
    return {one.item.key for one in lay.laid}


def _sized(cloth: Cloth) -> bool:
    """Whether the cloth ends somewhere, so that a lay can be good enough."""
    return cloth.width is None or cloth.length is not None


def fits_alone(cloth: Cloth, item: Item) -> bool:
    """Whether an item would lie on an empty cloth, as far as its box tells on panels."""
    if cloth.width is not None:
        wide, tall = np.ptp(item.turned(0.0), axis=0)
        low, high = cloth.band
        return bool(tall <= high - low + 1e-6 and wide <= (cloth.length or np.inf) + 1e-6)
    raise NotImplementedError


def _finds(cloth: Cloth, items: Sequence[Item], seconds: float, seed: int, told: Told) -> Any:
    strip = Strip.of(cloth, items)
    count = max(1, min(len(os.sched_getaffinity(0)), _MOST_WORKERS))
    tasks = [strip.task(seconds, seed + 1000 * k, cloth.length) for k in range(count)]
    begun = time.monotonic()
    waiting: list[Any] = []
    with working(tasks) as next_find:
        while True:
            gone = time.monotonic() - begun
            if gone >= seconds and (waiting or gone >= max(_GRACE * seconds, _PATIENCE)):
                break
            find = next_find(_POLL)
            if find is False:
                break
            if find is None:
                told(_words(waiting), min(gone / seconds, 1.0))
                continue
            if "trouble" in find:
                raise SearchFailed(
                    f"the search for a lay failed: {find['trouble'][:200]}",
                    cure="Run it again with another seed, and tell its author.",
                )
            waiting = sorted([find, *waiting], key=lambda one: float(one["width"]))[:_KEPT]
            if cloth.length is not None and waiting[0] is find:
                lay = _within(cloth, items, strip.read(find, cloth))
                if lay is not None and lay.whole:
                    yield lay
                    return
    for find in waiting:
        lay = _within(cloth, items, strip.read(find, cloth))
        if lay is not None:
            yield lay
            return


def _words(waiting: Sequence[Any]) -> str:
    return f"{waiting[0]['width'] / 10:.1f} cm" if waiting else "no lay yet"


def _within(cloth: Cloth, items: Sequence[Item], laid: Sequence[Laid]) -> Lay | None:
    """The proved lay of what lies on the cloth whole; the rest is left over."""
    end = cloth.length
    if end is not None:
        laid = [a for a in laid if a.x + float(np.ptp(a.item.turned(a.turn)[:, 0])) <= end]
    return proved(cloth, laid, items)
